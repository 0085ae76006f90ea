"""Hammer-ons, pull-offs and slides: in tune against equal temperament, and without a pluck's noise."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import pattern_of
from tests.sound.helpers import plan_of
from tests.sound.spectrum import peak_near
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz
from trainer.sound.left_hand import (
    GLIDE_S,
    Attack,
    glide_places,
    left_hand_wave,
    notes_before,
    usual_before,
)
from trainer.sound.plan import SoundSettings, pluck_onsets
from trainer.sound.pluck import stroke_plucks
from trainer.sound.string import string_wave

RATE = 48_000
CENTS = 1200.0
MOVES = [
    (attack, note + before, note + after)
    for attack, before, after in [
        (Attack.HAMMERED, 0, 2),
        (Attack.HAMMERED, 2, 3),
        (Attack.PULLED, 2, 0),
        (Attack.PULLED, 7, 3),
        (Attack.SLID, 2, 4),
        (Attack.SLID, 5, 2),
        (Attack.SLID, 0, 12),
    ]
    for note in OPEN_G.notes
]


@pytest.mark.parametrize("rate", [44_100, 48_000])
@pytest.mark.parametrize(("attack", "before", "note"), MOVES)
def test_every_left_hand_note_arrives_within_a_cent(
    attack: Attack, before: int, note: int, rate: int
) -> None:
    """Source: equal temperament, 440 * 2**((n - 69) / 12); measured when a slide is over."""
    hz = note_to_hz(note)
    settled = left_hand_wave(attack, note, before, rate)[round(GLIDE_S * rate) :]
    assert abs(CENTS * np.log2(peak_near(settled, hz, rate) / hz)) < 1.0


@pytest.mark.parametrize(("before", "note"), [(57, 59), (60, 55), (50, 62)])
def test_a_glide_begins_at_the_old_note_and_is_even_in_cents(before: int, note: int) -> None:
    """Source: reading r times as fast moves the pitch by 1200 * log2(r) cents."""
    places = glide_places(before, note, RATE)
    cents = CENTS * np.log2(np.diff(places))
    assert cents[0] == pytest.approx(100 * (before - note), abs=1e-6)
    assert cents[-1] == pytest.approx(0.0, abs=1e-6)
    assert np.ptp(np.diff(cents)) < 1e-6
    assert len(places) == round(GLIDE_S * RATE)
    assert places[-1] == int(places[-1])
    assert 0 <= places[0] < 1


def test_the_pitch_halfway_through_a_slide_lies_between_the_frets() -> None:
    """An octave up in 60 ms is half an octave up after 30; the fundamental is the highest line there."""
    wave = left_hand_wave(Attack.SLID, 62, 50, RATE)
    middle = wave[round(0.02 * RATE) : round(0.04 * RATE)]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 1 << 16))
    low, high = int(120 * (1 << 16) / RATE), int(400 * (1 << 16) / RATE)
    heard_hz = (low + int(spectrum[low:high].argmax())) * RATE / (1 << 16)
    assert note_to_hz(53) < heard_hz < note_to_hz(59)


@pytest.mark.parametrize("attack", [Attack.HAMMERED, Attack.SLID])
def test_a_hammer_on_or_slide_begins_without_a_plucks_noise(attack: Attack) -> None:
    """The share above 4 kHz in the first 20 ms: much for a plucked string, little for one cut shorter."""

    def brightness(wave: np.ndarray) -> float:
        spectrum = np.abs(np.fft.rfft(wave[: RATE // 50] * np.hanning(RATE // 50))) ** 2
        return float(spectrum[80:].sum() / spectrum.sum())

    plucked = brightness(string_wave(note_to_hz(57), RATE))
    assert plucked > 0.1
    assert brightness(left_hand_wave(attack, 57, 55, RATE)) < plucked / 10


@pytest.mark.parametrize(("attack", "before", "note"), MOVES)
def test_left_hand_notes_have_their_peak_at_one_and_end_in_silence(
    attack: Attack, before: int, note: int
) -> None:
    wave = left_hand_wave(attack, note, before, RATE)
    assert np.abs(wave).max() == pytest.approx(1.0)
    assert abs(wave[-1]) < 1e-3
    assert len(wave) == len(string_wave(note_to_hz(note), RATE))


def test_the_note_before_is_the_last_one_of_the_same_string() -> None:
    pattern = pattern_of(
        "strike 3 fret 2, slide 3 fret 4, brush, thumb",
        "strike 4, hammer-on 2 fret 1, pull-off 2 fret 0, thumb",
    )
    before = notes_before(pattern, Tuning(capo=2))
    assert before == ((None, 55 + 2 + 2, None, None), (None, 59 + 2, 59 + 2 + 1, None))


def test_a_pass_is_taken_to_follow_another() -> None:
    """The hammer-on comes first, and the string still has what the end of the pass left on it."""
    pattern = pattern_of("strike 1, hammer-on 3 fret 4, strike 3 fret 2, thumb")
    assert notes_before(pattern, OPEN_G)[0][1] == 57


def test_without_a_note_before_the_hand_comes_from_two_frets_away() -> None:
    assert usual_before(Attack.HAMMERED, 60, None) == 58
    assert usual_before(Attack.SLID, 60, 60) == 58
    assert usual_before(Attack.PULLED, 60, None) == 62
    assert usual_before(Attack.SLID, 60, 55) == 55


def test_a_stream_sounds_each_ornament_from_the_note_its_string_had() -> None:
    pattern = replace(
        pattern_of("strike 3 fret 2, slide 3 fret 4, brush, thumb"), tuning=Tuning(notes=(62, 59, 54, 50, 66))
    )
    plan = plan_of("60", pattern=pattern, settings=SoundSettings(click=False), passes=1)
    (onset,) = pluck_onsets(plan, 0, 10 * RATE)
    assert (onset.pluck.attack, onset.pluck.before, onset.pluck.note) == (Attack.SLID, 56, 58)
    assert onset.frame == plan.frame_of(Fraction(1, 2)), "it moves from its slot on, never before"


def test_a_strike_comes_from_nowhere() -> None:
    (pluck,) = stroke_plucks(Stroke(kind=Kind.STRIKE, strings=(3,), fret=2), OPEN_G, 55)
    assert (pluck.attack, pluck.before) == (Attack.PLUCKED, None)
