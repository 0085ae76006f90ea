"""Keep a class: names, whose turn it is, what each turn came to, and nothing that ranks unless asked.

A value throughout: each change gives a new class, so that the last one can be brought back.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Verdict

MOST_NAMES = 60
LONGEST_NAME = 24
OF_CLASS = " (class)"
MOST_DOTS = 200  # of a turn, on the board
CSV_COLUMNS = (
    "name", "turn", "pattern", "bpm", "strokes_asked", "strokes_clean", "mean_ms", "spread_ms",
    "gaps_rushed", "skips_touched",
)  # fmt: skip


class Order(enum.Enum):
    """Whose turn comes next; the value is what the screen says."""

    LISTED = "in order"
    RANDOM = "at random"


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What one turn of one player came to.

    Attributes:
        pattern, bpm: what was played.
        asked, clean: strokes judged, and those as asked.
        mean_s, spread_s: of the placements, late positive; None with too few taps.
        rushed, touched: gaps cut short and skips touched.
        placements_s: where the taps fell, in order; ``verdicts`` what was made of the same strokes.
    """

    pattern: str
    bpm: Fraction
    asked: int
    clean: int
    mean_s: float | None
    spread_s: float | None
    rushed: int
    touched: int
    placements_s: tuple[float, ...] = ()
    verdicts: tuple[Verdict, ...] = ()

    @property
    def in_words(self) -> str:
        """The turn in a few words for the board."""
        words = [f"{self.clean} of {self.asked}"]
        if self.touched:
            words.append(f"{self.touched} touched")
        if self.rushed:
            words.append(f"{self.rushed} rushed")
        return ", ".join(words)


def turn_of(judgement: Judgement, *, pattern: str, bpm: Fraction) -> Turn:
    """Return what a take came to."""
    summary = summarise(judgement)
    placed = [(o.placement_s, o.verdict) for o in judgement.outcomes if o.placement_s is not None][:MOST_DOTS]
    return Turn(
        pattern=pattern,
        bpm=bpm,
        asked=summary.asked,
        clean=summary.clean,
        mean_s=summary.placement.mean_s,
        spread_s=summary.placement.spread_s,
        rushed=summary.rushed_gaps,
        touched=dict(summary.counts).get(Verdict.TOUCHED, 0),
        placements_s=tuple(placement for placement, _ in placed),
        verdicts=tuple(verdict for _, verdict in placed),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pupil:
    """One name and its turns, the latest last."""

    name: str
    turns: tuple[Turn, ...] = ()


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

    def played(self, turn: Turn) -> Classroom:
        """Return the class with a turn added to whose turn it is."""
        if self.current is None:
            return self
        pupil = replace(self.current, turns=(*self.current.turns, turn))
        return replace(self, pupils=(*self.pupils[: self.at], pupil, *self.pupils[self.at + 1 :]))

    def next(self, rng: np.random.Generator) -> Classroom:
        """Return the class with the turn handed on: nobody has a second turn before all have had a first."""
        if not self.pupils:
            return self
        fewest = min(len(pupil.turns) for pupil in self.pupils)
        waiting = [at for at, pupil in enumerate(self.pupils) if len(pupil.turns) == fewest]
        if self.order is Order.RANDOM:
            others = [at for at in waiting if at != self.at] or waiting
            return replace(self, at=others[int(rng.integers(len(others)))])
        after = [at for at in waiting if at > self.at]
        return replace(self, at=(after or waiting)[0])

    def with_order(self, order: Order) -> Classroom:
        """Return the class with another order of turns."""
        return replace(self, order=order)


def player_of(name: str) -> str:
    """Return under which player a class's takes are kept, apart from those of anybody's own practice."""
    return f"{name}{OF_CLASS}"


def is_of_class(player: str) -> bool:
    """Return whether a player's takes come from a class."""
    return player.endswith(OF_CLASS)


def board_order(pupils: Sequence[Pupil], *, ranked: bool) -> tuple[int, ...]:
    """Return the places of the pupils as the board lists them.

    Args:
        ranked: by the share of clean strokes in the last turn, then by spread; those without a turn last.
            Otherwise as they were named.
    """
    places = range(len(pupils))
    return tuple(sorted(places, key=lambda at: (_rank(pupils[at]), at))) if ranked else tuple(places)


def _rank(pupil: Pupil) -> tuple[bool, float, float]:
    turn = pupil.turns[-1] if pupil.turns else None
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


def csv_rows(room: Classroom) -> tuple[tuple[str, ...], ...]:
    """Return the class as rows of text, the columns' names first; milliseconds to a tenth, late positive."""
    rows: list[tuple[str, ...]] = [CSV_COLUMNS]
    for pupil in room.pupils:
        for number, turn in enumerate(pupil.turns, start=1):
            counts = (turn.asked, turn.clean)
            placed = (_ms(turn.mean_s), _ms(turn.spread_s))
            head = (pupil.name, str(number), turn.pattern, f"{float(turn.bpm):g}")
            rows.append((*head, *map(str, counts), *placed, str(turn.rushed), str(turn.touched)))
        if not pupil.turns:
            rows.append((pupil.name, *[""] * (len(CSV_COLUMNS) - 1)))
    return tuple(rows)


def _ms(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds * 1000:.1f}"
