"""Read a player's own track into memory, as frames of the stream; the file itself is never changed.

pygame's mixer decodes WAV, FLAC, Ogg Vorbis and MP3 and brings them to the rate it was opened with. A minute
takes 11 MB, and twice that for a moment while it is read, so a track has a limit.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trainer.errors import BadSettings, NoSound, StoreProblem
from trainer.sound.backing import Stereo
from trainer.sound.track_length import HEAD_BYTES, stated_seconds

try:
    import pygame
except ImportError:
    pygame = None  # type: ignore[assignment]

ENDINGS = (".wav", ".flac", ".ogg", ".mp3")
LONGEST_MINUTES = 20
LARGEST_BYTES = 512 << 20
CHANNELS = 2
DECODABLE = "give a WAV, FLAC, Ogg Vorbis or MP3 file"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A sound file in memory.

    Attributes:
        path: the file.
        mark: SHA-256 of its bytes, by which it is known again wherever it lies.
        samples: shape (n, 2), read-only, at ``rate`` frames a second.
    """

    path: Path
    mark: str
    samples: Stereo
    rate: int

    @property
    def seconds(self) -> float:
        """Its length."""
        return len(self.samples) / self.rate


def read_track(path: Path, rate: int) -> Track:
    """Read a sound file whole.

    Args:
        rate: frames a second of the stream; the mixer must be open.

    Raises:
        StoreProblem: the file cannot be read.
        BadSettings: it is too long, or holds no sound that can be decoded.
        NoSound: there is no open sound device to decode it for, or one of another rate.
    """
    if pygame is None or pygame.mixer.get_init() is None:
        raise NoSound("a track needs a sound device, and none is open", "plug one in and start again")
    if pygame.mixer.get_init()[0] != rate or pygame.mixer.get_init()[2] != CHANNELS:
        raise NoSound("the sound device has changed its rate", "start the program again")
    mark = _checked(path)
    try:
        sound = pygame.mixer.Sound(str(path))
    except pygame.error as err:
        raise BadSettings(f"{path.name} holds no sound that can be read ({_first(err)})", DECODABLE) from err
    except MemoryError as err:
        raise BadSettings(f"{path.name} does not fit into memory", "give a shorter track") from err
    # Copied, for the mixer takes its own memory back when it is closed.
    samples = np.frombuffer(sound.get_raw(), dtype=np.int16).reshape(-1, CHANNELS)
    if len(samples) > LONGEST_MINUTES * 60 * rate:
        raise _too_long(path, len(samples) / rate)
    if not samples.any():
        raise BadSettings(f"{path.name} is silent from begin to end", "give another track")
    return Track(path=path, mark=mark, samples=samples, rate=rate)


def _checked(path: Path) -> str:
    """Return the file's mark once its size and the length it states are found to be within limits."""
    try:
        with path.open("rb") as file:
            size = path.stat().st_size
            if size > LARGEST_BYTES:
                raise BadSettings(
                    f"{path.name} has {size >> 20} MB and at most {LARGEST_BYTES >> 20} are read",
                    "cut it, or keep it as FLAC or Ogg",
                )
            head = file.read(HEAD_BYTES)
            file.seek(max(0, size - HEAD_BYTES))
            seconds = stated_seconds(head, file.read(HEAD_BYTES), size)
            if seconds is not None and seconds > LONGEST_MINUTES * 60:
                raise _too_long(path, seconds)
            file.seek(0)
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as err:
        raise StoreProblem(
            f"{path} cannot be read ({err.strerror})", "look at its name and its rights"
        ) from err


def _too_long(path: Path, seconds: float) -> BadSettings:
    return BadSettings(
        f"{path.name} is {seconds / 60:.0f} minutes long and at most {LONGEST_MINUTES} are read",
        "cut out the tune you practise",
    )


def _first(err: Exception) -> str:
    """Return the first words of a library's message, on one line."""
    return str(err).splitlines()[0][:80] if str(err) else "unknown format"
