"""Say how a tune is put together: parts that are played several times, with endings and pickups.

A pattern holds its bars as they are played, repeats written out, so nothing that plays or judges needs to
know of the form. The form tells where they come from. A pickup lies in the last slots of the bar before it,
as it does in written music, where that bar is as much shorter; so it leads into every pass but the first,
before which it lies in the count-in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

Item = TypeVar("Item")
Bars = tuple[tuple[Item, ...], ...]

MOST_TIMES = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a tune.

    Attributes:
        name: such as ``A``; empty where the whole tune is one part and only has a pickup.
        bars: how many are written before the endings.
        times: how often it is played, 1 to 4.
        endings: how many bars each time has at its end; empty when all times are alike, else one for each.
        pickup: slots before its first bar that belong to it; they are the last of the bar before.
    """

    name: str
    bars: int
    times: int = 1
    endings: tuple[int, ...] = ()
    pickup: int = 0

    def __post_init__(self) -> None:
        """Refuse a part that cannot be played (a broken promise in our code, not user input)."""
        ends = len(self.endings) in (0, self.times) and all(bars > 0 for bars in self.endings)
        if not (self.bars > 0 and 1 <= self.times <= MOST_TIMES and ends and self.pickup >= 0):
            raise ValueError(f"no part is {self}")

    @property
    def played(self) -> int:
        """How many bars are played."""
        return self.times * self.bars + sum(self.endings)

    @property
    def written(self) -> int:
        """How many bars are written."""
        return self.bars + sum(self.endings)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedBar:
    """Where a bar that is played comes from.

    Attributes:
        part: which part, from 0.
        time: which time it is played, from 0.
        bar: which bar of the part as it is played that time, from 0.
        written: which bar of the whole tune as it is written, from 0.
        ending: whether it lies in an ending of its own.
        is_last: whether the part, or this time of it, ends with it.
    """

    part: int
    time: int
    bar: int
    written: int
    ending: bool
    is_last: bool


def played_bars(parts: Sequence[Part]) -> tuple[PlayedBar, ...]:
    """Return where each bar that is played comes from, in order."""
    found = []
    first = 0
    for at, part in enumerate(parts):
        for time in range(part.times):
            ending = part.endings[time] if part.endings else 0
            before = sum(part.endings[:time])
            length = part.bars + ending
            for bar in range(length):
                is_ending = bar >= part.bars
                found.append(
                    PlayedBar(
                        part=at,
                        time=time,
                        bar=bar,
                        written=first + bar + (before if is_ending else 0),
                        ending=is_ending,
                        is_last=bar == length - 1,
                    )
                )
        first += part.written
    return tuple(found)


def pickup_after(parts: Sequence[Part], played: PlayedBar) -> int:
    """Return how many slots of a bar that ends a part belong to the pickup of what is played next."""
    if not played.is_last:
        return 0
    again = played.time < parts[played.part].times - 1
    return parts[played.part if again else (played.part + 1) % len(parts)].pickup


def whole_form(bars: int) -> tuple[Part, ...]:
    """Return the form of a tune that says nothing of one."""
    return (Part(name="", bars=bars),)


def kept_form(parts: Sequence[Part], bars: Bars[Item]) -> tuple[Part, ...]:
    """Return a form in which times that are not played alike stand as parts of their own.

    What is laid over a tune may differ from time to time: then the repeat is written out, under the same
    name.
    """
    kept: list[Part] = []
    turns = played_bars(parts)
    for index, part in enumerate(parts):
        own = [at for at, played in enumerate(turns) if played.part == index]
        if _is_alike(parts, turns, bars, own):
            kept.append(part)
        else:
            ends = part.endings or (0,) * part.times
            kept += [replace(part, bars=part.bars + end, times=1, endings=()) for end in ends]
    return tuple(kept)


def _is_alike(
    parts: Sequence[Part], turns: Sequence[PlayedBar], bars: Bars[Item], own: Sequence[int]
) -> bool:
    """Return whether each written bar of a part, and its pickup, is the same each time."""
    first: dict[int, tuple[Item, ...]] = {}
    for at in own:
        played, bar = turns[at], bars[at]
        pickup = parts[played.part].pickup
        if played.bar == 0 and pickup:
            lead = bars[at - 1][len(bar) - pickup :]
            if first.setdefault(-1, lead) != lead:
                return False
        rest = bar[: len(bar) - pickup_after(parts, played)]
        if first.setdefault(played.written, rest) != rest:
            return False
    return True
