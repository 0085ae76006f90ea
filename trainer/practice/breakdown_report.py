"""Put what a take breaks down into numbers for programs.

:func:`breakdown_dict` gives these fields, as part of the report of :mod:`trainer.practice.report`; ``null``
means that the taps are too few to say, or, for loudness, that the input has none. Placements are tap
minus target, late positive; every interval is for 95 % confidence. A group has these fields:

- ``taps``: how many.  ``mean_ms``, ``half_interval_ms``, ``spread_ms``: as in the summary.
- ``median_ms``: their middle.  ``robust_spread_ms``: 1.4826 times the median absolute deviation.

The fields:

- ``by_kind``: groups, each with ``kind``.  ``by_string``: those on one string, each with ``string``.
- ``by_bar``: groups, each with ``bar``, from 1.
- ``after_skip``: the group of the first strokes after a skip.  ``elsewhere``: the group of all others.
- ``gaps``: from the tap before each skip to the tap after it:

  - ``n``: how many have a tap at either end.  ``mean_share``: length as a share of the length asked, 1 as
    asked.  ``half_interval``: of that share.  ``spread``: its standard deviation.  ``median_share``: the
    middle one.

- ``drift``: ``ms_per_minute``: positive when falling behind.  ``half_interval_ms_per_minute``.  ``moved_ms``:
  from first to last stroke.  ``probability``: of so much without a drift, 0 to 1.
- ``dynamics``: ``accents``: accented against unaccented strokes.  ``strikes``: strikes against brushes. Each
  has ``louder_by`` in steps of velocity, ``half_interval``, ``probability`` when there is no difference,
  ``n`` and ``n_other``.
- ``changes``: ``null`` for a pattern without chord changes, else:

  - ``after``: the group of the strokes that come first in the beat of a change.  ``inside``: of all others.
  - ``difference``: by how much later the first come than their like inside a chord: ``later_by_ms``,
    ``half_interval_ms``, ``probability`` of so much when there is none, ``n`` and ``n_other``; ``null`` with
    too few.
  - ``each``: one group for each change that was reached, with ``from`` and ``to``, chords in numbers,
    ``bar`` from 1, ``beat`` of the pattern from 1, and its own ``difference``.
  - ``worst``: the place in ``each``, from 0, of the change that costs most, ``null`` when none is late. Being
    the largest of several it looks larger than it is; the advice names it only when it stands.

- ``swing_played``: ``ratio``: long to short.  ``low`` and ``high``: its interval.  ``pairs``: of how many up
  taps.  ``adopted``: the swing that a target can take over, ``null`` when none can.
- ``two_levels``: timekeeper and hand: with a click by linear phase correction, with the click off by the
  model of Wing and Kristofferson, which knows no correction:

  - ``clock_sd_ms``, ``motor_sd_ms``: standard deviations, per slot.  ``correction``: share of the last
    deviation made good by the next slot.  ``lag1``: autocorrelation.  ``n``: taps or pairs used.
  - ``cannot_split``: why none of these can be said, else ``null``.
"""

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
    """Return the breakdown as plain values; the module's head documents every field.

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
