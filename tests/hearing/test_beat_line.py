"""The line through the clicks heard so far: what it believes, and what it takes for a jump."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.hearing.beat_line import BeatLine
from trainer.hearing.click_times import HeardBeat
from trainer.hearing.click_trace import ClickTrace
from trainer.sound.clicks import Click, ClickVoice

BEAT_S = 0.6
REACH_S, STEP_S = 0.120, 0.0002
WIDTH_S = 0.005  # about as broad as a tone click's best match


def trace(number: int, *told_at: tuple[float, float]) -> ClickTrace:
    """Return what speaks for a click of 100 beats a minute, heard 3 s after its second of the song.

    Args:
        told_at: how much speaks for a place, and how far it lies off.
    """
    places_s = np.arange(-REACH_S, REACH_S + STEP_S / 2, STEP_S)
    bumps = [told * np.exp(-0.5 * ((places_s - off_s) / WIDTH_S) ** 2) for told, off_s in told_at]
    return ClickTrace(
        click=Click.COUNT_IN if number < 0 else Click.FIRST_BEAT if number % 2 == 0 else Click.BEAT,
        voice=ClickVoice.WOOD,
        sound=np.zeros(0),
        sound_from_s=0.0,
        from_s=3.0 + number * BEAT_S - REACH_S,
        step_s=STEP_S,
        told=np.max(bumps, axis=0) if bumps else np.zeros(len(places_s)),
    )


def begun() -> BeatLine:
    line = BeatLine()
    line.begin(HeardBeat(song_s=-4 * BEAT_S, recorded_s=3.0 - 4 * BEAT_S, told=1.7))
    return line


def line_of(*traces: ClickTrace) -> BeatLine:
    """Return a line through ten plain clicks and what comes from the eighth beat on."""
    line = begun()
    for number in range(-3, 8):
        line.take(number * BEAT_S, trace(number, (1.2, 0.0)))
    for number, each in enumerate(traces, 8):
        line.take(number * BEAT_S, each)
    return line


def test_one_place_that_lies_off_and_for_which_little_speaks_is_no_jump_and_moves_nothing() -> None:
    for told in (0.2, 0.4, 0.6):
        line = line_of(trace(8, (told, 0.011)))
        assert line.jumps == []
        assert line.recorded_s(9 * BEAT_S) == pytest.approx(3.0 + 9 * BEAT_S, abs=0.0002)


@pytest.mark.parametrize("told", [0.5, 0.8, 1.6])
@pytest.mark.parametrize("lost_s", [0.010, 0.050, -0.020])
def test_two_clicks_that_lie_off_by_the_same_are_a_jump_and_the_line_goes_on_behind_it(
    told: float, lost_s: float
) -> None:
    line = line_of(*(trace(number, (told, -lost_s)) for number in (8, 9)))
    assert len(line.jumps) == 1
    assert line.jumps[0] == (pytest.approx(7 * BEAT_S), pytest.approx(line.jumps[0][1]))
    assert 8 * BEAT_S <= line.jumps[0][1] <= 9 * BEAT_S
    assert line.recorded_s(9 * BEAT_S) == pytest.approx(3.0 + 9 * BEAT_S - lost_s, abs=0.0003)


def test_two_clicks_for_which_less_speaks_than_for_a_stroke_beside_them_tell_of_a_jump_together() -> None:
    line = line_of(trace(8, (0.35, -0.010), (0.5, 0.013)), trace(9, (0.35, -0.010), (0.5, -0.024)))
    assert len(line.jumps) == 1
    assert line.recorded_s(9 * BEAT_S) == pytest.approx(3.0 + 9 * BEAT_S - 0.010, abs=0.0003)


def test_clicks_that_lie_off_by_unlike_amounts_are_no_jump() -> None:
    offs = (0.022, -0.019, 0.039, -0.041)
    line = line_of(*(trace(number, (0.45, off_s)) for number, off_s in enumerate(offs, 8)))
    assert line.jumps == []


def test_strokes_far_from_the_beat_that_are_like_a_click_are_no_jump() -> None:
    line = line_of(*(trace(n, (0.1, 0.0), (1.0 if n % 2 else 0.05, 0.105)) for n in range(8, 11)))
    assert line.jumps == []


def test_an_echo_for_which_more_speaks_than_for_the_click_is_no_jump_and_hides_none() -> None:
    line = begun()
    for number in range(-3, 24):
        line.take(number * BEAT_S, trace(number, (0.9, 0.0), (1.5, 0.020)))
    assert line.jumps == []
    for number in (24, 25):
        line.take(number * BEAT_S, trace(number, (0.9, -0.010), (1.5, 0.010)))
    assert len(line.jumps) == 1
    assert line.recorded_s(24 * BEAT_S) == pytest.approx(3.0 + 24 * BEAT_S - 0.010, abs=0.0003)


@pytest.mark.parametrize("ppm", [-100.0, 40.0, 100.0])
def test_a_clock_that_drifts_is_no_jump_and_is_followed(ppm: float) -> None:
    line = begun()
    rng = np.random.default_rng(4)
    for number in range(-3, 80):
        line.take(number * BEAT_S, trace(number, (1.2, number * BEAT_S * ppm * 1e-6 + rng.normal(0, 0.0003))))
    assert line.jumps == []
    assert line.recorded_s(80 * BEAT_S) == pytest.approx(3.0 + 80 * BEAT_S * (1 + ppm * 1e-6), abs=0.0003)


def test_times_that_lie_anywhere_never_make_a_firm_line() -> None:
    rng = np.random.default_rng(5)
    line, firm = BeatLine(), 0
    for number in range(400):
        if not line.clicks:
            line.begin(HeardBeat(song_s=number * BEAT_S, recorded_s=3.0 + number * BEAT_S, told=0.7))
            continue
        line.take(number * BEAT_S, trace(number, (rng.uniform(0.1, 0.5), rng.uniform(-0.015, 0.015))))
        firm += line.is_firm
    assert firm == 0


def test_a_line_that_is_not_heard_any_more_says_nothing_after_a_while() -> None:
    line = line_of()
    assert line.is_firm
    for number in range(8, 68):
        if line.clicks:
            line.take(number * BEAT_S, trace(number))
    assert not line.is_firm
    assert line.uncertainty_s == 0.0
