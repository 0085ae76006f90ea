"""Read a pattern on one page, mark bars on it, loop them, and write the page for a printer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.scenes.drill import begin_drill
from trainer.errors import StoreProblem, TrainerError
from trainer.music.excerpt import excerpt
from trainer.music.pattern import Pattern
from trainer.records.library import user_patterns_folder
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.page import PageView
from trainer.screen.scenes.page_lines import letters_for
from trainer.screen.window import Window

SHEETS = "sheets"  # beside the user's own patterns
Print = Callable[[Pattern], Path]
"""Writes a pattern's page and returns where; raises a TrainerError when it cannot."""


class PageController(Controller):
    """The page of one pattern.

    Args:
        pattern: what is shown.
        write: writes the page for a printer.
    """

    def __init__(self, context: Context, pattern: Pattern, write: Print | None = None) -> None:
        self._context = context
        self._pattern = pattern
        self._write = write or write_page
        self.first, self.last = 0, self._end
        self._shown = 0

    @property
    def _end(self) -> int:
        return len(self._pattern.bars) - 1

    @property
    def _is_whole(self) -> bool:
        return (self.first, self.last) == (0, self._end)

    def view(self, window: Window) -> PageView:
        """Return the page."""
        return PageView(
            window=window,
            pattern=self._pattern,
            first=self.first,
            last=self.last,
            shown=self._shown,
            bpm=self._context.preferences.bpm,
            letters=letters_for(self._pattern),
        )

    @property
    def pattern(self) -> Pattern:
        """The marked bars, for a demonstration of them."""
        return excerpt(self._pattern, self.first, self.last)

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
        part = excerpt(self._pattern, self.first, self.last)
        context.navigation.back()
        begin_drill(context, host_ns, DrillRequest(pattern=part, bpm=preferences.bpm, passes=passes))

    def _print(self) -> None:
        try:
            path = self._write(self._pattern)
        except TrainerError as problem:
            self._context.say(str(problem))
            return
        self._context.say(f"The page is in {path}: open it and print it from there.")


def write_page(pattern: Pattern) -> Path:
    """Write a pattern's page into the user's folder and return where: a PDF, or a PNG without its library.

    Raises:
        TrainerError: the folder cannot be written, or neither library is there.
    """
    from trainer.screen.paper import can_write_pdf, write_sheet  # loads the libraries that draw

    folder = user_patterns_folder().parent / SHEETS
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"{folder} cannot be made ({err.strerror})", "make room, or use thumbfall sheet"
        ) from err
    name = "".join(c if c.isalnum() or c in "-_" else "-" for c in pattern.name)
    path = folder / f"{name}.{'pdf' if can_write_pdf() else 'png'}"
    return write_sheet(pattern, path, letters=letters_for(pattern))[0]


def open_page(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the page of the chosen pattern."""
    pattern = context.preferences.pattern
    if pattern is None:
        context.say("There is no pattern to show; thumbfall patterns says why.")
        return
    context.navigation.open(lambda: PageController(context, pattern))
