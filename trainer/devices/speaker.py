"""Say what the app needs of a speaker, keep time without one, and open whichever there is.

A speaker plays the stream of a plan and says which second of it is heard at a host time. All methods are
for the app's own thread.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable
from typing import TYPE_CHECKING, Protocol

from trainer.devices.feeder import BUFFER_FRAMES, Feeder
from trainer.devices.mixer import MixerChannel, open_mixer
from trainer.errors import NoSound
from trainer.judging.spared import Span
from trainer.music.timeline import Timeline
from trainer.sdl import pygame
from trainer.sound.clock_line import ClockLine
from trainer.sound.gain import Samples, panned_tap
from trainer.sound.plan import RATE, SoundSettings, StreamPlan
from trainer.sound.stream_onsets import agree_before, longest_frames

if TYPE_CHECKING:
    from pygame.event import Event

STREAM_CHANNEL = 0
UNUSED_CHANNEL = 1
TAP_CHANNELS = 15
WORTH_A_WORD = 0.003  # a device this far off its speed plays another tempo than the one chosen
MOST_SPANS = 16
DEEPEST = 2  # 2048 frames: a tap's own sound is then some 30 ms later than usual


class SpeakerState(enum.Enum):
    """What the speaker is doing."""

    STOPPED = "stopped"
    PLAYING = "playing"
    LOST = "lost"


class SpeakerLike(Protocol):
    """What the app needs of a speaker, real or silent."""

    @property
    def name(self) -> str:
        """What can be heard, in two or three words for the screen."""

    @property
    def rate(self) -> int:
        """Frames a second that plans for this speaker must have."""

    @property
    def state(self) -> SpeakerState:
        """What it is doing; once LOST it stays so until the next start."""

    @property
    def plan(self) -> StreamPlan | None:
        """The plan being played; None when stopped."""

    @property
    def xruns(self) -> int:
        """How often the stream has stalled since its start; a take with any is marked."""

    @property
    def stalls(self) -> tuple[Span, ...]:
        """Seconds from beat 0 between which the stream stood still since its start, or seemed to.

        In the order of finding out; each is known within a fifth of a second, or two when it is taken back.
        """

    @property
    def depth(self) -> int:
        """How often the usual size of the device's buffers has been doubled."""

    def deepen(self) -> bool:
        """Double the size of the device's buffers, between two streams; return whether that was possible.

        Raises:
            NoSound: the device does not open any more.
        """

    @property
    def notes(self) -> tuple[str, ...]:
        """What the user should know of it now: sentences, most important first."""

    def start(self, plan: StreamPlan, host_ns: int) -> None:
        """Begin a stream from its first frame, now."""

    def set_plan(self, plan: StreamPlan) -> None:
        """Go on with another plan, which must agree with the old one on all that is rendered already.

        Raises:
            ValueError: it does not; about 0.1 s of the stream is rendered ahead.
        """

    def set_timeline(self, timeline: Timeline) -> None:
        """Go on with a tempo change that is far enough ahead; as set_plan."""

    def set_sound(self, settings: SoundSettings) -> None:
        """Let other volumes hold for all that begins after what is rendered already."""

    def stop(self) -> None:
        """End the stream."""

    def pump(self, host_ns: int, events: Iterable[Event] = ()) -> None:
        """Look after the device; call it once a frame, with the window's events since the last call."""

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 heard at a host time; None while nothing plays."""

    def sound_tap(self, samples: Samples, loudness: float = 1.0) -> None:
        """Sound a tap at once, beside the stream.

        Args:
            samples: mono; keep and hand in the same array each time, so that it is copied only once.
            loudness: 0 to 1.
        """

    def close(self) -> None:
        """Give the device back; nothing may be called afterwards."""


class SilentSpeaker:
    """Keeps the time of a stream by the host clock alone.

    Args:
        why: a sentence for the user, empty when the user asked for silence.
    """

    def __init__(self, why: str = "") -> None:
        self.name = "no sound" if why else "sound off"
        self.rate = RATE
        self.plan: StreamPlan | None = None
        self.xruns = 0
        self.stalls: tuple[Span, ...] = ()
        self.depth = 0
        self.notes = (why,) if why else ()
        self._start_ns = 0

    @property
    def state(self) -> SpeakerState:
        """What it is doing: a clock is never lost."""
        return SpeakerState.STOPPED if self.plan is None else SpeakerState.PLAYING

    def start(self, plan: StreamPlan, host_ns: int) -> None:
        """Begin a stream from its first frame."""
        self.plan = plan
        self._start_ns = host_ns

    def set_plan(self, plan: StreamPlan) -> None:
        """Go on with another plan; nothing is rendered ahead, so any will do."""
        if self.plan is not None:
            self.plan = plan

    def set_timeline(self, timeline: Timeline) -> None:
        """Go on with a tempo change."""
        if self.plan is not None:
            self.plan = self.plan.with_timeline(timeline)

    def set_sound(self, settings: SoundSettings) -> None:
        """Change nothing that is heard."""

    def deepen(self) -> bool:
        """Change nothing: a clock has no buffers."""
        return False

    def stop(self) -> None:
        """End the stream."""
        self.plan = None

    def pump(self, host_ns: int, events: Iterable[Event] = ()) -> None:
        """Do nothing: there is no device."""

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 at a host time; None while nothing plays."""
        if self.plan is None:
            return None
        return (host_ns - self._start_ns) / 1e9 + self.plan.song_s(0)

    def sound_tap(self, samples: Samples, loudness: float = 1.0) -> None:
        """Sound nothing."""

    def close(self) -> None:
        """End the stream."""
        self.stop()


