"""Say who plays: pick a name that is known, or write a new one."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.practice.classroom import is_of_class
from trainer.practice.input_event import InputEvent
from trainer.practice.settings import LONGEST_NAME
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.window import Window

NOBODY = "Nobody named"
NO_CONTROL = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def written(line: str, more: str) -> str:
    """Return a line with more words written to its end: one line, printable, of a name's length."""
    first = more.splitlines()[0] if more.splitlines() else ""
    clean = "".join(c for c in first if unicodedata.category(c) not in NO_CONTROL)
    return (line + clean)[:LONGEST_NAME]


class NamingController(Controller):
    """Asks who plays and hands the name to ``done``; an empty name is nobody."""

    def __init__(self, context: Context, known: tuple[str, ...], done: Callable[[str], None]) -> None:
        self._context = context
        self._names = tuple(dict.fromkeys(name for name in known if name))
        self._done = done
        self._typed = ""
        now = context.preferences.settings.player
        self._in_use = self._names.index(now) if now in self._names else len(self._names)
        self._focus = 1 + self._in_use if self._names else 0

    def view(self, window: Window) -> AskingView:
        """Return the question."""
        return AskingView(
            window=window,
            title="Player",
            question="Who plays?",
            options=(*self._names, NOBODY),
            focus=self._focus,
            in_use=self._in_use,
            typed=self._typed,
            remarks=("Names stay on this machine.",),
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Move the focus, or take what has it."""
        if action.act is Act.SELECT:
            self._focus = min(max(action.value, 0), len(self._names) + 1)
            return True
        if action.act is Act.SCROLL:
            return self.act(Action(act=Act.SELECT, value=self._focus + action.value), host_ns)
        if action.act is Act.START:
            options = (*self._names, "")
            name = self._typed.strip() if self._focus == 0 else options[self._focus - 1]
            self._done(name)
            self._context.navigation.back()
            return True
        return False

    @property
    def wants_text(self) -> bool:
        """Always."""
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take the last letter away with backspace."""
        if event.source.key != "backspace":
            return False
        self._typed, self._focus = self._typed[:-1], 0
        return True

    def typed(self, text: str) -> None:
        """Write on the line, and give it the focus."""
        self._typed, self._focus = written(self._typed, text), 0


def open_naming(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Ask who plays, and keep the answer."""
    preferences = context.preferences
    known = context.store.players() if context.store is not None else ()
    names = (preferences.settings.player, *(name for name in known if not is_of_class(name)))

    def answered(name: str) -> None:
        context.keep(lambda: preferences.change(player=name))

    context.navigation.open(lambda: NamingController(context, names, answered))
