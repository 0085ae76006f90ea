"""Run a class: names, turns on one pattern at one tempo, the board, and the file of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.scenes.drill import begin_drill
from trainer.app.scenes.together import TogetherController
from trainer.errors import TrainerError
from trainer.judging.take import Judgement
from trainer.practice.classroom import Classroom, Order, is_of_class, player_of, read_names, turn_of
from trainer.records.class_file import load_class, save_class, write_class_csv
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.classroom import ClassView
from trainer.screen.window import Window

USUAL_PASSES = 4  # a turn ends by itself, whatever the player's own drills do
CSV_STEM = "thumbfall-class"


class ClassController(Controller):
    """The board of a class.

    Args:
        rng: where the turns at random come from.
        load, save, write: how the class is kept.
    """

    def __init__(
        self,
        context: Context,
        rng: np.random.Generator,
        *,
        load: Callable[[], tuple[Classroom, str]] = load_class,
        save: Callable[[Classroom], None] = save_class,
        write: Callable[[Classroom, str], Path] = write_class_csv,
    ) -> None:
        self._context = context
        self._rng = rng
        self._save = save
        self._write = write
        self.room, note = load()
        self._before: Classroom | None = None
        self._ranked = False
        self._writing: str | None = None if self.room.pupils else ""
        if note:
            context.say(note)

    @property
    def wants_text(self) -> bool:
        """Whether a name is being written."""
        return self._writing is not None

    @property
    def _passes(self) -> int:
        return self._context.preferences.settings.passes or USUAL_PASSES

    def view(self, window: Window) -> ClassView:
        """Return the board."""
        context = self._context
        pattern = context.preferences.pattern
        return ClassView(
            window=window,
            room=self.room,
            ranked=self._ranked,
            writing=self._writing,
            title=pattern.title if pattern is not None else "",
            bpm=context.preferences.bpm,
            passes=self._passes,
            input_name=context.inputs.in_use,
            sound=context.sound_words,
            can_undo=self._before is not None,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what the teacher asks for."""
        if self._writing is not None:
            return self._act_writing(action)
        act, value = action.act, action.value
        if act is Act.START:
            self._start(host_ns)
        elif act is Act.SELECT:
            self.room = self.room.chosen(value)
        elif act is Act.NAMES:
            self._writing = ""
        elif act is Act.ORDER:
            other = Order.RANDOM if self.room.order is Order.LISTED else Order.LISTED
            self._keep(self.room.with_order(other))
        elif act is Act.RANK:
            self._ranked = not self._ranked
        elif act is Act.REMOVE:
            self._take_away(self.room.without(self.room.at))
        elif act is Act.CLEAR:
            self._take_away(Classroom(order=self.room.order))
            self._context.say(
                "All names and turns are gone from this machine. U brings them back until you leave."
            )
        elif act is Act.UNDO and self._before is not None:
            self._keep(self._before)
            self._before = None
        elif act is Act.WRITE:
            self._write_file()
        elif act is Act.TOGETHER:
            self._together()
        elif act in TEMPO_ACTS:
            preferences = self._context.preferences
            self._context.change_tempo(preferences.pattern, preferences.bpm, action)
        elif act is Act.PASSES:
            self._context.change("passes", value)
        else:
            return False
        return True

    def typed(self, text: str) -> None:
        """Write on; a pasted list is taken in at once."""
        if self._writing is None:
            return
        if any(c in text for c in "\n,;\t"):
            self._add(self._writing + text)
        else:
            self._writing += text

    def leave(self) -> None:
        """Let go of the takes of a class that was forgotten."""
        store = self._context.store
        if self.room.pupils or store is None:
            return
        try:
            for player in store.players():
                if is_of_class(player):
                    store.forget_player(player, with_takes=True)
        except TrainerError as problem:
            self._context.say(str(problem))

    def _drilled(self, result: DrillResult) -> None:
        """Put a turn on the board, and hand on to the next."""
        if result.not_graded:
            self._context.say(f"This turn does not count: {result.not_graded}.")
        elif result.judgement.outcomes:
            turn = turn_of(result.judgement, pattern=result.request.pattern.name, bpm=result.bpm)
            self._before = None
            self._keep(self.room.played(turn).next(self._rng))

    def _act_writing(self, action: Action) -> bool:
        writing = self._writing or ""
        if action.act is Act.START:
            self._add(writing)
        elif action.act is Act.REMOVE:
            self._writing = writing[:-1]
        elif action.act in (Act.NAMES, Act.BACK):
            self._add(writing)
            self._writing = None
        else:
            return False
        return True

    def _add(self, text: str) -> None:
        named = read_names(text)
        self._writing = ""
        if named:
            before = len(self.room.pupils)
            self._keep(self.room.with_names(named))
            missing = before + len(named) - len(self.room.pupils)
            if missing:
                self._context.say(f"The class is full: {missing} of these names were left out.")

    def _start(self, host_ns: int) -> None:
        request = self._request()
        if request is None or self.room.current is None:
            self._writing = ""
            return
        request = replace(request, player=player_of(self.room.current.name))
        begin_drill(self._context, host_ns, request, self._drilled)

    def _request(self) -> DrillRequest | None:
        preferences = self._context.preferences
        if preferences.pattern is None:
            return None
        return DrillRequest(pattern=preferences.pattern, bpm=preferences.bpm, passes=self._passes)

    def _together(self) -> None:
        """Let several play at once, from the one whose turn it is on."""
        context, request = self._context, self._request()
        if request is None:
            return
        names = self.room.names[self.room.at :] + self.room.names[: self.room.at]
        context.navigation.open(lambda: TogetherController(context, request, names, self._all_played))

    def _all_played(self, played: tuple[tuple[str, Judgement], ...], request: DrillRequest) -> None:
        """Put a turn of several players onto the board."""
        room = self.room
        for name, judgement in played:
            if name in room.names:
                turn = turn_of(judgement, pattern=request.pattern.name, bpm=request.bpm)
                room = room.chosen(room.names.index(name)).played(turn)
        self._keep(room.next(self._rng))

    def _take_away(self, room: Classroom) -> None:
        if self.room.pupils:
            self._before = self.room
            self._keep(room)

    def _keep(self, room: Classroom) -> None:
        self.room = room
        try:
            self._save(room)
        except TrainerError as problem:
            self._context.say(str(problem))

    def _write_file(self) -> None:
        if not self.room.pupils:
            return
        try:
            self._context.say(f"The class is written to {self._write(self.room, CSV_STEM)}.")
        except TrainerError as problem:
            self._context.say(str(problem))


def open_class(context: Context, host_ns: int) -> None:
    """Show the board of the class."""
    context.navigation.open(lambda: ClassController(context, np.random.default_rng(host_ns)))
