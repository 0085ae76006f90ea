"""Write sound as a WAV file, piece by piece, so that an hour of it needs no more memory than a second."""

from __future__ import annotations

import wave
from collections.abc import Iterable
from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import SHARED, whole_bytes, write_whole

CHANNELS, SAMPLE_BYTES = 2, 2


def write_wav(path: Path, blocks: Iterable[bytes], *, frames: int, rate: int) -> None:
    """Write blocks of 16-bit stereo; the file takes its place when all of it is written.

    Args:
        blocks: samples of left and right in turn, in this machine's order of bytes.
        frames: how many there are in all blocks together.

    Raises:
        StoreProblem: the file cannot be written; what stood there before stands there still.
    """
    try:
        with whole_bytes(path, mode=SHARED) as file, wave.open(file, "wb") as sound:
            sound.setnchannels(CHANNELS)
            sound.setsampwidth(SAMPLE_BYTES)
            sound.setframerate(rate)
            sound.setnframes(frames)
            for block in blocks:
                sound.writeframesraw(block)
    except OSError as err:
        raise StoreProblem(
            f"{path} cannot be written ({err.strerror or err})", "choose another place"
        ) from err


def write_beside(path: Path, text: str) -> None:
    """Write what belongs to a sound file beside it, in UTF-8; the file takes its place whole.

    Raises:
        StoreProblem: the file cannot be written.
    """
    try:
        write_whole(path, text.encode("utf-8", "backslashreplace"), mode=SHARED)
    except OSError as err:
        raise StoreProblem(
            f"{path} cannot be written ({err.strerror or err})", "choose another place"
        ) from err
