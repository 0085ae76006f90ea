"""The review's one next step is what Enter does, at the tempo that is shown."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.app.bench import Bench
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.settings import Settings
from trainer.records.library import load_library
from trainer.screen.actions import Act
from trainer.screen.scenes.review import ReviewView

LIBRARY = load_library()
KEYS = {Hand.NAIL: "f", Hand.THUMB: "j"}
STEADY = Faults(jitter_s=0.006)
Deed = Callable[[Sequence[Tap]], Sequence[Tap]]


def at(figure: str, bpm: int, passes: int = 8) -> Bench:
    settings = Settings(cautions_seen=True, pattern=figure, passes=passes, tempi={figure: str(bpm)})
    return Bench(settings=settings, library=LIBRARY)


def play(bench: Bench, faults: Faults = STEADY, deed: Deed = lambda taps: taps) -> ReviewView:
    """Play the drill that runs to its end; return the review."""
    request = bench.running.request
    targets = lay_out(request.pattern, Timeline.steady(request.bpm), passes=request.passes)
    taps = deed(simulate(targets, faults, np.random.default_rng(2)).taps)
    bench.until(999.0, {tap.song_s: KEYS[tap.hand] for tap in taps if tap.hand in KEYS})
    return bench.seen(ReviewView)


def drilled(figure: str, bpm: int, faults: Faults = STEADY, deed: Deed = lambda taps: taps) -> Bench:
    bench = at(figure, bpm)
    bench.key("return")
    play(bench, faults, deed)
    return bench


def test_a_clean_take_is_said_plainly_and_enter_plays_it_faster_and_keeps_that_tempo() -> None:
    bench = drilled("skip-figure", 50)
    view = bench.seen(ReviewView)
    assert (view.happened, view.step_words) == ("Clean at 50.", "Again at 53")
    bench.key("return")
    assert bench.running.request.bpm == 53
    assert bench.preferences.bpm == 53


@pytest.mark.parametrize("key", ["return", "space"])
def test_the_tempo_that_left_and_right_set_is_the_one_shown_and_the_one_played(key: str) -> None:
    bench = drilled("skip-figure", 50)
    for _ in range(3):
        bench.key("right")
    bench.key("left")
    view = bench.seen(ReviewView)
    assert view.step_words == "Again at 63"
    assert view.again_words == "Again at 63"
    assert view.bpm == 50, "the take itself stays what it was"
    bench.key(key)
    assert bench.running.request.bpm == 63


def test_a_rushed_gap_leads_to_the_gap_alone_slower_and_when_that_is_clean_back_to_the_whole() -> None:
    bench = drilled("skip-figure", 80, Faults(jitter_s=0.008, rush_gap_s=0.06))
    view = bench.seen(ReviewView)
    assert view.happened.startswith("Not yet: the stroke after the skip comes ")
    assert view.happened.endswith(" ms early.")
    assert view.step_words == "The gap alone at 72"
    bench.key("return")
    assert bench.running.pattern.title.endswith("the gap alone")
    assert bench.running.request.bpm == 72
    view = play(bench)
    assert (view.happened, view.step_words) == ("Clean at 72.", "All of it again at 80")
    bench.key("return")
    assert (bench.running.pattern.name, bench.running.request.bpm) == ("skip-figure", 80)


def test_taps_that_are_late_all_alike_lead_to_the_devices_and_scattered_ones_do_not() -> None:
    def late(taps: Sequence[Tap]) -> Sequence[Tap]:
        return [replace(tap, song_s=tap.song_s + 0.064) for tap in taps]

    bench = drilled("basic-figure", 60, deed=late)
    view = bench.seen(ReviewView)
    assert "all alike: most likely the delay of the devices" in view.happened
    bench.key("return")
    assert bench.scene == "calibration"
    bench.key("escape")
    assert bench.scene == "review"
    scattered = drilled("basic-figure", 60, Faults(jitter_s=0.06), late)
    assert "devices" not in scattered.seen(ReviewView).happened


def test_the_goal_leads_to_the_next_figure_of_the_course_and_chooses_it_in_the_library() -> None:
    bench = at("first-strikes", 1)
    patterns = LIBRARY.patterns
    first = patterns[0]
    bench = at(first.name, int(first.goal_bpm))
    bench.key("return")
    view = play(bench, Faults(jitter_s=0.002))
    assert view.happened == f"Clean at {float(first.goal_bpm):g}."
    assert view.step_words.startswith("Next: ")
    bench.key("return")
    name = bench.running.pattern.name
    assert name != first.name
    bench.key("escape")
    bench.key("escape")
    assert bench.preferences.pattern is not None
    assert bench.preferences.pattern.name == name


def test_a_break_that_is_clean_at_its_goal_leads_to_its_next_level() -> None:
    plain = next(p for p in LIBRARY.laid if p.name == "barn-lantern at plain")
    bench = Bench(
        settings=Settings(cautions_seen=True, pattern=plain.name, passes=3, tempi={plain.name: "130"}),
        library=LIBRARY,
    )
    assert bench.preferences.bpm == Fraction(130) >= plain.goal_bpm
    bench.key("return")
    view = play(bench, Faults(jitter_s=0.002))
    assert view.happened == "Clean at 130."
    assert view.step_words.startswith("Next: ")


def test_stopping_in_the_count_in_leads_to_playing_it_again() -> None:
    bench = at("skip-figure", 60)
    bench.key("return")
    bench.until(-1.0)
    bench.act(Act.STOP)
    view = bench.seen(ReviewView)
    assert (view.happened, view.step_words) == ("Stopped before the first stroke.", "Again at 60")
    bench.key("return")
    assert bench.running.request.bpm == 60
