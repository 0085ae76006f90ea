"""Print how well taps are stamped: MIDI through an injected stream, keys pressed by another process.

Run it with: python -m tests.benchmarks.stamp_bench [--seconds N] [--size WxH]

MIDI: another process writes its clock into a pipe at random moments; a thread waits for it outside the
interpreter, as the driver's does, and calls the callback that the app has given it. The error is the stamp
minus that clock, so waking the thread counts. The driver's deltas are true ones, so the cross-check
(devices/midi_stamps.py) can be seen beside the bare arrival.

Keys: another process presses them through XTest; Linux and a display only. Where a JACK server runs, notes
are sent through it as well; what they wait there, up to one of its periods, is not ours.
"""

from __future__ import annotations

import argparse
import ctypes.util
import os
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np
import pygame
from numpy.typing import NDArray

from tests.benchmarks.drill_window import SETTLED_S, DrillWindow, a_drill, an_application, size_of
from trainer.app import loop
from trainer.devices.keyboard import SCAN_S, KeyTap, KeyTaps
from trainer.devices.loopback import Loopback
from trainer.devices.midi import MidiInputs, MidiTap
from trainer.errors import NoMidi

PORT = "Injected pad"
STAMP = struct.Struct("q")
JACK_PERIOD_MS = float(os.environ.get("JACK_PERIOD_MS", 256 / 48))

SEND_MIDI = """
import os, random, struct, sys, time
rng, out = random.Random(1), sys.stdout.fileno()
end = time.perf_counter() + float(sys.argv[1])
while time.perf_counter() < end:
    time.sleep(rng.uniform(0.020, 0.080))
    os.write(out, struct.pack("q", time.perf_counter_ns()))
"""
# Linux only: the two processes share one clock there.
SEND_KEYS = """
import ctypes, ctypes.util, random, sys, time
x11, test = (ctypes.CDLL(ctypes.util.find_library(name)) for name in ("X11", "Xtst"))
x11.XOpenDisplay.restype = ctypes.c_void_p
x11.XStringToKeysym.restype = ctypes.c_ulong
at = ctypes.c_void_p(x11.XOpenDisplay(None))
x11.XSetInputFocus(at, ctypes.c_ulong(int(sys.argv[2])), 2, ctypes.c_ulong(0))
x11.XSync(at, 0)
codes = [x11.XKeysymToKeycode(at, ctypes.c_ulong(x11.XStringToKeysym(key))) for key in (b"f", b"j")]
rng, end, number = random.Random(2), time.perf_counter() + float(sys.argv[1]), 0
while time.perf_counter() < end:
    time.sleep(rng.uniform(0.030, 0.090))
    now = time.perf_counter_ns()
    test.XTestFakeKeyEvent(at, codes[number % 2], 1, ctypes.c_ulong(0))
    x11.XFlush(at)
    print(now, flush=True)
    time.sleep(0.015)
    test.XTestFakeKeyEvent(at, codes[number % 2], 0, ctypes.c_ulong(0))
    x11.XFlush(at)
    number += 1
"""


class InjectedInput:
    """An input whose driver is another process; what it sent is in ``sent_ns``."""

    def __init__(self) -> None:
        self.sent_ns: list[int] = []
        self._callback: object = None

    def get_ports(self) -> list[str]:
        return [PORT]

    def open_port(self, port: int, name: str) -> object:
        return port, name

    def open_virtual_port(self, name: str) -> object:
        return name

    def set_callback(self, func: object) -> None:
        self._callback = func

    def cancel_callback(self) -> None:
        self._callback = None

    def close_port(self) -> None:
        pass

    def delete(self) -> None:
        pass

    def listen(self, reader: int) -> None:
        """Hand on what comes until the other process ends; on a thread of its own."""
        while len(data := os.read(reader, STAMP.size)) == STAMP.size:
            callback = self._callback
            # The driver's clock is that of the sender: true deltas, as ALSA's queue gives.
            (sent_ns,) = STAMP.unpack(data)
            delta_s = round((sent_ns - self.sent_ns[-1]) / 1e9, 6) if self.sent_ns else 0.0
            self.sent_ns.append(sent_ns)
            if callable(callback):
                callback(([0x90, len(self.sent_ns) % 128, 64], delta_s), None)


class NotingInputs(MidiInputs):
    """Inputs that keep what they have handed on."""

    def __init__(self, raw: InjectedInput) -> None:
        super().__init__(services=(lambda: raw,))
        self.heard: list[MidiTap] = []
        self.open(PORT)

    def poll(self) -> tuple[MidiTap, ...]:
        found = super().poll()
        self.heard.extend(found)
        return found


class NotingKeys(KeyTaps):
    """Keys that keep what they have handed on."""

    def __init__(self, old: KeyTaps) -> None:
        super().__init__(old.keys)
        self.heard: list[KeyTap] = []

    def down(self, key: str, *, host_ns: int, looked_ns: int) -> KeyTap | None:
        tap = super().down(key, host_ns=host_ns, looked_ns=looked_ns)
        if tap is not None:
            self.heard.append(tap)
        return tap


@contextmanager
def injected(raw: InjectedInput, seconds: float) -> Iterator[None]:
    """Let the other process send for a while."""
    sender = subprocess.Popen([sys.executable, "-c", SEND_MIDI, str(seconds)], stdout=subprocess.PIPE)
    assert sender.stdout is not None
    listener = threading.Thread(target=raw.listen, args=(sender.stdout.fileno(),))
    listener.start()
    try:
        yield
    finally:
        sender.terminate()
        sender.wait(10)
        listener.join(10)
        sender.stdout.close()


