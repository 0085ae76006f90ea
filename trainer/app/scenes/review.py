"""Review a drill: what it came to, the one next step, and from here again, faster, or with what was found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.app.answering import answer_to
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.gestures import pads_help
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.result_words import besides_words, standing_words
from trainer.app.scenes.calibration import open_calibration
from trainer.errors import TrainerError
from trainer.music.excerpt import excerpt
from trainer.music.pattern import Pattern
from trainer.practice.next_step import Todo, retimed
from trainer.practice.next_words import again_words
from trainer.practice.single_out import gap_alone
from trainer.records.library import open_pattern
from trainer.screen.actions import Act, Action
from trainer.screen.key_help import gestures_of
from trainer.screen.scenes.review import ReviewView
from trainer.screen.window import Window

OPEN_S = 120.0  # the microphone after a drill

Again = Callable[[Context, int, DrillRequest], None]
"""Begins a drill at a host time."""


class ReviewController(Controller):
    """What a drill came to."""

    hears_pads = True
    is_tapped_in = True
    gestures = gestures_of("review")

    def __init__(self, context: Context, result: DrillResult, *, again: Again) -> None:
        self._context = context
        self._again = again
        self._request = result.request  # what again would drill: its tempo can be changed here
        self._result = result
        self._step = answer_to(context, result)
        self._first_row = 0
        self._begun_ns = context.now_ns
        self._goes_on = False

    @property
    def pattern(self) -> Pattern:
        """What was drilled."""
        return self._result.request.pattern

    def view(self, window: Window) -> ReviewView:
        """Return the review."""
        context, result, step = self._context, self._result, self._step
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
            happened=step.happened,
            step_words=step.words,
            step_why=step.why,
            again_words=again_words(self._request.bpm),
            nothing_heard=not result.judgement.taps and not simulated,
            standing=standing_words(result),
            besides=besides_words(result),
            advice=result.advice[step.told :],
            can_adopt_delay=result.can_be_delay,
            can_adopt_swing=result.adoptable_swing is not None,
            undo=undoing.last.words if undoing.last is not None else "",
            microphone_open=context.inputs.microphone.banjo.is_open,
            pads_help=pads_help(context),
            first_row=self._first_row,
            not_graded=result.not_graded,
            input_name="simulated hands" if simulated else context.inputs.in_use,
            uncertainty_s=result.uncertainty_s,
            simulated=simulated,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what is asked for."""
        act, context = action.act, self._context
        if act is Act.START:
            self._take_step(host_ns)
        elif act is Act.AGAIN:
            self._drill(self._request, host_ns)
        elif act is Act.NEXT:
            context.navigation.back()
            context.keep(lambda: context.preferences.select(context.preferences.selected + 1))
        elif act in TEMPO_ACTS:
            self._change_tempo(action)
        elif act is Act.SCROLL:
            self._first_row = max(0, self._first_row + action.value)
        elif act is Act.ADOPT_DELAY:
            self._adopt_delay()
        elif act is Act.ADOPT_SWING:
            self._adopt_swing()
        elif act is Act.UNDO:
            self._undo()
        else:
            return False
        return True

    def tick(self) -> None:
        """Close the microphone where nobody has gone on for a while."""
        if (self._context.now_ns - self._begun_ns) / 1e9 > OPEN_S:
            self._context.inputs.microphone.stop_listening()

    def leave(self) -> None:
        """Give the microphone back, but to the next drill."""
        if not self._goes_on:
            self._context.inputs.microphone.stop_listening()

    def _change_tempo(self, action: Action) -> None:
        """Take another tempo for what comes next: it is the one shown, and the one played."""
        base = self._step.bpm or self._request.bpm
        bpm = self._context.change_tempo(self._request.pattern, base, action)
        if bpm is not None:
            self._request = replace(self._request, bpm=bpm)
            self._step = retimed(self._step, bpm)

    def _take_step(self, host_ns: int) -> None:
        """Do the one next thing."""
        context, step, request = self._context, self._step, self._request
        bpm = step.bpm or request.bpm
        if step.todo is Todo.MEASURE:
            open_calibration(context, host_ns)
        elif step.todo is Todo.REST:
            context.navigation.back()
        elif step.todo is Todo.EXCHANGE:
            context.exchange_pads()
            self._drill(replace(request, bpm=bpm), host_ns)
        elif step.todo is Todo.WHOLE and request.whole is not None:
            self._drill(replace(request.whole, bpm=bpm), host_ns)
        elif step.todo is Todo.GAP:
            self._drill_part(gap_alone(request.pattern), bpm, host_ns)
        elif step.todo is Todo.BARS and step.bars is not None:
            self._drill_part(excerpt(request.pattern, *step.bars), bpm, host_ns)
        elif step.todo is Todo.NEXT:
            self._drill_next(step.pattern, bpm, host_ns)
        else:
            context.keep(lambda: context.preferences.remember_tempo(request.pattern, bpm))
            self._drill(replace(request, bpm=bpm), host_ns)

    def _drill_part(self, part: Pattern, bpm: Fraction, host_ns: int) -> None:
        whole = self._request.whole or replace(self._request, bpm=self._result.bpm)
        self._drill(replace(self._request, pattern=part, bpm=bpm, whole=whole), host_ns)

    def _drill_next(self, name: str, bpm: Fraction, host_ns: int) -> None:
        """Choose another figure in the library, and drill it."""
        preferences = self._context.preferences
        try:
            pattern = open_pattern(name, preferences.library)
        except TrainerError as problem:
            self._context.say(str(problem))
            return
        if preferences.shelves.choose(name):
            self._context.keep(preferences.remember_chosen)
        self._drill(replace(self._request, pattern=pattern, bpm=bpm, whole=None), host_ns)

    def _drill(self, request: DrillRequest, host_ns: int) -> None:
        self._goes_on = True
        self._context.navigation.back()
        self._again(self._context, host_ns, request)

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
