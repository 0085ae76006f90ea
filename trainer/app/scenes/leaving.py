"""Ask once before the program ends; the answer that stands ready is to stay."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.window import Window

STAY, LEAVE = range(2)


class LeavingController(Controller):
    """The question."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._focus = STAY

    def view(self, window: Window) -> AskingView:
        """Return it."""
        return AskingView(
            window=window,
            title="Thumbfall",
            question="End the program?",
            options=("Stay", "End it"),
            focus=self._focus,
            remarks=("What you have played is kept.",) if self._context.recorder is not None else (),
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Move the focus, or take what has it."""
        if action.act is Act.SELECT:
            self._focus = min(max(action.value, STAY), LEAVE)
        elif action.act is Act.SCROLL:
            self._focus = min(max(self._focus + action.value, STAY), LEAVE)
        elif action.act is Act.START and self._focus == LEAVE:
            self._context.is_ended = True
        elif action.act is Act.START:
            self._context.navigation.back()
        else:
            return False
        return True


def ask_to_leave(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Ask whether to end the program."""
    context.navigation.open(lambda: LeavingController(context))
