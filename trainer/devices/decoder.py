"""Decode one sound file in a process of its own, and hand its samples on through standard output.

``python -m trainer.devices.decoder FILE RATE [PERCENT]`` writes the number of bytes that follow (8 bytes,
little-endian) and then the samples: 16 bits, stereo, at RATE, slowed to PERCENT of their speed with their
pitch kept. A decoder that crashes, grows or never ends over a damaged file takes this process with it and
nothing else; :mod:`trainer.devices.backing` starts it and says what became of it.

Limits: MOST_BYTES of memory, looked at 50 times a second where the system tells it (Linux, macOS) and, on
Linux, an address space that ends at ROOM_BYTES more than before; MOST_CPU_S of work where the system keeps
such a limit. On Windows only the parent's limits hold: on time, and on what is taken over.
"""

from __future__ import annotations

import os
import struct
import sys
import threading
import time
from pathlib import Path

import numpy as np

from trainer.sdl import pygame
from trainer.sound.stretch import stretched, stretched_length

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

HEAD = struct.Struct("<q")
MOST_BYTES = 1 << 30  # twenty minutes take 0.9 GB for a moment while SDL changes their rate
ROOM_BYTES = 5 << 29  # what is asked for and not used counts here: 1.9 GB for twenty minutes
MOST_CPU_S = 300  # twenty minutes take 2 to 5 s to decode, and 60 to 100 s to slow down
FULL_SPEED = 100  # percent
WATCH_S = 0.02
NOT_DECODED, TOO_LARGE, NO_MIXER = 3, 4, 5  # exit codes
# A device that needs no card, and nothing said to the world: for the environment of this process.
ENVIRONMENT = {"SDL_AUDIODRIVER": "dummy", "PYGAME_HIDE_SUPPORT_PROMPT": "1"}
MIXER_BUFFER = 512
PIECE_BYTES = 1 << 20


def main(words: list[str]) -> int:
    """Decode a file and return the exit code; a reason in one line goes to standard error."""
    path, rate, *slowed = words
    percent = int(slowed[0]) if slowed else FULL_SPEED
    # What a library prints must not come between the samples.
    out = os.dup(1)
    os.dup2(2, 1)
    try:
        pygame.mixer.init(int(rate), -16, 2, MIXER_BUFFER, allowedchanges=0)
    except pygame.error as err:
        sys.stderr.write(f"{err}\n")
        return NO_MIXER
    _limit()
    try:
        sound = pygame.mixer.Sound(path)
    except pygame.error as err:
        sys.stderr.write(f"{err}\n")
        return NOT_DECODED
    except MemoryError:
        return TOO_LARGE
    samples = memoryview(sound).cast("B")  # type: ignore[arg-type]
    if percent == FULL_SPEED:
        _write(out, HEAD.pack(len(samples)))
        _write(out, samples)
        return 0
    recording = np.frombuffer(samples, dtype=np.int16).reshape(-1, 2)
    share = percent / FULL_SPEED
    _write(out, HEAD.pack(stretched_length(len(recording), share) * recording.itemsize * 2))
    for piece in stretched(recording, share, int(rate)):
        _write(out, piece.tobytes())
    return 0


def _write(out: int, data: bytes | memoryview) -> None:
    rest = memoryview(data)
    while rest:
        rest = rest[os.write(out, rest[:PIECE_BYTES]) :]


def _limit() -> None:
    """Let the system and a thread stop this process when it takes too much."""
    if resource is None:
        return
    for kind, most in ((resource.RLIMIT_CPU, MOST_CPU_S), (resource.RLIMIT_CORE, 0)):
        _lower(kind, most)
    in_use = _address_space()
    if in_use:
        _lower(resource.RLIMIT_AS, in_use + ROOM_BYTES)
    threading.Thread(target=_watch, name="memory watch", daemon=True).start()


def _lower(kind: int, most: int) -> None:
    _soft, hard = resource.getrlimit(kind)
    if hard != resource.RLIM_INFINITY:
        most = min(most, hard)
    resource.setrlimit(kind, (most, hard))


def _address_space() -> int:
    """Return how many bytes of addresses this process has; 0 where the system does not say."""
    try:
        return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    except OSError:
        return 0


def _watch() -> None:
    # The decoder works without the interpreter's lock, so this thread gets its turn.
    unit = 1 if sys.platform == "darwin" else 1024
    while resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit < MOST_BYTES:
        time.sleep(WATCH_S)
    os._exit(TOO_LARGE)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
