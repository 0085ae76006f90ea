"""Measure this machine: draw the real drill in the real window, play its sound, and send MIDI to ourselves.

Beside :mod:`trainer.app.loop`, whose window it runs with a probe in it. What is not there is said so in a
sentence, and the rest is measured all the same.
"""

from __future__ import annotations

import math
import sys
import time

from trainer.app import loop
from trainer.app.application import Application
from trainer.app.drill_request import DrillRequest
from trainer.app.preferences import Preferences, keep_nothing
from trainer.devices.clock import now_ns
from trainer.devices.keyboard import SCAN_S
from trainer.devices.loopback import Loopback
from trainer.devices.midi import MidiInputs
from trainer.devices.missing import window_libraries_missing
from trainer.devices.speaker import SilentSpeaker, Speaker, SpeakerLike, SpeakerState
from trainer.errors import NoMidi, NoSound
from trainer.music.timeline import Timeline
from trainer.opening import Opening
from trainer.practice.checkup import (
    SETTLED_S,
    Checkup,
    Frames,
    Looks,
    RoundTrip,
    Sound,
    frames_of,
    looks_of,
    round_trip_of,
    sound_of,
)
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PATTERN
from trainer.practice.settings import Settings
from trainer.records.library import load_library, open_pattern
from trainer.sound.plan import plan_for

TURN_S = 0.001
# Nothing of it is to be heard, and nothing of it is kept.
SETTINGS = Settings(click=False, tap_sound=False, cautions_seen=True)


def check(seconds: float) -> Checkup:
    """Measure for so many seconds and return what was found; a window closed early ends it early."""
    kept = sys.getswitchinterval()
    sys.setswitchinterval(loop.SWITCH_INTERVAL_S)
    probe = _Probe(seconds)
    try:
        frames, looks = _drawn(probe)
        return probe.found(frames, looks)
    finally:
        probe.end()
        sys.setswitchinterval(kept)


class _Probe:
    """What is measured besides the window: sound and MIDI, as far as they are there."""

    def __init__(self, seconds: float) -> None:
        self.seconds = seconds
        self.begun_ns = now_ns()
        self.why_no_sound, self.why_no_midi = "", ""
        self.speaker: Speaker | None = None
        self.loop: Loopback | None = None
        self._off_s: list[float] = []
        self._last_frame = -1.0
        try:
            self.speaker = Speaker()
        except NoSound as err:
            self.why_no_sound = f"Sound was not measured: {err.problem}."
        try:
            self.loop = Loopback()
        except NoMidi as err:
            self.why_no_midi = f"MIDI was not measured: {err.problem.removeprefix('MIDI is off: ')}."

    def start(self) -> None:
        """Begin; the sound is started by whoever plays."""
        self.begun_ns = now_ns()
        if self.loop is not None:
            self.loop.start()

    @property
    def lasted_s(self) -> float:
        """Seconds since the start."""
        return (now_ns() - self.begun_ns) / 1e9

    @property
    def is_over(self) -> bool:
        """Whether the time is up."""
        return self.lasted_s >= self.seconds

    def turn(self) -> None:
        """Take in what has come since the last turn; at least every 20 ms."""
        if self.loop is not None:
            self.loop.hear()
        line = self.speaker.line if self.speaker is not None else None
        if line is None or self.lasted_s < SETTLED_S:
            return
        frame, moment_s, blind_s = (float(each) for each in line.points[-1])
        if frame != self._last_frame:
            self._last_frame = frame
            # Where nobody looked for a while, the block may have begun at any moment of it.
            self._off_s.append(max(0.0, abs(moment_s - line.host_s(frame)) - blind_s / 2))

    def found(self, frames: Frames | str, looks: Looks | str) -> Checkup:
        """Return all that was measured."""
        sound: Sound | str = self.why_no_sound
        if self.speaker is not None:
            lost = self.speaker.state is SpeakerState.LOST
            sound = sound_of(
                self._off_s, stalls=self.speaker.xruns + lost, speed_error=self.speaker.rate_error
            )
        lasted_s = self.lasted_s
        self.end()
        midi: RoundTrip | str = self.why_no_midi
        if self.loop is not None:
            trips = self.loop.trips
            taken_off = sum(trip.saved_s > 0 for trip in trips) / max(len(trips), 1)
            midi = round_trip_of([trip.way_s for trip in trips], sent=self.loop.sent, taken_off=taken_off)
        return Checkup(seconds=lasted_s, frames=frames, looks=looks, sound=sound, midi=midi)

    def end(self) -> None:
        """Give the devices back; twice does no harm."""
        if self.loop is not None:
            self.loop.end()
        if self.speaker is not None:
            self.speaker.close()


