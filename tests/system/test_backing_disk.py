"""A track read by the real mixer and played through SDL's disk driver: what was recorded, frame by frame."""

import time
import wave
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.sound.helpers import ALTERNATING
from trainer.devices.backing import read_track
from trainer.devices.clock import now_ns
from trainer.devices.feeder import BUFFER_FRAMES
from trainer.devices.speaker import Speaker
from trainer.music.timeline import Timeline
from trainer.sound.backing import Backing
from trainer.sound.plan import RATE, SoundSettings, plan_for
from trainer.sound.render import render

pygame = pytest.importorskip("pygame")
pytestmark = pytest.mark.system

SECONDS = 4


def test_a_track_is_recorded_on_the_frames_of_its_beats(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file with one loud frame on each beat at 120 from second 1 on, each 24000 frames after the other."""
    samples = np.zeros((12 * RATE, 2), dtype="<i2")
    samples[RATE :: RATE // 2] = 20_000
    path, sound = tmp_path / "track.wav", tmp_path / "sound.raw"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(samples.tobytes())
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(sound))
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
        time.sleep(SECONDS)
    finally:
        speaker.close()
    heard = np.fromfile(sound, dtype=np.int16).reshape(-1, 2)
    heard = heard[int(np.flatnonzero(heard.any(axis=1))[0]) :]
    sure = len(heard) - 5 * BUFFER_FRAMES  # the last block may have been cut by the stop
    np.testing.assert_array_equal(heard[:sure], render(plan, plan.origin_frame, sure))
    beats = np.flatnonzero(heard[:sure, 0])
    assert set(np.diff(beats).tolist()) == {RATE // 2}
    assert len(beats) >= 4
