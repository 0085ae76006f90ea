"""Flood a drill with notes, ask the window to close in the middle of it, and print what became of both.

Run it with: xvfb-run -s "-screen 0 1280x720x24" python -m tests.benchmarks.flood_study --seconds 20

A thread plays a MIDI driver that sends so many notes a second, each of another pad. The window is the
app's own with sound, judge and journal. SIGTERM comes when the flood is over, or at --quit seconds.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
import threading
import time
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pygame

from tests.benchmarks.drill_window import DrillWindow, a_drill, an_application, size_of
from tests.benchmarks.soak_bench import rss_bytes
from tests.devices.fake_midi import FakeSystem
from trainer.app.recording import Recorder
from trainer.app.scenes.drill import DrillController
from trainer.devices.clock import now_ns
from trainer.devices.midi import MidiInputs

MIB = 1 << 20
STEP_S = 0.005


def flood(
    system: FakeSystem, rate: int, seconds: float, quit_s: float, sent: list[int], asked: list[float]
) -> None:
    """Send notes for a while, and ask for the end at a moment; runs beside the window."""
    time.sleep(3.5)  # the count-in is over then
    begun_s, number = time.perf_counter(), 0
    while (past_s := time.perf_counter() - begun_s) < max(seconds, quit_s):
        while number < min(past_s, seconds) * rate:
            system.send(0x90 + number // 128 % 16, number % 128, 90, port="Pad A")
            number += 1
        sent[0] = number
        if past_s >= quit_s and not asked:
            asked.append(time.perf_counter())
            os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(STEP_S)
    if not asked:
        asked.append(time.perf_counter())
        os.kill(os.getpid(), signal.SIGTERM)


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rate", type=int, default=10_000)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--quit", type=float, default=10.0)
    parser.add_argument("--size", default="1280x720")
    options = parser.parse_args(arguments)
    system, sent, asked = FakeSystem("Pad A"), [0], list[float]()
    midi = MidiInputs([system.make], now_ns)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        recorder = Recorder.open(Path(folder) / "takes.sqlite")[0]
        app = an_application(midi=midi, recorder=recorder)
        preferences = app.context.preferences
        preferences.settings = replace(preferences.settings, input_name="Pad A")
        midi.open("Pad A")
        request = a_drill(options.seconds + 60)
        window = DrillWindow(app, request, size=size_of(options.size), seconds=options.seconds + 60)
        sender = threading.Thread(
            target=flood, args=(system, options.rate, options.seconds, options.quit, sent, asked), daemon=True
        )
        sender.start()
        window.run()
        ended_s, shown = time.perf_counter(), list(window.shown_s)
        top = app.context.navigation.top
        taps = len(top.drill.taps) if isinstance(top, DrillController) else 0
        sent_then = sent[0]
        app.end()
        midi.end()
        app.context.playback.speaker.close()
    apart = [b - a for a, b in pairwise(shown)]
    in_flood = [gap for at, gap in zip(shown, apart, strict=False) if at - shown[0] > 4]
    print(f"{options.rate} notes a second: {sent_then} sent, {taps} taken in when it closed")
    print(f"closed {ended_s - asked[0]:.2f} s after it was asked to")
    print(f"frames in the flood {len(in_flood)}, longest apart {max(in_flood, default=0):.2f} s")
    print(f"memory {rss_bytes() / MIB:.0f} MiB")
    pygame.quit()
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1:])
