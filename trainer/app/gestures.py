"""Let the pads ask between drills for what keys ask for: start, again, slower, faster, next."""

from __future__ import annotations

from collections.abc import Callable

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.practice.gestures import GestureSoFar, in_words
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Action

Ask = Callable[[Action, int], None]
"""Does an action at a host time."""


class PadGestures:
    """The pads between drills; from the app's thread only.

    Args:
        ask: does what was asked for.
    """

    def __init__(self, context: Context, ask: Ask) -> None:
        self._context = context
        self._ask = ask
        self._scene: Controller | None = None
        self._was_in_time = False
        self._so_far = GestureSoFar()

    def heard(self, event: InputEvent) -> None:
        """Take in a touch that the scene has left unused."""
        self._notice(event.host_ns)
        if event.touch is not None and event.source.port and steers(self._context) and self._top.hears_pads:
            self._so_far = self._so_far.touched(event.touch.hand, event.host_ns / 1e9)

    def tick(self, host_ns: int) -> None:
        """Do what was asked for, once the word is over."""
        self._notice(host_ns)
        self._so_far, gesture = self._so_far.heard(host_ns / 1e9)
        action = self._top.gestures.get(gesture.value) if gesture is not None else None
        if action is not None:
            self._ask(action, host_ns)

    @property
    def _top(self) -> Controller:
        return self._context.navigation.top

    def _notice(self, host_ns: int) -> None:
        if self._top is not self._scene:
            self._so_far = GestureSoFar.since(host_ns / 1e9, after_drill=self._was_in_time)
            self._scene = self._top
        self._was_in_time = self._top.in_time


def steers(context: Context) -> bool:
    """Return whether the pads of the input in use may ask for something between drills."""
    return context.preferences.settings.pads_steer and bool(context.inputs.midi.open_name)


def pads_help(context: Context) -> str:
    """Return what the pads do between drills, in a few words; empty when they do nothing."""
    return in_words(knows_hand=context.inputs.pads.knows_hand) if steers(context) else ""
