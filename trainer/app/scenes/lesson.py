"""Step through a lesson: turns at each step, what they came to, and the pages of it at the end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.scenes.drill import begin_drill
from trainer.errors import TrainerError
from trainer.music.pattern import Pattern
from trainer.practice.classroom import player_of
from trainer.practice.lesson import Lesson, LessonStep
from trainer.practice.lesson_results import LessonResults, lesson_results
from trainer.practice.stored_take import StoredTake
from trainer.practice.tally import Tally
from trainer.records.class_file import load_class
from trainer.records.class_lists import list_path
from trainer.records.copies import CopyKind, note_copy
from trainer.records.documents import free_document
from trainer.records.lesson_file import read_lesson
from trainer.records.library import load_library
from trainer.screen.actions import Act, Action
from trainer.screen.lesson_page import lesson_pages, step_words
from trainer.screen.scenes.lesson import LessonView, PlayerTurn, StepRow
from trainer.screen.window import Window

Write = Callable[[LessonResults, str], Path]
"""Writes the pages of a lesson, the day in words, and returns where; raises a TrainerError when it cannot."""


class LessonController(Controller):
    """A lesson; the class takes turns at each step, or the player of the settings alone.

    Args:
        names: of the class, in order; empty when nobody is in it.
        today: gives the day.
        write: writes the pages.
    """

    def __init__(
        self,
        context: Context,
        lesson: Lesson,
        names: tuple[str, ...],
        *,
        today: Callable[[], date] = lambda: datetime.now().date(),
        write: Write | None = None,
    ) -> None:
        self._context = context
        self.lesson = lesson
        self._is_class = bool(names)
        self.names = names or (context.preferences.settings.player,)
        self._today = today
        self._write = write or write_lesson
        self._is_asked_to_leave = False
        self._held: tuple[str, str, str] | None = None  # whose take was disturbed, its uid, and by what
        self._used_ns = [0] * len(lesson.steps)
        self._since_ns: int | None = None  # since when the step is up; from the first moment on
        self.results = self._gathered()
        # Opened again on the same day it goes on where it was left.
        begun = [at for at in range(len(lesson.steps)) if any(self.results.of(at, n) for n in self.names)]
        self.at = max(begun, default=0)
        self.chosen = self._next_waiting(-1)

    @property
    def step(self) -> LessonStep:
        """The step that is up."""
        return self.lesson.steps[self.at]

    @property
    def pattern(self) -> Pattern:
        """What is played in the step, for a demonstration of it."""
        return self.step.pattern

    @property
    def request(self) -> DrillRequest:
        """The turn that comes next."""
        name = self.names[self.chosen]
        return DrillRequest(
            pattern=self.step.pattern,
            bpm=self.step.bpm,
            passes=self.step.passes_for(len(self.names)),
            player=player_of(name) if self._is_class else None,
        )

    def view(self, window: Window) -> LessonView:
        """Return the lesson as it stands."""
        passes = self.request.passes
        rows = tuple(
            StepRow(
                title=step.pattern.title,
                words=step_words(step),
                turns=sum(1 for name in self.results.players if self.results.of(at, name)),
            )
            for at, step in enumerate(self.lesson.steps)
        )
        up = rows[self.at]
        turn = f"{up.words}; a turn is {passes} pass{'es' * (passes != 1)}"
        rows = (*rows[: self.at], StepRow(title=up.title, words=turn, turns=up.turns), *rows[self.at + 1 :])
        return LessonView(
            window=window,
            title=self.lesson.title,
            steps=rows,
            at=self.at,
            words=self.step.words,
            clock=self._clock(),
            players=tuple(
                PlayerTurn(name=name, words=result_words(self.results.of(self.at, name)))
                for name in self.names
            ),
            chosen=self.chosen,
            is_held=self._held is not None,
            input_name=self._context.inputs.in_use,
            sound=self._context.sound_words,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Go to another step, give a turn, or write the pages."""
        act, value = action.act, action.value
        is_asked, self._is_asked_to_leave = self._is_asked_to_leave, act is Act.BACK
        if act is Act.BACK:
            return self._stay(is_asked=is_asked)
        if act is Act.STEP:
            self._go(self.at + value)
        elif act is Act.SELECT:
            self.chosen = min(max(value, 0), len(self.names) - 1)
        elif act is Act.START:
            begin_drill(self._context, host_ns, self.request, self._drilled)
        elif act is Act.COUNT:
            self._count()
        elif act is Act.WRITE:
            self._write_pages()
        else:
            return False
        return True

    def tick(self) -> None:
        """Let the clock of the step begin."""
        if self._since_ns is None:
            self._since_ns = self._context.now_ns

    def _stay(self, *, is_asked: bool) -> bool:
        """Ask once before the lesson is left, for a remote has a key for that; return whether it stays."""
        if not is_asked:
            self._context.say(
                "Esc once more leaves the lesson. What was played is kept; the same command goes on with it."
            )
        return not is_asked

    def _go(self, at: int) -> None:
        """Go to a step; the clock of each goes on when one comes back to it."""
        if not 0 <= at < len(self.lesson.steps) or at == self.at:
            return
        self._used_ns[self.at] = self._up_ns()
        self._since_ns = None
        self.at = at
        self.chosen = self._next_waiting(-1)

    def _drilled(self, result: DrillResult) -> None:
        """Take in a turn, and hand on to the next who has had none at this step."""
        recorder = self._context.recorder
        if result.not_graded:
            uid = recorder.last_uid if recorder is not None else ""
            self._held = (self.names[self.chosen], uid, result.not_graded) if uid else None
            word = " G counts it by your word, and it stays marked." if uid else ""
            self._context.say(f"This turn was disturbed and does not count: {result.not_graded}.{word}")
            return
        self._held = None
        self._look_up(self.names[self.chosen])
        if result.bpm != self.step.bpm and self.results.of(self.at, self.names[self.chosen]) is None:
            self._context.say("The tempo was changed, so this turn is kept but is none of the lesson's step.")
            return
        self.chosen = self._next_waiting(self.chosen)

    def _count(self) -> None:
        """Count the turn that was disturbed, by the teacher's word."""
        recorder, held = self._context.recorder, self._held
        if recorder is None or held is None:
            return
        self._held = None
        name, uid, why = held
        note = recorder.count_by_word(uid, why)
        if note:
            self._context.say(note)
        self._look_up(name)
        if self.names[self.chosen] == name:
            self.chosen = self._next_waiting(self.chosen)

    def _next_waiting(self, after: int) -> int:
        """Return the place of the next who has had no turn at this step; the same where all have had one."""
        waiting = [at for at, name in enumerate(self.names) if self.results.of(self.at, name) is None]
        later = [at for at in waiting if at > after]
        return (later or waiting or [max(after, 0)])[0]

    def _gathered(self) -> LessonResults:
        """Return what was played of the lesson today, by those who are in it."""
        takes = [take for name in self.names for take in self._takes_of(name)]
        return lesson_results(self.lesson, self._today().toordinal(), takes, self.names)

    def _look_up(self, name: str) -> None:
        """Take in what one player has played; the others' takes need not be judged again."""
        fresh = lesson_results(self.lesson, self.results.day, self._takes_of(name), (name,))
        others = {key: tally for key, tally in self.results.tallies.items() if key[1] != name}
        self.results = replace(self.results, tallies={**others, **fresh.tallies})

    def _takes_of(self, name: str) -> list[StoredTake]:
        """Return what a player has played on the day of the lesson."""
        store = self._context.store
        if store is None:
            return []
        player = player_of(name) if self._is_class else name
        unread: list[int] = []
        try:
            return list(store.each_take(player=player, day=self._today().toordinal(), unread=unread))
        except TrainerError as problem:
            self._context.say(str(problem))
            return []

    def _up_ns(self) -> int:
        """Return how long the step has been up by now, all times together."""
        since_ns = 0 if self._since_ns is None else self._context.now_ns - self._since_ns
        return self._used_ns[self.at] + since_ns

    def _clock(self) -> str:
        used_s = self._up_ns() // 1_000_000_000
        return f"{used_s // 60}:{used_s % 60:02d} of {float(self.step.minutes):g} min"

    def _write_pages(self) -> None:
        if not self.results.tallies:
            self._context.say("Nothing of this lesson was played today, so there is nothing to write.")
            return
        try:
            path = self._write(self.results, self._today().isoformat())
        except TrainerError as problem:
            self._context.say(str(problem))
            return
        self._context.say(f"What the lesson came to is in {path}: the class, and a page for each who played.")


