"""Hold the stack of scenes: the one on top is shown, and leaving it shows the one below."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from trainer.app.controller import Controller
from trainer.app.notes import Notes
from trainer.practice.input_event import InputEvent
from trainer.screen.draw import View
from trainer.screen.window import Window


class Navigation:
    """Which scene is up, over which others; from the app's thread only.

    What is said is laid over the scene here and nowhere else.
    """

    def __init__(self, notes: Notes) -> None:
        self._notes = notes
        self._stack: list[Controller] = []
        self._used_keys: set[str] = set()  # whose last press the scene has used

    @property
    def top(self) -> Controller:
        """The scene that is shown."""
        return self._stack[-1]

    def open(self, make: Callable[[], Controller]) -> None:
        """Show a scene over the one that is up; it is made when that has fallen silent."""
        if self._stack:
            self.top.covered()
        self._stack.append(make())

    def replace(self, make: Callable[[], Controller]) -> None:
        """Show a scene in place of the one that is up; it is made when that has fallen silent."""
        self._stack.pop().leave()
        self._stack.append(make())

    def back(self) -> None:
        """Show the scene below; the lowest stays."""
        if len(self._stack) > 1:
            self._stack.pop().leave()
            self.top.uncovered()

    def drop(self, controller: Controller) -> None:
        """Take a scene out of the stack, wherever it stands."""
        if controller is self.top:
            self.back()
        elif controller in self._stack:
            self._stack.remove(controller)
            controller.leave()

    def view(self, window: Window) -> View:
        """Return the view of the scene that is up, with what is said over it."""
        return self.top.view(replace(window, banner=self._notes.banner(in_time=self.top.in_time)))

    def heard(self, event: InputEvent) -> bool:
        """Hand a touch to the scene that is up; return whether it was used.

        A key that is held down goes on to mean what it meant when it went down.
        """
        key = event.source.key
        if event.is_repeat:
            return key in self._used_keys
        used = self.top.heard(event)
        if key:
            self._used_keys.add(key) if used else self._used_keys.discard(key)
        return used
