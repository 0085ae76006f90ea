"""While a drill runs, how it is played is said at the end of a pass, and stands still in between."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.shipped import shipped
from trainer.judging.advice import advise
from trainer.judging.readings import ReadingKind
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.passes import strokes_asked
from trainer.practice.reading_so_far import ReadingSoFar, figures_beside
from trainer.records.library import open_pattern

LIBRARY = shipped()
FRAME_S = 1 / 60
STEADY = Faults(jitter_s=0.012)


def drilled(
    name: str, deed: Callable[[Sequence[Tap]], list[Tap]], *, passes: int = 10, faults: Faults = STEADY
) -> tuple[Drill, list[tuple[float, str]]]:
    """Run a drill picture by picture; return it with each change of what is said and its second."""
    pattern = open_pattern(name, LIBRARY)
    drill = Drill(
        DrillSettings(
            pattern=pattern,
            bpm=Fraction(100),
            passes=passes,
            others=figures_beside(pattern, LIBRARY.patterns),
        )
    )
    targets = lay_out(pattern, Timeline.steady(100), passes=passes)
    taps = deed([replace(t, string=None) for t in simulate(targets, faults, np.random.default_rng(2)).taps])
    so_far = ReadingSoFar(drill)
    said: list[tuple[float, str]] = [(0.0, "")]
    waiting = sorted(taps, key=lambda tap: tap.song_s)
    end_s = drill.end_s
    assert end_s is not None
    now_s = -1.0
    while now_s < end_s + 0.1:
        while waiting and waiting[0].song_s <= now_s:
            drill.tap(waiting.pop(0))
        drill.advance(now_s)
        so_far.tick()
        if so_far.sentence != said[-1][1]:
            said.append((now_s, so_far.sentence))
        now_s += FRAME_S
    return drill, said


def exchanged(taps: Sequence[Tap]) -> list[Tap]:
    other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
    return [tap if tap.hand is None else replace(tap, hand=other[tap.hand]) for tap in taps]


@pytest.mark.parametrize("name", ["basic-figure", "skip-figure", "one-basic-one-skip"])
def test_a_player_who_plays_as_asked_is_told_nothing(name: str) -> None:
    drill, said = drilled(name, list, faults=Faults(jitter_s=0.02, miss=0.05, touch_skips=0.05))
    assert [words for _, words in said] == [""]
    judged = drill.judgement()
    assert judged.reading is not None
    assert judged.reading.kind is ReadingKind.AS_ASKED


def test_exchanged_pads_are_said_once_and_stay_said() -> None:
    drill, said = drilled("skip-figure", exchanged)
    assert [words for _, words in said] == ["", "Your pads are exchanged; Enter changes them."]
    assert said[1][0] < drill.timeline.seconds(Fraction(5 * drill.settings.pattern.beats))
    judged = drill.judgement()
    assert advise(judged)[0].sentence == said[1][1], "the review says it first"


@pytest.mark.parametrize("one_pad", [False, True])
@pytest.mark.parametrize(
    ("name", "passes"),
    [("drop-thumb-in-basic-figure", 5), ("three-basic-one-skip", 6), ("one-basic-one-skip", 9)],
)
def test_a_bar_late_is_said_where_bars_are_nearly_alike_and_is_not_taken_back(
    name: str, passes: int, one_pad: bool
) -> None:
    """Nine of ten strokes of such a figure lie where they should, and in two bars late is early as well."""

    def a_bar_late(taps: Sequence[Tap]) -> list[Tap]:
        return [replace(tap, song_s=tap.song_s + 1.2) for tap in taps]

    _, said = drilled(name, a_bar_late, passes=passes, faults=replace(STEADY, one_pad=one_pad))
    assert len(said) == 2
    assert "one bar late" in said[1][1]


def test_another_tempo_is_said_without_its_number_changing_from_pass_to_pass() -> None:
    _, said = drilled(
        "skip-figure", lambda taps: [replace(tap, song_s=tap.song_s / 1.1) for tap in taps], passes=14
    )
    words = [text for _, text in said if text]
    assert len(words) <= 2
    assert words[0].startswith("You played at 11")


def test_it_is_taken_back_when_the_player_comes_round() -> None:
    def comes_round(taps: Sequence[Tap]) -> list[Tap]:
        half_s = 10 * 2.4 - 0.1
        return exchanged([t for t in taps if t.song_s < half_s]) + [t for t in taps if t.song_s >= half_s]

    _, said = drilled("skip-figure", comes_round, passes=20)
    assert [words for _, words in said] == ["", "Your pads are exchanged; Enter changes them.", ""]


def test_what_is_kept_is_the_judgement_by_the_click() -> None:
    """A take at another tempo is no clean rung at the tempo asked, however even it was."""
    drill, _ = drilled("skip-figure", lambda taps: [replace(t, song_s=t.song_s / 1.05) for t in taps])
    judged = drill.judgement()
    assert judged.told is not judged
    asked = strokes_asked(drill.settings.pattern) * 10
    assert sum(o.verdict.is_clean for o in judged.outcomes) < asked / 2
    assert sum(o.verdict.is_clean for o in judged.told.outcomes) > 0.9 * asked
