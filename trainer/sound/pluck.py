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
from trainer.sound.level import Samples, limited, to_samples

PLUCK_S = 1.4
T60_S = 1.3  # a banjo head takes the sound away soon; common practice, no source
TOUCH_T60_S = 0.09
TOUCH_NOTE = 50  # the lowest string
TOUCH_DB = -4.0
STRUM_S = 0.009  # between the strings of a brush
BRUSH_DB = -3.0  # each string of a brush, so that three are not three times as loud as one
LEFT_HAND_DB = -5.0  # a string sounded by the left hand alone is softer
ACCENT_DB = 3.0
PLUCK_PLACE = 8  # the nail plucks at an eighth of the string
END_FADE_S = 0.05
_EXCITATION_SEED = 1983
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """A string's feedback loop: y[n] = x[n] + sum of taps[k] * y[n - delay - k].

    Attributes:
        delay: whole frames, at least 2.
        taps: three weights, loss included.
    """

    delay: int
    taps: tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pluck:
    """One string sounded once.

    Attributes:
        delay_s: how long after the stroke's own moment: the strings of a brush follow one another.
        string: 1 to 5; a string that is sounded again stops sounding as before.
        note: MIDI note.
        soft: sounded by the left hand, with a duller attack.
        gain_db: loudness beside a plain strike.
    """

    delay_s: float
    string: int
    note: int
    soft: bool
    gain_db: float


def loop_for(hz: float, rate: int, *, t60_s: float = T60_S) -> Loop:
    """Return the loop whose fundamental is ``hz`` and falls by 60 dB in ``t60_s`` seconds.

    The fraction is found so that the loop's phase delay at ``hz`` is one period exactly; the loss is
    10**(-3/(hz*t60)) divided by what average and interpolation take away at ``hz``, at most 1: high
    strings fall a little sooner than asked.
    """
    omega = 2 * math.pi * hz / rate
    wanted = rate / hz - 0.5
    delay = math.floor(wanted)
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        d = (low + high) / 2
        # Phase delay of (1 - d) + d z**-1 at omega.
        got = math.atan2(d * math.sin(omega), 1 - d + d * math.cos(omega)) / omega
        if got < wanted - delay:
            low = d
        else:
            high = d
    d = (low + high) / 2
    kept = abs(complex(1 - d + d * math.cos(omega), -d * math.sin(omega))) * math.cos(omega / 2)
    # More than 1 would let the lowest partials grow.
    loss = min(10 ** (-3 / (hz * t60_s)) / kept, 1.0)
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


def string_wave(
    hz: float, rate: int, *, seconds: float = PLUCK_S, t60_s: float = T60_S, soft: bool = False
) -> NDArray[np.float64]:
    """Return a plucked string with its peak at 1 or -1, shape (seconds * rate,)."""
    loop = loop_for(hz, rate, t60_s=t60_s)
    noise = np.random.default_rng(_EXCITATION_SEED).uniform(-1, 1, loop.delay)
    if soft:
        # A falling finger has no edge: the burst is smoothed round the period, twice.
        for _ in range(2):
            noise = (np.roll(noise, 1) + 2 * noise + np.roll(noise, -1)) / 4
    # Plucking at a point silences the partials that rest there: a comb with its notch at that place.
    burst = noise - 0.9 * np.roll(noise, max(1, loop.delay // PLUCK_PLACE))
    burst -= burst.mean()
    wave = run_loop(loop, burst, round(seconds * rate))
    wave *= np.minimum(1.0, (len(wave) - np.arange(len(wave))) / (END_FADE_S * rate))
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float64)


@lru_cache(maxsize=256)
def note_samples(note: int, gain_db: float, rate: int, *, soft: bool = False) -> Samples:
    """Return one plucked MIDI note as samples, read-only; costs milliseconds the first time."""
    return to_samples(_note_wave(note, rate, soft), gain_db)


@lru_cache(maxsize=64)
def _note_wave(note: int, rate: int, soft: bool) -> NDArray[np.float64]:
    # Kept apart from the samples, so that another volume costs no other string.
    return string_wave(note_to_hz(note), rate, soft=soft)


@lru_cache(maxsize=16)
def touch_samples(gain_db: float, rate: int) -> Samples:
    """Return the short dull knock of a string touched where it should not have been, read-only."""
    wave = string_wave(note_to_hz(TOUCH_NOTE), rate, seconds=2 * TOUCH_T60_S, t60_s=TOUCH_T60_S, soft=True)
    return to_samples(wave, gain_db + TOUCH_DB)


def stroke_plucks(stroke: Stroke, tuning: Tuning = OPEN_G) -> tuple[Pluck, ...]:
    """Return the strings that a stroke sounds, in their order; none for a skip or a rest.

    A brush lets its strings follow one another by 9 ms, the first at once.
    """
    soft = stroke.hand is Hand.LEFT
    gain_db = LEFT_HAND_DB if soft else 0.0
    if stroke.accented:
        gain_db += ACCENT_DB
    if stroke.kind is Kind.BRUSH:
        gain_db += BRUSH_DB
    return tuple(
        Pluck(delay_s=n * STRUM_S, string=string, note=note, soft=soft, gain_db=gain_db)
        for n, (string, note) in enumerate(zip(stroke.strings, tuning.stroke_notes(stroke), strict=True))
    )


@lru_cache(maxsize=256)
def stroke_samples(stroke: Stroke, gain_db: float, rate: int, tuning: Tuning = OPEN_G) -> Samples:
    """Return what a stroke sounds like as one sound, read-only; no frames for a skip or a rest."""
    plucks = stroke_plucks(stroke, tuning)
    if not plucks:
        return to_samples(np.zeros(0), 0.0)
    starts = [round(pluck.delay_s * rate) for pluck in plucks]
    mix = np.zeros(round(PLUCK_S * rate) + starts[-1], dtype=np.int32)
    for start, pluck in zip(starts, plucks, strict=True):
        samples = note_samples(pluck.note, gain_db + pluck.gain_db, rate, soft=pluck.soft)
        mix[start : start + len(samples)] += samples
    out = limited(mix)
    out.flags.writeable = False
    return out
