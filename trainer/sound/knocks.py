"""Hear clicks and knocks in one mono recording: when each began, in seconds of the recording.

Clicks are known, so they are found by a matched filter: the recording is compared with each click's own
samples at every place, and what is alike enough at its best place is a click. What was heard of the clicks,
with the loudspeaker's and the room's colour, is then the median over all clicks of a kind; that is taken
out, so a knock on top of a click is found as well.

Knocks are any sudden rise of energy in what is left. Where one began is told by the best cut of the piece
around the rise into noise before and knock after: the k that makes

    AIC(k) = k log var(x[:k]) + (n - k) log var(x[k:])

least (Maeda 1985, Zisin 38:365-379, from memory; a picker of seismic waves). Both times are good to a
fraction of a millisecond; for the difference of two of them that is what counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trainer.sound.clicks import Click, ClickVoice, click_samples

Wave = NDArray[np.float64]

BEATS = (Click.FIRST_BEAT, Click.BEAT, Click.COUNT_IN_FIRST, Click.COUNT_IN)
CLICK_DB = -6.0  # only the shape of a click is used
COMPARED_S = 0.030  # of a click; after that little is left of it
ALIKE = 0.30  # correlation with the click's samples: 0.6 and more in a noisy, lively room; noise alone 0.1
PLAIN = 0.6  # likeness of a click that nothing sounds over
FAINT_SHARE = 0.1  # what is softer still is noise, whatever it is like
LOUD_SHARE = 0.4  # of the usual click's height; what is softer is an echo or a knock like it
CLICK_APART_S = 0.200  # an echo within this is not another click
SLOWER_S = 0.0003  # what changes more slowly is hum and rumble
TONE_BAND_HZ, TONE_EDGE_HZ = (2250.0, 2950.0), 100.0
RISE_S = 0.003
BEFORE_S = 0.015
RISE = 4.0  # times the energy before
OVER_NOISE = 5.0  # times the energy of the quiet in the recording
KNOCK_APART_S = 0.060
PICK_BEFORE_S, PICK_AFTER_S = 0.010, 0.003
RINGING_S = 0.080  # how much of a click and its echo is taken out
FLANK_S = 0.002  # round a place that is a peak of its own
_TINY = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class HeardClick:
    """A click in a recording: when it began, which it was, and how alike (0 to 1)."""

    time_s: float
    click: Click
    likeness: float


def find_clicks(
    recording: Wave,
    rate: int,
    kinds: Sequence[Click] = BEATS,
    *,
    voice: ClickVoice = ClickVoice.WOOD,
    beside: bool = False,
    within_s: tuple[float, float] | None = None,
) -> tuple[HeardClick, ...]:
    """Return the clicks in a recording, in order.

    Args:
        recording: mono, any scale.
        rate: frames a second.
        kinds: the clicks that may be in it.
        voice: what they are made of; a tone is looked for in its own band alone, so that it is found
            beside a banjo that is louder.
        beside: whether something is played beside the clicks: then a plain one may be far softer than others.
        within_s: seconds of the recording between which clicks are looked for; None for everywhere.
    """
    length = round(COMPARED_S * rate)
    if len(recording) < 2 * length:
        return ()
    cleaned = in_tone_band if voice is ClickVoice.TONE else without_hum
    wave = cleaned(recording, rate)
    likeness = np.zeros(len(wave) - length + 1)
    height = np.zeros_like(likeness)
    best = np.zeros(len(likeness), dtype=np.intp)
    norms = np.sqrt(np.maximum(length * _windowed(wave**2, length), _TINY))
    for number, kind in enumerate(kinds):
        own = click_samples(kind, CLICK_DB, rate, voice)[:length].astype(np.float64)
        sound = cleaned(np.pad(own, (0, length - len(own))), rate)
        found = np.abs(_correlated(wave, sound / np.sqrt((sound**2).sum())))
        alike = found / norms
        better = alike > likeness
        likeness[better], height[better], best[better] = alike[better], found[better], number
    # A place in silence is like anything.
    likeness[norms < 1e-3 * norms.max()] = 0.0
    heights = np.where(likeness >= ALIKE, height * likeness, 0.0)
    if within_s is not None:
        heights = _inside(heights, within_s[0] * rate, within_s[1] * rate, round(FLANK_S * rate))
    peaks = _peaks(heights, round(CLICK_APART_S * rate))
    if not len(peaks):
        return ()
    usual = float(np.percentile(height[peaks], 75))
    return tuple(
        HeardClick(
            time_s=peak_between(height, at) / rate,
            click=kinds[int(best[at])],
            likeness=float(likeness[at]),
        )
        for at in peaks
        if height[at] >= (LOUD_SHARE if not beside or likeness[at] < PLAIN else FAINT_SHARE) * usual
    )


def without_clicks(recording: Wave, rate: int, clicks: Sequence[HeardClick]) -> Wave:
    """Return the recording with what was heard of its clicks taken out.

    Of each kind with at least four clicks, the median of all of them is what the room makes of it; a knock
    near one is not in the others, so it stays.
    """
    left = np.array(recording, dtype=np.float64)
    length, lead = round(RINGING_S * rate), round(0.002 * rate)
    for kind in {each.click for each in clicks}:
        starts = [round(each.time_s * rate) - lead for each in clicks if each.click is kind]
        whole = [at for at in starts if at >= 0 and at + length <= len(left)]
        if len(whole) < 4:
            continue
        pieces = np.array([left[at : at + length] for at in whole])
        usual = np.median(pieces, axis=0)
        fade = np.minimum(1.0, np.arange(length)[::-1] / (0.2 * length))
        for at in whole:
            left[at : at + length] -= usual * fade
    return left


def find_knocks(recording: Wave, rate: int) -> Wave:
    """Return when each knock began, in order; clicks count as knocks unless they were taken out.

    Args:
        recording: mono, any scale.
        rate: frames a second.
    """
    rise, before = round(RISE_S * rate), round(BEFORE_S * rate)
    if len(recording) < 2 * (rise + before):
        return np.empty(0)
    wave = without_hum(recording, rate)
    energy = wave**2
    after = _windowed(energy, rise)[before:]
    behind = _windowed(energy, before)[: len(after)]
    quiet = max(float(np.median(_windowed(energy, rise))), _TINY)
    strong = (after > RISE * behind) & (after > OVER_NOISE * quiet)
    peaks = _peaks(np.where(strong, after / (behind + quiet), 0.0), round(KNOCK_APART_S * rate)) + before
    return np.array([_began(wave, at, rate) / rate for at in peaks])


def in_tone_band(recording: Wave, rate: int) -> Wave:
    """Return what of a recording lies in the band of tone clicks; nothing is moved in time."""
    size = 1 << (len(recording) + rate // 10).bit_length()
    spectrum = np.fft.rfft(recording, size)
    hz = np.fft.rfftfreq(size, 1 / rate)
    low, high = TONE_BAND_HZ
    edge = np.minimum(hz - low, high - hz) / TONE_EDGE_HZ
    wave: Wave = np.fft.irfft(spectrum * np.clip(edge, 0.0, 1.0), size)[: len(recording)]
    return wave


def without_hum(recording: Wave, rate: int) -> Wave:
    """Return a recording through a high-pass of two equal stages, each H(s) = s / (s + 1 / T).

    It is causal: nothing of a knock comes out before the knock, or its beginning would be told too early.
    The half-power frequency of a stage is 1 / (2 pi T), 530 Hz.
    """
    decay = SLOWER_S * rate
    past = np.exp(-np.arange(round(6 * decay)) / decay)
    past /= past.sum()
    wave: Wave = np.asarray(recording, dtype=np.float64)
    for _stage in range(2):
        wave = wave - np.convolve(wave, past)[: len(wave)]
    return np.asarray(wave)


def _began(wave: Wave, peak: int, rate: int) -> float:
    """Return the frame at which the rise near a place began: the least AIC, see the module's head."""
    start = max(0, peak - round(PICK_BEFORE_S * rate))
    # The pick ends where the knock is strongest, so that its fading is not taken for a new state.
    strongest = peak + int(np.argmax(np.abs(wave[peak : peak + round(RISE_S * rate)])))
    piece = wave[start : strongest + round(PICK_AFTER_S * rate)]
    n = len(piece)
    sums, squares = np.cumsum(piece), np.cumsum(piece**2)
    k = np.arange(2, n - 2)
    first = squares[k - 1] / k - (sums[k - 1] / k) ** 2
    second = (squares[-1] - squares[k - 1]) / (n - k) - ((sums[-1] - sums[k - 1]) / (n - k)) ** 2
    aic = k * np.log(np.maximum(first, _TINY)) + (n - k) * np.log(np.maximum(second, _TINY))
    return float(start + k[int(np.argmin(aic))])


