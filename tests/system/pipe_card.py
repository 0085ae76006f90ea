"""A sound card of exact speed, in a process of its own: reads SDL's disk driver through a pipe.

SDL's disk driver keeps time by whole milliseconds of sleep, so written to a file it runs 5 % fast and
wanders. Written to a pipe that is read at 48 kHz it behaves as a card does: it plays at the card's speed and
waits when the card's little buffer is full. Where the pipe is found empty the card has run dry.

Usage: pipe_card.py PIPE LOG SOUND. LOG gets a line "frame host_ns" for every 512 frames played and "dry
host_ns" where there was nothing to play; SOUND gets what was played. Ends with the writer.
"""

import fcntl
import os
import sys
import time
from pathlib import Path

F_SETPIPE_SZ = 1031
PIPE_BYTES = 4096  # a page, the least there is: 21 ms
FRAMES = 512
FRAME_BYTES = 4
RATE = 48_000
NS = 1_000_000_000


def main(pipe: Path, log: Path, sound: Path) -> None:
    reader = os.open(pipe, os.O_RDONLY)
    held = b""
    while True:
        try:
            fcntl.fcntl(reader, F_SETPIPE_SZ, PIPE_BYTES)
            break
        except OSError:
            # The writer was quicker and has filled more than that; it is played before the rest.
            held += os.read(reader, PIPE_BYTES)
    held = held or os.read(reader, FRAMES * FRAME_BYTES)  # waits for the writer
    time.sleep(0.03)
    os.set_blocking(reader, False)
    due = time.perf_counter()
    frame = 0
    with log.open("w", buffering=1) as lines, sound.open("wb") as out:
        while True:
            now = time.perf_counter()
            if now < due:
                time.sleep(due - now)
            while len(held) < FRAMES * FRAME_BYTES:
                try:
                    got = os.read(reader, PIPE_BYTES)
                except BlockingIOError:
                    break
                if not got:
                    return
                held += got
            # The card's time, not that of this process, which may be woken late.
            stamp = round(due * NS)
            if len(held) < FRAMES * FRAME_BYTES:
                lines.write(f"dry {stamp}\n")
            else:
                out.write(held[: FRAMES * FRAME_BYTES])
                held = held[FRAMES * FRAME_BYTES :]
                lines.write(f"{frame} {stamp}\n")
                frame += FRAMES
            due += FRAMES / RATE


if __name__ == "__main__":
    main(*(Path(name) for name in sys.argv[1:4]))
