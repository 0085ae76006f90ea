"""Make a plucked string: Karplus & Strong 1983, Computer Music Journal 7(2):43-55.

A burst (theirs was noise, ours has the instrument's colour: timbre.py) runs round a delay line through a
two-point average and a loss. The loop's length sets the pitch: N whole frames, half a frame for the
average, and a fraction d from linear interpolation, as in Jaffe & Smith 1983 (ibid. 56-69). The loss makes
the fundamental fall by 60 dB in a chosen time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from trainer.sound.timbre import BANJO, FINGER, Timbre, Wave, head_knock, timbre_burst

PLUCK_S = 1.4
T60_S = 1.6  # a banjo head takes the sound away soon; common practice, no source
END_FADE_S = 0.05
MUTED_S, MUTED_T60_S = 0.16, 0.06
HEAD_SHARE = 0.35  # height of the head's knock beside the string's; common practice, no source
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


def run_loop(loop: Loop, excitation: Wave, frames: int) -> Wave:
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
    hz: float, rate: int, *, seconds: float = PLUCK_S, t60_s: float = T60_S, timbre: Timbre = BANJO
) -> Wave:
    """Return a plucked string alone with its peak at 1 or -1, shape (seconds * rate,)."""
    loop = loop_for(hz, rate, t60_s=t60_s)
    burst = timbre_burst(timbre, loop.delay, rate)
    return faded(run_loop(loop, burst, round(seconds * rate)), rate)


def banjo_wave(hz: float, rate: int, *, seconds: float = PLUCK_S, t60_s: float = T60_S) -> Wave:
    """Return a plucked string with the knock of the head, its peak at 1 or -1, shape (seconds * rate,)."""
    return with_knock(string_wave(hz, rate, seconds=seconds, t60_s=t60_s), rate)


def muted_wave(hz: float, rate: int, *, seconds: float = MUTED_S, t60_s: float = MUTED_T60_S) -> Wave:
    """Return a string that is plucked while the left hand lies on it: a knock with little pitch."""
    return with_knock(string_wave(hz, rate, seconds=seconds, t60_s=t60_s, timbre=FINGER), rate)


def with_knock(wave: Wave, rate: int) -> Wave:
    """Return a string's wave with the knock of the head at its begin and its last 50 ms led to nothing."""
    wave = np.array(wave, dtype=np.float64)
    knock = head_knock(rate)[: len(wave)]
    wave[: len(knock)] += HEAD_SHARE * knock
    return faded(wave, rate)


def faded(wave: Wave, rate: int) -> Wave:
    """Return a wave with its peak at 1 or -1 and its last 50 ms led to nothing."""
    wave = wave * np.minimum(1.0, (len(wave) - np.arange(len(wave))) / (END_FADE_S * rate))
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float64)
