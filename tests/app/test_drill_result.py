"""What the review says of chord changes and of silent bars comes from the take itself."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.judging.helpers import BASIC_FIGURE, pattern_of
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult, result_of
from trainer.app.scene_table import start_drill
from trainer.app.scenes.review import ReviewController
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.screen.scenes.review import ReviewView
from trainer.sound.thinning import EVERY_BEAT, Thin, Thinning

CHORDS = Chart(
    key="G",
    spans=(ChordSpan(chord=Chord(degree=1), beats=4), ChordSpan(chord=Chord(degree=4), beats=4)),
)
PATTERN = replace(pattern_of(*[BASIC_FIGURE, BASIC_FIGURE] * 2), chart=CHORDS)


def played(faults: Faults, thinning: Thinning = EVERY_BEAT, passes: int = 12) -> DrillResult:
    bpm = Fraction(90)
    targets = lay_out(PATTERN, Timeline.steady(bpm), passes=passes)
    taps = simulate(targets, faults, np.random.default_rng(3), chart=PATTERN.chart).taps
    drill = Drill(DrillSettings(pattern=PATTERN, bpm=bpm, passes=passes))
    for tap in taps:
        drill.tap(tap)
    drill.advance(1000.0)
    request = DrillRequest(pattern=PATTERN, bpm=bpm, passes=passes)
    return result_of(
        request, drill, drill.judgement(), bpm=bpm, not_graded="", remarks=(), messages=len(taps),
        click_off=False, thinning=thinning,
    )  # fmt: skip


def said(take: DrillResult) -> tuple[str, ...]:
    bench = Bench()
    bench.open(lambda: ReviewController(bench.context, take, again=start_drill))
    view = bench.view()
    assert isinstance(view, ReviewView)
    return view.besides


def test_what_a_change_costs_is_said_with_its_interval() -> None:
    take = played(Faults(jitter_s=0.008, late_change_s=0.030))
    assert take.changes is not None
    assert take.changes.difference is not None
    assert take.changes.difference.size == pytest.approx(0.030, abs=0.006)
    (words,) = said(take)
    assert words.startswith("After a change ")
    assert " ms later than inside a chord (±" in words


def test_silent_bars_are_looked_at_and_only_those() -> None:
    thinning = Thinning(thin=Thin.SILENT_BARS, off=2, of=4)
    assert played(Faults(jitter_s=0.008)).in_silence == ""
    silent = played(Faults(jitter_s=0.008), thinning)
    assert silent.in_silence.endswith(".")
    assert silent.in_silence in said(silent)
