"""Find a chord on the neck: which string stopped where gives which of its tones.

Frets count from the capo. Which of the possible shapes a player takes is common practice, no source; the rule
here gives the usual ones in open G: 4 as 2 0 1 2 and 5 as 0 2 3 4 from string 4 to string 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import product

from trainer.music.chart import Chord, Mode
from trainer.music.keys import chord_classes, pitch_class
from trainer.music.strokes import LONG_STRINGS
from trainer.music.tuning import Tuning

HIGHEST_SHAPE_FRET = 5  # two tones of a chord lie at most six half steps apart: each string has one there
MISSING_COST = (6, 4, 3)  # of a shape without root, third or fifth, in frets of stretch
MISSING_COST_SEVENTH = (8, 4, 1, 7)  # of four tones the fifth is the one that players leave out
_DOWN_THE_STRINGS = tuple(reversed(LONG_STRINGS))


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A string stopped at a fret; 0 is open."""

    string: int
    fret: int


def chord_frets(
    chord: Chord, key: str, tuning: Tuning, string: int, *, highest: int = HIGHEST_SHAPE_FRET
) -> tuple[int, ...]:
    """Return the frets of a string, 0 to ``highest``, that give a tone of a chord, ascending."""
    classes = chord_classes(chord, key)
    return tuple(fret for fret in range(highest + 1) if tuning.note(string, fret) % 12 in classes)


@lru_cache(maxsize=512)
def chord_shape(chord: Chord, key: str, tuning: Tuning) -> tuple[int, int, int, int]:
    """Return frets for strings 4, 3, 2 and 1 that sound a chord and nothing else.

    The least of: how high it reaches, how far it stretches, and what it leaves out of the chord; of equals
    the one with the lower frets. Where there is no chord all strings are open.
    """
    if chord.silent:
        return 0, 0, 0, 0
    costs = MISSING_COST if len(chord.intervals) == len(MISSING_COST) else MISSING_COST_SEVENTH
    classes = chord_classes(chord, key)

    def cost(frets: tuple[int, ...]) -> tuple[int, int]:
        sounding = {tuning.note(s, f) % 12 for s, f in zip(_DOWN_THE_STRINGS, frets, strict=True)}
        missing = sum(c for c, tone in zip(costs, classes, strict=True) if tone not in sounding)
        stopped = [fret for fret in frets if fret]
        stretch = max(stopped) - min(stopped) if stopped else 0
        return missing + max(frets) + stretch, sum(frets)

    choices = (chord_frets(chord, key, tuning, string) for string in _DOWN_THE_STRINGS)
    fourth, third, second, first = min(product(*choices), key=cost)
    return fourth, third, second, first


def shape_frets(chord: Chord, key: str, tuning: Tuning, strings: tuple[int, ...]) -> tuple[int, ...]:
    """Return the frets at which the shape of a chord stops some of the strings 4 to 1, in their order."""
    shape = dict(zip(_DOWN_THE_STRINGS, chord_shape(chord, key, tuning), strict=True))
    return tuple(shape[string] for string in strings)


@lru_cache(maxsize=512)
def tone_places(chord: Chord, key: str, tuning: Tuning) -> tuple[Place, ...]:
    """Return where a chord's lowest note, fifth and third lie best: the lowest fret, then the lower string.

    The lowest is the root unless the chord names another bass. Fewer than three when a tone lies on no long
    string within five frets; none where there is no chord.
    """
    if chord.silent:
        return ()
    _root, third, fifth, *_seventh = chord_classes(chord, key)
    lowest = (pitch_class(key) + chord.lowest) % 12
    places = []
    for wanted in dict.fromkeys((lowest, fifth, third)):
        found = [
            Place(string=string, fret=fret)
            for fret in range(HIGHEST_SHAPE_FRET + 1)
            for string in _DOWN_THE_STRINGS
            if tuning.note(string, fret) % 12 == wanted
        ]
        places += found[:1]
    return tuple(places)


def scale_step(key: str, tuning: Tuning, place: Place, direction: int, mode: Mode = Mode.MAJOR) -> int:
    """Return the fret of the next note of the key's scale on the same string.

    Args:
        direction: 1 for the note above, -1 for the note below; this one may lie below the open string.
    """
    scale = {(pitch_class(key) + step) % 12 for step in mode.scale}
    near, far = (place.fret + direction * steps for steps in (1, 2))
    return near if tuning.note(place.string, near) % 12 in scale else far
