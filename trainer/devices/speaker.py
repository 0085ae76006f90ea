"""Play a stream of sound without a gap, and say which moment of it is heard now.

Blocks a whole number of mixer buffers long are rendered ahead and handed to one mixer channel, which
joins them without a gap (measured; Sound.play with a timer jitters by a buffer). A feeder thread keeps
one block waiting, so neither a slow frame nor a window being dragged starves the stream. Each time it
sees a block begin it notes (frame, host time); a robust line through those notes is the position heard.
The delay from there to the air, a constant of the device, is left to calibration.
"""

from __future__ import annotations

import enum
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from trainer.devices.clock import now_ns
from trainer.devices.quiet import quiet_stderr
from trainer.errors import NoSound
from trainer.sound.clicks import Samples
from trainer.sound.clock_line import ClockLine
from trainer.sound.plan import RATE, StreamPlan
from trainer.sound.render import render

try:
    import pygame
except ImportError:
    pygame = None  # type: ignore[assignment]

BUFFER_FRAMES = 512
BLOCK_BUFFERS = 4
BLOCK_FRAMES = BUFFER_FRAMES * BLOCK_BUFFERS
FEED_S = 0.001
LOST_AFTER_S = 1.0
STREAM_CHANNEL = 0
TAP_CHANNELS = 15


class SpeakerState(enum.Enum):
    """What the speaker is doing."""

    STOPPED = "stopped"
    PLAYING = "playing"
    LOST = "lost"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeakerReport:
    """How the stream has gone since it was started.

    Attributes:
        state: what it is doing now.
        gaps: how often the device ran dry before the next block was there.
        restarts: how often the sound clock jumped; a take with one is marked.
        rate_error: how much slower the device runs than it should, as a share; negative when faster.
    """

    state: SpeakerState
    gaps: int
    restarts: int
    rate_error: float = 0.0


class Speaker(Protocol):
    """What the app needs of a speaker, real or silent; all methods from the app's thread."""

    @property
    def name(self) -> str:
        """What to call it on the screen."""

    def start(self, plan: StreamPlan) -> None:
        """Begin a stream from its first frame."""

    def change(self, plan: StreamPlan) -> None:
        """Go on with another plan; it must agree with the old one on what has been rendered already."""

    def stop(self) -> None:
        """End the stream."""

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 heard at a host time; None while nothing plays."""

    def report(self) -> SpeakerReport:
        """Say how the stream has gone."""

    def tap(self, samples: Samples) -> None:
        """Sound a tap at once: at most two mixer buffers later."""

    def close(self) -> None:
        """Give the device back."""


class SilentSpeaker:
    """Keeps the time of a stream by the host clock alone."""

    def __init__(self, clock: Callable[[], int] = now_ns) -> None:
        self._clock = clock
        self._plan: StreamPlan | None = None
        self._start_ns = 0

    @property
    def name(self) -> str:
        """What to call it on the screen."""
        return "sound off"

    def start(self, plan: StreamPlan) -> None:
        """Begin a stream from its first frame."""
        self._plan = plan
        self._start_ns = self._clock()

    def change(self, plan: StreamPlan) -> None:
        """Go on with another plan."""
        self._plan = plan

    def stop(self) -> None:
        """End the stream."""
        self._plan = None

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 at a host time; None while nothing plays."""
        if self._plan is None:
            return None
        return (host_ns - self._start_ns) / 1e9 + self._plan.song_s(0)

    def report(self) -> SpeakerReport:
        """Say how the stream has gone: a clock alone has no gaps."""
        state = SpeakerState.STOPPED if self._plan is None else SpeakerState.PLAYING
        return SpeakerReport(state=state, gaps=0, restarts=0)

    def tap(self, samples: Samples) -> None:
        """Sound nothing."""

    def close(self) -> None:
        """End the stream."""
        self.stop()


