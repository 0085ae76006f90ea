"""A whole set-up of a banjo as somebody would play it."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from tests.benchmarks.banjo_material import Instrument, faded, in_room
from trainer.hearing.bands import RATE
from trainer.hearing.sweep import sweep_wave
from trainer.music.tuning import OPEN_G, Tuning

Wave = np.ndarray[tuple[int], np.dtype[np.float64]]
GAP_S = 0.9


def set_up_with(
    banjo: Instrument,
    *,
    snr_db: float = 35.0,
    rt60_s: float = 0.3,
    direct_db: float = 6.0,
    sweep_db: float | None = -6.0,
    touch_db: float = -14.0,
    tuning: Tuning = OPEN_G,
) -> Wave:
    """A whole set-up as somebody would play it, in order and without haste, in a room of ``in_room``."""
    sound = np.zeros(round(50 * RATE))

    def add(samples: Wave, at_s: float) -> None:
        start = round(at_s * RATE)
        sound[start : start + len(samples)] += samples

    if sweep_db is not None:
        add(sweep_wave() * 10 ** (sweep_db / 20), 3.2)
    at_s, usual = 5.6, 0.1
    for string in range(1, 6):
        for hard in (70, 85, 95):
            samples, _attack = banjo.note(tuning.note(string), hard)
            add(samples[: round(GAP_S * RATE)] * np.linspace(1, 0, round(GAP_S * RATE)) ** 0.2, at_s)
            usual = float(np.abs(samples).max())
            at_s += GAP_S
    for number in range(8):
        touch = faded(*banjo.note((50, 55, 59, 62)[number % 4], 60), 0.025) * usual * 10 ** (touch_db / 20)
        add(touch[: RATE // 2], at_s + 0.5 + number * GAP_S)
    # in_room takes its measure of the noise from the power of all.
    return in_room(sound, snr_db=snr_db, rt60_s=rt60_s, direct_db=direct_db, seed=4)


@lru_cache
def performance(*, instrument: str = "string and head", sweep_db: float | None = -6.0) -> Wave:
    """The same with an instrument by name, kept."""
    return set_up_with(Instrument(instrument), sweep_db=sweep_db)
