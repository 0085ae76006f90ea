"""Say where a player stands in the course: what is clean, what is ready, and what should come first.

Nothing is ever locked: this is advice. Clean enough to go on means clean half way between a pattern's slow
tempo and its goal; the goal counts as reached when it was clean at the goal tempo twice, on different days or
with another pattern played in between (both are common practice, no source; that what was learnt is better
asked for later and at the tempo itself is in line with Slayton et al. 2020).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.pattern import Pattern


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """One tempo of one take, played long enough to say whether it was clean.

    Attributes:
        pattern: its name.
        bpm: the tempo.
        clean: whether enough passes in a row were.
        day: any count of days, the same everywhere (``datetime.date.toordinal``).
        order: grows from rung to rung over all patterns.
    """

    pattern: str
    bpm: Fraction
    clean: bool
    day: int
    order: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What should be clean first, and at which tempo."""

    pattern: str
    title: str
    bpm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a player stands with one pattern.

    Attributes:
        pattern: its name.
        fastest_clean_bpm: the fastest tempo it was clean at; None for never.
        clean_enough: clean half way to the goal or faster, so that what needs it is ready.
        goal_reached: clean at the goal twice, apart from each other.
        at_playing_tempo: clean as fast as it is played in company; never where no such tempo is known.
        ready: nothing should come first, or it is clean enough already.
        waits_for: what should, in the order the pattern names it.
        last_order: ``order`` of its latest rung, clean or not; None for never played.
    """

    pattern: str
    fastest_clean_bpm: Fraction | None
    clean_enough: bool
    goal_reached: bool
    ready: bool
    waits_for: tuple[Need, ...]
    last_order: int | None
    at_playing_tempo: bool = False

    def in_words(self) -> str:
        """Return "ready", or what comes first."""
        if self.ready:
            return "ready"
        return "first: " + "; ".join(f"{n.title}, clean at {_whole(n.bpm)}" for n in self.waits_for)


def enough_bpm(pattern: Pattern) -> Fraction:
    """Return the tempo that is clean enough to go on: half way to the goal, a whole number."""
    half_way = (pattern.slow_bpm + pattern.goal_bpm) / 2
    return min(max(Fraction(round(half_way)), pattern.slow_bpm), pattern.goal_bpm)


def standings(patterns: Sequence[Pattern], rungs: Iterable[Rung]) -> Mapping[str, Standing]:
    """Return where a player stands with each pattern, by name.

    Needs that name no pattern here, or the pattern itself, are passed over; patterns that need each other
    both wait, and can be played all the same. Cost: about linear in the rungs.
    """
    rows = sorted(rungs, key=lambda rung: rung.order)
    orders = [rung.order for rung in rows]
    by_name: dict[str, list[Rung]] = {pattern.name: [] for pattern in patterns}
    for rung in rows:
        if rung.pattern in by_name:
            by_name[rung.pattern].append(rung)
    fastest = {
        name: max((rung.bpm for rung in mine if rung.clean), default=None) for name, mine in by_name.items()
    }
    known = {pattern.name: pattern for pattern in patterns}
    enough = {name: _reaches(fastest[name], enough_bpm(pattern)) for name, pattern in known.items()}
    result = {}
    for pattern in patterns:
        mine = by_name[pattern.name]
        waits_for = () if enough[pattern.name] else _waits_for(pattern, known, enough)
        at_goal = [rung for rung in mine if rung.clean and rung.bpm >= pattern.goal_bpm]
        result[pattern.name] = Standing(
            pattern=pattern.name,
            fastest_clean_bpm=fastest[pattern.name],
            clean_enough=enough[pattern.name],
            goal_reached=_are_apart(at_goal, mine, orders),
            ready=not waits_for,
            waits_for=waits_for,
            last_order=mine[-1].order if mine else None,
            at_playing_tempo=pattern.playing_bpm is not None
            and _reaches(fastest[pattern.name], pattern.playing_bpm),
        )
    return result


def course_after(
    pattern: Pattern, patterns: Sequence[Pattern], standings: Mapping[str, Standing]
) -> Pattern | None:
    """Return what comes next in the course: the first after a pattern that is ready and not clean enough yet.

    After the last it goes on from the first. What waits for the pattern alone is ready: it was just played.

    Args:
        patterns: in the order of the course; the levels of a break one after another.
        standings: of them, from :func:`standings`; one without a standing is passed over.

    Returns:
        None for a pattern that is not among them (bars cut out of one), and where all are clean.
    """
    names = [each.name for each in patterns]
    if pattern.name not in names:
        return None
    at = names.index(pattern.name)
    for each in (*patterns[at + 1 :], *patterns[:at]):
        standing = standings.get(each.name)
        if standing is None or standing.clean_enough:
            continue
        if all(need.pattern == pattern.name for need in standing.waits_for):
            return each
    return None


def _waits_for(
    pattern: Pattern, known: Mapping[str, Pattern], enough: Mapping[str, bool]
) -> tuple[Need, ...]:
    return tuple(
        Need(pattern=need, title=known[need].title, bpm=enough_bpm(known[need]))
        for need in dict.fromkeys(pattern.needs)
        if need in known and need != pattern.name and not enough[need]
    )


def _are_apart(at_goal: Sequence[Rung], mine: Sequence[Rung], orders: Sequence[int]) -> bool:
    """Return whether two rungs are on different days or have another pattern's between them.

    If any two are apart, the first and the last are. Between those lie more rungs than the pattern's own
    exactly when another pattern was played.
    """
    if len(at_goal) < 2:
        return False
    if len({rung.day for rung in at_goal}) > 1:
        return True
    first, last = at_goal[0].order, at_goal[-1].order
    own = sum(1 for rung in mine if first <= rung.order <= last)
    return bisect_right(orders, last) - bisect_left(orders, first) > own


def _reaches(bpm: Fraction | None, wanted: Fraction) -> bool:
    return bpm is not None and bpm >= wanted


def _whole(bpm: Fraction) -> str:
    return f"{float(bpm):.1f}".removesuffix(".0")