class Speaker:
    """Plays through pygame's mixer on the system's default device.

    The window must not have opened the mixer with settings of its own: one found open is closed first.

    Args:
        depth: how often the usual size of the device's buffers is doubled, for a machine on which it stalls.

    Raises:
        NoSound: no pygame for this Python, no device, or none that takes 16-bit stereo.
    """

    def __init__(self, *, depth: int = 0) -> None:
        self.name = "sound on"
        self.depth = min(max(depth, 0), DEEPEST)
        self._removed = False
        self._stalls: tuple[Span, ...] = ()
        self._tap_sounds: dict[tuple[int, float], tuple[Samples, pygame.mixer.Sound]] = {}
        self._open()

    def _open(self) -> None:
        buffer_frames = BUFFER_FRAMES << self.depth
        self.rate = open_mixer(buffer_frames)
        pygame.mixer.set_num_channels(2 + TAP_CHANNELS)
        pygame.mixer.set_reserved(2)
        self._feeder = Feeder(
            MixerChannel(STREAM_CHANNEL, UNUSED_CHANNEL), rate=self.rate, buffer_frames=buffer_frames
        )

    @property
    def state(self) -> SpeakerState:
        """What it is doing; once LOST it stays so until the next start."""
        if self._removed or self._feeder.stuck:
            return SpeakerState.LOST
        return SpeakerState.STOPPED if self._feeder.plan is None else SpeakerState.PLAYING

    @property
    def plan(self) -> StreamPlan | None:
        """The plan being played; None when stopped."""
        return self._feeder.plan

    @property
    def xruns(self) -> int:
        """How often the stream has stalled since its start."""
        line = self._feeder.line
        return line.restarts if line is not None else 0

    @property
    def stalls(self) -> tuple[Span, ...]:
        """Seconds from beat 0 between which the stream stood still since its start, or seemed to."""
        plan, found = self._feeder.plan, self._feeder.stalls
        if plan is None:
            return ()
        # Asked for every frame, and on a machine that is too slow there are hundreds: only new ones are made.
        if len(found) < len(self._stalls):
            self._stalls = ()
        if len(found) > len(self._stalls):
            fresh = found[len(self._stalls) :]
            self._stalls += tuple((plan.song_s(s.first_frame), plan.song_s(s.last_frame)) for s in fresh)
        return self._stalls

    def deepen(self) -> bool:
        """Double the size of the device's buffers, between two streams."""
        if self.depth >= DEEPEST or self.plan is not None:
            return False
        self.depth += 1
        self._feeder.close()
        # What was made for the mixer that is closed now must not be played on the next one.
        self._tap_sounds.clear()
        self._removed = True  # until it is open again
        self._open()
        self._removed = False
        return True

    @property
    def rate_error(self) -> float:
        """How much slower the device runs than it should, as a share; negative when faster."""
        line = self._feeder.line
        return line.rate_error if line is not None else 0.0

    @property
    def line(self) -> ClockLine | None:
        """The line from stream frames to host seconds, with all it is made of; None when stopped."""
        return self._feeder.line

    @property
    def notes(self) -> tuple[str, ...]:
        """What the user should know of it now."""
        found = []
        if self.state is SpeakerState.LOST:
            found.append("the sound device went away: this take is kept but not graded; start again")
        if self.xruns:
            found.append(f"the sound stalled {self.xruns} time{'s' if self.xruns > 1 else ''} in this take")
        if abs(self.rate_error) > WORTH_A_WORD:
            way = "slow" if self.rate_error > 0 else "fast"
            found.append(
                f"the sound device runs {abs(self.rate_error):.1%} {way}: "
                "taps are measured against what is heard"
            )
        return tuple(found)

    def start(self, plan: StreamPlan, host_ns: int) -> None:  # noqa: ARG002 - the mixer starts it
        """Begin a stream from its first frame, now.

        Raises:
            ValueError: the plan has another rate than the device.
            NoSound: the device has failed.
        """
        if plan.rate != self.rate:
            raise ValueError(f"a plan of {plan.rate} frames a second for a device of {self.rate}")
        self._removed = False
        self._stalls = ()
        self._feeder.start(plan)

    def set_plan(self, plan: StreamPlan) -> None:
        """Go on with another plan from the first frame not rendered yet."""

        def take_over(old: StreamPlan, next_frame: int) -> StreamPlan:
            if not agree_before(old, plan, next_frame):
                raise ValueError(f"the plan differs before frame {next_frame}, which is rendered already")
            return plan

        self._feeder.change(take_over)

    def set_timeline(self, timeline: Timeline) -> None:
        """Go on with a tempo change that is far enough ahead."""
        if self.plan is not None:
            self.set_plan(self.plan.with_timeline(timeline))

    def set_sound(self, settings: SoundSettings) -> None:
        """Let other volumes hold for all that begins after what is rendered already."""

        def take_over(old: StreamPlan, next_frame: int) -> StreamPlan:
            plan = old.with_settings(settings, from_frame=next_frame)
            # A slider that is dragged about leaves a span for every block.
            forgotten = len(plan.spans) > MOST_SPANS
            return plan.forgetting(next_frame - longest_frames(plan)) if forgotten else plan

        self._feeder.change(take_over)

    def stop(self) -> None:
        """End the stream."""
        self._feeder.stop()

    def pump(self, host_ns: int, events: Iterable[Event] = ()) -> None:  # noqa: ARG002 - the feeder looks
        """Hear of a device that was taken away; the stream itself is looked after by the feeder.

        Raises:
            Exception: what broke the feeder, when it is a fault of ours.
        """
        self._feeder.raise_fault()
        for event in events:
            # An event of a device that is not open carries no id.
            if event.type == pygame.AUDIODEVICEREMOVED and not event.iscapture and event.which:
                self._removed = True

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 heard at a host time; None while nothing plays.

        Heard by the mixer, that is: the way from there to the air is a constant of the device, which
        calibration takes off.
        """
        line, plan = self._feeder.line, self._feeder.plan
        if line is None or plan is None:
            return None
        return plan.song_s(line.frame(host_ns / 1e9))

    def sound_tap(self, samples: Samples, loudness: float = 1.0) -> None:
        """Sound a tap at once: it begins with the next buffer that the mixer fills."""
        if not len(samples):
            return
        # A tap is heard where the strings of the stream are.
        pan = self.plan.settings.stroke_pan if self.plan is not None else 0.0
        held = self._tap_sounds.get((id(samples), pan))
        if held is None:
            # The samples are held with the sound, so their id stays theirs.
            held = (samples, pygame.mixer.Sound(buffer=panned_tap(samples, pan).tobytes()))
            self._tap_sounds[id(samples), pan] = held
        channel = held[1].play()
        if channel is not None:
            channel.set_volume(loudness)

    def close(self) -> None:
        """Give the device back."""
        self._feeder.close()
        self._tap_sounds.clear()
        pygame.mixer.quit()


def open_speaker(depth: int = 0) -> SpeakerLike:
    """Return the system's speaker, or a silent one that says in a sentence why.

    Args:
        depth: how often the usual size of the device's buffers is doubled.
    """
    try:
        return Speaker(depth=depth)
    except NoSound as err:
        return SilentSpeaker(why=str(err))
