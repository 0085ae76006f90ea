"""Whose a pad is, is told from the strokes that its touches fit, and not claimed where they do not tell it.

The notes of the pads are arbitrary; the players are simulated with stated faults (practice/hands.py).
"""

from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import SKIP_FIGURE, pattern_of
from trainer.judging.take import Tap
from trainer.music.layout import Target, lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.pad_guess import PadGuess, guess_pads
from trainer.practice.pads import write_pads

PATTERN = pattern_of(SKIP_FIGURE)


def targets(passes: int = 8) -> tuple[Target, ...]:
    return lay_out(PATTERN, Timeline.steady(Fraction(80)), passes=passes)


def guessed(notes: dict[Hand, int], faults: Faults, *, channel: int = 9) -> PadGuess:
    asked = targets()
    touched: dict[tuple[int, int], list[Tap]] = {}
    for tap in simulate(asked, faults, np.random.default_rng(3)).taps:
        assert tap.hand is not None
        touched.setdefault((channel, notes[tap.hand]), []).append(Tap(song_s=tap.song_s))
    return guess_pads(asked, touched)


@pytest.mark.parametrize(
    "faults",
    [
        Faults(),
        Faults(jitter_s=0.02, miss=0.1),
        Faults(jitter_s=0.015, rush_gap_s=0.1),
        Faults(jitter_s=0.015, touch_skips=0.8),
    ],
)
@pytest.mark.parametrize("notes", [{Hand.NAIL: 36, Hand.THUMB: 38}, {Hand.NAIL: 71, Hand.THUMB: 40}])
def test_each_pad_is_given_to_the_hand_whose_strokes_it_plays(faults: Faults, notes: dict[Hand, int]) -> None:
    found = guessed(notes, faults).pads
    assert {pad.note: pad.hand for pad in found.pads} == {note: hand for hand, note in notes.items()}


def test_the_guess_is_said_in_words_that_hold_it() -> None:
    guess = guessed({Hand.NAIL: 36, Hand.THUMB: 38}, Faults())
    assert "note 36 for the nail" in guess.sentence
    assert f"--pads {write_pads(guess.pads)}" in guess.sentence


def test_one_pad_for_both_hands_is_judged_by_its_timing() -> None:
    guess = guessed({Hand.NAIL: 36, Hand.THUMB: 36}, Faults())
    assert not guess.pads.pads
    assert (guess.sentence, guess.words) == ("", "timing only")


def test_two_pads_that_both_play_strokes_of_either_hand_are_nobodys() -> None:
    asked = targets()
    taps = simulate(asked, Faults(), np.random.default_rng(1)).taps
    # Both pads in turn, whatever the hand.
    touched = {(9, 36): taps[::2], (9, 38): taps[1::2]}
    guess = guess_pads(
        asked, {pad: [Tap(song_s=tap.song_s) for tap in each] for pad, each in touched.items()}
    )
    assert not guess.pads.pads
    assert "cannot be told" in guess.sentence
