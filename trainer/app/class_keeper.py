"""Keep a class as it changes, with the change that can be taken back, and what is marked in the records."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from trainer.app.context import Context
from trainer.errors import TrainerError
from trainer.practice.classroom import Classroom, read_names
from trainer.practice.turns import Turn

CSV_STEM = "thumbfall-class"
Save = Callable[[Classroom, Classroom], tuple[Classroom, str]]
"""Keeps a class, as it was kept last and as it is now; returns it as it is kept, and what is to be said."""


class ClassKeeper:
    """A class and its file; from the app's thread only.

    Attributes:
        room: the class as it is now.
    """

    def __init__(
        self, context: Context, room: Classroom, *, save: Save, write: Callable[[Classroom, str], Path]
    ) -> None:
        self.room = room
        self._context = context
        self._save = save
        self._write = write
        self._kept = room
        self._before: Classroom | None = None
        self._word: Turn | None = None  # counted by the last change, for it to be taken back

    @property
    def can_undo(self) -> bool:
        """Whether there is a change that can be taken back."""
        return self._before is not None

    def keep(self, room: Classroom, *, is_small: bool = False) -> None:
        """Keep the class as it is now; a change before this one cannot be taken back any more.

        Args:
            is_small: whether nothing is lost when the change before it is taken back all the same.
        """
        self.room = room
        if not is_small:
            self._before, self._word = None, None
        try:
            self.room, note = self._save(self._kept, room)
        except TrainerError as problem:
            note = str(problem)
        else:
            self._kept = self.room
        if note:
            self._context.say(note)

    def remember(self) -> None:
        """Keep who is chosen."""
        if self.room.at != self._kept.at:
            self.keep(self.room, is_small=True)

    def change(self, room: Classroom, word: Turn | None = None) -> None:
        """Keep a change that can be taken back.

        Args:
            word: a turn that it has counted by the teacher's word.
        """
        before = self.room
        self.keep(room)
        self._before, self._word = before, word

    def undo(self) -> None:
        """Take the last change back, in the records too."""
        before, word = self._before, self._word
        if before is None:
            return
        self.keep(before)
        if word is not None and self._context.recorder is not None:
            self._context.recorder.count_by_word(word.uid, "")

    def with_word(self, room: Classroom, name: str, turn: Turn) -> Classroom:
        """Return a class in which a disturbed turn counts by the teacher's word, and mark its take."""
        recorder = self._context.recorder
        note = recorder.count_by_word(turn.uid, turn.disturbed) if recorder is not None else ""
        if note:
            self._context.say(note)
        return room.with_word(name, turn.uid, by_word=True)

    def add(self, text: str) -> None:
        """Take in the names of a text."""
        named = read_names(text)
        if not named:
            return
        before = len(self.room.pupils)
        self.keep(self.room.with_names(named))
        missing = before + len(named) - len(self.room.pupils)
        if missing:
            self._context.say(f"The class is full: {missing} of these names were left out.")

    def write(self) -> None:
        """Write the class into a file for people, and say where."""
        if not self.room.pupils:
            return
        try:
            self._context.say(f"The class is written to {self._write(self.room, CSV_STEM)}.")
        except TrainerError as problem:
            self._context.say(str(problem))
