"""Tell which string sounded, from what a stroke added to the sound.

What a stroke added is the spectrum of the 60 ms after its attack less that of the 60 ms before, in bands of
an eighth of a tone. It is explained by what each string sounds like, as a sum with weights of at least
nought (non-negative least squares); the string with the greatest weight sounded. What a string sounds like
is taught by plucks of the open string, moved up by the frets that it is stopped at: on an axis of logarithms
that is a shift. A string that was never taught is thought of as a comb of harmonics.

What cannot be told is said to be unknown: two strings stopped at one pitch, or one that stands out too
little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from trainer.hearing.bands import RATE, Bands, Wave, centred_bands
from trainer.music.tuning import OPEN_G, STRINGS, Tuning, note_to_hz

LOOKED_AT_S = 0.060
GAP_S = 0.006  # between what is looked at before and the attack: contact noise
BANDS_PER_SEMITONE = 2
LOWEST_NOTE, HIGHEST_NOTE = 47, 111  # B2 to 5 kHz
SPECTRUM = 8192
COMPRESSED = 0.5
ASKED = 1.3  # how much likelier the string that was asked for is
CLEAR = 1.25  # times the weight of the next string; with less nothing is claimed
COMB_HARMONICS = 12
_ROUNDS = 60
_TINY = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardString:
    """Which string a stroke sounded.

    Attributes:
        string: 1 to 5; None where it cannot be told.
        clearness: the weight of the likeliest string over that of the next, 1 and more.
    """

    string: int | None
    clearness: float


@lru_cache(maxsize=1)
def colour_bands() -> Bands:
    """Return the bands in which strings are told apart."""
    steps = np.arange((HIGHEST_NOTE - LOWEST_NOTE) * BANDS_PER_SEMITONE + 1)
    centres = note_to_hz(LOWEST_NOTE) * 2 ** (steps / (12 * BANDS_PER_SEMITONE))
    return centred_bands(SPECTRUM, centres)


def colour(wave: Wave, from_s: float, at_s: float) -> Wave:
    """Return what a stroke added to the sound: compressed bands, of length 1; all 0 when nothing was added.

    Args:
        wave: mono at 48 kHz, from LOOKED_AT_S + GAP_S before the attack to LOOKED_AT_S after it; what is
            missing is taken for silence.
        from_s: second of the recording at which ``wave`` begins.
        at_s: second of the attack.
    """
    after = _magnitudes(wave, round((at_s - from_s) * RATE))
    before = _magnitudes(wave, round((at_s - GAP_S - LOOKED_AT_S - from_s) * RATE))
    return of_length_1(np.maximum(0.0, after - before) ** COMPRESSED)


class StringEar:
    """Knows what each string sounds like.

    Args:
        tuning: the tuning and capo that the banjo is in.
        taught: for each string that was taught, the colours of its open plucks.
    """

    def __init__(self, tuning: Tuning = OPEN_G, taught: Mapping[int, Sequence[Wave]] | None = None) -> None:
        self.tuning = tuning
        self.taught = frozenset(taught or {})
        self._open = {
            string: _mean(taught[string]) if taught and taught.get(string) else _comb(tuning.note(string))
            for string in range(1, STRINGS + 1)
        }

    def which(self, added: Wave, frets: dict[int, int], asked: int | None = None) -> HeardString:
        """Return which string a stroke sounded.

        Args:
            added: its :func:`colour`.
            frets: where each string is stopped, for those that may sound; 0 is open.
            asked: the string that was to be played, None where that is not known.
        """
        strings = sorted(frets)
        if not strings or not added.any():
            return HeardString(string=None, clearness=1.0)
        shapes = np.array([_shifted(self._open[string], frets[string]) for string in strings]).T
        weights = explained(shapes, added) * np.linalg.norm(shapes, axis=0)
        if asked in strings:
            weights[strings.index(asked)] *= ASKED
        order = np.argsort(-weights)
        best = strings[order[0]]
        if weights[order[0]] <= 0:
            return HeardString(string=None, clearness=1.0)
        next_weight = weights[order[1]] if len(strings) > 1 else 0.0
        clearness = float(min(weights[order[0]] / max(next_weight, _TINY), 1e3))
        pitch = self.tuning.note(best, frets[best])
        alike = any(self.tuning.note(each, frets[each]) == pitch for each in strings if each != best)
        known = not alike and clearness >= CLEAR
        return HeardString(string=best if known else None, clearness=clearness)


def explained(shapes: Wave, wanted: Wave) -> Wave:
    """Return the weights, none below 0, with which columns add up to what is wanted at the least squares.

    Coordinate descent: one weight after the other is set to its best; with a handful of columns it settles
    within a few rounds. The same as ``scipy.optimize.nnls`` to six places.

    Args:
        shapes: shape (bands, columns), none all 0.
        wanted: shape (bands,).
    """
    products, aims = shapes.T @ shapes, shapes.T @ wanted
    weights = np.zeros(shapes.shape[1])
    for _round in range(_ROUNDS):
        before = weights.copy()
        for column in range(len(weights)):
            rest = aims[column] - products[column] @ weights + products[column, column] * weights[column]
            weights[column] = max(0.0, rest / max(products[column, column], _TINY))
        if np.abs(weights - before).max() < 1e-9:
            break
    return weights


def _magnitudes(wave: Wave, start: int) -> Wave:
    length = round(LOOKED_AT_S * RATE)
    piece = wave[max(0, start) : max(0, start + length)]
    piece = np.pad(piece, (max(0, -start), max(0, length - len(piece) - max(0, -start))))[:length]
    lines = np.abs(np.fft.rfft(piece * np.hanning(length), SPECTRUM))
    return np.asarray(colour_bands().of(lines[None, :])[0])


def _mean(colours: Sequence[Wave]) -> Wave:
    return of_length_1(np.mean(colours, axis=0))


def _comb(note: int) -> Wave:
    """Return what a string is thought to sound like before it was taught: harmonics that grow softer."""
    shape = np.zeros(len(colour_bands()))
    for harmonic in range(1, COMB_HARMONICS + 1):
        band = round((note - LOWEST_NOTE + 12 * np.log2(harmonic)) * BANDS_PER_SEMITONE)
        if 0 <= band < len(shape):
            shape[band] += harmonic**-0.5
    spread = np.convolve(shape, [0.35, 1.0, 0.35], mode="same")
    return of_length_1(spread**COMPRESSED)


def _shifted(shape: Wave, frets: int) -> Wave:
    bands = frets * BANDS_PER_SEMITONE
    return np.concatenate([np.zeros(bands), shape[: len(shape) - bands]])


def of_length_1(shape: Wave) -> Wave:
    norm = float(np.linalg.norm(shape))
    return np.asarray(shape / norm if norm > _TINY else np.zeros_like(shape))
