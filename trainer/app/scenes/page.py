"""Read a pattern on one page, mark bars on it, loop them, and write the page for a printer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.printing import Printing
from trainer.app.scenes.drill import begin_drill
from trainer.devices.file_manager import show_folder
from trainer.errors import TrainerError
from trainer.music.excerpt import excerpt
from trainer.music.pattern import Pattern
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.page import PageView
from trainer.screen.scenes.page_form import written
from trainer.screen.scenes.page_words import letters_for
from trainer.screen.window import Window


class BeingPrinted(Protocol):
    """A page that is being written beside the window."""

    def poll(self) -> Path | None:
        """Return where it is once it is written; None before; raise a TrainerError when it cannot be."""

    def give_up(self) -> None:
        """Write no further."""


Print = Callable[[Pattern, bool], BeingPrinted]
"""Begins to write a pattern's page, with string 1 on top or not; raises a TrainerError when it cannot."""


class PageController(Controller):
    """The page of one pattern.

    Args:
        pattern: what is shown.
        write: begins to write the page for a printer.
        show: shows a folder to the user.

    Attributes:
        first, last: the marked bars, from 0, as they are written: each once, with its repeats as signs.
    """

    def __init__(
        self,
        context: Context,
        pattern: Pattern,
        write: Print | None = None,
        show: Callable[[Path], None] = show_folder,
    ) -> None:
        self._context = context
        self._pattern = pattern
        self._tune = written(pattern)
        self._write = write or _begin_printing
        self._show = show
        self._printing: BeingPrinted | None = None
        self._printed: Path | None = None
        self.first, self.last = 0, self._end
        self._shown = 0

    @property
    def _end(self) -> int:
        return len(self._tune.pattern.bars) - 1

    @property
    def _is_whole(self) -> bool:
        return (self.first, self.last) == (0, self._end)

    def view(self, window: Window) -> PageView:
        """Return the page."""
        return PageView(
            window=window,
            tune=self._tune,
            title=self._pattern.title,
            first=self.first,
            last=self.last,
            shown=self._shown,
            bpm=self._context.preferences.bpm,
            letters=letters_for(self._pattern),
            string_1_on_top=self._context.preferences.settings.string_1_on_top,
            is_printing=self._printing is not None,
            can_open_folder=self._printed is not None,
        )

    @property
    def pattern(self) -> Pattern:
        """The marked bars, for a demonstration of them."""
        return self.part

    @property
    def part(self) -> Pattern:
        """What is marked, as it would be looped; the whole pattern as it is played when nothing is."""
        return self._pattern if self._is_whole else excerpt(self._tune.pattern, self.first, self.last)

    def tick(self) -> None:
        """See whether the page for a printer is written."""
        if self._printing is None:
            return
        try:
            path = self._printing.poll()
        except TrainerError as problem:
            self._printing = None
            self._context.say(str(problem))
            return
        if path is not None:
            self._printing, self._printed = None, path
            self._context.say(f"The page is in {path}. V shows its folder; print it from there.")

    def leave(self) -> None:
        """Write no further."""
        if self._printing is not None:
            self._printing.give_up()
            self._printing = None

    def act(self, action: Action, host_ns: int) -> bool:
        """Mark, loop or print."""
        if action.act is Act.SELECT:
            self._click(action.value)
        elif action.act is Act.MARK_FIRST:
            self.first = self._shown = min(max(self.first + action.value, 0), self._end)
            self.last = max(self.first, self.last)
        elif action.act is Act.MARK_LAST:
            self.last = self._shown = min(max(self.last + action.value, 0), self._end)
            self.first = min(self.first, self.last)
        elif action.act is Act.MARK_ALL:
            self.first, self.last, self._shown = 0, self._end, 0
        elif action.act is Act.SCROLL:
            # By what a line usually holds; the scene keeps the bar in view.
            self._shown = min(max(self._shown + 4 * action.value, 0), self._end)
        elif action.act is Act.START:
            self._loop(host_ns)
        elif action.act is Act.WRITE:
            self._print()
        elif action.act is Act.SHOW_FOLDER:
            self._show_folder()
        elif action.act is Act.TURN_OVER:
            self._context.change("string_1_on_top", 1)
        else:
            return False
        return True

    def _click(self, bar: int) -> None:
        """Mark one bar; when one is marked, mark all from it to the other."""
        if not 0 <= bar <= self._end:
            return
        if self.first == self.last and not self._is_whole and bar != self.first:
            self.first, self.last = min(self.first, bar), max(self.last, bar)
        else:
            self.first = self.last = bar
        self._shown = bar

    def _loop(self, host_ns: int) -> None:
        """Drill the marked bars until stopped; all bars as often as the player has chosen."""
        context, preferences = self._context, self._context.preferences
        passes = preferences.settings.passes if self._is_whole and not preferences.climbs else 0
        part = self.part
        context.navigation.back()
        begin_drill(context, host_ns, DrillRequest(pattern=part, bpm=preferences.bpm, passes=passes))

    def _print(self) -> None:
        if self._printing is not None:
            return
        context = self._context
        try:
            self._printing = self._write(self._pattern, context.preferences.settings.string_1_on_top)
        except TrainerError as problem:
            context.say(str(problem))
            return

    def _show_folder(self) -> None:
        if self._printed is None:
            return
        try:
            self._show(self._printed.parent)
        except TrainerError as problem:
            self._context.say(str(problem))


def _begin_printing(pattern: Pattern, string_1_on_top: bool) -> BeingPrinted:
    return Printing(pattern, string_1_on_top=string_1_on_top)


def open_page(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the page of the chosen pattern."""
    pattern = context.preferences.pattern
    if pattern is None:
        context.say("There is no pattern to show; thumbfall patterns says why.")
        return
    context.navigation.open(lambda: PageController(context, pattern))
