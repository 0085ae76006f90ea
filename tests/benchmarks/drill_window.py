"""The app's own window with the drill in it, for benchmarks: as large as wanted, with a player of our own.

The window opens on the display at hand; a virtual one is made with
``xvfb-run -s "-screen 0 1920x1080x24" python -m tests.benchmarks.NAME``.
"""

from __future__ import annotations

import math
import os
import sys
import time
from array import array
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pygame

from trainer.app import loop
from trainer.app.application import Application
from trainer.app.drill_request import DrillRequest
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.recording import Recorder
from trainer.devices.clock import now_ns
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker, SpeakerLike, open_speaker
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.opening import Opening
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.settings import Settings
from trainer.records.library import load_library, open_pattern

PATTERN = "one-basic-one-skip"
BPM = Fraction(100)
FAULTS = Faults(jitter_s=0.015, rush_gap_s=0.05, touch_skips=0.2, miss=0.03)
KEYS = {Hand.NAIL: "f", Hand.THUMB: "j"}
SETTLED_S = 2.0  # the first frames paint the pictures that are only moved later


def size_of(text: str) -> tuple[int, int]:
    """Return width and height written as 1920x1080."""
    width, height = text.split("x")
    return int(width), int(height)


def a_drill(seconds: float) -> DrillRequest:
    """Return a drill that outlasts so many seconds."""
    pattern = open_pattern(PATTERN, load_library())
    passes = math.ceil(seconds / (float(pattern.beats) * 60 / float(BPM))) + 10
    return DrillRequest(pattern=pattern, bpm=BPM, passes=passes)


def a_player(request: DrillRequest) -> tuple[Tap, ...]:
    """Return what somebody with faults plays in a drill, in order."""
    targets = lay_out(request.pattern, Timeline.steady(request.bpm), passes=request.passes)
    return simulate(targets, FAULTS, np.random.default_rng(1)).taps


def an_application(
    *, silent: bool = False, midi: MidiInputs | None = None, recorder: Recorder | None = None
) -> Application:
    """Return what is behind a window whose settings are kept by nobody; silent, the host clock keeps time."""
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    settings = replace(Settings(), cautions_seen=True)
    speaker: SpeakerLike = SilentSpeaker() if silent else open_speaker()
    return Application(
        preferences=Preferences(settings, load_library(), keep_nothing),
        speaker=speaker,
        midi=midi or MidiInputs(services=()),
        recorder=recorder,
    )


class DrillWindow(loop.WindowLoop):
    """The app's own loop for a while, with a note of each frame.

    Attributes:
        shown_s: when each frame was shown.
        cost_s, thread_s: what it took from its begin to its being shown, looks at the queue included, and
            how much of that this thread was at work.
    """

    def __init__(
        self,
        app: Application,
        request: DrillRequest,
        *,
        size: tuple[int, int],
        seconds: float,
        player: tuple[Tap, ...] = (),
        each_frame: Callable[[], None] = lambda: None,
    ) -> None:
        sys.setswitchinterval(loop.SWITCH_INTERVAL_S)
        super().__init__(app, Opening(), request)
        self._surface = pygame.display.set_mode(size)
        self._painter.resize(self._surface)
        # Bare numbers: three objects a frame would be 0.3 MiB a minute in the memory that is measured.
        self.shown_s = array("d")
        self.cost_s = array("d")
        self.thread_s = array("d")
        self._seconds = seconds
        self._player = player
        self._played = 0
        self._each_frame = each_frame

    def _frame(self) -> Iterator[None]:
        self._play()
        begun_s, begun_thread_s = now_ns() / 1e9, time.thread_time()
        yield from super()._frame()
        self.shown_s.append(now_ns() / 1e9)
        self.cost_s.append(self.shown_s[-1] - begun_s)
        self.thread_s.append(time.thread_time() - begun_thread_s)

    def _after_frame(self) -> None:
        super()._after_frame()
        self._each_frame()
        self._open = self._open and self.shown_s[-1] - self.shown_s[0] < self._seconds

    def _play(self) -> None:
        """Press the keys that the player has pressed by now."""
        at_ns = now_ns()
        song_s = self._context.playback.heard_s(at_ns)
        while song_s is not None and self._played < len(self._player):
            tap = self._player[self._played]
            if tap.song_s > song_s:
                break
            self._played += 1
            key = KEYS[tap.hand or Hand.NAIL]
            self._app.key_down(key, host_ns=at_ns, looked_ns=self._looked_ns)
            self._context.inputs.keys.up(key)