class MixerSpeaker:
    """Plays through pygame's mixer on the system's default device.

    Raises:
        NoSound: no pygame for this Python, or no device that takes 48 kHz 16-bit stereo.
    """

    def __init__(self) -> None:
        if pygame is None:
            raise NoSound(
                "no pygame is installed for this Python, so there is no sound",
                "drills run on the clock alone; install a Python from 3.11 to 3.13 to hear the click",
            )
        try:
            with quiet_stderr():
                pygame.mixer.init(RATE, -16, 2, BUFFER_FRAMES, allowedchanges=0)
        except pygame.error as err:
            raise NoSound(
                f"no sound device could be opened ({err})", "drills run on the clock alone"
            ) from err
        if pygame.mixer.get_init() != (RATE, -16, 2):
            pygame.mixer.quit()
            raise NoSound(
                "the sound device does not take 48 kHz 16-bit stereo", "drills run on the clock alone"
            )
        pygame.mixer.set_num_channels(1 + TAP_CHANNELS)
        pygame.mixer.set_reserved(1)
        self._channel = pygame.mixer.Channel(STREAM_CHANNEL)
        self._lock = threading.Lock()
        self._plan: StreamPlan | None = None
        self._line: ClockLine | None = None
        self._next_frame = 0  # first frame not rendered yet
        self._last_progress_ns = 0
        self._gaps = 0
        self._state = SpeakerState.STOPPED
        self._waiting_start = 0  # first frame of the block that waits in the queue
        self._tap_sounds: dict[int, tuple[Samples, pygame.mixer.Sound]] = {}
        self._closing = threading.Event()
        self._feeder = threading.Thread(target=self._feed, name="speaker feeder", daemon=True)
        self._feeder.start()

    @property
    def name(self) -> str:
        """What to call it on the screen."""
        return "sound on"

    def start(self, plan: StreamPlan) -> None:
        """Begin a stream from its first frame."""
        with self._lock:
            self._channel.stop()
            self._plan = plan
            self._line = None
            self._gaps = 0
            self._next_frame = 0
            first, second = self._next_block(), self._next_block()
            self._channel.play(first)
            began_ns = now_ns()
            self._channel.queue(second)
            self._waiting_start = BLOCK_FRAMES
            self._line = ClockLine.started(0, began_ns / 1e9, rate=RATE, buffer_frames=BUFFER_FRAMES)
            self._last_progress_ns = began_ns
            self._state = SpeakerState.PLAYING

    def change(self, plan: StreamPlan) -> None:
        """Go on with another plan from the first frame not rendered yet."""
        with self._lock:
            if self._plan is not None:
                self._plan = plan

    def stop(self) -> None:
        """End the stream."""
        with self._lock:
            self._plan = None
            self._line = None
            self._channel.stop()
            self._state = SpeakerState.STOPPED

    def song_s(self, host_ns: int) -> float | None:
        """Return the second from beat 0 heard at a host time; None while nothing plays."""
        line, plan = self._line, self._plan
        if line is None or plan is None:
            return None
        return plan.song_s(line.frame(host_ns / 1e9))

    def report(self) -> SpeakerReport:
        """Say how the stream has gone."""
        line = self._line
        return SpeakerReport(
            state=self._state,
            gaps=self._gaps,
            restarts=line.restarts if line is not None else 0,
            rate_error=line.rate_error if line is not None else 0.0,
        )

    def tap(self, samples: Samples) -> None:
        """Sound a tap at once; a sound made before is kept, so only the first costs a copy."""
        if not len(samples):
            return
        held = self._tap_sounds.get(id(samples))
        if held is None:
            # The samples are held with the sound, so their id stays theirs.
            held = (samples, pygame.mixer.Sound(buffer=samples.repeat(2).tobytes()))
            self._tap_sounds[id(samples)] = held
        held[1].play()

    def close(self) -> None:
        """Give the device back."""
        self.stop()
        self._closing.set()
        self._feeder.join(timeout=1.0)
        pygame.mixer.quit()

    def _next_block(self) -> pygame.mixer.Sound:
        assert self._plan is not None
        block = render(self._plan, self._next_frame, BLOCK_FRAMES)
        self._next_frame += BLOCK_FRAMES
        return pygame.mixer.Sound(buffer=block.tobytes())

    def _feed(self) -> None:
        while not self._closing.is_set():
            with self._lock:
                if self._state is SpeakerState.PLAYING:
                    self._feed_once()
            time.sleep(FEED_S)

    def _feed_once(self) -> None:
        if self._channel.get_queue() is not None:
            if now_ns() - self._last_progress_ns > LOST_AFTER_S * 1e9:
                self._state = SpeakerState.LOST
            return
        seen_ns = now_ns()
        assert self._line is not None
        if self._channel.get_busy():
            self._line = self._line.observed(self._waiting_start, seen_ns / 1e9)
            self._channel.queue(self._next_block())
        else:
            # The device ran dry: what was queued has been heard, and time went on without sound.
            self._gaps += 1
            frame = self._next_frame
            self._channel.play(self._next_block())
            restarted = ClockLine.started(frame, now_ns() / 1e9, rate=RATE, buffer_frames=BUFFER_FRAMES)
            self._line = _restarted(restarted, self._line.restarts + 1)
            self._channel.queue(self._next_block())
        self._waiting_start = self._next_frame - BLOCK_FRAMES
        self._last_progress_ns = seen_ns


def _restarted(line: ClockLine, restarts: int) -> ClockLine:
    return ClockLine(
        rate=line.rate,
        buffer_frames=line.buffer_frames,
        frame_at=line.frame_at,
        host_at_s=line.host_at_s,
        seconds_per_frame=line.seconds_per_frame,
        points=line.points,
        restarts=restarts,
    )
