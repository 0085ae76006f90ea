"""Keep a class: names, whose turn it is, the turns of each, and nothing that ranks unless asked.

A value throughout: each change gives a new class, so that the last one can be brought back.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trainer.practice.turns import Board, Turn, boards_of

MOST_NAMES = 60
LONGEST_NAME = 24
OF_CLASS = " (class)"


class Order(enum.Enum):
    """Whose turn comes next; the value is what the screen says."""

    LISTED = "in order"
    RANDOM = "at random"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pupil:
    """One name and its turns, the latest last.

    Attributes:
        away: the day on which it is left out, as a proleptic ordinal; None for never.
    """

    name: str
    turns: tuple[Turn, ...] = ()
    away: int | None = None

    def on(self, board: Board) -> tuple[Turn, ...]:
        """Return the turns on one board, the latest last."""
        return tuple(
            turn
            for turn in self.turns
            if (turn.day, turn.pattern) == (board.day, board.pattern) and turn.bpm == board.bpm
        )

    def counted(self, board: Board) -> tuple[Turn, ...]:
        """Return the turns on one board that count, the latest last."""
        return tuple(turn for turn in self.on(board) if turn.counts)

    def held(self, board: Board) -> Turn | None:
        """Return the latest turn on a board if it waits for the teacher's word; None for none."""
        turns = self.on(board)
        return turns[-1] if turns and not turns[-1].counts else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Classroom:
    """A class as it stands.

    Attributes:
        pupils: in the order in which they were named.
        at: whose turn it is, a place among ``pupils``; ignored while there are none.
        order: how the next turn is found.
    """

    pupils: tuple[Pupil, ...] = ()
    at: int = 0
    order: Order = Order.LISTED

    @property
    def names(self) -> tuple[str, ...]:
        """All names, in order."""
        return tuple(pupil.name for pupil in self.pupils)

    @property
    def current(self) -> Pupil | None:
        """Whose turn it is; None while there are no names."""
        return self.pupils[self.at] if self.pupils else None

    def with_names(self, names: Iterable[str]) -> Classroom:
        """Return the class with more names; one that is there already gets a number after it."""
        pupils = list(self.pupils)
        for name in names:
            if len(pupils) >= MOST_NAMES:
                break
            pupils.append(Pupil(name=_unused(name, [pupil.name for pupil in pupils])))
        return replace(self, pupils=tuple(pupils))

    def without(self, at: int) -> Classroom:
        """Return the class without one of its pupils."""
        pupils = self.pupils[:at] + self.pupils[at + 1 :]
        return replace(self, pupils=pupils, at=max(0, min(self.at, len(pupils) - 1)))

    def chosen(self, at: int) -> Classroom:
        """Return the class with the turn given to one of its pupils."""
        return replace(self, at=min(max(at, 0), max(len(self.pupils) - 1, 0)))

    def named(self, name: str) -> Classroom:
        """Return the class with the turn given to whoever has a name; as it is where nobody has."""
        return self.chosen(self.names.index(name)) if name in self.names else self

    def played(self, turn: Turn, name: str | None = None) -> Classroom:
        """Return the class with a turn added to whose turn it is, or to whoever has a name."""
        return self._changed(name, lambda pupil: replace(pupil, turns=(*pupil.turns, turn)))

    def with_word(self, name: str, uid: str, *, by_word: bool) -> Classroom:
        """Return the class with a disturbed turn of somebody counted by the teacher's word, or not."""

        def said(pupil: Pupil) -> Pupil:
            turns = (replace(t, by_word=by_word) if t.uid == uid and t.disturbed else t for t in pupil.turns)
            return replace(pupil, turns=tuple(turns))

        return self._changed(name, said)

    def left_out(self, name: str, day: int | None) -> Classroom:
        """Return the class with somebody left out on a day, or with None not any more."""
        return self._changed(name, lambda pupil: replace(pupil, away=day))

    def next(self, rng: np.random.Generator, day: int | None = None) -> Classroom:
        """Return the class with the turn handed on: nobody has a second turn before all have had a first.

        Args:
            day: the turns of this day are counted, and who is left out on it is passed over; None counts all.
        """
        here = [at for at, pupil in enumerate(self.pupils) if day is None or pupil.away != day]
        if not here:
            return self
        had = {at: sum(day is None or turn.day == day for turn in self.pupils[at].turns) for at in here}
        waiting = [at for at in here if had[at] == min(had.values())]
        if self.order is Order.RANDOM:
            others = [at for at in waiting if at != self.at] or waiting
            return replace(self, at=others[int(rng.integers(len(others)))])
        after = [at for at in waiting if at > self.at]
        return replace(self, at=(after or waiting)[0])

    @property
    def boards(self) -> tuple[Board, ...]:
        """All boards there are, in the order in which they were opened."""
        return boards_of(turn for pupil in self.pupils for turn in pupil.turns)

    def on(self, board: Board) -> Classroom:
        """Return the class with the turns of one board alone."""
        return replace(self, pupils=tuple(replace(pupil, turns=pupil.on(board)) for pupil in self.pupils))

    def held(self, board: Board) -> tuple[str, Turn] | None:
        """Return who waits for the teacher's word on a board, and the turn; the latest, None for nobody."""
        waiting = [(pupil.name, turn) for pupil in self.pupils if (turn := pupil.held(board)) is not None]
        return max(waiting, key=lambda each: each[1].begun, default=None)

    def _changed(self, name: str | None, change: Callable[[Pupil], Pupil]) -> Classroom:
        at = self.at if name is None else self.names.index(name) if name in self.names else -1
        if not 0 <= at < len(self.pupils):
            return self
        return replace(self, pupils=(*self.pupils[:at], change(self.pupils[at]), *self.pupils[at + 1 :]))

    def with_order(self, order: Order) -> Classroom:
        """Return the class with another order of turns."""
        return replace(self, order=order)


