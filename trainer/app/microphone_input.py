"""Let the banjo itself be an input, heard by a microphone."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.app.banjo import Banjo, HearsBanjo
from trainer.devices.midi import PortNotice
from trainer.errors import DeviceProblem
from trainer.practice.input_event import InputEvent
from trainer.practice.settings import MICROPHONE

HEARD_UNCERTAINTY_S = 0.003  # of a stroke that stands out, see hearing.listening


class MicrophoneInput:
    """Microphones as an :class:`trainer.app.input_device.InputDevice`.

    One is chosen here; it is open only in scenes that say so: while one listens, and in the review after it.

    Attributes:
        banjo: the microphone, and what is heard by it.
        listener: what makes events of that; None while no scene listens.
    """

    least_uncertainty_s = HEARD_UNCERTAINTY_S
    hears_left = True
    hears_side = False
    is_behind = False
    needs_teaching = False

    def __init__(self, banjo: Banjo) -> None:
        self.banjo = banjo
        self.listener: HearsBanjo | None = None
        self._chosen = ""

    @property
    def takes_taps(self) -> bool:
        """Whether a microphone is chosen."""
        return bool(self._chosen)

    def names(self) -> tuple[str, ...]:
        """Return the microphones there are."""
        return tuple(f"{MICROPHONE}{name}" for name in self.banjo.names())

    def knows(self, name: str) -> bool:
        """Return whether a name is a microphone's."""
        return name.startswith(MICROPHONE)

    def open(self, name: str) -> str:
        """Choose a microphone; it listens when a scene asks for it.

        Raises:
            DeviceProblem: it is not there.
        """
        if name not in self.names():
            raise DeviceProblem(f"{name} is not there", "plug it in, or choose another input")
        self._chosen = name
        return name

    def close(self) -> None:
        """Choose none."""
        self._chosen = ""
        self.stop_listening()

    def listen(self, listener: HearsBanjo | None = None) -> None:
        """Open the microphone chosen, which stays open until it is no longer listened to.

        Raises:
            DeviceProblem: it is not there, or cannot be opened.
        """
        self.banjo.open(self._chosen.removeprefix(MICROPHONE))
        self.listener = listener

    def rest(self) -> None:
        """Stay open and hear nothing: one that is opened anew gives no sound for a second or two."""
        self.listener = None

    def stop_listening(self) -> None:
        """Give the microphone back."""
        self.listener = None
        self.banjo.close()

    def poll(self) -> tuple[InputEvent, ...]:
        """Return the touches heard since the last call."""
        heard = self.banjo.poll()
        return self.listener.taken_in(heard, self.banjo.now_ns) if self.listener is not None else ()

    def scan(self) -> tuple[PortNotice, ...]:
        """Return nothing: one that gives no sound any more is noticed by the scene that listens."""
        return ()

    def exchanged(self) -> Mapping[str, object]:
        """Return nothing: nobody can hear whether nail or thumb sounded a string."""
        return {}
