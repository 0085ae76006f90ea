"""Say who plays: pick a name that is known, or write a new one."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable

from trainer.app.corner import Corner
from trainer.app.stage import Stage
from trainer.practice.classroom import is_of_class
from trainer.practice.settings import LONGEST_NAME
from trainer.screen.scenes.asking import AskingView
from trainer.screen.views import Act, Action, Window

NOBODY = "Nobody named"
NO_CONTROL = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def written(line: str, more: str) -> str:
    """Return a line with more words written to its end: one line, printable, of a name's length."""
    first = more.splitlines()[0] if more.splitlines() else ""
    clean = "".join(c for c in first if unicodedata.category(c) not in NO_CONTROL)
    return (line + clean)[:LONGEST_NAME]


class Naming(Corner):
    """Asks who plays and hands the name to ``done``; an empty name is nobody."""

    wants_text = True

    def __init__(self, stage: Stage, known: tuple[str, ...], done: Callable[[str], None]) -> None:
        self._stage = stage
        self._names = tuple(dict.fromkeys(name for name in known if name))
        self._done = done
        self._typed = ""
        now = stage.chosen.settings.player
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
            self._stage.back()
            return True
        return False

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:  # noqa: ARG002 - as above
        """Take the last letter away with backspace."""
        if key != "backspace":
            return False
        self._typed, self._focus = self._typed[:-1], 0
        return True

    def typed(self, text: str) -> None:
        """Write on the line, and give it the focus."""
        self._typed, self._focus = written(self._typed, text), 0


def naming_for(stage: Stage) -> Naming:
    """Return the question who plays, with the answer kept in the settings."""
    store = stage.recorder.store if stage.recorder is not None else None
    known = store.players() if store is not None else ()
    return Naming(
        stage,
        (stage.chosen.settings.player, *(name for name in known if not is_of_class(name))),
        lambda name: stage.keep(lambda: stage.chosen.change(player=name)),
    )