def _windowed(values: Wave, length: int) -> Wave:
    """Return the mean over ``length`` values from each place on."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    means: Wave = np.maximum(sums[length:] - sums[:-length], 0.0) / length
    return means


def _correlated(wave: Wave, sound: Wave) -> Wave:
    """Return the sum of products of a sound with the recording from each place on."""
    size = 1 << (len(wave) + len(sound) - 1).bit_length()
    spectrum = np.fft.rfft(wave, size) * np.conj(np.fft.rfft(sound, size))
    products: Wave = np.fft.irfft(spectrum, size)
    return products[: len(wave) - len(sound) + 1]


def _inside(heights: Wave, first: float, last: float, flank: int) -> Wave:
    """Return heights without those outside two places, and without what rises towards something higher."""
    kept = np.zeros_like(heights)
    for at in range(max(0, round(first)), min(len(heights), round(last) + 1)):
        if heights[at] > 0 and heights[at] >= heights[max(0, at - flank) : at + flank + 1].max():
            kept[at] = heights[at]
    return kept


def _peaks(heights: Wave, apart: int) -> NDArray[np.intp]:
    """Return the places of the peaks above 0, in order; the higher of two that are near each other."""
    inside = (heights[1:-1] > 0) & (heights[1:-1] >= heights[:-2]) & (heights[1:-1] > heights[2:])
    peaks = np.flatnonzero(inside) + 1
    free = np.ones(len(heights), dtype=bool)
    kept = []
    for at in peaks[np.argsort(-heights[peaks], kind="stable")]:
        if free[at]:
            kept.append(int(at))
            free[max(0, at - apart) : at + apart + 1] = False
    return np.array(sorted(kept), dtype=np.intp)


def peak_between(heights: Wave, at: int) -> float:
    """Return where between the frames a peak lies: the top of the parabola through three of them."""
    if not 0 < at < len(heights) - 1:
        return float(at)
    left, middle, right = heights[at - 1 : at + 2]
    bend = left - 2 * middle + right
    return float(at + (0.5 * (left - right) / bend if bend < 0 else 0.0))
