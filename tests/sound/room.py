"""A room for the tests of hearing: clicks and knocks at known moments, echo, hum, noise, a late microphone.

The echo is one early reflection and noise that dies away exponentially (Polack's model, in Moorer 1979,
"About this reverberation business", Computer Music Journal 3(2):13-28; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from trainer.sound.clicks import Click, ClickVoice, click_samples

Wave = NDArray[np.float64]

CLICK_LEVEL = 0.25
KNOCK_LEVEL = 0.25


@dataclass(frozen=True, kw_only=True)
class Room:
    """How it sounds.

    Attributes:
        rate: frames a second of the recording.
        noise: standard deviation of the microphone's noise; a knock peaks at about 0.25.
        hum: height of a hum of 50 Hz.
        direct_db: direct sound over all echo.
        echo_s: in which the echo falls by 60 dB; 0 for none.
        voice: what the clicks are made of.
    """

    rate: int = 48_000
    noise: float = 0.002
    hum: float = 0.01
    direct_db: float = 3.0
    echo_s: float = 0.4
    voice: ClickVoice = ClickVoice.WOOD

    def record(
        self,
        rng: np.random.Generator,
        clicks: Sequence[tuple[float, Click]],
        knocks_s: Sequence[float],
        *,
        length_s: float,
        polarity: int = 1,
    ) -> Wave:
        """Return a recording with each sound at its own second, between two frames where that falls so."""
        dry = np.zeros(round(length_s * self.rate))
        for second, kind in clicks:
            # Level -6 of a click that reads as -3 or so; only its shape matters.
            self._add(
                dry,
                second,
                np.float64(polarity * CLICK_LEVEL / 15_000)
                * click_samples(kind, -6.0, self.rate, self.voice),
            )
        for second in knocks_s:
            self._add(dry, second, self._knock(rng))
        wet = fftconvolve(dry, self._echo(rng))[: len(dry)]
        hum = self.hum * np.sin(2 * np.pi * 50 * np.arange(len(dry)) / self.rate)
        return np.asarray(wet + hum + rng.normal(0, self.noise, len(dry)))

    def _knock(self, rng: np.random.Generator) -> Wave:
        """A finger on rubber: a burst of noise over a thump of 220 Hz (common practice, no source)."""
        t = np.arange(round(0.06 * self.rate)) / self.rate
        burst = rng.normal(0, 0.3, len(t)) * np.exp(-t / 0.004)
        return np.asarray(KNOCK_LEVEL * (burst + 0.8 * np.sin(2 * np.pi * 220 * t) * np.exp(-t / 0.02)))

    def _echo(self, rng: np.random.Generator) -> Wave:
        if not self.echo_s:
            return np.ones(1)
        n = round(self.echo_s * self.rate)
        tail = rng.normal(0, 1, n) * np.exp(-6.91 * np.arange(n) / n)  # ln(1000): 60 dB
        tail[: round(0.002 * self.rate)] = 0.0
        tail[round(0.0041 * self.rate)] += 6.0  # a table's top
        tail *= np.sqrt(10 ** (-self.direct_db / 10) / (tail**2).sum())
        tail[0] = 1.0
        return tail

    def _add(self, dry: Wave, second: float, sound: Wave) -> None:
        frame = int(np.floor(second * self.rate))
        part = second * self.rate - frame
        moved = np.concatenate([sound, [0.0]]) * (1 - part) + np.concatenate([[0.0], sound]) * part
        dry[frame : frame + len(moved)] += moved[: max(0, len(dry) - frame)]


def calibration_clicks(n: int, gap_s: float = 0.6, count_in: int = 4) -> list[tuple[float, Click]]:
    """The clicks of a calibration in 2/4: second from beat 0, and kind."""
    first = {True: Click.COUNT_IN_FIRST, False: Click.FIRST_BEAT}
    other = {True: Click.COUNT_IN, False: Click.BEAT}
    return [(beat * gap_s, (other if beat % 2 else first)[beat < 0]) for beat in range(-count_in, n)]
