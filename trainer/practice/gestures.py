"""Hear gestures in touches of the pads between drills: start, the next figure, faster, slower.

A gesture is a short word of touches: two of them, at most half a second apart, with silence before and after.
The last strokes of a drill cannot be taken for one: they have no quiet time before them. Nor can playing
on for its own sake: it does not end after two touches.

Where nail and thumb each have a pad the word is which of them, in order; with one pad it is how many times.
All times are seconds of one clock, handed in.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace

from trainer.music.strokes import Hand

QUIET_S = 1.0  # without a touch before a word
QUIET_AFTER_DRILL_S = 2.0  # more than the longest rest of a figure at a tempo at which two touches are a word
TOGETHER_S = 0.5  # longest gap inside a word; the word is over when it has passed
MOST_TOUCHES = 6


class Gesture(enum.Enum):
    """What can be asked for; the value is the name of the key's gesture that does the same."""

    START = "start"
    NEXT = "next"
    FASTER = "faster"
    SLOWER = "slower"


BY_HANDS = {
    (Hand.NAIL, Hand.NAIL): Gesture.START,
    (Hand.THUMB, Hand.THUMB): Gesture.NEXT,
    (Hand.NAIL, Hand.THUMB): Gesture.FASTER,
    (Hand.THUMB, Hand.NAIL): Gesture.SLOWER,
}
BY_COUNT = {2: Gesture.START, 3: Gesture.NEXT, 4: Gesture.FASTER, 5: Gesture.SLOWER}


@dataclass(frozen=True, slots=True, kw_only=True)
class GestureSoFar:
    """What has been touched so far: a value, replaced at each touch.

    Attributes:
        quiet_from_s: a word may begin from here on.
        word: whose pad each touch was; None for a pad of no hand. At most MOST_TOUCHES are kept.
        last_s: when the last touch came; None before the first.
    """

    quiet_from_s: float = 0.0
    word: tuple[Hand | None, ...] = ()
    last_s: float | None = None

    @classmethod
    def since(cls, now_s: float, *, after_drill: bool) -> GestureSoFar:
        """Return the state when a scene comes up that hears gestures."""
        return cls(quiet_from_s=now_s + (QUIET_AFTER_DRILL_S if after_drill else QUIET_S))

    def touched(self, hand: Hand | None, at_s: float) -> GestureSoFar:
        """Take in a touch. One that comes too early puts the first word off by another quiet second."""
        if at_s < self.quiet_from_s:
            return replace(self, quiet_from_s=max(self.quiet_from_s, at_s + QUIET_S), word=(), last_s=at_s)
        return replace(self, word=(*self.word, hand)[:MOST_TOUCHES], last_s=at_s)

    def heard(self, now_s: float) -> tuple[GestureSoFar, Gesture | None]:
        """Return what is left and the gesture, once the word is over; None while there is none.

        A word that means nothing is forgotten, and what follows it needs a quiet second again.
        """
        if not self.word or self.last_s is None or now_s - self.last_s <= TOGETHER_S:
            return self, None
        return GestureSoFar(quiet_from_s=self.last_s + QUIET_S), _meaning(self.word)


def _meaning(word: tuple[Hand | None, ...]) -> Gesture | None:
    if all(hand is None for hand in word):
        return BY_COUNT.get(len(word))
    if len(word) != 2 or word[0] is None or word[1] is None:
        return None
    return BY_HANDS.get((word[0], word[1]))


def in_words(*, knows_hand: bool) -> str:
    """Return what the pads ask for, in as few words as will do."""
    if knows_hand:
        return "pads: nail nail start, thumb thumb next, nail thumb faster, thumb nail slower"
    return "pad: twice start, 3 times next, 4 faster, 5 slower"
