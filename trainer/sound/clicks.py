"""Make the clicks of the metronome, in two voices.

Wood is a short knock that is loud within a quarter of a millisecond: it is heard at its onset, so its very
first frame is not zero and its peak comes 12 frames later; a step straight to the peak would be as exact,
but harsh. Tone is a short tone in a narrow band where a banjo has little: it cuts through one, and a
microphone beside the loudspeaker can find it there, and leave it out, while the banjo plays.
"""

from __future__ import annotations

import enum
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.music.pattern import Meter
from trainer.sound.gain import LEAST_DB, Samples, to_samples

CLICK_S = 0.060
ATTACK_S = 0.00025
FADE_S = 0.010
TONE_S, TONE_RISE_S, TONE_FALL_S = 0.025, 0.003, 0.012
LOUDEST_DB = -3.0
LEAST_SUBDIVISION_S = Fraction(1, 4)  # below 200 to 250 ms between clicks, subdividing hurts: Repp 2003


class Click(enum.Enum):
    """The kinds of click, told apart by pitch and by loudness."""

    FIRST_BEAT = "first beat"
    MIDDLE_BEAT = "middle beat"
    BEAT = "beat"
    SUBDIVISION = "subdivision"
    COUNT_IN = "count-in"
    COUNT_IN_FIRST = "count-in, first beat"


class ClickVoice(enum.Enum):
    """What a click is made of; each value is the word that the settings keep."""

    WOOD = "wood"
    TONE = "tone"


# Two partials in Hz, decay time in seconds, gain in dB below the chosen volume.
_WOOD: dict[Click, tuple[float, float, float, float]] = {
    Click.FIRST_BEAT: (1480.0, 2960.0, 0.009, 0.0),
    Click.MIDDLE_BEAT: (1110.0, 2220.0, 0.009, -1.5),
    Click.BEAT: (990.0, 1980.0, 0.009, -3.0),
    Click.SUBDIVISION: (740.0, 1110.0, 0.006, -12.0),
    Click.COUNT_IN: (620.0, 930.0, 0.014, -3.0),
    Click.COUNT_IN_FIRST: (830.0, 1245.0, 0.014, 0.0),
}
# Hz and gain of a tone; all within 160 Hz of 2600, so that one narrow band holds them. A tone of this
# pitch is louder than wood of the same height.
_TONES: dict[Click, tuple[float, float]] = {
    Click.FIRST_BEAT: (2754.0, -4.0),
    Click.MIDDLE_BEAT: (2600.0, -5.5),
    Click.BEAT: (2600.0, -7.0),
    Click.SUBDIVISION: (2600.0, -16.0),
    Click.COUNT_IN: (2454.0, -7.0),
    Click.COUNT_IN_FIRST: (2454.0, -4.0),
}
TONE_HZ_OF = {click: hz for click, (hz, _level_db) in _TONES.items()}


def beat_click(meter: Meter, beat: int) -> Click:
    """Return the click of a beat; negative beats are the count-in.

    The first beat of a bar is the strongest; in 4/4 the third comes next (common practice, no source).
    """
    beat_in_bar = beat % meter.beats
    if beat < 0:
        return Click.COUNT_IN if beat_in_bar else Click.COUNT_IN_FIRST
    if beat_in_bar == 0:
        return Click.FIRST_BEAT
    return Click.MIDDLE_BEAT if meter is Meter.FOUR_FOUR and beat_in_bar == 2 else Click.BEAT


def subdivision_helps(bpm: Fraction, clicks_per_beat: int) -> bool:
    """Return whether this many clicks to a beat help at this tempo.

    They do while their interval is at least 250 ms (Repp 2003, J. Motor Behav. 35:355-370): two to a
    beat up to 120 beats a minute, three up to 80, four up to 60.
    """
    return Fraction(60) / (bpm * clicks_per_beat) >= LEAST_SUBDIVISION_S


def clicks_per_beat(bpm: Fraction, slots_per_beat: int) -> int:
    """Return the most clicks to a beat that fall on its slots and help at this tempo; 1 when none do.

    >>> clicks_per_beat(Fraction(60), 4), clicks_per_beat(Fraction(200), 4)
    (4, 1)
    """
    for count in range(slots_per_beat, 1, -1):
        if slots_per_beat % count == 0 and subdivision_helps(bpm, count):
            return count
    return 1


@lru_cache(maxsize=64)
def click_samples(click: Click, gain_db: float, rate: int, voice: ClickVoice = ClickVoice.WOOD) -> Samples:
    """Return the samples of a click, read-only.

    Args:
        gain_db: volume; taken as -3 when above and as -60 when below.
        rate: frames a second.
    """
    wave, own_gain_db = _wood(click, rate) if voice is ClickVoice.WOOD else _tone(click, rate)
    wave = wave / np.abs(wave).max()
    samples = to_samples(wave, min(max(gain_db, LEAST_DB), LOUDEST_DB) + own_gain_db).copy()
    if samples[0] == 0:
        samples[0] = 1  # at the softest volumes the first frame would round away, and with it the onset
    samples.flags.writeable = False
    return samples


def _wood(click: Click, rate: int) -> tuple[NDArray[np.float64], float]:
    low_hz, high_hz, decay_s, own_gain_db = _WOOD[click]
    t = np.arange(round(CLICK_S * rate)) / rate
    attack = max(1, round(ATTACK_S * rate))
    # Both partials are at their peak where the attack ends.
    since_peak = t - (attack - 1) / rate
    tone = 0.7 * np.cos(2 * np.pi * low_hz * since_peak) + 0.3 * np.cos(2 * np.pi * high_hz * since_peak)
    rise = np.minimum((np.arange(len(t)) + 1) / attack, 1.0)
    fade = np.minimum(1.0, (t[-1] - t) / FADE_S)
    return tone * np.sin(np.pi / 2 * rise) * np.exp(-t / decay_s) * fade, own_gain_db


def _tone(click: Click, rate: int) -> tuple[NDArray[np.float64], float]:
    """Return a tone that rises and falls along half waves of a cosine, so that it stays in its band."""
    hz, own_gain_db = _TONES[click]
    t = np.arange(round(TONE_S * rate)) / rate
    rise = 0.5 - 0.5 * np.cos(np.pi * np.minimum((t + 1 / rate) / TONE_RISE_S, 1.0))
    fall = 0.5 - 0.5 * np.cos(np.pi * np.minimum((t[-1] - t) / TONE_FALL_S, 1.0))
    return np.sin(2 * np.pi * hz * (t + 0.5 / rate)) * rise * fall, own_gain_db
