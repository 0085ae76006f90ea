"""A microphone that hears a wave given beforehand, by a clock that a test moves on."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from trainer.devices.microphone import LIVE_CHUNK_FRAMES, RATE, Chunk


class FakeMicrophone:
    """Chunks come in their time; after the end of the wave comes soft noise.

    Args:
        wave: mono at 48 kHz; None for a room in which nothing sounds.
        ends: nothing more comes after the wave.
    """

    name = "Lid"
    rate = RATE

    def __init__(self, wave: NDArray[np.float64] | None = None, *, ends: bool = False) -> None:
        self.wave = np.zeros(0) if wave is None else wave
        self.ends = ends
        self.is_open = False
        self.opened_times = 0
        self._clock: Callable[[], int] = lambda: 0
        self._start_ns = 0
        self._given = 0
        self._rng = np.random.default_rng(5)

    def opened(self, clock: Callable[[], int]) -> FakeMicrophone:
        self._clock = clock
        self.is_open = True
        self.opened_times += 1
        return self

    def start(self) -> None:
        self._start_ns, self._given = self._clock(), 0

    @property
    def seconds(self) -> float:
        return self._given / RATE

    def recorded(self) -> NDArray[np.float64]:
        return self._piece(0, self._come())

    def fresh(self) -> tuple[Chunk, ...]:
        assert self.is_open
        found = []
        while self._given + LIVE_CHUNK_FRAMES <= self._come():
            end = self._given + LIVE_CHUNK_FRAMES
            host_ns = self._start_ns + round(end * 1e9 / RATE)
            found.append(Chunk(wave=self._piece(self._given, end), host_ns=host_ns))
            self._given = end
        return tuple(found)

    def close(self) -> None:
        self.is_open = False

    def _come(self) -> int:
        come = int((self._clock() - self._start_ns) * RATE / 1e9)
        return min(come, len(self.wave)) if self.ends else come

    def _piece(self, start: int, end: int) -> NDArray[np.float64]:
        piece = self.wave[start:end]
        return np.concatenate([piece, self._rng.normal(0, 1e-4, end - start - len(piece))])