def result_words(tally: Tally | None) -> str:
    """Return what the turns of one player came to, in a few words; empty without a turn."""
    if tally is None:
        return ""
    words = f"{tally.clean} of {tally.asked}{' by word' if tally.by_word else ''}"
    if tally.placement.mean_s is None:
        return words
    ms = round(1000 * tally.placement.mean_s)
    side = "early" if ms < 0 else "late"
    return f"{words}, {abs(ms)} ms {side}" if ms else f"{words}, on the click"


def write_lesson(results: LessonResults, day: str) -> Path:
    """Write the pages of a lesson into the user's documents: a PDF, or PNGs without its library.

    Raises:
        TrainerError: the folder cannot be written, or neither library is there.
    """
    from trainer.screen.paper import can_write_pdf, write_pages  # loads the libraries that draw

    stem = f"{results.lesson.title} {day}"
    path = free_document(stem, ".pdf" if can_write_pdf() else ".png")
    written = write_pages(lesson_pages(results, day), path, title=results.lesson.title)
    for each in written:
        note_copy(CopyKind.PAGE, each)
    return written[0]


def open_lesson(context: Context, path: Path) -> None:
    """Show a lesson's first step."""
    lesson = read_lesson(path, load_library())
    room, note = load_class(list_path(context.preferences.settings.class_list))
    if note:
        context.say(note)
    context.navigation.open(lambda: LessonController(context, lesson, room.names))
