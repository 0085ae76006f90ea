"""The clicks, against the published limit for subdivisions and what a click must be."""

import itertools
from fractions import Fraction

import numpy as np
import pytest

from trainer.music.pattern import Meter
from trainer.sound.clicks import Click, beat_click, click_samples, clicks_per_beat, subdivision_helps

RATE = 48_000
SHARP_FRAMES = 48  # 1 ms, well under the 6 ms that a listener can hear (Friberg & Sundberg 1995)


@pytest.mark.parametrize("gain_db", [-60.0, -30.0, -9.0, 0.0])
@pytest.mark.parametrize("click", list(Click))
def test_a_click_sounds_from_its_first_frame_and_is_loud_within_a_millisecond(
    click: Click, gain_db: float
) -> None:
    samples = click_samples(click, gain_db, RATE).astype(int)
    assert samples[0] != 0
    assert np.abs(samples).argmax() < SHARP_FRAMES
    assert samples[-1] == 0


@pytest.mark.parametrize("click", list(Click))
def test_a_click_is_softer_at_its_very_edge_than_a_bare_step(click: Click) -> None:
    """A step to the peak would spread over the whole band; here most energy lies below 4 kHz."""
    power = np.abs(np.fft.rfft(click_samples(click, -9.0, RATE).astype(float), RATE)) ** 2
    assert power[:4000].sum() / power.sum() > 0.97


def test_clicks_are_told_apart_by_pitch_and_the_first_beat_is_the_loudest() -> None:
    pitches = {click: _pitch_hz(click_samples(click, -9.0, RATE)) for click in Click}
    for one, other in itertools.combinations(pitches.values(), 2):
        assert max(one, other) / min(one, other) > 2 ** (1 / 12), "at least a semitone apart"
    loud = {click: int(np.abs(click_samples(click, -9.0, RATE).astype(int)).max()) for click in Click}
    assert loud[Click.FIRST_BEAT] > loud[Click.MIDDLE_BEAT] > loud[Click.BEAT] > loud[Click.SUBDIVISION]
    assert loud[Click.COUNT_IN_FIRST] > loud[Click.COUNT_IN]


def test_the_volume_is_capped() -> None:
    loudest = np.abs(click_samples(Click.FIRST_BEAT, 20.0, RATE).astype(int)).max()
    assert loudest == pytest.approx(32767 * 10 ** (-3 / 20), abs=1)


@pytest.mark.parametrize(
    ("bpm", "count", "helps"),
    [(120, 2, True), (121, 2, False), (60, 4, True), (61, 4, False), (80, 3, True), (81, 3, False)],
)
def test_subdivision_helps_down_to_a_quarter_of_a_second(bpm: int, count: int, helps: bool) -> None:
    """Source: Repp 2003, J. Motor Behav. 35:355-370: it helps until the interval falls to 200 to 250 ms."""
    assert subdivision_helps(Fraction(bpm), count) is helps


@pytest.mark.parametrize(
    ("bpm", "slots", "count"),
    [(60, 4, 4), (61, 4, 2), (120, 4, 2), (121, 4, 1), (80, 3, 3), (81, 3, 1), (120, 2, 2), (400, 2, 1)],
)
def test_as_many_clicks_as_help_are_taken_and_all_fall_on_slots(bpm: int, slots: int, count: int) -> None:
    assert clicks_per_beat(Fraction(bpm), slots) == count


@pytest.mark.parametrize(
    ("meter", "words"),
    [
        (Meter.TWO_FOUR, "first other"),
        (Meter.THREE_FOUR, "first other other"),
        (Meter.FOUR_FOUR, "first other middle other"),
        (Meter.SIX_EIGHT, "first other"),
    ],
)
def test_accents_follow_the_meter(meter: Meter, words: str) -> None:
    """Common practice, no source: one is strongest, and in four, three comes next."""
    names = {Click.FIRST_BEAT: "first", Click.MIDDLE_BEAT: "middle", Click.BEAT: "other"}
    for bar in (0, 1, 7):
        beats = range(bar * meter.beats, (bar + 1) * meter.beats)
        assert " ".join(names[beat_click(meter, beat)] for beat in beats) == words


def test_the_count_in_has_clicks_of_its_own() -> None:
    clicks = [beat_click(Meter.THREE_FOUR, beat) for beat in range(-3, 1)]
    assert clicks == [Click.COUNT_IN_FIRST, Click.COUNT_IN, Click.COUNT_IN, Click.FIRST_BEAT]


def _pitch_hz(samples: np.ndarray) -> float:
    return float(np.abs(np.fft.rfft(samples.astype(float), RATE)).argmax())
