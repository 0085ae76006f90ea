"""Tap on the pad that was plugged in last: open it, and have its pads taught by touch if they never were."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.devices.midi import VIRTUAL_NAME
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.window import Window


class TeachingController(Controller):
    """Asks for the pads of the input in use, one after another; it is left with the last."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def view(self, window: Window) -> AskingView:
        """Return what is asked for."""
        teaching = self._context.inputs.teaching
        prompt = teaching.prompt if teaching is not None else ""
        return AskingView(
            window=window,
            title=self._context.inputs.in_use,
            question="",
            prompt=prompt[:1].upper() + prompt[1:],
            leave_words="end this",
            can_go_back=teaching is not None and teaching.before is not None,
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Take a pad back, go on without one, or end with those taught so far."""
        inputs = self._context.inputs
        if action.act is Act.UNDO:
            inputs.unteach()
        elif action.act is Act.SKIP_PROMPT:
            inputs.skip_prompt()
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take a touched pad for the one that is asked for."""
        return self._context.inputs.taught_by(event)

    def tick(self) -> None:
        """Go when all is taught."""
        if self._context.inputs.teaching is None:
            self._context.navigation.back()

    def leave(self) -> None:
        """Keep what was taught."""
        self._context.inputs.leave()


def use_new_input(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Tap on the pad that came last, or on one that is there while the keys are in use."""
    inputs = context.inputs
    ports = [name for name in inputs.midi.ports() if name != VIRTUAL_NAME and name != inputs.in_use]
    name = inputs.newcomer if inputs.newcomer in ports else next(iter(ports), "")
    if not name:
        context.say("No other pad is plugged in.")
        return
    if not inputs.use(name):
        return
    inputs.newcomer = ""
    if inputs.teaching is None:
        context.say(f"From now on you tap on {inputs.in_use}.")
    else:
        context.navigation.open(lambda: TeachingController(context))
