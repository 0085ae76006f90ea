"""Put what a take breaks down into numbers for programs: a part of the report of a take."""

from __future__ import annotations

from trainer.judging.breakdown import Drift, Dynamics, Gaps, TapGroup, break_down
from trainer.judging.chance import Contrast
from trainer.judging.changes import AroundChanges, around_changes
from trainer.judging.swing import SwingPlayed, swing_played
from trainer.judging.take import Judgement
from trainer.judging.two_level import EVERYTHING, CannotSplit, TwoLevels, split_click_off, split_with_click
from trainer.music.pattern import Pattern
from trainer.practice.json_values import Json, milliseconds, rounded


def breakdown_dict(judgement: Judgement, pattern: Pattern, *, click_off: bool = False) -> dict[str, Json]:
    """Return the breakdown as plain values; every field is in :mod:`trainer.practice.report_schema`.

    Args:
        click_off: whether the click was off after the count-in.
    """
    parts = break_down(judgement)
    levels = split_click_off(judgement, EVERYTHING) if click_off else split_with_click(judgement)
    return {
        "by_kind": [{"kind": kind.value, **_group(group)} for kind, group in parts.by_kind],
        "by_string": [{"string": string, **_group(group)} for string, group in parts.by_string],
        "by_bar": [{"bar": bar + 1, **_group(group)} for bar, group in parts.by_bar],
        "after_skip": _group(parts.after_skip),
        "elsewhere": _group(parts.elsewhere),
        "gaps": _gaps(parts.gaps),
        "drift": None if parts.drift is None else _drift(parts.drift),
        "dynamics": None if parts.dynamics is None else _dynamics(parts.dynamics),
        "changes": _changes(around_changes(judgement, pattern.chart)),
        "swing_played": _swing(swing_played(judgement, pattern)),
        "two_levels": _levels(levels),
    }


def _group(group: TapGroup) -> dict[str, Json]:
    return {
        "taps": group.placement.n,
        "mean_ms": milliseconds(group.placement.mean_s),
        "half_interval_ms": milliseconds(group.placement.half_interval_s),
        "spread_ms": milliseconds(group.placement.spread_s),
        "median_ms": milliseconds(group.median_s),
        "robust_spread_ms": milliseconds(group.robust_spread_s),
    }


def _changes(around: AroundChanges | None) -> dict[str, Json] | None:
    if around is None:
        return None
    return {
        "after": _group(around.after),
        "inside": _group(around.inside),
        "difference": _later(around.difference),
        "each": [
            {
                "from": cost.change.before,
                "to": cost.change.after,
                "bar": cost.change.bar + 1,
                "beat": cost.change.beat + 1,
                **_group(cost.group),
                "difference": _later(cost.difference),
            }
            for cost in around.changes
        ],
        "worst": None if around.worst is None else around.changes.index(around.worst),
    }


def _later(contrast: Contrast | None) -> dict[str, Json] | None:
    if contrast is None:
        return None
    return {
        "later_by_ms": milliseconds(contrast.size),
        "half_interval_ms": milliseconds(contrast.half_interval),
        "probability": contrast.probability,
        "n": contrast.n,
        "n_other": contrast.n_other,
    }


def _gaps(gaps: Gaps) -> dict[str, Json]:
    return {
        "n": len(gaps.gaps),
        "mean_share": rounded(gaps.mean_share),
        "half_interval": rounded(gaps.half_interval),
        "spread": rounded(gaps.spread),
        "median_share": rounded(gaps.median_share),
    }


def _drift(drift: Drift) -> dict[str, Json]:
    return {
        "ms_per_minute": milliseconds(drift.s_per_minute),
        "half_interval_ms_per_minute": milliseconds(drift.half_interval_s_per_minute),
        "moved_ms": milliseconds(drift.moved_s),
        "probability": drift.probability,
    }


def _dynamics(dynamics: Dynamics) -> dict[str, Json]:
    return {"accents": _louder(dynamics.accents), "strikes": _louder(dynamics.strikes)}


def _louder(contrast: Contrast | None) -> dict[str, Json] | None:
    if contrast is None:
        return None
    return {
        "louder_by": rounded(contrast.size),
        "half_interval": rounded(contrast.half_interval),
        "probability": contrast.probability,
        "n": contrast.n,
        "n_other": contrast.n_other,
    }


def _swing(swing: SwingPlayed | None) -> dict[str, Json] | None:
    if swing is None:
        return None
    adopted = swing.adopted()
    return {
        "ratio": rounded(swing.ratio),
        "low": rounded(swing.low),
        "high": rounded(swing.high),
        "pairs": swing.pairs,
        "adopted": None if adopted is None else float(adopted),
    }


def _levels(levels: TwoLevels | CannotSplit) -> dict[str, Json]:
    if isinstance(levels, CannotSplit):
        return {
            "clock_sd_ms": None,
            "motor_sd_ms": None,
            "correction": None,
            "lag1": rounded(levels.lag1),
            "n": levels.n,
            "cannot_split": levels.obstacle.value,
        }
    return {
        "clock_sd_ms": milliseconds(levels.clock_sd_s),
        "motor_sd_ms": milliseconds(levels.motor_sd_s),
        "correction": rounded(levels.correction),
        "lag1": rounded(levels.lag1),
        "n": levels.n,
        "cannot_split": None,
    }
