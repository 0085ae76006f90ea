"""Real MIDI through JACK's dummy driver, played by another process. Run with -s to see the figures."""

import json
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from trainer.devices.clock import now_ns
from trainer.devices.midi import CLIENT_NAME, VIRTUAL_NAME, MidiInputs, MidiTap, PortNotice

pytestmark = pytest.mark.system

HERE = Path(__file__).parent
PERIOD_MS = 256 / 48
NOTES = 400
NOTICE_S = 1.5


class OtherPlayer:
    """A process that plays; see other_player.py for its words."""

    def __init__(self, name: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(HERE / "other_player.py"), name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.answers: list[dict[str, object]] = []

    def tell(self, line: str) -> None:
        """Say what to do without waiting for it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()
        stdout = self.process.stdout
        threading.Thread(
            target=lambda: self.answers.append(json.loads(stdout.readline())), daemon=True
        ).start()

    def quit(self) -> None:
        """End the process and wait for it."""
        self.process.communicate("quit\n", timeout=10)


@pytest.fixture
def other() -> Iterator[OtherPlayer]:
    player = OtherPlayer("otherpad")
    try:
        yield player
    finally:
        try:
            player.quit()
        finally:
            player.process.kill()


@pytest.fixture
def midi(jack_server: str) -> Iterator[MidiInputs]:
    inputs = MidiInputs()
    try:
        yield inputs
    finally:
        inputs.end()


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


def obeyed(midi: MidiInputs, other: OtherPlayer, line: str, *, at_most_s: float = 10.0) -> dict[str, object]:
    """Have the other process do something and wait for its answer."""
    before = len(other.answers)
    other.tell(line)
    watch(midi, lambda: len(other.answers) > before, at_most_s=at_most_s)
    assert len(other.answers) > before, f"no answer to {line}"
    return other.answers[-1]


def test_every_note_of_another_program_arrives_in_order_with_its_velocity(
    midi: MidiInputs, other: OtherPlayer
) -> None:
    sys.setswitchinterval(0.0005)  # as in a drill
    assert midi.open(VIRTUAL_NAME) == VIRTUAL_NAME
    obeyed(midi, other, f"connect {CLIENT_NAME}")
    taps: list[MidiTap] = []
    other.tell(f"play {NOTES} 5")
    heard, _ = watch(midi, lambda: len(other.answers) == 2, at_most_s=60.0)
    taps += heard
    heard, _ = watch(midi, lambda: False, at_most_s=0.2)
    taps += heard
    sent = np.array(other.answers[1]["sent"], dtype=np.int64)
    assert [(tap.note, tap.velocity) for tap in taps] == [(int(n), int(v)) for _, n, v in sent]
    assert len(taps) == NOTES
    arrived_ns = np.array([tap.host_ns for tap in taps])
    lag_ms = (arrived_ns - sent[:, 0]) / 1e6
    spacing_ms = np.abs(np.diff(arrived_ns) - np.diff(sent[:, 0])) / 1e6
    sys.stdout.write(
        f"\n{NOTES} of {NOTES} notes; from send to stamp median {np.median(lag_ms):.2f} ms, "
        f"p99 {np.percentile(lag_ms, 99):.2f} ms; error of spacing median {np.median(spacing_ms):.2f} ms, "
        f"p99 {np.percentile(spacing_ms, 99):.2f} ms (JACK delivers once in {PERIOD_MS:.2f} ms)\n"
    )
    assert lag_ms.min() > 0
    # Sent at any moment of a period, delivered at its end: half a period in the mean, one at the most.
    assert np.median(lag_ms) < PERIOD_MS
    driver_s = sum(tap.delta_s for tap in taps if tap.delta_s is not None)
    assert driver_s == pytest.approx((arrived_ns[-1] - arrived_ns[0]) / 1e9, abs=2 * PERIOD_MS / 1e3)


def test_a_port_is_noticed_both_ways_within_a_second_and_a_half_and_heard_again(
    midi: MidiInputs, other: OtherPlayer
) -> None:
    seen_s: dict[str, list[float]] = {"came": [], "went": []}

    def after(line: str, stamp: str, *, present: bool) -> float:
        before = len(other.answers)
        noticed: list[tuple[int, PortNotice]] = []
        other.tell(line)
        until_s = time.monotonic() + 10.0
        while not (noticed and len(other.answers) > before) and time.monotonic() < until_s:
            noticed += watch(midi, lambda: True, at_most_s=0.0)[1]
            noticed += [(now_ns(), notice) for notice in midi.scan()]
            time.sleep(0.002)
        ((at_ns, notice),) = noticed
        assert (notice.name, notice.present) == ("otherpad:out", present)
        happened_ns = other.answers[before][stamp]
        assert isinstance(happened_ns, int)
        return (at_ns - happened_ns) / 1e9

    for round_ in range(3):
        seen_s["came"].append(after("offer", "ended_ns", present=True))
        if round_ == 0:
            assert midi.open("other") == "otherpad:out"
        assert midi.open_name == "otherpad:out"
        # JACK connects the two within a period or so.
        watch(midi, lambda: False, at_most_s=0.1)
        before = len(other.answers)
        other.tell(f"note {60 + round_} 77")
        taps, _ = watch(midi, lambda: len(other.answers) > before, at_most_s=5.0)
        taps += watch(midi, lambda: False, at_most_s=0.1)[0]
        assert [(tap.note, tap.velocity) for tap in taps] == [(60 + round_, 77)]
        seen_s["went"].append(after("withdraw", "began_ns", present=False))
        assert midi.open_name == ""
    for way, seconds in seen_s.items():
        sys.stdout.write(f"\nnoticed that it {way} after {', '.join(f'{s:.2f}' for s in seconds)} s\n")
        assert max(seconds) <= NOTICE_S


def test_our_own_port_is_there_while_it_is_open_and_gone_afterwards(
    jack_server: str, other: OtherPlayer
) -> None:
    midi = MidiInputs()
    midi.open(VIRTUAL_NAME)
    obeyed(midi, other, f"connect {CLIENT_NAME}")
    obeyed(midi, other, "withdraw")
    midi.end()
    other.tell(f"connect {CLIENT_NAME}")
    # The other program finds no such port and ends with an error.
    assert other.process.wait(10) == 1


def test_no_service_is_said_in_a_sentence_and_nothing_is_written_to_the_terminal() -> None:
    """The libraries write their complaints straight to the terminal, past Python."""
    pytest.importorskip("rtmidi", reason="python-rtmidi is not installed")
    lines = "from trainer.devices.midi import MidiInputs; m = MidiInputs(); print(m.note or 'there is MIDI')"
    again = "; [m._ask_missing() for _ in range(3)]; print(m.ports()); m.end()"
    ran = subprocess.run(
        [sys.executable, "-c", lines + again],
        env={**os.environ, "JACK_DEFAULT_SERVER": f"thumbfall-none-{os.getpid()}"},
        cwd=HERE.parents[1],
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    assert ran.stderr == ""
    note, ports = ran.stdout.splitlines()
    assert note == "there is MIDI" or ("MIDI is off" in note and ports == "()")
