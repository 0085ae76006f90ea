"""Go through what is needed less often; what is taken is done over the scene below."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.screen.actions import Act, Action
from trainer.screen.keymap import MENU
from trainer.screen.scenes.menu import MenuView
from trainer.screen.window import Window


class MenuController(Controller):
    """The menu of the library."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._focus = 0

    def view(self, window: Window) -> MenuView:
        """Return the menu."""
        return MenuView(window=window, focus=self._focus)

    def act(self, action: Action, host_ns: int) -> bool:
        """Move the focus, or go back and do what was taken."""
        if action.act in (Act.SELECT, Act.SCROLL):
            at = action.value if action.act is Act.SELECT else self._focus + action.value
            self._focus = min(max(at, 0), len(MENU) - 1)
            return True
        taken = {entry.caps[0].action for entry in MENU}
        if action not in taken:
            return False
        navigation = self._context.navigation
        navigation.back()
        # What the scene below leaves, the application does: it opens another.
        return navigation.top.act(action, host_ns)


def open_menu(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show what is needed less often."""
    context.navigation.open(lambda: MenuController(context))
