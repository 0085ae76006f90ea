"""Show the keys of the scene below and the signs of the sheet; what is clicked there is done below."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.screen.actions import Act, Action
from trainer.screen.key_entries import Help
from trainer.screen.scenes.help import HelpView
from trainer.screen.window import Window

ANY_WINDOW = Window(width=1280, height=720)  # which keys there are does not hang on its size


class HelpController(Controller):
    """The keys of one scene."""

    def __init__(self, context: Context, helps: tuple[Help, ...]) -> None:
        self._context = context
        self._helps = helps
        self._first_row = 0

    def view(self, window: Window) -> HelpView:
        """Return the list."""
        return HelpView(
            window=window,
            helps=self._helps,
            taps=tuple((label or "pad", words) for label, words, _hand in self._context.inputs.tapped_on),
            first_row=self._first_row,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Scroll, go back, or do below what was clicked."""
        navigation = self._context.navigation
        if action.act is Act.SCROLL:
            self._first_row = min(max(0, self._first_row + action.value), max(0, len(self._helps) - 1))
            return True
        if action.act is Act.DISMISS:
            return False
        navigation.back()
        return action.act in (Act.BACK, Act.OPEN_HELP) or navigation.top.act(action, host_ns)


def open_help(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the keys of the scene that is up."""
    helps = context.navigation.view(ANY_WINDOW).scene().helps
    context.navigation.open(lambda: HelpController(context, helps))
