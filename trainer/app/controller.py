"""Say what every scene of the window has: one kind of controller, whatever it shows.

A controller stands on the stack of :mod:`trainer.app.navigation`. While it is on top it gets the time, the
touches, the words and the actions, and gives a view back. What is said is laid over that view by navigation.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from trainer.music.pattern import Pattern
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Action
from trainer.screen.draw import View
from trainer.screen.window import Window


class Controller:
    """What every scene can be asked; each overrides what concerns it.

    All of it is called from the app's thread.

    Attributes:
        gestures: the action for each of the gestures that pads and keys of one's own can ask for here.
        is_tapped_in: whether what is tapped on is shown.
        hears_pads: whether touches of pads are read as gestures.
        shows_track: whether it says itself what became of the player's own track.
    """

    gestures: ClassVar[Mapping[str, Action]] = {}
    hears_pads = False
    is_tapped_in = False
    shows_track = False

    @property
    def in_time(self) -> bool:
        """Whether strokes are being played to a click just now.

        Nothing may hold the thread up then, and what is said has a single line.
        """
        return False

    @property
    def wants_text(self) -> bool:
        """Whether the keyboard writes words just now; they come through :meth:`typed`."""
        return False

    @property
    def pattern(self) -> Pattern | None:
        """What is up, for a demonstration of it; None for whatever is chosen in the library."""
        return None

    def view(self, window: Window) -> View:
        """Return what is shown."""
        raise NotImplementedError

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - for its heirs
        """Do what a key, a click or a pad asks for; return whether it was done.

        What is not done here and leads to another scene is done by :mod:`trainer.app.application`.
        """
        return False

    def tick(self) -> None:
        """Go on; called before every frame, when playback and inputs have moved on to the same moment."""

    def heard(self, event: InputEvent) -> bool:  # noqa: ARG002 - for its heirs
        """Take in a touch of a key or a pad; return whether it was used, so that a key means nothing else.

        Repeats of a key that is held down do not come here.
        """
        return False

    def typed(self, text: str) -> None:
        """Take in words written while ``wants_text``: one character, or a text pasted with its lines."""

    def hidden(self) -> None:
        """Be told that the window was minimised."""

    def unfocused(self) -> None:
        """Be told that the window's keys go elsewhere from now on."""

    def covered(self) -> None:
        """Fall silent: another scene is laid over this one, which comes back when that is left."""
        self.leave()

    def uncovered(self) -> None:
        """Go on: the scene that was laid over this one has been left."""

    def leave(self) -> None:
        """Fall silent and give back what was taken; the scene is not shown any more, or not for now."""
