"""Hammer-ons, pull-offs and slides: in tune against equal temperament, and without a pluck's noise."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import pattern_of
from tests.sound.helpers import plan_of
from tests.sound.spectrum import centre_hz, peak_near, power, share
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz
from trainer.sound.left_hand import (
    GLIDE_S,
    Attack,
    glide_positions,
    left_hand_wave,
    notes_before,
    usual_before,
)
from trainer.sound.plan import SoundSettings
from trainer.sound.pluck import stroke_plucks
from trainer.sound.render import render
from trainer.sound.stream_onsets import pluck_onsets
from trainer.sound.string import banjo_wave, string_wave

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
    positions = glide_positions(before, note, RATE)
    cents = CENTS * np.log2(np.diff(positions))
    assert cents[0] == pytest.approx(100 * (before - note), abs=1e-6)
    assert cents[-1] == pytest.approx(0.0, abs=1e-6)
    assert np.ptp(np.diff(cents)) < 1e-6
    assert len(positions) == round(GLIDE_S * RATE)
    assert positions[-1] == int(positions[-1])
    assert 0 <= positions[0] < 1


def test_the_pitch_halfway_through_a_slide_lies_between_the_frets() -> None:
    """An octave up in 60 ms is half an octave up after 30, 6 semitones, where the lowest line is then."""
    wave = left_hand_wave(Attack.SLID, 62, 50, RATE)
    middle = wave[round(0.02 * RATE) : round(0.04 * RATE)]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 1 << 16))
    low, high = int(150 * (1 << 16) / RATE), int(290 * (1 << 16) / RATE)
    heard_hz = (low + int(spectrum[low:high].argmax())) * RATE / (1 << 16)
    assert note_to_hz(53) < heard_hz < note_to_hz(59)


@pytest.mark.parametrize("note", [52, 57, 62, 66])
@pytest.mark.parametrize("attack", [Attack.HAMMERED, Attack.PULLED, Attack.SLID])
def test_the_left_hand_begins_without_a_plucks_knock(attack: Attack, note: int) -> None:
    """In its first 20 ms it has less than half of a pluck's share above 2 kHz, and lies lower."""
    begin = RATE // 50
    plucked = banjo_wave(note_to_hz(note), RATE)[:begin]
    left = left_hand_wave(attack, note, usual_before(attack, note, None), RATE)[:begin]
    assert share(plucked, 2000, RATE / 2) > 0.15
    assert share(left, 2000, RATE / 2) < share(plucked, 2000, RATE / 2) / 2
    assert centre_hz(left) < 0.75 * centre_hz(plucked)


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
    arrives = onset.frame + len(glide_positions(56, 58, RATE))
    assert arrives == plan.frame_of(Fraction(1, 2)), "it is at its fret on its slot, not when it sets out"


@pytest.mark.parametrize("bpm", ["61", "133", "240"])
def test_a_slide_is_heard_at_its_new_fret_from_its_slot_on(bpm: str) -> None:
    """Source: equal temperament; the pitch of the 40 ms from the slot on, within a fifth of a semitone."""
    pattern = pattern_of("strike 3 fret 2, slide 3 fret 4, rest, rest")
    plan = plan_of(bpm, pattern=pattern, settings=SoundSettings(click=False, count_in=False), passes=1)
    slot = plan.frame_of(Fraction(1, 2))
    stream = render(plan, slot, RATE // 25)[:, 0].astype(float)
    freqs, energy = power(stream * np.hanning(len(stream)))
    heard = float(freqs[energy.argmax()])
    wanted = note_to_hz(OPEN_G.note(3) + 4)
    cents = 1200 * np.log2(heard / (wanted * round(heard / wanted)))
    assert abs(cents) < 20
    before = render(plan, slot - 2 * round(GLIDE_S * RATE), 2 * round(GLIDE_S * RATE)).any(axis=1)
    assert int(before.argmax()) == round(GLIDE_S * RATE), "it sets out 60 ms before"


def test_a_strike_comes_from_nowhere() -> None:
    (pluck,) = stroke_plucks(Stroke(kind=Kind.STRIKE, strings=(3,), fret=2), OPEN_G, 55)
    assert (pluck.attack, pluck.before) == (Attack.PLUCKED, None)
