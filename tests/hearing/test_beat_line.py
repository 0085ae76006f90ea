"""The line through the clicks heard so far: what it believes, and what it takes for a jump."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.hearing.beat_line import BeatLine, HeardBeat
from trainer.sound.clicks import Click

BEAT_S = 0.6
LEAD_S = -0.0008  # of the best match to the front, as an echo makes it


def heard(
    number: int, off_s: float = 0.0, *, likeness: float = 0.95, matched_off_s: float | None = None
) -> HeardBeat:
    """A click of 100 beats a minute, heard 3 s after its second of the song and off by so much."""
    song_s = number * BEAT_S
    return HeardBeat(
        song_s=song_s,
        recorded_s=3.0 + song_s + off_s,
        matched_s=3.0 + song_s + LEAD_S + (off_s if matched_off_s is None else matched_off_s),
        likeness=likeness,
        kind=Click.FIRST_BEAT if number % 2 == 0 else Click.BEAT,
    )


def line_of(*clicks: HeardBeat) -> BeatLine:
    line = BeatLine()
    for number in range(-4, 8):
        line.take(heard(number))
    for click in clicks:
        line.take(click)
    return line


def test_a_front_that_a_stroke_has_moved_is_no_jump_however_alike_the_click_is() -> None:
    line = line_of(heard(8, -0.0063, likeness=0.85, matched_off_s=-0.0005), heard(9), heard(10))
    assert line.jumps == []
    assert line.recorded_s(10 * BEAT_S) == pytest.approx(3.0 + 10 * BEAT_S, abs=0.0002)


def test_one_click_that_lies_off_and_is_not_alike_is_no_jump_and_moves_nothing() -> None:
    for likeness in (0.4, 0.5, 0.6, 0.7):
        line = line_of(heard(8, 0.011, likeness=likeness))
        assert line.jumps == []
        assert line.recorded_s(9 * BEAT_S) == pytest.approx(3.0 + 9 * BEAT_S, abs=0.0002)


@pytest.mark.parametrize("likeness", [0.65, 0.75, 0.95])
@pytest.mark.parametrize("lost_s", [0.010, 0.050, -0.020])
def test_two_clicks_that_lie_off_by_the_same_are_a_jump_and_the_line_goes_on_behind_it(
    likeness: float, lost_s: float
) -> None:
    line = line_of(*(heard(number, -lost_s, likeness=likeness) for number in (8, 9)))
    assert len(line.jumps) == 1
    assert line.jumps[0] == (pytest.approx(7 * BEAT_S), pytest.approx(line.jumps[0][1]))
    assert 8 * BEAT_S <= line.jumps[0][1] <= 9 * BEAT_S
    assert line.recorded_s(9 * BEAT_S) == pytest.approx(3.0 + 9 * BEAT_S - lost_s, abs=0.0003)


def test_clicks_that_lie_off_by_unlike_amounts_are_no_jump() -> None:
    line = line_of(*(heard(8 + at, off, likeness=0.55) for at, off in enumerate((0.012, -0.009, 0.007))))
    assert line.jumps == []


@pytest.mark.parametrize("ppm", [-100.0, 40.0, 100.0])
def test_a_clock_that_drifts_is_no_jump_and_is_followed(ppm: float) -> None:
    line = BeatLine()
    rng = np.random.default_rng(4)
    for number in range(-4, 80):
        line.take(heard(number, number * BEAT_S * ppm * 1e-6 + rng.normal(0, 0.0003)))
    assert line.jumps == []
    assert line.recorded_s(80 * BEAT_S) == pytest.approx(3.0 + 80 * BEAT_S * (1 + ppm * 1e-6), abs=0.0003)


def test_times_that_lie_anywhere_never_make_a_firm_line() -> None:
    rng = np.random.default_rng(5)
    line, firm = BeatLine(), 0
    for number in range(400):
        line.take(heard(number, rng.uniform(-0.015, 0.015), likeness=rng.uniform(0.36, 0.7)))
        firm += line.is_firm
    assert firm == 0


def test_a_line_that_is_not_heard_any_more_says_nothing_after_a_while() -> None:
    line = line_of()
    assert line.is_firm
    for _click in range(60):
        line.miss()
    assert not line.is_firm
    assert line.uncertainty_s == 0.0
