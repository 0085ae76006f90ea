"""Tell when a tone click began by the front of its envelope.

A matched filter finds a tone beside a louder banjo, but where an echo mixes with a tone the best match lies
up to 2 ms off, by another amount for each pitch. What comes first is the direct sound: where the envelope, in
a band round the tone alone, first reaches a share of its height, echoes move it by tenths of a millisecond.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from trainer.hearing.bands import RATE, Wave
from trainer.sound.clicks import TONE_HZ_OF, Click, ClickVoice, click_samples

TONE_HZ = (2600.0, 5200.0, 7800.0)  # of a tone click and its overtones, left out where strokes are heard
WIDTH_HZ = 200.0  # standard deviation of the band
SHARE = 0.3
MOVED_S = 0.0035  # an echo moves the best match by no more; a front farther from it is another sound's
BEFORE_S, AFTER_S = 0.030, 0.050  # of the place of the best match: what is looked at
EARLY_S, LATE_S = 0.006, 0.028  # round it: where the tone may begin, and be at its height
_SIZE = 4096


def tone_began_s(wave: Wave, from_s: float, at_s: float, click: Click) -> float:
    """Return the second at which a tone click began, near the place of its best match.

    Args:
        wave: mono at 48 kHz; what is missing round the place is taken for silence.
        from_s: second of the recording at which ``wave`` begins.
        at_s: the place of the best match, good to some milliseconds.
    """
    start = round((at_s - BEFORE_S - from_s) * RATE)
    length = round((BEFORE_S + AFTER_S) * RATE)
    piece = wave[max(0, start) : max(0, start + length)]
    piece = np.pad(piece, (max(0, -start), max(0, length - len(piece) - max(0, -start))))
    crossed = _front(piece, click)
    if crossed is None:
        return at_s
    began_s = from_s + (start + crossed - _own_front(click)) / RATE
    return began_s if abs(began_s - at_s) <= MOVED_S else at_s


def _front(piece: Wave, click: Click) -> float | None:
    """Return the frame at which the envelope reaches its share; None where it is above it from the start."""
    envelope = np.abs(np.fft.ifft(np.fft.fft(piece, _SIZE) * _band(click)))[: len(piece)]
    first, last = round((BEFORE_S - EARLY_S) * RATE), round((BEFORE_S + LATE_S) * RATE)
    level = SHARE * float(envelope[first:last].max())
    at = first + int(np.argmax(envelope[first:last] >= level))
    if at == first or level <= 0:
        return None
    return float(at - 1 + (level - envelope[at - 1]) / (envelope[at] - envelope[at - 1]))


@lru_cache(maxsize=16)
def _band(click: Click) -> Wave:
    """Return what each line of a spectrum is multiplied by: a bell round the tone, no lines below 0 Hz."""
    hz = np.fft.fftfreq(_SIZE, 1 / RATE)
    bell = np.exp(-0.5 * ((hz - TONE_HZ_OF[click]) / WIDTH_HZ) ** 2)
    return np.asarray(np.where(hz > 0, 2 * bell, 0.0))


@lru_cache(maxsize=16)
def _own_front(click: Click) -> float:
    """Return how many frames after its beginning the click's own envelope reaches the share."""
    own = click_samples(click, 0.0, RATE, ClickVoice.TONE).astype(np.float64)
    lead, length = round(BEFORE_S * RATE), round((BEFORE_S + AFTER_S) * RATE)
    crossed = _front(np.pad(own, (lead, max(0, length - lead - len(own))))[:length], click)
    return 0.0 if crossed is None else crossed - lead
