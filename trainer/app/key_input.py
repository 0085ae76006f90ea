"""Let the computer's keys be tapped on."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.app.preferences import Preferences
from trainer.devices.keyboard import SCAN_S, HandKeys, KeyTaps
from trainer.devices.midi import PortNotice
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadTouch
from trainer.practice.seats import TouchSource
from trainer.practice.settings import Settings

KEYS_NAME = "Computer keys"


class KeyInput:
    """The keys as an :class:`trainer.app.input_device.InputDevice`: always there, and the usual input.

    Their events come from the window, one by one, so there is nothing to poll.

    Attributes:
        keys: which keys are whose, and which are down.
    """

    takes_taps = True
    least_uncertainty_s = SCAN_S
    is_behind = False
    needs_teaching = False  # keys are chosen in the settings

    def __init__(self, preferences: Preferences) -> None:
        self._preferences = preferences
        self.keys = KeyTaps(hand_keys(preferences.settings))

    @property
    def hears_left(self) -> bool:
        """Whether the left hand has a key."""
        return bool(self.keys.keys.left)

    @property
    def hears_side(self) -> bool:
        """Whether there is a key for marking skips."""
        return bool(self.keys.keys.side)

    def names(self) -> tuple[str, ...]:
        """Return the one name."""
        return (KEYS_NAME,)

    def knows(self, name: str) -> bool:
        """Return whether this is the keys' name; an empty one stands for them in the settings."""
        return name in ("", KEYS_NAME)

    def open(self, name: str) -> str:
        """Return the empty name that stands for the keys."""
        del name
        return ""

    def close(self) -> None:
        """Do nothing: whether keys are taps is decided as each comes."""

    def event(self, key: str, *, host_ns: int, looked_ns: int, are_used: bool) -> InputEvent:
        """Return the event of a key that was seen to go down, or to be down still.

        Args:
            host_ns: when it was seen; ``looked_ns`` when the queue was looked at before that.
            are_used: whether the keys are tapped on; else no key is a hand's.
        """
        tap = self.keys.down(key, host_ns=host_ns, looked_ns=looked_ns)
        source = TouchSource(key=key)
        if tap is None:
            return InputEvent(source=source, host_ns=host_ns, uncertainty_s=SCAN_S, is_repeat=True)
        touch = PadTouch(hand=tap.hand, string=None) if are_used and tap.hand is not None else None
        return InputEvent(source=source, host_ns=tap.host_ns, uncertainty_s=tap.uncertainty_s, touch=touch)

    def poll(self) -> tuple[InputEvent, ...]:
        """Return nothing."""
        return ()

    def scan(self) -> tuple[PortNotice, ...]:
        """Return nothing: keys neither come nor go."""
        return ()

    def exchanged(self) -> Mapping[str, object]:
        """Return nail's and thumb's key the other way round."""
        settings = self._preferences.settings
        return {"nail_key": settings.thumb_key, "thumb_key": settings.nail_key}

    def follow(self) -> None:
        """Use the keys that the settings say."""
        self.keys.keys = hand_keys(self._preferences.settings)


def hand_keys(settings: Settings) -> HandKeys:
    """Return whose each key is by the settings."""
    return HandKeys(
        nail=settings.nail_key, thumb=settings.thumb_key, left=settings.left_key, side=settings.side_key
    )
