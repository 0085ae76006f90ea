"""Keep a mixer channel fed with the blocks of a plan, and note when each block begins.

Blocks a whole number of mixer buffers long are rendered ahead and handed to one channel, which joins them
without a gap (measured; a sound started by a timer is off by up to a buffer). A thread of its own keeps
one block waiting, so neither a slow frame nor a window being dragged starves the stream: there is a whole
block's time to notice. Each begin that it sees becomes an observation (frame, host time, and how long it
had not looked before), from which the clock line is fitted. The thread sleeps most of a block and looks
every half millisecond around the moment when the next should begin.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from trainer.devices.clock import now_ns
from trainer.errors import DeviceProblem
from trainer.sound.clock_line import JUMP_OBSERVATIONS, ClockLine
from trainer.sound.plan import StreamPlan
from trainer.sound.render import make_sounds, render

BUFFER_FRAMES = 512
BLOCK_BUFFERS = 4
BLOCK_FRAMES = BUFFER_FRAMES * BLOCK_BUFFERS
LOOK_S = 0.0005
LOOK_AHEAD_S = 0.006
LONGEST_SLEEP_S = 0.020
ABSENT_S = 0.0015  # a longer time without a look is an absence
SETTLE_S = 0.002  # after a long absence the audio thread, too, may have waited for the interpreter
LOST_AFTER_S = 0.8
# Half a second, less than the silence before the count-in; in twice that a device of another speed shows.
STARTING_OBSERVATIONS = 12

Block = NDArray[np.int16]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stall:
    """A part of the stream of which nobody can say when it was heard, because the sound stood still in it.

    Attributes:
        first_frame: from here on it is not sure any more.
        last_frame: the furthest frame that was taken for heard before the stall was known.
    """

    first_frame: int
    last_frame: int


class StreamChannel(Protocol):
    """What the feeder needs of a mixer: one channel with room for one waiting block.

    Each method raises DeviceProblem when the device has failed.
    """

    def play(self, block: Block) -> None:
        """Begin a block now, shape (BLOCK_FRAMES, 2)."""

    def queue(self, block: Block) -> None:
        """Let a block follow the one that plays, without a gap."""

    def is_waiting(self) -> bool:
        """Return whether a queued block has not begun yet."""

    def is_playing(self) -> bool:
        """Return whether any block plays."""

    def settle(self) -> None:
        """Return when the audio thread is surely not between two blocks."""

    def stop(self) -> None:
        """End at once and drop what waits."""


class Feeder:
    """Feeds one channel from its own thread; the methods are for the app's thread.

    Attributes:
        plan: what is played; None when stopped.
        line: from stream frames to host seconds; None when stopped.
        stuck: no block has begun for 0.8 s, or the feeder has broken.
        stalls: where the stream has stood still since its start, or seemed to; in the order of finding out.

    Args:
        buffer_frames: what the mixer fills at a time; a block is four of them.
    """

    def __init__(
        self,
        channel: StreamChannel,
        *,
        rate: int,
        buffer_frames: int = BUFFER_FRAMES,
        clock: Callable[[], int] = now_ns,
        threaded: bool = True,
    ) -> None:
        self.plan: StreamPlan | None = None
        self.line: ClockLine | None = None
        self.stuck = False
        self.stalls: tuple[Stall, ...] = ()
        self._channel = channel
        self._rate = rate
        self._buffer_frames = buffer_frames
        self._block_frames = buffer_frames * BLOCK_BUFFERS
        # Fewer observations are as long a time when blocks are longer.
        self._starting = max(JUMP_OBSERVATIONS, STARTING_OBSERVATIONS * BUFFER_FRAMES // buffer_frames)
        self._settling = 2 * self._starting
        self._clock = clock
        self._lock = threading.Lock()
        self._next_frame = 0  # first frame not rendered yet
        self._begin_ns = 0  # when a block was last seen to begin
        self._looked_ns = 0
        self._absent_ns = 0  # begin of the latest long time without a look
        self._back_ns = 0  # end of it
        self._seen = 0  # observations since the start
        self._was_blind = False  # the latest begin was missed by the looks around it
        self._held: Block | None = None  # the block handed on last
        self._fault: Exception | None = None
        self._closing = False
        self._work = threading.Event()
        self._thread = threading.Thread(target=self._run, name="speaker feeder", daemon=True)
        if threaded:
            self._thread.start()

    def start(self, plan: StreamPlan) -> None:
        """Begin a stream from its first frame, now.

        Raises:
            DeviceProblem: the device has failed.
        """
        make_sounds(plan)
        with self._lock:
            self._channel.stop()
            self.plan = plan
            self.line = None
            self.stuck = False
            self.stalls = ()
            self._next_frame = 0
            self._seen = 0
            first = self._block(plan)
            self._channel.play(first)
            began_ns = self._clock()
            self._queue_next(plan)
            self._begin_ns = self._looked_ns = self._absent_ns = self._back_ns = began_ns
            self.line = self._first_line(began_ns)
        self._work.set()

    def change(self, take_over: Callable[[StreamPlan, int], StreamPlan]) -> None:
        """Go on with the plan that ``take_over(plan, first frame not rendered)`` gives, unless stopped."""
        with self._lock:
            if self.plan is not None:
                self.plan = take_over(self.plan, self._next_frame)

    def stop(self) -> None:
        """End the stream."""
        self._work.clear()
        with self._lock:
            self.plan = None
            self.line = None
            self.stuck = False
            self._channel.stop()

    def raise_fault(self) -> None:
        """Raise here what broke the thread, once."""
        fault, self._fault = self._fault, None
        if fault is not None:
            raise fault

    def close(self) -> None:
        """End the stream and the thread."""
        self._closing = True
        self.stop()
        self._work.set()
        if self._thread.is_alive():
            self._thread.join()

    def look(self) -> float:
        """Look once whether a block has begun, see to the next, and return how long to sleep in seconds."""
        try:
            return self._look()
        except DeviceProblem:
            self._give_up()
        except Exception as fault:  # noqa: BLE001 - handed to the app's thread by raise_fault
            self._fault = fault
            self._give_up()
        return LONGEST_SLEEP_S

    def _give_up(self) -> None:
        # The plan and the line stay, so that what has been played keeps its times.
        self.stuck = True
        self._work.clear()

    def _look(self) -> float:
        with self._lock:
            plan, line = self.plan, self.line
            if plan is None or line is None:
                return LONGEST_SLEEP_S
            waiting, playing = self._channel.is_waiting(), self._channel.is_playing()
            if not playing:
                # For an instant in the audio thread the old block is over and the waiting one not begun; a
                # block played then would push the waiting one out unheard.
                self._channel.settle()
                waiting, playing = self._channel.is_waiting(), self._channel.is_playing()
            seen_ns = self._clock()
            if not playing:
                self.line = line = self._ran_dry(plan, line, waiting=waiting)
            elif not waiting:
                self.line = line = self._begun(plan, line, seen_ns)
            elif seen_ns - self._begin_ns > LOST_AFTER_S * 1e9:
                self.stuck = True
            self._note_look(seen_ns)
            return self._sleep_s(line, seen_ns)

    def _run(self) -> None:
        while not self._closing:
            self._work.wait()
            time.sleep(self.look())

    def _first_line(self, began_ns: int) -> ClockLine:
        # The mixer takes the block up with its next buffer, some time within a buffer's length.
        buffer_s = self._buffer_frames / self._rate
        return ClockLine.started(
            0, began_ns / 1e9 + buffer_s, blind_s=buffer_s, rate=self._rate, buffer_frames=self._buffer_frames
        )

    def _block(self, plan: StreamPlan) -> Block:
        block = render(plan, self._next_frame, self._block_frames)
        self._next_frame += self._block_frames
        return block

    def _queue_next(self, plan: StreamPlan) -> None:
        self._held = self._block(plan)
        self._channel.queue(self._held)

    def _begun(self, plan: StreamPlan, line: ClockLine, seen_ns: int) -> ClockLine:
        """Take note of a block that has begun, and let the next wait."""
        self._begin_ns = seen_ns
        self._seen += 1
        # The mixer takes the next block up when it has filled the last buffer of the one before, so what
        # begins at this moment is that last buffer's time.
        frame = self._next_frame - self._block_frames - self._buffer_frames
        self._queue_next(plan)
        blind_s = (seen_ns - self._unseen_since(seen_ns)) / 1e9
        self._was_blind = blind_s > ABSENT_S
        return self._counted(line, line.observed(frame, seen_ns / 1e9, blind_s=blind_s), frame, seen_ns)

    def _ran_dry(self, plan: StreamPlan, line: ClockLine, *, waiting: bool) -> ClockLine:
        """Go on after all that was handed on has been heard, and time went on without sound.

        A block handed on just as the one before it ended may have been left waiting for ever: the mixer had
        looked for it a moment before.
        """
        self._seen += 1
        frame = self._next_frame - self._block_frames if waiting else self._next_frame
        block = self._held if waiting and self._held is not None else self._block(plan)
        self._channel.play(block)
        began_ns = self._begin_ns = self._clock()
        self._queue_next(plan)
        buffer_s = self._buffer_frames / self._rate
        anew = line.started_anew(frame, began_ns / 1e9 + buffer_s, blind_s=buffer_s)
        return self._counted(line, anew, frame, began_ns)

    def _counted(self, before: ClockLine, line: ClockLine, frame: int, seen_ns: int) -> ClockLine:
        """Return the line, its restarts forgotten while the device is still getting under way; note a stall.

        A device that has just been opened, or has slept, takes its first buffers all at once and then
        pauses. Nothing but the silence before the count-in is heard of that.
        """
        if self._seen <= self._starting:
            return replace(line, restarts=0)
        if line.restarts != before.restarts:
            # A restart that is taken back was none, but what was tapped meanwhile was put in a wrong place.
            heard = [each.frame(seen_ns / 1e9) for each in (before, line)]
            first = min(frame - JUMP_OBSERVATIONS * self._block_frames, *heard)
            self.stalls = (*self.stalls, Stall(first_frame=int(first), last_frame=int(max(heard))))
        return line

    def _unseen_since(self, seen_ns: int) -> int:
        """Return since when a begin that is seen now may have been due."""
        if seen_ns - self._looked_ns > ABSENT_S * 1e9:
            return self._looked_ns
        if seen_ns - self._back_ns < SETTLE_S * 1e9:
            return self._absent_ns
        return self._looked_ns

    def _note_look(self, seen_ns: int) -> None:
        if seen_ns - self._looked_ns > ABSENT_S * 1e9:
            self._absent_ns, self._back_ns = self._looked_ns, seen_ns
        self._looked_ns = seen_ns

    def _sleep_s(self, line: ClockLine, seen_ns: int) -> float:
        if self._seen < self._settling or line.late or self._was_blind:
            return LOOK_S
        next_begin_s = line.host_s(self._next_frame - self._block_frames - self._buffer_frames)
        ahead_s = next_begin_s - seen_ns / 1e9 - LOOK_AHEAD_S
        return min(max(ahead_s, LOOK_S), LONGEST_SLEEP_S)