def player_of(name: str) -> str:
    """Return under which player a class's takes are kept, apart from those of anybody's own practice."""
    return f"{name}{OF_CLASS}"


def pupil_of(player: str) -> str:
    """Return the name of the pupil whose takes are kept under a player; empty for anybody else's."""
    return player.removesuffix(OF_CLASS) if is_of_class(player) else ""


def is_of_class(player: str) -> bool:
    """Return whether a player's takes come from a class."""
    return player.endswith(OF_CLASS)


def board_order(pupils: Sequence[Pupil], board: Board, *, ranked: bool) -> tuple[int, ...]:
    """Return the places of the pupils as a board lists them.

    Args:
        ranked: by the share of clean strokes in the last turn that counts, then by spread; those without
            a turn last. Otherwise as they were named.
    """
    places = range(len(pupils))
    if not ranked:
        return tuple(places)
    return tuple(sorted(places, key=lambda at: (_rank(pupils[at].counted(board)), at)))


def _rank(turns: Sequence[Turn]) -> tuple[bool, float, float]:
    turn = turns[-1] if turns else None
    if turn is None or not turn.asked:
        return (True, 0.0, 0.0)
    return (False, -turn.clean / turn.asked, turn.spread_s if turn.spread_s is not None else 1.0)


def read_names(text: str) -> tuple[str, ...]:
    """Return the names in a text: one a line, or parted by commas or semicolons.

    Control characters and doubled spaces go, a long name is cut, an empty one left out.
    """
    parts = text.replace(";", "\n").replace(",", "\n").replace("\t", "\n").splitlines()
    cleaned = (" ".join("".join(c if c.isprintable() else " " for c in part).split()) for part in parts)
    return tuple(name[:LONGEST_NAME].strip() for name in cleaned if name)


def _unused(name: str, taken: Sequence[str]) -> str:
    number = 2
    found = name
    while found in taken:
        found = f"{name[: LONGEST_NAME - 3]} {number}"
        number += 1
    return found
