"""Make of a finished drill all that the review shows."""

from __future__ import annotations

from fractions import Fraction

from trainer.app.played import Played, Run
from trainer.judging.advice import advise
from trainer.judging.breakdown import drift_of, indices_after_skip, timed_outcomes
from trainer.judging.changes import around_changes
from trainer.judging.silence import silence_sentence, silences_of
from trainer.judging.statistics import by_slot, summarise
from trainer.judging.swing import swing_played
from trainer.judging.take import Judgement
from trainer.judging.two_level import EVERYTHING, split_click_off
from trainer.practice.drill import Drill
from trainer.sound.thinning import Thinning


def played_of(
    run: Run,
    drill: Drill,
    judgement: Judgement,
    *,
    bpm: Fraction,
    not_graded: str,
    remarks: tuple[str, ...],
    messages: int,
    click_off: bool,
    thinning: Thinning,
) -> Played:
    """Return a finished take, judged in every way there is; the arguments are those of :class:`Played`."""
    chart = run.pattern.chart
    return Played(
        run=run,
        bpm=bpm,
        passes=len({o.target.pass_index for o in judgement.outcomes}),
        drill=drill,
        judgement=judgement,
        slots=by_slot(judgement),
        summary=summarise(judgement),
        drift=drift_of(timed_outcomes(judgement), indices_after_skip(judgement.outcomes)),
        swing=swing_played(judgement, run.pattern),
        advice=tuple(finding.sentence for finding in advise(judgement, chart)),
        not_graded=not_graded,
        remarks=remarks,
        messages=messages,
        click_off=click_off,
        levels=split_click_off(judgement, EVERYTHING) if click_off else None,
        changes=around_changes(judgement, chart),
        in_silence=_in_silence(judgement, run, thinning),
    )


def _in_silence(judgement: Judgement, run: Run, thinning: Thinning) -> str:
    """Return how time was kept in the silent bars, in a sentence or two; empty without silent bars."""
    beats = run.pattern.meter.beats
    last = max((int(o.target.beat) // beats for o in judgement.outcomes), default=-1)
    silent = thinning.silent_bars(last + 1)
    found = silences_of(judgement, silent, beats) if silent else None
    return silence_sentence(found) if found is not None else ""
