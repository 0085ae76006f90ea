"""The microphone's way through SDL itself: its disk driver plays a rendered room into the capture.

Run with -s to see the figures.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.app.bench import WINDOW, Bench
from tests.sound.room import Room, calibration_clicks
from tests.system.apparatus import ApparatusFailed, measured, watched
from trainer.app.scenes.calibration import CalibrationController
from trainer.devices.clock import now_ns
from trainer.devices.microphone import Microphone
from trainer.devices.outputs import capture_names
from trainer.devices.speaker import Speaker
from trainer.judging.delay import DelayFound, find_device_delay
from trainer.screen.actions import Act
from trainer.screen.scenes.calibration import CalibrationView, Step
from trainer.sound.knocks import find_clicks, find_knocks, without_clicks

pygame = pytest.importorskip("pygame")
pytestmark = pytest.mark.system

RATE = 48_000
BEGIN_S = 3.2
GAP_S = 0.6
STALLING_MS = 10.0  # of the machine, after which the sound may have stalled as well


def say(line: str) -> None:
    sys.stdout.write(f"\n{line}\n")


def taps_between(n: int, seed: int = 3) -> list[float]:
    scatter = np.random.default_rng(seed).normal(0, 0.03, n)
    return [float(k * GAP_S + GAP_S / 2 + e) for k, e in enumerate(scatter)]


def write_room(path: Path, taps_s: list[float], *, late_s: float, begin_s: float) -> None:
    """Clicks that are ``late_s`` later in the air than the program says, and knocks when the taps are."""
    clicks = [(s + late_s + begin_s, kind) for s, kind in calibration_clicks(len(taps_s) + 3)]
    knocks = [tap + begin_s for tap in taps_s]
    wave = Room(noise=0.003).record(np.random.default_rng(4), clicks, knocks, length_s=clicks[-1][0] + 2.0)
    np.rint(np.clip(wave, -1, 1) * 32767).astype(np.int16).tofile(path)


def captured(seconds: float) -> NDArray[np.float64]:
    microphone = Microphone(capture_names()[0])
    microphone.start()
    until = time.monotonic() + 4 * seconds + 5
    while microphone.seconds < seconds and time.monotonic() < until:
        time.sleep(0.01)
    wave = microphone.recorded()
    microphone.close()
    return wave


def test_a_recording_comes_through_sdl_sample_for_sample(disk: Path) -> None:
    ramp = (np.arange(RATE) % 3001 - 1500).astype(np.int16)
    ramp.tofile(disk)
    speaker = Speaker()
    try:
        wave = captured(1.1)
    finally:
        speaker.close()
    assert np.array_equal(np.rint(wave[:RATE] * 32768).astype(np.int16), ramp)


@pytest.mark.parametrize("microphone_ms", [120, pytest.param(0, marks=pytest.mark.slow)])
def test_the_delay_comes_back_from_what_was_captured(disk: Path, microphone_ms: int) -> None:
    taps, late_s = taps_between(12), 0.063
    write_room(disk, taps, late_s=late_s, begin_s=BEGIN_S + microphone_ms / 1000)
    speaker = Speaker()
    try:
        wave = captured(BEGIN_S + 0.2 + 13 * GAP_S)
    finally:
        speaker.close()
    clicks = find_clicks(wave, RATE)
    answer = find_device_delay(
        clicks_heard_s=[click.time_s for click in clicks],
        knocks_heard_s=find_knocks(without_clicks(wave, RATE, clicks), RATE),
        clicks_s=[beat * GAP_S for beat in range(-4, 15)],
        taps_s=taps,
    )
    assert isinstance(answer, DelayFound), answer
    say(f"delay by recording: {answer.median_s * 1000:.2f} ms of 63, spread {answer.spread_s * 1000:.2f} ms")
    assert answer.median_s == pytest.approx(late_s, abs=0.001)


def test_the_whole_calibration_runs_on_a_real_speaker_and_a_real_capture(disk: Path) -> None:
    """Only the hand and the air are simulated: taps go in when the sound's own clock reaches their second."""
    late_s = 0.041

    def measure(_attempt: int) -> CalibrationView:
        with watched() as machine:
            view = calibrated(disk, late_s)
        say(f"calibration through SDL: {view.sentences[0] if view.sentences else 'no answer'}; {machine}")
        machine.must_have_kept_time()
        if view.found_ms is None and machine.worst_ms > STALLING_MS:
            raise ApparatusFailed(f"the machine stood still, and the sound with it: {machine}")
        return view

    view = measured(measure)
    # The disk driver's own speed wanders by some percent; the sound's clock follows it to about 3 ms.
    assert view.found_ms == pytest.approx(late_s * 1000, abs=6), view.sentences


def calibrated(disk: Path, late_s: float) -> CalibrationView:
    """Calibrate in a room where the clicks are late; return what is shown in the end."""
    taps = taps_between(12)
    write_room(disk, taps, late_s=late_s, begin_s=BEGIN_S)
    speaker = Speaker()
    try:
        bench = Bench(speaker=speaker)  # type: ignore[arg-type]
        controller = CalibrationController(bench.context)
        bench.open(lambda: controller)
        bench.act(Act.SELECT, 1)
        bench.system.ns = now_ns()
        bench.act(Act.START)
        waiting, until = list(taps), time.monotonic() + 30
        while controller.view(WINDOW).step is not Step.ANSWERED and time.monotonic() < until:
            host_ns = now_ns()
            song_s = speaker.song_s(host_ns)
            if waiting and song_s is not None and song_s >= waiting[0]:
                due_ns = host_ns - round((song_s - waiting.pop(0)) * 1e9)
                bench.app.key_down("f", host_ns=due_ns, looked_ns=due_ns)
                bench.inputs.keys.up("f")
            bench.app.tick(host_ns)
            time.sleep(0.001)
        view = controller.view(WINDOW)
        bench.act(Act.BACK)
    finally:
        speaker.close()
    return view


def test_opening_and_closing_while_chunks_come_never_hangs(disk: Path) -> None:
    """Fifty times with the interpreter kept busy: pygame's own close hung within twenty of these."""
    speaker = Speaker()
    try:
        for _ in range(50):
            microphone = Microphone(capture_names()[0])
            microphone.start()
            until = time.perf_counter() + 0.030
            while time.perf_counter() < until:
                pass
            microphone.close()
    finally:
        speaker.close()
