"""A mixer channel on a clock that stands still until it is moved, for tests of the feeder.

As pygame's mixer does, it lets a waiting block's turn come when the last buffer of the one before has been
filled: a buffer's time before its first frame is due.
"""

import numpy as np

from trainer.devices.feeder import BLOCK_BUFFERS, BUFFER_FRAMES, Block

NS = 1_000_000_000


class FakeCard:
    """Plays blocks at ``rate * speed`` frames a second of its own clock; keeps all that was heard.

    Attributes:
        now_ns: the host clock; the tests move it.
        heard: blocks in the order in which they began.
        dead: no block begins any more.
        forgets: the next block handed on is left waiting for ever, for the one before ended at that moment.
        failure: what the card raises when it is looked at.
    """

    def __init__(self, *, rate: int = 48_000, speed: float = 1.0, buffer_frames: int = BUFFER_FRAMES) -> None:
        self.now_ns = 50 * NS
        self.heard: list[Block] = []
        self.gaps = 0
        self.begin_ns = 0
        self.between_ns = 0  # how long it looks idle between two blocks
        self.dead = False
        self.forgets = False
        self.failure: Exception | None = None
        self._frame_ns = NS / (rate * speed)
        self._block_ns = round(buffer_frames * BLOCK_BUFFERS * self._frame_ns)
        self._buffer_ns = round(buffer_frames * self._frame_ns)
        self._ends_ns: int | None = None
        self._waiting: Block | None = None

    def clock(self) -> int:
        return self.now_ns

    def stall(self, seconds: float) -> None:
        """Let the device stand still while the host's time goes on."""
        if self._ends_ns is not None:
            self._ends_ns += round(seconds * NS)

    def play(self, block: Block) -> None:
        self._waiting = None
        self.heard.append(block)
        self.begin_ns = self.now_ns
        self._ends_ns = self.now_ns + self._block_ns - self._buffer_ns

    def queue(self, block: Block) -> None:
        assert self._waiting is None, "there is room for one"
        self._waiting = block
        if self.forgets:
            # pygame's mixer: the audio thread has seen that nothing waits, and waits for the interpreter.
            self.forgets, self._ends_ns = False, None
            self.gaps += 1

    def is_waiting(self) -> bool:
        if self.failure is not None:
            raise self.failure
        self._run()
        return self._waiting is not None

    def is_playing(self) -> bool:
        self._run()
        if self._ends_ns is None:
            return False
        return self.now_ns >= self._ends_ns - self._block_ns + self.between_ns or len(self.heard) == 1

    def settle(self) -> None:
        """Let the instant between two blocks pass."""
        self._run()
        if self._ends_ns is not None and not self.is_playing():
            self.now_ns = self._ends_ns - self._block_ns + self.between_ns

    def stop(self) -> None:
        self._ends_ns = self._waiting = None

    def stream(self) -> np.ndarray:
        return np.concatenate(self.heard)

    def _run(self) -> None:
        while self._ends_ns is not None and self.now_ns >= self._ends_ns and not self.dead:
            if self._waiting is None:
                self._ends_ns = None
                self.gaps += 1
                return
            self.heard.append(self._waiting)
            self._waiting = None
            self._ends_ns += self._block_ns
