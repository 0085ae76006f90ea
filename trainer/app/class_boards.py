"""Work out what the board of a class shows, once for each change: of thousands of turns it shows a few."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.pattern import Pattern
from trainer.practice.classroom import Classroom
from trainer.practice.turns import Board, Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Boards:
    """The boards of a class as it stands.

    Attributes:
        source: the class; ``now`` the board on which turns go now, ``looking`` an older one that is looked
            at instead, each None for none.
        every: all boards, the oldest first, that of now among them.
        room: the class with the turns of the board that is shown alone.
        held: who waits for the teacher's word on the board of now, and the turn; None for nobody.
        title, level: of what the board that is shown holds.
    """

    source: Classroom
    now: Board | None
    looking: Board | None
    every: tuple[Board, ...]
    room: Classroom
    held: tuple[str, Turn] | None
    title: str
    level: str

    @classmethod
    def of(cls, room: Classroom, pattern: Pattern | None, now: Board | None, looking: Board | None) -> Boards:
        """Return them.

        Args:
            pattern: what turns play now.
        """
        every = room.boards
        if now is not None and now not in every:
            every = (*every, now)
        shown = looking or now
        on_board = room.on(shown) if shown is not None else room
        title, level = (pattern.title, pattern.level.value) if pattern is not None else ("", "")
        if looking is not None:
            turns = [turn for pupil in on_board.pupils for turn in pupil.turns]
            title, level = (turns[0].title or looking.pattern, turns[0].level) if turns else ("", "")
        held = room.held(now) if now is not None and looking is None else None
        return cls(
            source=room,
            now=now,
            looking=looking,
            every=every,
            room=on_board,
            held=held,
            title=title,
            level=level,
        )

    @property
    def shown(self) -> Board | None:
        """The board that is shown."""
        return self.looking or self.now

    @property
    def number(self) -> int:
        """Which of all it is, from 1."""
        return self.every.index(self.shown) + 1 if self.shown in self.every else 1

    def beside(self, steps: int) -> Board | None:
        """Return the board some steps on, round; None for that of now."""
        if self.shown is None:
            return None
        found = self.every[(self.number - 1 + steps) % len(self.every)]
        return None if found == self.now else found

    def hold_for(self, room: Classroom, now: Board | None, looking: Board | None) -> bool:
        """Return whether they are still those of a class."""
        return room is self.source and (now, looking) == (self.now, self.looking)
