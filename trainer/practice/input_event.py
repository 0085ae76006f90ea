"""Say what was touched, when, and what it means: one event for keys, pads and whatever can be heard."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.judging.take import Tap
from trainer.practice.pads import PadTouch
from trainer.practice.seats import TouchSource


@dataclass(frozen=True, slots=True, kw_only=True)
class InputEvent:
    """One touch of one key or pad.

    Attributes:
        source: which key or pad.
        host_ns: when, by the host clock.
        uncertainty_s: how far off that may be, either way.
        touch: what it says of a stroke; None where nobody taps on it: a key that is no hand's, or a pad of
            another input than the one in use.
        velocity: 1 to 127; None where the input knows none.
        song_s: the second of the song that it was meant for, where the input itself hears what is played;
            None where that follows from ``host_ns`` and the delay of the devices.
        is_repeat: the key is held down, or has only bounced: no touch of its own.
    """

    source: TouchSource
    host_ns: int
    uncertainty_s: float
    touch: PadTouch | None = None
    velocity: int | None = None
    song_s: float | None = None
    is_repeat: bool = False

    def tap(self, song_s: float) -> Tap:
        """Return it as a tap at a second of the song; what nobody taps on tells neither hand nor string."""
        return Tap(
            song_s=song_s,
            hand=self.touch.hand if self.touch is not None else None,
            string=self.touch.string if self.touch is not None else None,
            velocity=self.velocity,
            uncertainty_s=self.uncertainty_s,
        )
