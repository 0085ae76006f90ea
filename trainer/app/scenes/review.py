"""Review a drill: what it came to, and from here again, faster, or with what was found taken over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.gestures import pads_help
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.result_words import besides_words, standing_words
from trainer.judging.readings import ReadingKind
from trainer.music.pattern import Pattern
from trainer.screen.actions import Act, Action
from trainer.screen.keymap import gestures_of
from trainer.screen.scenes.review import ReviewView
from trainer.screen.window import Window

Again = Callable[[Context, int, DrillRequest], None]
"""Begins a drill at a host time."""


class ReviewController(Controller):
    """What a drill came to."""

    hears_pads = True
    gestures = gestures_of("review")

    def __init__(self, context: Context, result: DrillResult, *, again: Again) -> None:
        self._context = context
        self._again = again
        self._request = result.request  # what again would drill: its tempo can be changed here
        self._result = result
        self._first_row = 0
        reading = result.judgement.reading
        kinds = () if reading is None or result.request.hands is not None else (reading.kind, *reading.also)
        self._is_exchanged = ReadingKind.PADS_EXCHANGED in kinds

    @property
    def pattern(self) -> Pattern:
        """What was drilled."""
        return self._result.request.pattern

    def view(self, window: Window) -> ReviewView:
        """Return the review."""
        context, result = self._context, self._result
        simulated = result.request.hands is not None
        undoing = context.preferences.undoing
        return ReviewView(
            window=window,
            pattern=result.request.pattern,
            bpm=result.bpm,
            passes=result.passes,
            slots=result.slots,
            take=result.summary,
            pocket=result.drill.settings.pocket,
            standing=standing_words(result),
            besides=besides_words(result),
            advice=result.advice,
            can_adopt_delay=result.can_be_delay,
            can_adopt_swing=result.adoptable_swing is not None,
            exchanged=self._is_exchanged,
            undo=undoing.last.words if undoing.last is not None else "",
            pads_help=pads_help(context),
            first_row=self._first_row,
            not_graded=result.not_graded,
            input_name="simulated hands" if simulated else result.placed_by or context.inputs.in_use,
            uncertainty_s=result.uncertainty_s,
            simulated=simulated,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what is asked for."""
        act, context = action.act, self._context
        if act is Act.AGAIN:
            context.navigation.back()
            self._again(context, host_ns, self._request)
        elif act is Act.NEXT:
            context.navigation.back()
            context.keep(lambda: context.preferences.select(context.preferences.selected + 1))
        elif act in TEMPO_ACTS:
            bpm = context.change_tempo(self._request.pattern, self._request.bpm, action)
            if bpm is not None:
                self._request = replace(self._request, bpm=bpm)
        elif act is Act.SCROLL:
            self._first_row = max(0, self._first_row + action.value)
        elif act is Act.ADOPT_DELAY:
            self._adopt_delay()
        elif act is Act.ADOPT_SWING:
            self._adopt_swing()
        elif act is Act.EXCHANGE_PADS and self._is_exchanged:
            self._is_exchanged = False
            context.exchange_pads()
        elif act is Act.UNDO:
            self._undo()
        else:
            return False
        return True

    def _adopt_delay(self) -> None:
        """Take the mean placement for the delay of the devices, besides what is taken off already."""
        context, mean_s = self._context, self._result.delay_s
        if not self._result.can_be_delay or mean_s is None:
            return
        delay_ms = context.preferences.delay_ms + round(mean_s * 1000)
        context.keep(lambda: context.preferences.set_delay(delay_ms))
        now_ms = context.preferences.delay_ms
        context.say(f"From now on {now_ms} ms are taken off each tap on {context.inputs.in_use}.")

    def _adopt_swing(self) -> None:
        context, adopted = self._context, self._result.adoptable_swing
        if adopted is not None:
            context.keep(lambda: context.preferences.set_swing(adopted))
            context.say(f"The target now swings {float(adopted):g} to 1.")

    def _undo(self) -> None:
        change = self._context.undo()
        if change is not None:
            self._context.say(f"Taken back: {change.words}.")
