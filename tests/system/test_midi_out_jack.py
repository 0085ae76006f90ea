"""MIDI sent through JACK's dummy driver and heard by another process. Run with -s to see the figures."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from tests.sound.helpers import plan_of
from tests.system.apparatus import measured, watched
from trainer.devices.clock import now_ns
from trainer.devices.midi_out import MidiOut
from trainer.devices.midi_services import installed_libraries, library_named
from trainer.sound.midi_out import CLOCK, START, STOP, Message, PadLights, Sending, due_messages

pytestmark = pytest.mark.system

TOP = Path(__file__).parents[2]
PERIOD_MS = 256 / 48
PASSES = 4  # of four beats at 120: 8 s
SENDING = Sending(lights=PadLights(channel=9, nail=36, thumb=38))


def idle() -> None:
    time.sleep(0.016)


def python_frame() -> None:
    """A frame of 10 ms in Python, and 6 ms of waiting."""
    until = time.perf_counter() + 0.010
    while time.perf_counter() < until:
        pass
    time.sleep(0.006)


@contextmanager
def listening() -> Iterator[subprocess.Popen[str]]:
    """Run the other program, and wait until it listens."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.system.midi_listener", "listener"],
        cwd=TOP,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    try:
        yield process
    finally:
        process.kill()
        process.wait(10)
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                pipe.close()


def heard_by(listener: subprocess.Popen[str]) -> list[tuple[int, list[int]]]:
    out, _ = listener.communicate(timeout=20)
    found: list[tuple[int, list[int]]] = json.loads(out)
    return found


@dataclass(frozen=True, kw_only=True)
class Stream:
    """What was to be sent and what was heard: (host ns, bytes); the stream began at ``begin_ns``."""

    wanted: tuple[Message, ...]
    heard: list[tuple[int, list[int]]]
    begin_ns: int
    first_s: float
    lost: int


def streamed(library: str, frame: Callable[[], None]) -> Stream:
    """Send a whole drill beside frames."""
    plan = plan_of("120", passes=PASSES)
    with watched() as machine, listening() as listener:
        out = MidiOut(library_named(library).outputs())
        try:
            out.open(next(port for port in out.ports() if "listener" in port))
            begin_ns = now_ns() + 300_000_000
            first_s = plan.song_s(0)
            out.start(plan, SENDING, begin_ns, first_s)
            end_s = PASSES * 4 / 2 + 0.3
            while (song_s := first_s + (now_ns() - begin_ns) / 1e9) < end_s:
                out.follow(plan, now_ns(), song_s)
                frame()
            lost = out.lost
        finally:
            out.end()
        heard = heard_by(listener)
    sys.stdout.write(f"\n{machine}")
    machine.must_have_kept_time()
    wanted = due_messages(plan, SENDING, first_s - 1, end_s)
    return Stream(wanted=wanted, heard=heard, begin_ns=begin_ns, first_s=first_s, lost=lost)


@pytest.fixture
def quick_switches() -> Iterator[None]:
    """The switch interval that a drill runs with."""
    kept = sys.getswitchinterval()
    sys.setswitchinterval(0.0005)
    yield
    sys.setswitchinterval(kept)


@pytest.mark.usefixtures("quick_switches")
@pytest.mark.parametrize("library", [each.name for each in installed_libraries()])
@pytest.mark.parametrize(
    ("frame", "periods"), [(idle, 2), pytest.param(python_frame, 4, marks=pytest.mark.slow)]
)
def test_all_that_is_due_arrives_in_order_and_in_time(
    frame: Callable[[], None], periods: int, library: str, jack_server: str
) -> None:
    """The clock at 120 is 20.833 ms (2500 / bpm); JACK hands on at the begin of a period of 5.3 ms."""
    if library == "pygame.midi" and sys.platform.startswith("linux"):
        pytest.skip("PortMidi knows only ALSA here")
    assert os.environ["JACK_DEFAULT_SERVER"] == jack_server
    stream = measured(lambda _attempt: streamed(library, frame))
    heard, wanted, begin_ns, first_s = stream.heard, stream.wanted, stream.begin_ns, stream.first_s
    # Before it comes the opening, after it what ends the stream.
    begun = next(at for at, (_, data) in enumerate(heard) if data == [CLOCK] or data[0] == 0x99)
    assert [tuple(data) for _, data in heard[begun : begun + len(wanted)]] == [m.data for m in wanted]
    late_ms = np.array(
        [
            (ns - begin_ns) / 1e6 - (m.due_s - first_s) * 1000
            for (ns, _), m in zip(heard[begun:], wanted, strict=False)
        ]
    )
    clocks = np.array([ns for ns, data in heard if data == [CLOCK]]) / 1e6
    intervals = np.diff(clocks)
    slope = np.polyfit(np.arange(len(clocks)), clocks, 1)[0]
    low, middle, high = np.percentile(late_ms, [1, 50, 99])
    sys.stdout.write(
        f"\n{library}, {frame.__name__}: {len(wanted)} messages, {len(clocks)} clocks; "
        f"late by {middle:.2f} ms, "
        f"{low:.2f} to {high:.2f} (1 to 99 %); interval {intervals.mean():.4f} ms, sd {intervals.std():.2f}; "
        f"by a line {slope:.4f} ms\n"
    )
    assert stream.lost == 0
    assert sum(data == [START] for _, data in heard) == 1
    assert heard[-1][1] == [STOP]
    assert slope == pytest.approx(20.8333, abs=0.005)
    assert high - low <= periods * PERIOD_MS
    assert middle <= 2 * PERIOD_MS
