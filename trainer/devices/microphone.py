"""Record from a microphone for a short while, or listen to it for as long as it is open.

pygame's capture is a private part of it (``pygame._sdl2.audio``), so all of it is kept in here. Its callback
runs on SDL's own thread and only puts bytes aside. Two things are known of it and held to:

- It opens devices by name only, and only while the sound is open.
- Its ``pause`` and ``close`` wait for that thread while they hold the interpreter's lock, and the thread may
  be waiting for the lock. So a device is closed through SDL itself, which needs no lock; where SDL's library
  is not found, only just after a chunk has come, while the thread waits for the next.

There is no time of the first frame: what is recorded can only be compared with itself, or with when it came.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trainer.devices.clock import now_ns
from trainer.devices.outputs import capture_names
from trainer.devices.quiet import quiet_stderr
from trainer.devices.sdl_library import close_device
from trainer.errors import DeviceProblem
from trainer.sdl import pygame

try:
    from pygame._sdl2 import audio as sdl_audio
    from pygame._sdl2.sdl2 import error as sdl_error
except ImportError:
    sdl_audio = None  # type: ignore[assignment]
    sdl_error = RuntimeError  # type: ignore[misc, assignment]

RATE = 48_000
CHUNK_FRAMES = 1024  # 21 ms: long enough to close the device between two chunks
LIVE_CHUNK_FRAMES = 512
LONGEST_S = 90.0  # of sound that nobody has asked for yet; what comes after it is lost
FULL_SCALE = 32768.0
_BYTES = 2
_QUIET_S = 0.5
_SETTLED_S = 0.003
_OTHER_WAYS = "tap along instead, or set the delay by hand"

Wave = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chunk:
    """A piece of sound as it came.

    Attributes:
        wave: mono, from -1 to 1.
        host_ns: when it came.
    """

    wave: Wave
    host_ns: int


class MicrophoneLike(Protocol):
    """What a calibration needs of a microphone."""

    name: str
    rate: int

    def start(self) -> None:
        """Begin a recording; an older one is forgotten."""

    @property
    def seconds(self) -> float:
        """How much has been recorded."""

    def recorded(self) -> Wave:
        """Return what has been recorded: mono, from -1 to 1."""

    def close(self) -> None:
        """Give the device back; nothing may be called afterwards."""


class LiveMicrophoneLike(MicrophoneLike, Protocol):
    """What a drill needs of a microphone."""

    def fresh(self) -> tuple[Chunk, ...]:
        """Return what has come since the last call, which is then forgotten."""


OpenMicrophone = Callable[[str], MicrophoneLike]
OpenLive = Callable[[str], LiveMicrophoneLike]


def open_live(name: str) -> LiveMicrophoneLike:
    """Open a microphone to listen to: in chunks so short that what is heard is soon known."""
    return Microphone(name, chunk_frames=LIVE_CHUNK_FRAMES)


class Microphone:
    """One opened microphone; for the app's own thread.

    Args:
        name: one of :func:`trainer.devices.outputs.capture_names`; the first of them when empty.
        chunk_frames: how many frames come at a time.

    Raises:
        DeviceProblem: no pygame that can record, no microphone, or one that cannot be opened.
    """

    def __init__(self, name: str = "", *, chunk_frames: int = CHUNK_FRAMES) -> None:
        if sdl_audio is None:
            raise DeviceProblem("this pygame cannot record, so no microphone can be used", _OTHER_WAYS)
        names = capture_names()
        if not names or (name and name not in names):
            found = f'the microphone "{name}" is not there' if name else "no microphone was found"
            raise DeviceProblem(found, f"plug one in, or {_OTHER_WAYS}")
        self.name = name or names[0]
        self.rate = RATE
        self._chunks: deque[tuple[bytes, int]] = deque()
        self._frames = 0  # that came; only the callback changes it
        self._given = 0  # that were given out and forgotten
        self._came = threading.Event()
        try:
            with quiet_stderr():
                self._device = sdl_audio.AudioDevice(
                    devicename=self.name,
                    iscapture=True,
                    frequency=RATE,
                    audioformat=sdl_audio.AUDIO_S16,
                    numchannels=1,
                    chunksize=chunk_frames,
                    allowed_changes=0,
                    callback=self._take,
                )
        except (pygame.error, sdl_error) as err:
            raise DeviceProblem(
                f"the microphone {self.name} cannot be opened ({err})",
                f"let the system allow it to this program, or {_OTHER_WAYS}",
            ) from err

    def start(self) -> None:
        """Begin a recording; an older one is forgotten."""
        self._chunks, self._frames, self._given = deque(), 0, 0
        self._device.pause(0)

    @property
    def seconds(self) -> float:
        """How much has been recorded."""
        return self._frames / self.rate

    def recorded(self) -> Wave:
        """Return what has been recorded: mono, from -1 to 1."""
        return _wave(b"".join(chunk for chunk, _host_ns in self._chunks))

    def fresh(self) -> tuple[Chunk, ...]:
        """Return what has come since the last call, which is then forgotten."""
        found = []
        while self._chunks:
            chunk, host_ns = self._chunks.popleft()
            self._given += len(chunk) // _BYTES
            found.append(Chunk(wave=_wave(chunk), host_ns=host_ns))
        return tuple(found)

    def close(self) -> None:
        """Give the device back."""
        if not close_device(self._device.deviceid):
            self._came.clear()
            if self._came.wait(_QUIET_S):
                # The callback gives the device's lock back after its last line; the next chunk is far.
                time.sleep(_SETTLED_S)
        self._device.close()

    def _take(self, _device: object, chunk: memoryview) -> None:
        """Put a chunk aside; on SDL's thread. The memory is SDL's, so it is copied."""
        host_ns = now_ns()
        if self._frames - self._given < LONGEST_S * self.rate:
            self._chunks.append((bytes(chunk), host_ns))
            self._frames += len(chunk) // _BYTES
        self._came.set()


def _wave(samples: bytes) -> Wave:
    return np.frombuffer(samples, dtype=np.int16).astype(np.float64) / FULL_SCALE
