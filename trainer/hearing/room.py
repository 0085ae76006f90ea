"""Hold what a set-up has learnt of a room, a microphone and a banjo; a value that is kept as a short text."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from trainer.hearing.bands import Wave
from trainer.hearing.listening import HeardStroke
from trainer.hearing.onsets import THRESHOLD
from trainer.hearing.strings import BANDS_PER_SEMITONE, colour_bands, of_length_1
from trainer.hearing.taps import SOFT_THRESHOLD, TOUCH_THRESHOLD
from trainer.music.tuning import OPEN_G, STRINGS, Tuning

FINEST = 255  # steps that a band of a colour is kept in
LEAST_SOFT, LARGEST_SOFT = 0.14, 0.60  # noise alone reaches 0.13 within a minute
LEAST_TOUCH, LARGEST_TOUCH = 0.014, 0.20  # of 660 silent skips at 20 and 30 dB two reached it
LEAST_STRENGTH = 0.005  # of what is listened for where a room is learnt
TOUCH_MARGIN = 2.0  # over the median of what sounds by itself: a finger that moves once decides nothing


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """What is known of a room; the usual values hold before anything was learnt.

    Attributes:
        soft_threshold: how much a soft sound has to rise to count beside a stroke.
        touch_threshold: how strong a touch has to be to count at a skip.
        tuning: the tuning in which the strings were taught.
        taught: the colour of each string that was taught, open, as :mod:`trainer.hearing.strings` has it.
        words: what can be told in this room, a sentence; empty before it was learnt.
    """

    soft_threshold: float = SOFT_THRESHOLD
    touch_threshold: float = TOUCH_THRESHOLD
    tuning: Tuning = OPEN_G
    taught: Mapping[int, Wave] | None = None
    words: str = ""

    def taught_for(self, tuning: Tuning) -> dict[int, list[Wave]]:
        """Return what each string sounds like in a tuning: as it was taught, moved by what it was retuned by.

        A string that was tuned down loses the lowest bands, in which little lies.
        """
        found: dict[int, list[Wave]] = {}
        for string, colour in (self.taught or {}).items():
            moved = BANDS_PER_SEMITONE * (tuning.note(string) - self.tuning.note(string))
            shape = np.roll(colour, moved)
            if moved > 0:
                shape[:moved] = 0
            elif moved < 0:
                shape[moved:] = 0
            found[string] = [of_length_1(shape)]
        return found

    def text(self) -> str:
        """Return it as a text of some hundred characters, to be kept."""
        colours = {}
        for string, colour in (self.taught or {}).items():
            steps = np.rint(FINEST * colour / max(float(colour.max()), 1e-9)).astype(np.uint8)
            colours[str(string)] = steps.tobytes().hex()
        return json.dumps(
            {
                "touch": round(self.soft_threshold, 3),
                "newness": round(self.touch_threshold, 4),
                "notes": [self.tuning.note(string) for string in range(1, STRINGS + 1)],
                "colours": colours,
                "words": self.words,
            },
            separators=(",", ":"),
        )


def touch_threshold(by_themselves: Sequence[HeardStroke]) -> float:
    """Return the least strength of a touch: well above what sounds while strings only ring on.

    Args:
        by_themselves: what was heard with LEAST_STRENGTH while nobody played; strokes among it are left out.
    """
    heard = [each.touch_strength for each in by_themselves if each.rise < THRESHOLD]
    by_itself = float(np.median(heard)) if heard else 0.0
    return float(min(max(TOUCH_MARGIN * by_itself, LEAST_TOUCH), LARGEST_TOUCH))


def read_room(text: str) -> Room:
    """Return the room that a text holds; what does not fit is as if it had not been learnt."""
    try:
        held = json.loads(text)
        soft = min(max(float(held["touch"]), LEAST_SOFT), LARGEST_SOFT)
        # Texts of 0.3.0 are without it.
        touch = min(max(float(held.get("newness", TOUCH_THRESHOLD)), LEAST_TOUCH), LARGEST_TOUCH)
        first, second, third, fourth, drone = (int(note) for note in held["notes"])
        taught = {
            int(string): _colour(steps)
            for string, steps in held["colours"].items()
            if 1 <= int(string) <= STRINGS
        }
        return Room(
            soft_threshold=soft,
            touch_threshold=touch,
            tuning=Tuning(notes=(first, second, third, fourth, drone)),
            taught=taught,
            words=str(held["words"]),
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        return Room()


def _colour(steps: str) -> Wave:
    found = np.frombuffer(bytes.fromhex(steps), dtype=np.uint8).astype(np.float64)
    if len(found) != len(colour_bands()):
        raise ValueError(f"{len(found)} bands")
    return of_length_1(found)
