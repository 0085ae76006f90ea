"""Tell how much each place near that of a click speaks for it, beside a banjo that is louder.

The best match of a click is often astray: strokes come with the clicks, and sound in the same band. But what
rings on is known, as it sounds before the click and after it; a matched filter that hears little where this
is strong (whitened: North 1943, from memory, for noise of any colour) loses less to it than any other linear
filter. And not its best place alone is kept but what it says of all places, so that several clicks can be
asked at once how much speaks for one and the same step of the line.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.hearing.bands import RATE, Wave
from trainer.hearing.tone_edge import AFTER_S, BEFORE_S, tone_began_s
from trainer.sound.clicks import Click, ClickVoice, click_samples
from trainer.sound.knocks import COMPARED_S, peak_between

BAND_HZ = {ClickVoice.TONE: (2250.0, 2950.0), ClickVoice.WOOD: (500.0, 3500.0)}
EDGE_HZ = 100.0
# What sounds this long before a click and after it is what rings on; the click itself counts half, for what
# begins or ends with it.
RINGING_S, CLICK_SHARE = 0.050, 0.5
APART_S = 0.002  # of what rings on before, from the click
MARGIN_S = 0.010  # at the ends of what is looked at, where cutting it out is heard
FLOOR = 0.03  # of the strongest line: how deep one that rings on is taken down
LOOKED_S, LOOKED_SHARE = 0.120, 0.4
FINER = 8  # frames to a place
_TINY = 1e-30

Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundClick:
    """A click: the second of the recording at which it began, and what speaks for it there."""

    at_s: float
    told: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClickTrace:
    """How much each place speaks for a click that is due.

    Attributes:
        click, voice: which it is, and what it is made of.
        sound, sound_from_s: what was heard, and the second of the recording at which that begins.
        from_s, step_s: second of the recording of the first place, and how far the places lie apart.
        told: what speaks for each: the energy of what is alike to the click against that of all there,
            half of it, and half of what there usually is round it; 0 to 2.
    """

    click: Click
    voice: ClickVoice
    sound: Wave
    sound_from_s: float
    from_s: float
    step_s: float
    told: Wave

    @property
    def reach_s(self) -> float:
        """How far the places lie from the middle one."""
        return self.step_s * (len(self.told) // 2)

    def at(self, recorded_s: Wave) -> Wave:
        """Return what speaks for a click at seconds of the recording; 0 outside the places looked at."""
        places_s = self.from_s + self.step_s * np.arange(len(self.told))
        return np.interp(recorded_s, places_s, self.told, left=0.0, right=0.0)

    def found(self, near_s: float, within_s: float) -> FoundClick:
        """Return the click at the place, so near to a second of the recording, for which most speaks."""
        first = round((near_s - within_s - self.from_s) / self.step_s)
        last = round((near_s + within_s - self.from_s) / self.step_s) + 1
        first = min(max(0, first), len(self.told) - 1)
        at = first + int(np.argmax(self.told[first : max(first + 1, last)]))
        at_s = self.from_s + peak_between(self.told, at) * self.step_s
        if self.voice is ClickVoice.TONE:
            at_s = tone_began_s(self.sound, self.sound_from_s, at_s, self.click)
        return FoundClick(at_s=at_s, told=float(self.told[at]))


def reach_s(gap_s: float) -> float:
    """Return how far from its place a click is looked for, where the next comes after so long."""
    return min(LOOKED_S, LOOKED_SHARE * gap_s)


def click_trace(
    wave: Wave, from_s: float, place_s: float, reach_s: float, click: Click, voice: ClickVoice
) -> ClickTrace:
    """Return what speaks for a click at each place so far before or after the one where it should be.

    Args:
        wave: mono at 48 kHz; what is missing of it is taken for silence.
        from_s: second of the recording at which ``wave`` begins.
        place_s: where the click should begin, good to some hundredths of a second.
        reach_s: how far from there it is looked for.
    """
    before_s = max(reach_s + BEFORE_S, APART_S + RINGING_S + MARGIN_S)
    after_s = max(reach_s + AFTER_S, COMPARED_S + RINGING_S + MARGIN_S)
    start, length = round((place_s - before_s - from_s) * RATE), round((before_s + after_s) * RATE)
    piece = wave[max(0, start) : max(0, start + length)].copy()
    size = 1 << (length - 1).bit_length()
    padded = np.zeros(size)
    padded[max(0, -start) : max(0, -start) + len(piece)] = piece
    low, edge, own = _own(click, voice, size)
    lines = np.fft.rfft(padded)[low : low + len(edge)] * edge
    places = size // FINER
    rate = RATE / FINER
    band = np.fft.ifft(lines, places)
    at, long = round(before_s * rate), round(COMPARED_S * rate)
    ringing, apart = round(RINGING_S * rate), round(APART_S * rate)
    noise = (
        _spectrum(band[at - apart - ringing : at - apart], places)
        + _spectrum(band[at + long : at + long + ringing], places)
        + CLICK_SHARE * _spectrum(band[at - 2 * apart : at + long], places)
    )[: len(edge)]
    root = np.sqrt(noise + FLOOR * float(noise.max()) + _TINY)
    even, sought = lines / root, own / root
    sought = sought / np.sqrt((np.abs(sought) ** 2).sum() / places)
    alike = np.abs(np.fft.ifft(even * np.conj(sought), places)) ** 2
    sums = np.concatenate([[0.0], np.cumsum(np.abs(np.fft.ifft(even, places)) ** 2)])
    first, last = at - round(reach_s * rate), at + round(reach_s * rate) + 1
    alike, energy = alike[first:last], (sums[long:] - sums[:-long])[first:last]
    energy = np.maximum(energy, alike)
    return ClickTrace(
        click=click,
        voice=voice,
        sound=piece,
        sound_from_s=from_s + max(0, start) / RATE,
        from_s=from_s + start / RATE + first / rate,
        step_s=1 / rate,
        told=2 * alike / (energy + float(np.median(energy)) + _TINY),
    )


def _spectrum(piece: Complex, size: int) -> Wave:
    """Return the power of a piece of a band at each line."""
    window = np.hanning(len(piece))
    return np.asarray(np.abs(np.fft.fft(piece * window, size)) ** 2 / (window**2).sum())


@lru_cache(maxsize=32)
def _own(click: Click, voice: ClickVoice, size: int) -> tuple[int, Wave, Complex]:
    """Return the first line of the band, what its lines are multiplied by, and those of the click itself."""
    low_hz, high_hz = BAND_HZ[voice]
    hz = np.fft.rfftfreq(size, 1 / RATE)
    held = np.flatnonzero((hz > low_hz) & (hz < high_hz))
    edge = np.minimum(1.0, np.minimum(hz[held] - low_hz, high_hz - hz[held]) / EDGE_HZ)
    samples = click_samples(click, -6.0, RATE, voice)[: round(COMPARED_S * RATE)].astype(np.float64)
    return int(held[0]), edge, np.fft.rfft(samples, size)[held] * edge
