"""Play a take through a MIDI port of its own, in time with the clicks that a sound card plays.

A player hears the clicks and plays to them. This one reads the log of pipe_card.py, which tells when each
frame was played, and the sound itself, in which the first sample that is not silent is the first click of
the count-in. Each tap is sent when its frame is played.

Usage: player.py TAKE.json LOG SOUND SENT.json; TAKE.json holds ``first_click_s`` and ``taps``, each a list of
second, channel, note and velocity. Writes "ready" when the port is there, and to SENT.json the second at
which each tap was really sent: a process on a busy machine is late itself.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np

from tests.system.peer import an_output

RATE = 48_000
POLL_S = 0.0005
GIVE_UP_S = 60.0
LATEST = 60


class Card:
    """Knows when each frame is played, from the card's log."""

    def __init__(self, log: Path, sound: Path) -> None:
        self._log, self._sound = log, sound
        self._read = 0
        self._seen: list[tuple[int, float]] = []

    def look(self) -> None:
        """Read what the card has logged since the last look."""
        if not self._log.exists():
            return
        with self._log.open() as lines:
            lines.seek(self._read)
            for line in lines:
                if not line.endswith("\n"):
                    break
                self._read += len(line)
                frame, stamp = line.split()
                if frame != "dry":
                    self._seen.append((int(frame), int(stamp) / 1e9))

    def first_sound(self) -> int:
        """Return the first frame that is not silent."""
        end = time.perf_counter() + GIVE_UP_S
        while time.perf_counter() < end:
            self.look()
            if self._sound.exists():
                loud = np.flatnonzero(np.fromfile(self._sound, dtype=np.int16))
                if len(loud):
                    return int(loud[0]) // 2
            time.sleep(0.02)
        raise SystemExit("heard nothing")

    def frame_now(self) -> float:
        """Return the frame played now; the card's speed is exact, its log a little late at times."""
        self.look()
        zero_s = min(second - at / RATE for at, second in self._seen[-LATEST:])
        return (time.perf_counter() - zero_s) * RATE

    def wait_for(self, frame: int) -> None:
        """Return when a frame is played."""
        while True:
            left_s = (frame - self.frame_now()) / RATE
            if left_s <= 0:
                return
            time.sleep(min(left_s, POLL_S) if left_s < 0.02 else 0.01)


def main(order: Path, log: Path, sound: Path, sent: Path) -> None:
    take = json.loads(order.read_text())
    port = an_output("Finger Pad")
    port.open_virtual_port("out")
    print("ready", flush=True)
    card = Card(log, sound)
    first_click = card.first_sound()
    seconds = []
    for second, channel, note, velocity in take["taps"]:
        card.wait_for(first_click + round((second - take["first_click_s"]) * RATE))
        seconds.append((card.frame_now() - first_click) / RATE + take["first_click_s"])
        port.send_message([0x90 | channel, note, velocity])
    sent.write_text(json.dumps(seconds))
    time.sleep(5.0)
    port.delete()


if __name__ == "__main__":
    main(*(Path(name) for name in sys.argv[1:5]))
