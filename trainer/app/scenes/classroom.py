"""Run a class: names, turns on one pattern at one tempo, the boards, and the file of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np

from trainer.app.class_boards import Boards
from trainer.app.class_keeper import ClassKeeper, Save
from trainer.app.class_turns import turn_from
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.recording import local_now
from trainer.app.scenes.drill import begin_drill
from trainer.app.scenes.together import TogetherController
from trainer.errors import TrainerError
from trainer.practice.classroom import Classroom, Order, player_of
from trainer.practice.turns import Board, Turn
from trainer.records.class_file import keep_class, load_class, write_class_csv
from trainer.records.class_lists import list_names, list_path, pupils_elsewhere
from trainer.records.forgetting import forget_class_takes
from trainer.records.store import Store
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.classroom import ClassView, Extra
from trainer.screen.window import Window

USUAL_PASSES = 4  # a turn ends by itself, whatever the player's own drills do

ONE_BANJO = (
    "One banjo at a time: a microphone cannot tell two apart. Take turns, or tap on pads to play at once."
)


class ClassController(Controller):
    """The board of a class.

    Args:
        rng: where the turns at random come from.
        load, save, write: how the class is kept; ``save`` takes it as it was kept last and as it is now.
        clock: the present moment.
        list_name: of the class; empty for the one that has none.
        lists: the names of all classes that are kept.
        forget: takes the takes of a forgotten class out of the records, and says what it cannot reach.
    """

    def __init__(
        self,
        context: Context,
        rng: np.random.Generator,
        *,
        load: Callable[[], tuple[Classroom, str]] = load_class,
        save: Save = keep_class,
        write: Callable[[Classroom, str], Path] = write_class_csv,
        clock: Callable[[], datetime] = local_now,
        list_name: str = "",
        lists: tuple[str, ...] = (),
        forget: Callable[[Store], tuple[str, ...]] = forget_class_takes,
    ) -> None:
        self._list_name = list_name
        self._lists = lists
        self._forget = forget
        self._is_forgotten = False
        self._context = context
        self._rng = rng
        self._clock = clock
        room, note = load()
        self._keeper = ClassKeeper(context, room, save=save, write=write)
        self._ranked = False
        self._extra: Extra | None = None
        self._looking: Board | None = None  # at an older board
        self._known: Boards | None = None
        self._writing: str | None = None if self.room.pupils else ""
        context.say(note)

    @property
    def room(self) -> Classroom:
        """The class as it is now."""
        return self._keeper.room

    @property
    def wants_text(self) -> bool:
        """Whether a name is being written."""
        return self._writing is not None

    @property
    def _passes(self) -> int:
        return self._context.preferences.settings.passes or USUAL_PASSES

    @property
    def _today(self) -> int:
        return self._clock().date().toordinal()

    @property
    def _now(self) -> Board | None:
        """The board on which turns go now."""
        preferences = self._context.preferences
        if preferences.pattern is None:
            return None
        return Board(pattern=preferences.pattern.name, bpm=preferences.bpm, day=self._today)

    @property
    def _boards(self) -> Boards:
        """What the boards show, worked out anew only where something has changed."""
        now = self._now
        if self._known is None or not self._known.hold_for(self.room, now, self._looking):
            self._known = Boards.of(self.room, self._context.preferences.pattern, now, self._looking)
        return self._known

    def view(self, window: Window) -> ClassView:
        """Return the board."""
        context, boards = self._context, self._boards
        shown = boards.shown
        return ClassView(
            window=window,
            room=boards.room,
            board=shown,
            looking_back=self._looking is not None,
            number=boards.number,
            boards=len(boards.every),
            today=self._today,
            extra=self._extra,
            held=boards.held,
            ranked=self._ranked,
            writing=self._writing,
            title=boards.title,
            level=boards.level,
            bpm=shown.bpm if shown is not None else context.preferences.bpm,
            passes=self._passes,
            input_name=context.inputs.in_use,
            sound=context.sound_words,
            can_undo=self._keeper.can_undo,
            list_name=self._list_name,
            has_lists=bool(set(self._lists) - {self._list_name}),
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what the teacher asks for."""
        if self._writing is not None:
            return self._act_writing(action)
        act, value = action.act, action.value
        if act is Act.START:
            self._start(host_ns)
        elif act is Act.SELECT:
            self._choose(value)
        elif act is Act.BOARD:
            self._look(value)
        elif act is Act.BACK and self._looking is not None:
            self._looking = None
        elif act is Act.COUNT:
            self._count()
        elif act is Act.LEAVE_OUT:
            self._leave_out()
        elif act is Act.NAMES:
            self._writing, self._extra = "", None
        elif act is Act.ORDER:
            other = Order.RANDOM if self.room.order is Order.LISTED else Order.LISTED
            self._keeper.keep(self.room.with_order(other), is_small=True)
        elif act is Act.RANK:
            self._ranked = not self._ranked
        elif act is Act.REMOVE:
            self._take_away(self.room.without(self.room.at))
        elif act is Act.CLEAR:
            self._clear()
        elif act is Act.UNDO and self._keeper.can_undo:
            self._is_forgotten = False
            self._keeper.undo()
        elif act is Act.WRITE:
            self._keeper.write()
        elif act is Act.TOGETHER:
            self._together()
        elif act is Act.LIST:
            self._next_list(value, host_ns)
        elif act in TEMPO_ACTS:
            self._looking = None
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
            self._keeper.add(self._writing + text)
            self._writing = ""
        else:
            self._writing += text

    def covered(self) -> None:
        """Remember who is chosen, for whatever way leads back here."""
        self._keeper.remember()

    def leave(self) -> None:
        """Remember who is chosen, and let go of the takes of a class that was forgotten."""
        self._keeper.remember()
        store = self._context.store
        if self.room.pupils or store is None or not self._is_forgotten:
            return
        try:
            left = self._forget(store)
        except TrainerError as problem:
            left = (str(problem),)
        if left:
            self._context.say(*left)

    # Classes

    def _clear(self) -> None:
        """Forget the class: its names now, its takes when this scene is left."""
        if not self.room.pupils:
            return
        self._take_away(Classroom(order=self.room.order))
        self._is_forgotten = True
        self._context.say(
            "All names and turns of this class are gone; its takes go when you leave, also from records that "
            "were moved. U brings them back until then."
        )

    def _next_list(self, steps: int, host_ns: int) -> None:
        """Go on to another class."""
        lists = sorted({*self._lists, self._list_name}, key=str.casefold)
        name = lists[(lists.index(self._list_name) + steps) % len(lists)]
        if name != self._list_name:
            context = self._context
            context.keep(lambda: context.preferences.change(class_list=name))
            context.navigation.replace(lambda: class_controller(context, host_ns))

    # Choosing

    def _choose(self, value: int) -> None:
        extras = {extra.value: extra for extra in Extra}
        self._extra = extras.get(value)
        if self._extra is None:
            self._keeper.room = self.room.chosen(value)

    def _look(self, steps: int) -> None:
        """Show an older board, or a newer one; before the oldest comes the newest."""
        self._looking = self._boards.beside(steps)
        self._extra = None

    def _take_up(self, board: Board) -> None:
        """Play the figure of an older board again, at its tempo."""
        preferences = self._context.preferences
        chosen = preferences.pattern.name if preferences.pattern is not None else ""
        if not preferences.shelves.choose(board.pattern):
            preferences.shelves.choose(chosen)
            self._context.say(f"{board.pattern} is not in the library any more.")
            return
        pattern = preferences.pattern
        self._looking = None
        self._context.keep(preferences.remember_chosen)
        if pattern is not None and preferences.bpm != board.bpm:
            self._context.keep(lambda: preferences.remember_tempo(pattern, board.bpm))

    def _leave_out(self) -> None:
        """Pass over whoever is chosen for today, and hand the turn on; or call them back."""
        pupil, today = self.room.current, self._today
        if pupil is None:
            return
        if pupil.away == today:
            self._keeper.keep(self.room.left_out(pupil.name, None))
        else:
            self._keeper.keep(self.room.left_out(pupil.name, today).next(self._rng, today))

    # Turns

    def _start(self, host_ns: int) -> None:
        current, request = self.room.current, self._request()
        if self._looking is not None:
            self._take_up(self._looking)
        elif self._extra is Extra.TOGETHER:
            self._together()
        elif self._extra is Extra.WORD:
            self._count()
        elif current is None:
            self._writing = ""
        elif request is None:
            self._context.say("There is no pattern to play; thumbfall patterns says why.")
        else:
            request, name = replace(request, player=player_of(current.name)), current.name
            begin_drill(self._context, host_ns, request, lambda result: self._drilled(name, result))

    def _request(self) -> DrillRequest | None:
        preferences = self._context.preferences
        if preferences.pattern is None:
            return None
        return DrillRequest(pattern=preferences.pattern, bpm=preferences.bpm, passes=self._passes)

    def _drilled(self, name: str, result: DrillResult) -> None:
        """Put a turn on the board and hand on to the next; one waits for the teacher's word."""
        if not result.judgement.outcomes:
            return
        recorder = self._context.recorder
        turn = turn_from(result, now=self._clock(), uid=recorder.last_uid if recorder is not None else "")
        self._extra = None
        room = self.room.named(name).played(turn, name)
        self._keeper.keep(room.next(self._rng, self._today) if turn.counts else room)

    def _count(self) -> None:
        """Count the turn that waits, by the teacher's word."""
        held = self._boards.held
        if held is None:
            return
        name, turn = held
        room = self._keeper.with_word(self.room, name, turn)
        if self.room.current is not None and self.room.current.name == name:
            room = room.next(self._rng, self._today)
        self._extra = None
        self._keeper.change(room, turn)

    def _together(self) -> None:
        """Let several play at once, from the one whose turn it is on."""
        context, request, today = self._context, self._request(), self._today
        if request is None:
            return
        if context.inputs.hears_banjo:
            context.say(ONE_BANJO)
            return
        self._looking = None
        pupils = self.room.pupils[self.room.at :] + self.room.pupils[: self.room.at]
        names = tuple(pupil.name for pupil in pupils if pupil.away != today)
        context.navigation.open(
            lambda: TogetherController(
                context, request, names, self._all_played, self._all_counted, clock=self._clock
            )
        )

    def _all_played(self, played: tuple[tuple[str, Turn], ...]) -> None:
        """Put a turn of several players onto the board; who is chosen stays so."""
        room = self.room
        for name, turn in played:
            room = room.played(turn, name)
        self._keeper.keep(room)

    def _all_counted(self, played: tuple[tuple[str, Turn], ...]) -> None:
        """Count what was disturbed of a turn of several players, by the teacher's word."""
        room = self.room
        for name, turn in played:
            room = self._keeper.with_word(room, name, turn)
        self._keeper.keep(room)

    # Names

    def _act_writing(self, action: Action) -> bool:
        writing = self._writing or ""
        if action.act is Act.START:
            self._keeper.add(writing)
            self._writing = ""
        elif action.act is Act.REMOVE:
            self._writing = writing[:-1]
        elif action.act in (Act.NAMES, Act.BACK):
            self._keeper.add(writing)
            self._writing = None
        else:
            return False
        return True

    def _take_away(self, room: Classroom) -> None:
        if self.room.pupils:
            self._extra, self._looking = None, None
            self._keeper.change(room)


def open_class(context: Context, host_ns: int) -> None:
    """Show the board of the class in use, or say why none can be kept."""
    try:
        list_names()
    except TrainerError as problem:
        context.say(str(problem))
        return
    context.navigation.open(lambda: class_controller(context, host_ns))


def class_controller(context: Context, host_ns: int) -> ClassController:
    """Return the board of the class in use, kept in the file of its name."""
    name = context.preferences.settings.class_list
    path = list_path(name)
    return ClassController(
        context,
        np.random.default_rng(host_ns),
        load=lambda: load_class(path),
        save=lambda before, after: keep_class(before, after, path),
        list_name=name,
        lists=list_names(),
        forget=lambda store: forget_class_takes(store, pupils_elsewhere(name)),
    )