def row(name: str, errors_ms: NDArray[np.float64], goal_ms: float | None = None) -> None:
    size = np.abs(errors_ms)
    goal = f"{goal_ms:8.1f}" if goal_ms is not None else f"{'':8}"
    print(
        f"{name:44} {len(size):6} {np.median(size):8.3f} {np.percentile(size, 99):8.3f} "
        f"{size.max():8.3f} {goal}"
    )


def midi_rows(words: str, raw: InjectedInput, inputs: NotingInputs, goal_ms: float) -> None:
    """Print the rows of a run; the cross-check needs 32 notes, so those are left out of both."""
    n = min(len(raw.sent_ns), len(inputs.heard))
    assert abs(len(raw.sent_ns) - len(inputs.heard)) <= 1, "notes were lost"
    sent = np.array(raw.sent_ns[:n])
    stamp = np.array([tap.host_ns for tap in inputs.heard[:n]])
    saved_ns = np.array([tap.saved_s for tap in inputs.heard[:n]]) * 1e9
    row(f"MIDI, {words}: arrival alone", (stamp + saved_ns - sent)[32:] / 1e6, goal_ms)
    row(f"MIDI, {words}: with true driver deltas", (stamp - sent)[32:] / 1e6, goal_ms)


def idle(seconds: float) -> None:
    """Look at the inputs as the window's loop does when nothing moves."""
    raw = InjectedInput()
    inputs = NotingInputs(raw)
    end = time.perf_counter() + seconds + 1.0
    with injected(raw, seconds):
        while time.perf_counter() < end:
            inputs.poll()
            time.sleep(0.001)
    inputs.poll()
    midi_rows("idle", raw, inputs, 0.2)
    inputs.end()


def drawn(seconds: float, size: tuple[int, int], *, silent: bool) -> None:
    """Draw the drill while notes come and keys are pressed."""
    raw = InjectedInput()
    inputs = NotingInputs(raw)
    app = an_application(midi=inputs, silent=silent)
    keys = NotingKeys(app.context.inputs.keys)
    app.context.inputs.key_input.keys = keys
    window = DrillWindow(app, a_drill(seconds + 5), size=size, seconds=seconds + SETTLED_S + 1.0)
    presser: subprocess.Popen[str] | None = None
    if pygame.display.get_driver() == "x11" and ctypes.util.find_library("Xtst"):
        xid = str(pygame.display.get_wm_info()["window"])
        presser = subprocess.Popen(
            [sys.executable, "-c", SEND_KEYS, str(seconds), xid], stdout=subprocess.PIPE, text=True
        )
    with injected(raw, seconds):
        window.run()
    inputs.poll()
    midi_rows(f"{size[0]}x{size[1]} drawn", raw, inputs, 2.0)
    if presser is not None:
        key_rows([int(line) for line in presser.communicate(timeout=10)[0].split()], keys)
    else:
        print("keys were not measured: XTest needs an X display and libXtst")
    shown = np.diff(np.array(window.shown_s)[30:])
    print(f"frames meanwhile: {1 / shown.mean():.1f} a second, longest {shown.max() * 1000:.1f} ms apart")
    app.end()
    app.context.playback.speaker.close()
    inputs.end()


def key_rows(sent: list[int], keys: NotingKeys) -> None:
    if len(sent) != len(keys.heard):
        print(f"keys: {len(sent)} pressed, {len(keys.heard)} seen; each is held against the nearest")
    pressed, at = np.array(sent), np.array([tap.host_ns for tap in keys.heard])
    off = at - pressed[np.abs(at[:, None] - pressed).argmin(axis=1)]
    unsure_ns = np.array([tap.uncertainty_s for tap in keys.heard]) * 1e9
    looks_ns = unsure_ns - SCAN_S * 1e9
    row("keys, drawn: middle of the interval", off / 1e6, 4.0)
    row("keys, drawn: the half interval itself", looks_ns / 1e6)
    print(
        f"true times inside the stated interval: {(np.abs(off) <= unsure_ns).mean():.1%}; "
        f"inside the half interval without the keyboard's 4 ms: {(np.abs(off) <= looks_ns).mean():.1%}"
    )


def through_jack(seconds: float) -> None:
    """Send notes through the system's MIDI service; what exceeds one period of it is not the service's."""
    try:
        round_trip = Loopback()
    except NoMidi as problem:
        print(f"through a MIDI service: not measured, {problem.problem}")
        return
    round_trip.start()
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        round_trip.hear()
        time.sleep(0.001)
    round_trip.end()
    way_ms = np.array([trip.way_s for trip in round_trip.trips]) * 1000
    row("MIDI, idle, through JACK: sent to stamp", way_ms)
    row(f"  beyond one period of {JACK_PERIOD_MS:.2f} ms", np.maximum(way_ms - JACK_PERIOD_MS, 0))


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--seconds", type=float, default=20.0, help="of each run")
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--silent", action="store_true", help="without a sound device")
    options = parser.parse_args(arguments)
    sys.setswitchinterval(loop.SWITCH_INTERVAL_S)
    print(f"{'error of a stamp, ms':44} {'taps':>6} {'median':>8} {'p99':>8} {'longest':>8} {'goal p99':>8}")
    idle(options.seconds)
    drawn(options.seconds, size_of(options.size), silent=options.silent)
    pygame.quit()
    through_jack(options.seconds)


if __name__ == "__main__":
    main(sys.argv[1:])
