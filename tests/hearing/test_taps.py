"""What is heard counts where something is asked for that it can be; the room's own sounds count nowhere."""

from __future__ import annotations

import numpy as np
import pytest

from tests.hearing.conftest import Make
from tests.shipped import shipped
from trainer.hearing.listening import HeardStroke, listen
from trainer.hearing.onsets import WEAK_THRESHOLD
from trainer.hearing.strings import StringEar, colour_bands
from trainer.hearing.taps import (
    LONE_MARGIN,
    TOUCH_THRESHOLD,
    heard_tap,
    heard_taps,
    lone_click_strength,
)
from trainer.music.layout import Target, lay_out
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.music.tuning import OPEN_G
from trainer.records.library import open_pattern

PASSES = 8


def targets(bpm: float = 90.0, passes: int = 1) -> tuple[Target, ...]:
    return lay_out(open_pattern("skip-figure", shipped()), Timeline.steady(bpm), passes=passes)


def target(kind: Kind) -> Target:
    return next(each for each in targets() if each.stroke.kind is kind)


def stroke(*, rise: float, newness: float = 0.0) -> HeardStroke:
    return HeardStroke(
        time_s=1.0,
        uncertainty_s=0.003,
        rise=rise,
        level_db=-30.0,
        colour=np.zeros(len(colour_bands())),
        newness=newness,
    )


def counts(
    sound: HeardStroke, at: Target | None, *, touch: float | None = TOUCH_THRESHOLD, click: float = 0
) -> bool:
    song_s = 0.0 if at is None else at.song_s
    tap = heard_tap(
        sound, song_s, at, StringEar(OPEN_G), touch_threshold=touch, click_strength=click, click_rise=click
    )
    return tap is not None


def test_a_soft_stroke_counts_where_one_is_asked_and_nowhere_else() -> None:
    soft = stroke(rise=WEAK_THRESHOLD + 0.01, newness=0.05)
    assert counts(soft, target(Kind.THUMB))
    assert not counts(soft, None)


def test_noise_that_rises_as_much_but_is_not_new_is_no_stroke() -> None:
    # What noise alone reaches within a minute.
    assert not counts(stroke(rise=0.13, newness=0.004), target(Kind.THUMB))


def test_what_is_new_and_does_not_rise_is_no_stroke() -> None:
    # The seam of a sampled banjo's loop: another sound of the same string, without a stroke.
    assert not counts(stroke(rise=0.03, newness=0.1), target(Kind.THUMB))


@pytest.mark.parametrize(("rise", "newness"), [(0.0, 0.017), (0.08, 0.009)])
def test_a_touch_counts_at_a_skip_by_its_newness_and_its_rise(rise: float, newness: float) -> None:
    assert counts(stroke(rise=rise, newness=newness), target(Kind.SKIP))
    assert not counts(stroke(rise=rise / 2, newness=newness / 2), target(Kind.SKIP))


def test_where_newness_says_nothing_touches_are_told_by_their_rise() -> None:
    assert not counts(stroke(rise=0.1, newness=0.5), target(Kind.SKIP), touch=None)
    assert counts(stroke(rise=0.2, newness=0.0), target(Kind.SKIP), touch=None)
    assert not counts(stroke(rise=0.1, newness=0.5), target(Kind.THUMB), touch=None)


def test_what_a_lone_click_reaches_is_no_touch_beside_a_click() -> None:
    needed = lone_click_strength(
        [0.04, 0.02, 0.5], TOUCH_THRESHOLD
    )  # the hand that took its place is left out
    assert needed == pytest.approx(LONE_MARGIN * 0.04)
    assert not counts(stroke(rise=0.0, newness=0.05), target(Kind.SKIP), click=needed)
    assert counts(stroke(rise=0.0, newness=0.06), target(Kind.SKIP), click=needed)


def test_a_click_that_was_not_heard_alone_may_be_as_strong_as_what_was_listened_for() -> None:
    assert lone_click_strength([], 0.02) == pytest.approx(LONE_MARGIN * 0.02)


@pytest.mark.parametrize("instrument", ["own string", "string and head"])
def test_taps_of_a_take_are_its_strokes_and_nothing_is_added(make: Make, instrument: str) -> None:
    recording = make(instrument=instrument, snr_db=20.0, passes=PASSES)
    heard = listen(recording.wave, threshold=0.14, touch_threshold=TOUCH_THRESHOLD)
    taps = heard_taps(heard, targets(recording.bpm, PASSES), StringEar(OPEN_G), beat_0_s=recording.beat_0_s)
    played = np.array([each.time_s - recording.beat_0_s for each in recording.played])
    assert len(taps) == len(played)
    assert [tap.song_s for tap in taps] == pytest.approx(played, abs=0.010)
