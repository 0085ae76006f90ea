"""Which string sounded, and the least squares by which it is told, held against scipy's."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls

from tests.hearing.conftest import Make
from trainer.hearing.bands import RATE
from trainer.hearing.listening import listen
from trainer.hearing.strings import StringEar, colour, explained
from trainer.music.strokes import Kind
from trainer.music.tuning import OPEN_G, note_to_hz
from trainer.sound.string import string_wave


def plucked(note: int) -> np.ndarray:
    sound = np.zeros(RATE)
    sound[RATE // 4 : RATE // 4 + RATE // 2] = string_wave(note_to_hz(note), RATE)[: RATE // 2]
    return sound


@given(st.integers(0, 2**31), st.integers(1, 5))
def test_weights_are_those_of_scipys_non_negative_least_squares(seed: int, columns: int) -> None:
    rng = np.random.default_rng(seed)
    shapes, wanted = rng.uniform(0, 1, (40, columns)), rng.uniform(-0.5, 1, 40)
    expected, _norm = nnls(shapes, wanted)
    assert explained(shapes, wanted) == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize("string", [1, 2, 3, 4, 5])
def test_an_open_string_is_told_even_untaught(string: int) -> None:
    heard = StringEar().which(colour(plucked(OPEN_G.note(string)), 0.0, 0.25), dict.fromkeys(range(1, 6), 0))
    assert heard.string == string


def test_a_string_taught_is_told_at_another_fret() -> None:
    taught = {string: [colour(plucked(OPEN_G.note(string)), 0.0, 0.25)] for string in range(1, 6)}
    added = colour(plucked(OPEN_G.note(3, 2)), 0.0, 0.25)
    heard = StringEar(OPEN_G, taught).which(added, {1: 0, 2: 0, 3: 2, 4: 0, 5: 0})
    assert heard.string == 3


def test_two_strings_of_one_pitch_are_not_told_apart() -> None:
    # The second string at its third fret is the first string's D.
    added = colour(plucked(OPEN_G.note(1)), 0.0, 0.25)
    assert StringEar().which(added, {1: 0, 2: 3, 3: 0}).string is None


def test_nothing_added_is_no_string() -> None:
    assert StringEar().which(colour(np.zeros(RATE), 0.0, 0.5), {1: 0}).string is None


def test_strings_of_a_whole_take_are_told_although_others_ring(make: Make) -> None:
    recording = make()
    heard = listen(recording.wave)
    right = []
    for played in recording.played:
        if played.kind in (Kind.THUMB, Kind.DROP_THUMB):
            stroke = min(heard, key=lambda each: abs(each.time_s - played.time_s))
            frets = dict.fromkeys(range(1, 6), 0)
            right.append(StringEar().which(stroke.colour, frets).string == played.string)
    assert np.mean(right) >= 0.95
