"""Make a plucked string: Karplus & Strong 1983, Computer Music Journal 7(2):43-55.

A burst of noise runs round a delay line through a two-point average and a loss. The loop's length sets
the pitch: N whole frames, half a frame for the average, and a fraction d from linear interpolation, as
in Jaffe & Smith 1983 (ibid. 56-69). The loss makes the fundamental fall by 60 dB in a chosen time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.music.strokes import Hand, Kind, Stroke
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz
from trainer.sound.clicks import Samples, to_samples

PLUCK_S = 1.4
T60_S = 1.3  # a banjo head takes the sound away soon; common practice, no source
STRUM_S = 0.009  # between the strings of a brush
LEFT_HAND_DB = -5.0  # a string sounded by the left hand alone is softer
ACCENT_DB = 3.0
_EXCITATION_SEED = 1983


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A string's feedback loop: y[n] = x[n] + sum of taps[k] * y[n - delay - k].

    Attributes:
        delay: whole frames, at least 2.
        taps: three weights, loss included.
    """

    delay: int
    taps: tuple[float, float, float]


def loop_for(hz: float, rate: int, *, t60_s: float = T60_S) -> Loop:
    """Return the loop whose fundamental is ``hz`` and falls by 60 dB in ``t60_s`` seconds.

    The fraction is found so that the loop's phase delay at ``hz`` is one period exactly; the loss is
    10**(-3/(hz*t60)) divided by what average and interpolation take away at ``hz``.
    """
    omega = 2 * math.pi * hz / rate
    wanted = rate / hz - 0.5
    delay = math.floor(wanted)
    low, high = 0.0, 1.0
    for _ in range(60):
        d = (low + high) / 2
        # Phase delay of (1 - d) + d z**-1 at omega.
        got = math.atan2(d * math.sin(omega), 1 - d + d * math.cos(omega)) / omega
        if got < wanted - delay:
            low = d
        else:
            high = d
    d = (low + high) / 2
    kept = abs(complex(1 - d + d * math.cos(omega), -d * math.sin(omega))) * math.cos(omega / 2)
    loss = 10 ** (-3 / (hz * t60_s)) / kept
    # More than 1 would let the lowest partials grow.
    loss = min(loss, 1.0)
    return Loop(delay=delay, taps=(loss * (1 - d) / 2, loss / 2, loss * d / 2))


def run_loop(loop: Loop, excitation: NDArray[np.float64], frames: int) -> NDArray[np.float64]:
    """Return ``frames`` of the loop's output.

    The same as ``scipy.signal.lfilter([1], [1, 0, …, -taps], excitation)``, worked a whole period at a
    time: nothing in a period depends on itself.
    """
    y = np.zeros(frames + loop.delay + 2)
    lead = loop.delay + 2
    count = min(len(excitation), frames)
    y[lead : lead + count] = excitation[:count]
    a, b, c = loop.taps
    for start in range(lead, lead + frames, loop.delay):
        stop = min(start + loop.delay, lead + frames)
        back = y[start - loop.delay - 2 : stop - loop.delay]
        y[start:stop] += a * back[2:] + b * back[1:-1] + c * back[:-2]
    return y[lead:]


def string_wave(hz: float, rate: int, *, seconds: float = PLUCK_S) -> NDArray[np.float64]:
    """Return a plucked string between -1 and 1, shape (seconds * rate,)."""
    loop = loop_for(hz, rate)
    noise = np.random.default_rng(_EXCITATION_SEED).uniform(-1, 1, loop.delay)
    # A nail plucks near the bridge: a comb with its notch at an eighth of the string.
    comb = noise - 0.9 * np.roll(noise, max(1, loop.delay // 8))
    comb -= comb.mean()
    wave = run_loop(loop, comb, round(seconds * rate))
    fade = np.minimum(1.0, (len(wave) - np.arange(len(wave))) / (0.05 * rate))
    wave = wave * fade
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float64)


@lru_cache(maxsize=128)
def note_samples(note: int, gain_db: float, rate: int) -> Samples:
    """Return one plucked MIDI note as samples, read-only."""
    return to_samples(string_wave(note_to_hz(note), rate), gain_db)


@lru_cache(maxsize=256)
def stroke_samples(stroke: Stroke, gain_db: float, rate: int, tuning: Tuning = OPEN_G) -> Samples:
    """Return what a stroke sounds like, read-only; no frames for a skip or a rest.

    A brush lets its strings follow one another by 9 ms, the first at once.
    """
    notes = tuning.stroke_notes(stroke)
    if not notes:
        return to_samples(np.zeros(0), 0.0)
    if stroke.hand is Hand.LEFT:
        gain_db += LEFT_HAND_DB
    if stroke.accented:
        gain_db += ACCENT_DB
    if stroke.kind is Kind.BRUSH:
        gain_db -= 3.0
    gap = round(STRUM_S * rate)
    single = [note_samples(note, gain_db, rate) for note in notes]
    mix = np.zeros(len(single[0]) + gap * (len(single) - 1), dtype=np.int32)
    for n, samples in enumerate(single):
        mix[n * gap : n * gap + len(samples)] += samples
    out = np.clip(mix, -32768, 32767).astype(np.int16)
    out.flags.writeable = False
    return out
