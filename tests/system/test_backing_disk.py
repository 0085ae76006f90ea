"""A track read by the real mixer and played through SDL's disk driver: what was recorded, frame by frame."""

import time
import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sound.helpers import ALTERNATING
from tests.system.apparatus import ApparatusFailed, measured
from trainer.devices.backing import read_track
from trainer.devices.clock import now_ns
from trainer.devices.feeder import BUFFER_FRAMES
from trainer.devices.speaker import Speaker
from trainer.music.timeline import Timeline
from trainer.sound.backing import Backing
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.render import render

pygame = pytest.importorskip("pygame")
pytestmark = pytest.mark.system

SECONDS = 6
LONGEST_S = 60.0


def test_a_track_is_recorded_on_the_frames_of_its_beats(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file with one loud frame on each beat at 120 from second 1 on, each 24000 frames after the other."""
    samples = np.zeros((12 * RATE, 2), dtype="<i2")
    samples[RATE :: RATE // 2] = 20_000
    path = tmp_path / "track.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples.tobytes())
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")

    def record(attempt: int) -> tuple[StreamPlan, Path]:
        sound = tmp_path / f"sound-{attempt}.raw"
        monkeypatch.setenv("SDL_DISKAUDIOFILE", str(sound))
        plan, stalls = played(path, samples)
        if stalls:
            raise ApparatusFailed(f"the speaker was fed too late {stalls} times, and said so")
        return plan, sound

    plan, sound = measured(record)
    heard = np.fromfile(sound, dtype=np.int16).reshape(-1, 2)
    heard = heard[int(np.flatnonzero(heard.any(axis=1))[0]) :]
    sure = len(heard) - 5 * BUFFER_FRAMES  # the last block may have been cut by the stop
    np.testing.assert_array_equal(heard[:sure], render(plan, plan.origin_frame, sure))
    beats = np.flatnonzero(heard[:sure, 0])
    assert set(np.diff(beats).tolist()) == {RATE // 2}
    assert len(beats) >= 4


def played(path: Path, samples: NDArray[np.int16]) -> tuple[StreamPlan, int]:
    """Play the track until so many seconds are recorded; return the plan and the stalls."""
    speaker = Speaker()
    try:
        track = read_track(path, speaker.rate)
        np.testing.assert_array_equal(track.samples, samples)
        backing = Backing(
            samples=track.samples, rate=track.rate, beat_1_s=1.0, bpm=Fraction(120), start_beat=2
        )
        settings = SoundSettings(click=False, count_in=False, left_hand=False)
        timeline = Timeline.steady(120)
        plan = plan_for(ALTERNATING, timeline, passes=0, settings=settings, backing=backing)
        speaker.start(plan, now_ns())
        until, end_s = time.monotonic() + LONGEST_S, plan.song_s(0) + SECONDS
        while (speaker.song_s(now_ns()) or 0.0) < end_s and time.monotonic() < until:
            time.sleep(0.05)
        return plan, speaker.xruns
    finally:
        speaker.close()
