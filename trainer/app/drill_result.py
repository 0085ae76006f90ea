"""Hold what a finished drill came to, judged in every way there is."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from fractions import Fraction

from trainer.app.drill_request import DrillRequest
from trainer.judging.advice import Finding, advise
from trainer.judging.breakdown import Drift, drift_of, indices_after_skip, timed_outcomes
from trainer.judging.changes import AroundChanges, around_changes
from trainer.judging.readings import ReadingKind
from trainer.judging.silence import silence_sentence, silences_of
from trainer.judging.statistics import SlotSummary, TakeSummary, by_slot, summarise
from trainer.judging.swing import SwingPlayed, adopt, swing_played
from trainer.judging.take import Judgement
from trainer.judging.two_level import EVERYTHING, CannotSplit, TwoLevels, split_click_off
from trainer.music.pattern import Pattern
from trainer.practice.drill import Drill
from trainer.practice.placed_by import PlacedBy
from trainer.sound.thinning import Thinning

LEAST_TAPS_FOR_DELAY = 16
SURE_DELAY_S = 0.010
LAGS = (ReadingKind.EARLY, ReadingKind.LATE)
TEMPI = (ReadingKind.OTHER_TEMPO, ReadingKind.HALF_TIME, ReadingKind.DOUBLE_TIME, ReadingKind.DRIFTING_TEMPO)
LEAST_SWING = 0.15  # a smaller change of the ratio is not worth another target


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillResult:
    """A finished take.

    Attributes:
        request: what was asked.
        bpm, passes: the tempo at the end and the passes begun.
        drill: the drill itself, for its taps and its timeline.
        judgement: what was made of it by the click: what is kept and climbed by. What is shown, ``slots``,
            ``summary``, ``drift``, ``swing``, ``findings`` and ``changes``, is under its reading.
        not_graded: why it does not count, or an empty text.
        remarks: sentences about the devices during the take.
        placed_by, placed_words: what strokes were placed against; in words where a microphone heard them.
        messages: taps received from the count-in to the end.
        click_off: whether the click was off from the first stroke on; then ``levels`` splits timekeeper
            and hand, or says why it cannot.
        changes: the take taken apart by its chord changes; None without.
        ladder_bpm: the tempo that the ladder goes on from; None without one.
        in_silence: how time was kept in bars without a click, in words; empty without such bars.
    """

    request: DrillRequest
    bpm: Fraction
    passes: int
    drill: Drill
    judgement: Judgement
    slots: tuple[SlotSummary, ...]
    summary: TakeSummary
    drift: Drift | None
    swing: SwingPlayed | None
    findings: tuple[Finding, ...]
    not_graded: str = ""
    remarks: tuple[str, ...] = ()
    placed_by: PlacedBy = PlacedBy.TAPS
    placed_words: str = ""
    messages: int = 0
    click_off: bool = False
    levels: TwoLevels | CannotSplit | None = None
    changes: AroundChanges | None = None
    in_silence: str = ""
    ladder_bpm: Fraction | None = None

    @property
    def advice(self) -> tuple[str, ...]:
        """The findings in words."""
        return tuple(finding.sentence for finding in self.findings)

    @property
    def can_be_delay(self) -> bool:
        """Whether the mean placement is steady enough to be the delay of the devices.

        At least 16 taps, and the mean sure to 10 ms (Repp's and Aschersleben's findings warn that a
        player's own lead of some tens of ms is in it).
        """
        placed = self.summary.placement
        steady = placed.half_interval_s is not None and placed.half_interval_s <= SURE_DELAY_S
        enough = steady and placed.n >= LEAST_TAPS_FOR_DELAY
        return enough and self.delay_s is not None and self.request.hands is None

    @property
    def delay_s(self) -> float | None:
        """The mean placement from the click; None where the take was read as played elsewhere."""
        mean_s, reading = self.summary.placement.mean_s, self.judgement.reading
        if mean_s is None or reading is None or reading.kind.is_as_asked:
            return mean_s
        if reading.kind in LAGS and reading.unit == "ms" and reading.amount is not None:
            return mean_s + reading.amount / 1000  # what all have in common was taken off
        return None

    @property
    def adoptable_swing(self) -> Fraction | None:
        """The swing played, when the target can have it and would be another one."""
        asked = self.drill.settings.feel
        feel = adopt(asked, self.swing) if self.swing is not None else None
        return feel.swing if feel is not None and abs(feel.swing - asked.swing) >= LEAST_SWING else None

    @property
    def uncertainty_s(self) -> float:
        """The middle of the taps' uncertainties."""
        return statistics.median([tap.uncertainty_s for tap in self.judgement.taps] or [0.0])


def result_of(
    request: DrillRequest,
    drill: Drill,
    judgement: Judgement,
    *,
    bpm: Fraction,
    not_graded: str,
    remarks: tuple[str, ...],
    messages: int,
    click_off: bool,
    thinning: Thinning,
    placed_by: PlacedBy = PlacedBy.TAPS,
    placed_words: str = "",
) -> DrillResult:
    """Return a finished take, judged in every way; the arguments are those of :class:`DrillResult`."""
    told = judgement.told
    pattern = _played_figure(drill, told)
    chart = pattern.chart
    return DrillResult(
        request=request,
        bpm=bpm,
        passes=len({o.target.pass_index for o in judgement.outcomes}),
        drill=drill,
        judgement=judgement,
        slots=by_slot(told),
        summary=summarise(told),
        drift=drift_of(timed_outcomes(told), indices_after_skip(told.outcomes)),
        swing=swing_played(told, pattern),
        findings=advise(judgement, chart),
        not_graded=not_graded,
        remarks=remarks,
        placed_by=placed_by,
        placed_words=placed_words,
        messages=messages,
        click_off=click_off,
        levels=split_click_off(told, EVERYTHING) if click_off else None,
        changes=around_changes(told, chart),
        in_silence=_in_silence(told, request, thinning),
    )


def _played_figure(drill: Drill, told: Judgement) -> Pattern:
    """Return the figure whose strokes are judged: the one asked, or another that was played instead."""
    settings, reading = drill.settings, told.reading
    figure = reading.figure if reading is not None else ""
    return next((other for other in settings.others if other.name == figure), settings.pattern)


def _in_silence(judgement: Judgement, request: DrillRequest, thinning: Thinning) -> str:
    """Return how time was kept in the silent bars, in a sentence or two; empty without silent bars.

    Under a tempo of its own nothing is said: the drift that silence shows is taken off there.
    """
    if judgement.reading is not None and judgement.reading.kind in TEMPI:
        return ""
    beats = request.pattern.meter.beats
    last = max((int(o.target.beat) // beats for o in judgement.outcomes), default=-1)
    silent = thinning.silent_bars(last + 1)
    found = silences_of(judgement, silent, beats) if silent else None
    return silence_sentence(found) if found is not None else ""
