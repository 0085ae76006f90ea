"""Read a player's own track into memory, as frames of the stream; the file itself is never changed.

pygame's mixer decodes WAV, FLAC, Ogg Vorbis and MP3 and brings them to the rate of the stream, in a process
of its own (:mod:`trainer.devices.decoder`): what a damaged file does to a decoder is then one sentence. A
minute takes 11 MB, so a track has a limit. A thread waits for that process, so the window goes on meanwhile.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import subprocess
import threading
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from trainer.devices.decoder import (
    ENVIRONMENT,
    FULL_SPEED,
    HEAD,
    NO_MIXER,
    NOT_DECODED,
    PIECE_BYTES,
    TOO_LARGE,
)
from trainer.devices.mixer import NO_PYGAME, why_no_mixer
from trainer.devices.own_process import started
from trainer.errors import BadSettings, NoSound, StoreProblem, TrainerError
from trainer.sdl import pygame
from trainer.sound.backing import Stereo
from trainer.sound.track_length import HEAD_BYTES, stated_seconds

ENDINGS = (".wav", ".flac", ".ogg", ".mp3")
LONGEST_MINUTES = 20
LARGEST_BYTES = 512 << 20
LONGEST_WAIT_S = 120.0  # for the decoder; twenty minutes take it 2 to 5 seconds
LONGEST_SLOWING_S = 600.0  # where they are slowed down besides
SLOWEST_SPEED = 50  # percent
CHANNELS = 2
FRAME_BYTES = 2 * CHANNELS
DECODABLE = "give a WAV, FLAC, Ogg Vorbis or MP3 file"
NOT_STARTED = "start the program again"
DECODER = "trainer.devices.decoder"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Track:
    """A sound file in memory.

    Attributes:
        path: the file.
        mark: SHA-256 of its bytes, by which it is known again wherever it lies.
        samples: shape (n, 2), read-only, at ``rate`` frames a second, as they are heard.
        speed: percent of its own speed at which it is heard; its pitch is its own.
    """

    path: Path
    mark: str
    samples: Stereo
    rate: int
    speed: int = FULL_SPEED

    @property
    def seconds(self) -> float:
        """Its length as it is heard."""
        return len(self.samples) / self.rate


class TrackReader:
    """Reads a sound file beside whatever else goes on; every method returns at once but :meth:`wait`.

    Args:
        path: the file.
        rate: frames a second of the stream; the mixer must be open.
        to_play: whether it is to be played; if not, no device is needed and ``rate`` may be any.
        speed: percent of its own speed, ``SLOWEST_SPEED`` to 100.

    Raises:
        NoSound: there is no open sound device to decode it for, or one of another rate.
    """

    def __init__(self, path: Path, rate: int, *, to_play: bool = True, speed: int = FULL_SPEED) -> None:
        if not SLOWEST_SPEED <= speed <= FULL_SPEED:
            raise ValueError(f"a speed of {speed} % is outside {SLOWEST_SPEED} to {FULL_SPEED}")
        if pygame is None:
            raise NoSound(
                NO_PYGAME or "a sound file needs pygame to be read, and it is not there", "install it"
            )
        if why_not := why_no_mixer():
            raise NoSound(f"a sound file cannot be read here: {why_not}", "install it")
        if to_play and pygame.mixer.get_init() is None:
            raise NoSound("a track needs a sound device, and none is open", "plug one in and start again")
        if to_play and (pygame.mixer.get_init()[0] != rate or pygame.mixer.get_init()[2] != CHANNELS):
            raise NoSound("the sound device has changed its rate", "start the program again")
        self.path = path
        self.speed = speed
        self._rate = rate
        self._share = 0.0
        self._track: Track | None = None
        self._problem: Exception | None = None
        self._cancelled = False
        self._process: subprocess.Popen[bytes] | None = None
        self._thread = threading.Thread(target=self._read, name="track reader", daemon=True)
        self._thread.start()

    @property
    def share(self) -> float:
        """How much has been taken over from the decoder, 0 to 1; it stays 0 until that has decoded it."""
        return self._share

    def poll(self) -> Track | None:
        """Return the track once it is read; None before.

        Raises:
            StoreProblem: the file cannot be read.
            BadSettings: it is too long, or holds no sound that can be decoded.
            NoSound: the decoder could not be started.
        """
        if self._thread.is_alive():
            return None
        if self._problem is not None:
            raise self._problem
        return self._track

    def wait(self) -> Track:
        """Return the track as soon as it is read; raises as :meth:`poll`."""
        self._thread.join()
        track = self.poll()
        assert track is not None
        return track

    def cancel(self) -> None:
        """Read no further."""
        self._cancelled = True
        if self._process is not None:
            self._process.kill()

    def _read(self) -> None:
        try:
            mark = _checked(self.path)
            samples = self._decoded()
            self._track = Track(path=self.path, mark=mark, samples=samples, rate=self._rate, speed=self.speed)
        except Exception as err:  # noqa: BLE001 - raised in the caller's thread by poll
            self._problem = err

    def _decoded(self) -> Stereo:
        """Let the decoder do its work; return the samples or raise what became of it."""
        try:
            words = (str(self.path.absolute()), str(self._rate), str(self.speed))
            process = started(DECODER, *words, more=ENVIRONMENT)
        except (OSError, ValueError) as err:
            raise NoSound(f"the decoder of {self.path.name} cannot be started ({err})", NOT_STARTED) from err
        self._process = process
        if self._cancelled:
            process.kill()
        longest_s = LONGEST_WAIT_S if self.speed == FULL_SPEED else LONGEST_SLOWING_S
        late = threading.Timer(longest_s, process.kill)
        late.daemon = True
        said: list[bytes] = []
        listener = threading.Thread(target=lambda: said.append(_tail(process)), daemon=True)
        listener.start()
        late.start()
        try:
            samples = self._taken_over(process)
        finally:
            in_time = late.is_alive()
            late.cancel()
            process.kill()
            code = process.wait()
            listener.join()
            process.stdout.close()  # type: ignore[union-attr]
            process.stderr.close()  # type: ignore[union-attr]
        if samples is None:
            raise self._refused(code, b"".join(said), in_time=in_time)
        if not samples.any():
            raise BadSettings(f"{self.path.name} is silent from begin to end", "give another track")
        return samples

    def _taken_over(self, process: subprocess.Popen[bytes]) -> Stereo | None:
        """Return what the decoder hands over; None when it does not get to the end."""
        pipe = process.stdout
        assert pipe is not None
        head = pipe.read(HEAD.size)
        if len(head) < HEAD.size or self._cancelled:
            process.wait()  # its own exit code tells why, so it is not killed before it has one
            return None
        [length] = HEAD.unpack(head)
        if length > LONGEST_MINUTES * 60 * self._rate * FRAME_BYTES:
            raise _too_long(self.path, length / FRAME_BYTES / self._rate)
        data = bytearray(length)
        view, at = memoryview(data), 0
        while at < length and (taken := pipe.readinto(view[at : at + PIECE_BYTES])):  # type: ignore[attr-defined]
            at += taken
            self._share = at / length
        if at < length:
            process.wait()
            return None
        samples = np.frombuffer(data, dtype=np.int16).reshape(-1, CHANNELS)
        samples.flags.writeable = False
        return samples

    def _refused(self, code: int, said: bytes, *, in_time: bool) -> TrainerError:
        name = self.path.name
        if self._cancelled:
            return BadSettings(f"{name} was not read to its end", "choose it again")
        if not in_time:
            return BadSettings(f"{name} keeps its decoder busy without an end", DECODABLE)
        if code == TOO_LARGE:
            return BadSettings(
                f"{name} takes more memory than {LONGEST_MINUTES} minutes of sound do",
                "cut out the tune you practise",
            )
        if code == NO_MIXER:
            return NoSound(f"the decoder of {name} cannot be started ({_first(said)})", NOT_STARTED)
        if code == NOT_DECODED:
            return BadSettings(f"{name} holds no sound that can be read ({_first(said)})", DECODABLE)
        return BadSettings(f"{name} is damaged: its decoder broke down over it", DECODABLE)


def read_track(path: Path, rate: int) -> Track:
    """Read a sound file whole, and wait for it.

    Args:
        rate: frames a second of the stream; the mixer must be open.

    Raises:
        StoreProblem: the file cannot be read.
        BadSettings: it is too long, or holds no sound that can be decoded.
        NoSound: there is no open sound device to decode it for, one of another rate, or no decoder.
    """
    return TrackReader(path, rate).wait()


def read_sound(path: Path, rate: int) -> Stereo:
    """Read a sound file that is not to be played: at any rate, without a sound device; raises as above."""
    return TrackReader(path, rate, to_play=False).wait().samples


def _checked(path: Path) -> str:
    """Return the file's mark once its size and the length it states are found to be within limits."""
    try:
        # A pipe that nobody writes to must not be waited for, and a device may have no end.
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        try:
            found = os.fstat(descriptor)
            if not stat.S_ISREG(found.st_mode):
                raise BadSettings(f"{path} is not a plain file", DECODABLE)
            return _marked(path, descriptor, found.st_size)
        finally:
            os.close(descriptor)
    except ValueError as err:
        if isinstance(err, BadSettings):
            raise
        raise StoreProblem(f"there is no file {path}", "look at its name") from err
    except OSError as err:
        raise StoreProblem(
            f"{path} cannot be read ({err.strerror})", "look at its name and its rights"
        ) from err


