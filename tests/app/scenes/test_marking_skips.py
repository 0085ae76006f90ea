"""Marking skips on a pad or key of its own is an exercise: offered with such a key, judged for its place."""

from dataclasses import replace

import pytest

from tests.app.bench import Bench, keys_for
from tests.app.playing import begin, play, taps_for
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of
from tests.records.takes import a_take
from trainer.app.climbing import Climb
from trainer.app.recording import stored_take
from trainer.judging.take import Tap, Verdict
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand, Kind
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.ladder import LadderKind
from trainer.practice.settings import TABLE, Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.review import ReviewView

MARKED = Settings(cautions_seen=True, passes=2, side_key="d", mark_skips=True)


def drilled(settings: Settings, late_s: float) -> Bench:
    """Play all strokes in time, and touch the side key at each skip so much late."""
    bench = Bench(settings=settings)
    bench.act(Act.START)
    skips = [t.song_s for t in bench.running.drill.targets if t.stroke.kind is Kind.SKIP]
    bench.until(99.0, keys_for(bench) | {at_s + late_s: "d" for at_s in skips})
    return bench


def of_skips(bench: Bench) -> set[Verdict]:
    outcomes = bench.result.judgement.told.outcomes
    return {o.verdict for o in outcomes if o.target.stroke.kind is Kind.SKIP}


def test_a_mark_is_judged_for_its_place() -> None:
    in_time, late = drilled(MARKED, 0.0), drilled(MARKED, 0.25)
    assert of_skips(in_time) == {Verdict.IN_TIME}
    assert of_skips(late) == {Verdict.LATE}
    (row,) = [slot for slot in late.seen(ReviewView).slots if slot.stroke.kind is Kind.SKIP]
    assert row.mean_s is not None
    assert 0.2 < row.mean_s < 0.3


def test_a_skip_that_is_not_marked_is_missed() -> None:
    bench = Bench(settings=MARKED)
    bench.act(Act.START)
    bench.until(99.0, keys_for(bench))
    assert of_skips(bench) == {Verdict.MISSED}


@pytest.mark.parametrize("late_s", [None, 0.0, 0.2])
def test_the_tempo_climbs_by_what_the_hands_did(late_s: float | None) -> None:
    figure = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
    drill = Drill(DrillSettings(pattern=figure, bpm=figure.slow_bpm, passes=4, marks_skips=True))
    climb = Climb(LadderKind.PLAIN, figure, figure.slow_bpm)
    targets = lay_out(figure, drill.timeline, passes=4)
    marks = [Tap(song_s=t.song_s + late_s, hand=Hand.NONE) for t in targets
             if late_s is not None and t.stroke.kind is Kind.SKIP]  # fmt: skip
    for tap in sorted([*as_asked(targets), *marks], key=lambda tap: tap.song_s):
        drill.tap(tap)
        drill.advance(tap.song_s)
        climb.after_passes(drill)
    assert climb.ladder.bpm > figure.slow_bpm


def test_what_is_kept_is_what_the_hands_did() -> None:
    playing = begin(pattern_of(SKIP_FIGURE, BASIC_FIGURE))
    playing.drill = Drill(replace(playing.drill.settings, marks_skips=True))
    play(playing, taps_for(playing.run.pattern, playing.drill.timeline, jitter_s=0.002))
    ended = playing.ended()
    assert ended.summary.clean < ended.summary.asked
    take = stored_take(replace(a_take(), pattern=playing.run.pattern), ended)
    assert take.clean == take.asked == ended.summary.asked


def test_where_no_marks_are_asked_for_they_are_passed_over() -> None:
    bench = drilled(Settings(cautions_seen=True, passes=2, side_key="d"), 0.0)
    assert of_skips(bench) == {Verdict.KEPT_SILENT}
    assert bench.result.judgement.strays == ()


def test_it_is_offered_where_there_is_a_pad_or_key_for_it() -> None:
    row = TABLE["mark_skips"].row
    assert row is not None
    assert row.shown is not None
    assert not row.shown(Settings())
    assert row.shown(Settings(side_key="d"))
    assert row.shown(Settings(input_name="Pad", pads={"Pad": "nail=36,thumb=38,side=42"}))
    assert not row.shown(Settings(input_name="Pad", side_key="d"))


def test_its_key_is_given_and_taken_away_in_the_settings() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.SIDE_KEY)
    assert bench.app.key_down("d", host_ns=0, looked_ns=0)
    assert bench.kept[-1].side_key == "d"
    assert bench.inputs.hears_side
    bench.act(Act.SIDE_KEY)
    assert bench.app.key_down("backspace", host_ns=0, looked_ns=0)
    assert bench.kept[-1].side_key == ""
