"""Keep a microphone open while a scene listens to a banjo, and tell when each sound of it was.

The microphone is opened when a scene asks for it and given back when the last scene that says so is left;
until then it stays open, since a device that is opened anew may give nothing for a second or two. Nothing of
the sound is kept but the last moments that hearing needs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from trainer.devices.clock import now_ns
from trainer.devices.microphone import LiveMicrophoneLike, OpenLive, open_live
from trainer.devices.outputs import capture_names
from trainer.hearing.bands import Wave
from trainer.hearing.listening import HeardStroke, Listener
from trainer.practice.input_event import InputEvent
from trainer.sound.clock_line import ClockLine

NAMES_KEPT_NS = 2_000_000_000
DEAF_S = 3.0
# Less than this of lost sound is noticed by the heard click alone: on a busy machine chunks come as unevenly.
GAP_FRAMES = 1440
SURE_FRAMES = 19_200  # 0.4 s, in which a chunk that was only late is known to have been that
BEFORE_GAP_S, AFTER_GAP_S = 0.1, 0.3
SILENT = 1e-9
NO_SOUND = "the microphone gives no sound"
ALL_ZEROS = "the microphone gives nothing but zeros: let the system allow this program to use it"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heard:
    """What came since the last look.

    Attributes:
        pieces: the sound itself, in order.
        strokes: what was heard to begin in it.
    """

    pieces: tuple[Wave, ...] = ()
    strokes: tuple[HeardStroke, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Suspect:
    """A gap that may prove to be none: host seconds, and from which frame on it is sure."""

    restarts: int
    span: tuple[float, float]
    sure_frame: int


class HearsBanjo(Protocol):
    """What makes events of what is heard, while a scene listens."""

    def taken_in(self, heard: Heard, host_ns: int) -> tuple[InputEvent, ...]:
        """Return the touches in what has come until a host time."""


class Banjo:
    """The microphone that a banjo is heard by; from the app's thread only.

    Attributes:
        gaps: host seconds between which sound was lost on its way in, in order.
    """

    def __init__(
        self,
        *,
        open_microphone: OpenLive = open_live,
        names: Callable[[], tuple[str, ...]] = capture_names,
        clock: Callable[[], int] = now_ns,
    ) -> None:
        self._open_microphone = open_microphone
        self._names = names
        self._clock = clock
        self._known: tuple[str, ...] = ()
        self._known_ns: int | None = None
        self._microphone: LiveMicrophoneLike | None = None
        self._listener = Listener()
        self._line: ClockLine | None = None
        self._frames = 0
        self._listened_from = 0  # frame at which the listener began
        self._observed_s = 0.0
        self._zeros_s = 0.0
        self._came_ns = 0
        self._suspect: _Suspect | None = None
        self.gaps: list[tuple[float, float]] = []

    def names(self) -> tuple[str, ...]:
        """Return the microphones there are; asked for anew every two seconds."""
        if self._known_ns is None or self._clock() - self._known_ns > NAMES_KEPT_NS:
            self._known, self._known_ns = self._names(), self._clock()
        return self._known

    @property
    def now_ns(self) -> int:
        """The host time now."""
        return self._clock()

    @property
    def is_open(self) -> bool:
        """Whether the microphone is listening."""
        return self._microphone is not None

    @property
    def has_sound(self) -> bool:
        """Whether any sound has come since it was opened."""
        return self._line is not None

    @property
    def problem(self) -> str:
        """Why nothing can be heard, in words; empty while all is well."""
        if self._microphone is None:
            return ""
        if (self._clock() - self._came_ns) / 1e9 > DEAF_S:
            return NO_SOUND
        if self._line is not None and self._zeros_s > DEAF_S:
            return ALL_ZEROS
        return ""

    def open(self, name: str) -> None:
        """Open a microphone, by its own name; one that is open and gives sound stays so.

        Raises:
            DeviceProblem: it is not there, or cannot be opened.
        """
        if self.problem:
            self.close()
        if self._microphone is None:
            self._microphone = self._open_microphone(name)
            self._microphone.start()
            self._line, self._frames, self._listened_from = None, 0, 0
            self._listener, self._zeros_s, self._came_ns = Listener(), 0.0, self._clock()
            self.gaps, self._suspect = [], None

    def listen(
        self, *, threshold: float, touch_threshold: float | None = None, deaf_hz: tuple[float, ...]
    ) -> None:
        """Hear strokes from now on; the arguments are those of :class:`Listener`."""
        self._listener = Listener(threshold=threshold, touch_threshold=touch_threshold, deaf_hz=deaf_hz)
        self._listened_from, self.gaps = self._frames, []

    def close(self) -> None:
        """Give the microphone back."""
        microphone, self._microphone = self._microphone, None
        if microphone is not None:
            microphone.close()
        self._line = None

    def poll(self) -> Heard:
        """Take in what has come; seconds of strokes count as those of :meth:`heard_s`."""
        if self._microphone is None:
            return Heard()
        pieces: list[Wave] = []
        strokes: list[HeardStroke] = []
        for chunk in self._microphone.fresh():
            self._frames += len(chunk.wave)
            self._came_ns = chunk.host_ns
            self._observe(chunk.host_ns)
            silent = not len(chunk.wave) or float(np.abs(chunk.wave).max()) < SILENT
            self._zeros_s = self._zeros_s + len(chunk.wave) / self._microphone.rate if silent else 0.0
            pieces.append(chunk.wave)
            strokes += self._listener.push(chunk.wave)
        return Heard(pieces=tuple(pieces), strokes=tuple(strokes))

    def heard_s(self, host_ns: int) -> float | None:
        """Return the second of the recording that came at a host time; None before any has come."""
        if self._line is None or self._microphone is None:
            return None
        frame: float = self._line.frame(host_ns / 1e9) - self._listened_from
        return frame / self._microphone.rate

    def host_ns(self, recorded_s: float) -> int:
        """Return the host time at which a second of the recording came."""
        assert self._line is not None
        assert self._microphone is not None
        return round(self._line.host_s(recorded_s * self._microphone.rate + self._listened_from) * 1e9)

    def _observe(self, host_ns: int) -> None:
        host_s = host_ns / 1e9
        if self._line is None or self._microphone is None:
            rate = self._microphone.rate if self._microphone is not None else 1
            self._line = ClockLine.started(self._frames, host_s, rate=rate, buffer_frames=GAP_FRAMES)
            self._observed_s = host_s
            return
        before = self._line
        self._line = before.observed(self._frames, host_s)
        suspect = self._suspect
        if suspect is not None and self._line.restarts <= suspect.restarts:
            self._suspect = None  # chunks came late, and none was lost
        elif suspect is not None and self._frames >= suspect.sure_frame:
            self.gaps.append(suspect.span)
            self._suspect = None
        if self._line.restarts > before.restarts and before.late > 0:  # what comes early was not lost
            self._suspect = _Suspect(
                restarts=before.restarts,
                span=(self._observed_s - BEFORE_GAP_S, host_s + AFTER_GAP_S),
                sure_frame=self._frames + SURE_FRAMES,
            )
        elif not self._line.late:
            self._observed_s = host_s