class _MeasuredLoop(loop.WindowLoop):
    """The app's own loop, with a note of every look at the event queue and of every frame."""

    def __init__(self, app: Application, request: DrillRequest, probe: _Probe) -> None:
        super().__init__(app, Opening(), request)
        self.apart_s: list[float] = []
        self.drawn_s: list[float] = []
        self._probe = probe

    def _pump(self, *, wait: bool = False) -> None:
        before_ns = self._looked_ns
        super()._pump(wait=wait)
        self.apart_s.append((self._looked_ns - before_ns) / 1e9)

    def _after_frame(self) -> None:
        self.drawn_s.append(now_ns() / 1e9)
        super()._after_frame()
        self._probe.turn()
        self._open = self._open and not self._probe.is_over

    def measured(self) -> tuple[Frames | str, Looks | str]:
        """Run until the time is up or the window is closed."""
        self._probe.start()
        self.run()
        # The first frames paint the pictures that are only moved later.
        settled_s = self.drawn_s[0] + min(SETTLED_S, self._probe.seconds / 2) if self.drawn_s else 0.0
        drawn_s = [at for at in self.drawn_s if at >= settled_s]
        return frames_of(drawn_s, *self._surface.get_size()), looks_of(self.apart_s[1:], SCAN_S)


def _drawn(probe: _Probe) -> tuple[Frames | str, Looks | str]:
    """Draw where there is a display, and let the time go by where there is none."""
    if loop.can_open_window():
        try:
            app, request = _application(probe)
            return _MeasuredLoop(app, request, probe).measured()
        finally:
            loop.close_window()
    why = window_libraries_missing() or "there is no display to open a window on"
    if not loop.HAS_LIBRARY:
        why = "no pygame is installed"
    if probe.speaker is not None:
        pattern = open_pattern(DEMO_PATTERN, load_library())
        silent = Preferences(SETTINGS, load_library(), keep_nothing).sound_settings(hears_left=True)
        timeline = Timeline.steady(DEMO_BPM)
        plan = plan_for(pattern, timeline, passes=0, settings=silent, rate=probe.speaker.rate)
        probe.speaker.start(plan, now_ns())
    probe.start()
    while not probe.is_over:
        probe.turn()
        time.sleep(TURN_S)
    return f"The picture was not measured: {why}.", f"Keys were not measured: {why}."


def _application(probe: _Probe) -> tuple[Application, DrillRequest]:
    """Return what is behind a window, and a drill of simulated hands until long after the time is up."""
    library = load_library()
    pattern = open_pattern(DEMO_PATTERN, library)
    speaker: SpeakerLike = probe.speaker or SilentSpeaker()
    app = Application(
        preferences=Preferences(SETTINGS, library, keep_nothing),
        speaker=speaker,
        midi=MidiInputs(services=()),
    )
    pass_s = pattern.beats * 60 / float(DEMO_BPM)
    passes = math.ceil(probe.seconds / pass_s) + 10
    return app, DrillRequest(pattern=pattern, bpm=DEMO_BPM, passes=passes, hands=DEMO_FAULTS)
