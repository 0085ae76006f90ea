"""Play to our inputs from another process, and look at them as the window's loop does."""

import json
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypedDict

from trainer.devices.clock import now_ns
from trainer.devices.midi import MidiInputs, MidiTap, PortNotice

TOP = Path(__file__).parents[2]
DELIVERED_S = 3.0
LONGEST_S = 60.0  # for what has to happen, on whatever machine


class Answer(TypedDict):
    """What the other process says when it has done something."""

    began_ns: int
    ended_ns: int
    sent: list[tuple[int, int, int]]
    ports: list[str]


class OtherPlayer:
    """A process that plays; see other_player.py for its words."""

    def __init__(self, name: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.system.other_player", name],
            cwd=TOP,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.answers: list[Answer] = []
        self.told = 0
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def tell(self, line: str) -> None:
        """Say what to do without waiting for it."""
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        self.told += 1

    def has_answered(self) -> bool:
        """Return whether everything told has been done."""
        return len(self.answers) == self.told

    def quit(self) -> None:
        """End the process and wait for it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write("quit\n")
        self.process.stdin.close()
        try:
            self.process.wait(LONGEST_S)
        finally:
            self.process.kill()
            self.process.wait()
            self._reader.join(10)
            self.process.stdout.close()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.answers.append(json.loads(line))


def watch(
    midi: MidiInputs, until: Callable[[], bool], *, at_most_s: float
) -> tuple[list[MidiTap], list[tuple[int, PortNotice]]]:
    """Look at the inputs as the window's loop does, some 500 times a second."""
    taps: list[MidiTap] = []
    notices: list[tuple[int, PortNotice]] = []
    end_s = time.monotonic() + at_most_s
    while not until() and time.monotonic() < end_s:
        taps += midi.poll()
        notices += [(now_ns(), notice) for notice in midi.scan()]
        time.sleep(0.002)
    taps += midi.poll()
    return taps, notices


def obeyed(
    midi: MidiInputs, other: OtherPlayer, line: str, *, is_heard: bool = True
) -> tuple[Answer, list[MidiTap]]:
    """Have the other process do something; return its answer and what was heard of it.

    Args:
        is_heard: whether the notes that it plays are to be waited for.
    """
    other.tell(line)
    taps, _ = watch(midi, other.has_answered, at_most_s=60.0)
    assert other.has_answered(), f"no answer to {line}"
    answer = other.answers[-1]
    # JACK delivers, and connects, within a period or so; on a busy machine when it comes to it.
    end_s = time.monotonic() + DELIVERED_S
    while is_heard and len(taps) < len(answer["sent"]) and time.monotonic() < end_s:
        taps += watch(midi, lambda: False, at_most_s=0.02)[0]
    taps += watch(midi, lambda: False, at_most_s=0.1)[0]
    return answer, taps
