"""Let a scene of the window look after itself: what the stage hands to it, and what it may leave out.

The stage runs the library, the drill, the review and the settings. Whatever else the window can show (a
calibration, the progress, a demonstration, a class) is a corner: while it is up it gets the time, the keys,
the taps and the wishes, and gives a view back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.devices.midi import MidiTap
from trainer.screen.views import Action, View, Window

if TYPE_CHECKING:
    from trainer.app.played import Played


class Corner:
    """What every corner can be asked; a corner of its own overrides what concerns it.

    All of it is called from the app's thread.

    Attributes:
        in_time: strokes are being played to a click just now, so nothing may hold the thread up.
        is_returned_to: what is opened from here leads back to here; :meth:`leave` is called all the same.
        wants_text: the keyboard writes words just now; they come through :meth:`typed`.
    """

    in_time = False
    is_returned_to = False
    wants_text = False

    def view(self, window: Window) -> View:
        """Return what is shown."""
        raise NotImplementedError

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - for its heirs
        """Do what a key or a click asks for; return whether it was done.

        Of what is not done here the stage does only what leads away: back, dismiss a note, another corner,
        the settings.
        """
        return False

    def tick(self, host_ns: int) -> None:
        """Move on to a moment of the host clock; called before every frame."""

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:  # noqa: ARG002 - for its heirs
        """Take in a key as a tap; return whether it was used, so that it means nothing else."""
        return False

    def midi_taps(self, taps: tuple[MidiTap, ...]) -> None:
        """Take in what the port has sent."""

    def typed(self, text: str) -> None:
        """Take in words written while ``wants_text``: one character, or a text pasted with its lines."""

    def drilled(self, played: Played) -> None:
        """Take in the take of a drill that the corner let the stage run (``Stage.lend``)."""

    def leave(self) -> None:
        """Fall silent and give back what was taken; the corner is not shown any more, or not for now."""