def _marked(path: Path, descriptor: int, size: int) -> str:
    if size > LARGEST_BYTES:
        raise BadSettings(
            f"{path.name} has {size >> 20} MB and at most {LARGEST_BYTES >> 20} are read",
            "cut it, or keep it as FLAC or Ogg",
        )
    with os.fdopen(descriptor, "rb", closefd=False) as file:
        head = file.read(HEAD_BYTES)
        file.seek(max(0, size - HEAD_BYTES))
        seconds = stated_seconds(head, file.read(HEAD_BYTES), size)
        if seconds is not None and seconds > LONGEST_MINUTES * 60:
            raise _too_long(path, seconds)
        file.seek(0)
        return hashlib.file_digest(file, "sha256").hexdigest()


def _too_long(path: Path, seconds: float) -> BadSettings:
    return BadSettings(
        f"{path.name} is {seconds / 60:.0f} minutes long and at most {LONGEST_MINUTES} are read",
        "cut out the tune you practise",
    )


def _tail(process: subprocess.Popen[bytes]) -> bytes:
    """Return the last of what a process says, however much it is."""
    kept = b""
    with contextlib.suppress(OSError, ValueError):
        while piece := process.stderr.read1(PIECE_BYTES):  # type: ignore[union-attr]
            kept = (kept + piece)[-PIECE_BYTES:]
    return kept


def _first(said: bytes) -> str:
    """Return a library's last words, on one line."""
    lines = said.decode("utf-8", "replace").strip().splitlines()
    return lines[-1][:80] if lines else "unknown format"
