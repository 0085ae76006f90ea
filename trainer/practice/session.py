"""Keep a session varied and broken by rests: about three minutes a figure, a break after 25 minutes.

Figures are mixed: one being learnt, one to refresh, one that is new and ready, and round again. Rotating
every three minutes or so was mostly favoured over blocks of twelve where raters heard a difference (Carter &
Grahn 2016, ten players; a study with beginners found none), so it is offered and nothing is promised. A break
of five minutes after 25 of playing is the advice of guides for players (Klickstein, The Musician's Way).

Only playing counts. ``now_s`` is any clock in seconds that goes on while the program waits. The caller shows
the words between drills, never in one.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from trainer.music.pattern import Pattern
from trainer.practice.course import Standing

ROTATE_S = 180.0
BREAK_AFTER_S = 1500.0
BREAK_S = 300.0
KEPT_RECENT = 8


class Role(enum.Enum):
    """Why a figure is suggested; the value is how it is said."""

    LEARNING = "the one you are learning"
    REFRESH = "one to refresh"
    NEW = "a new one"


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """How long was played, and what: a value, replaced when a drill starts and when it ends.

    Attributes:
        played_s: seconds of playing since the last break.
        total_s: seconds of playing since the session began.
        pattern: name of the figure played last; empty before the first.
        here_s: seconds of playing on it without another in between.
        recent: names of the latest figures, each time one was begun, the latest last.
        playing_since_s: when the drill that runs began; None between drills.
        stopped_at_s: when the last one ended; None before.
    """

    played_s: float = 0.0
    total_s: float = 0.0
    pattern: str = ""
    here_s: float = 0.0
    recent: tuple[str, ...] = ()
    playing_since_s: float | None = None
    stopped_at_s: float | None = None

    def started(self, now_s: float, pattern: str) -> Session:
        """Return the session once a drill of a pattern has begun; one that still ran ends with it."""
        before = self.stopped(now_s)
        if before.has_rested(now_s):
            before = replace(before, played_s=0.0)
        if pattern != before.pattern:
            recent = (*before.recent, pattern)[-KEPT_RECENT:]
            before = replace(before, pattern=pattern, here_s=0.0, recent=recent)
        return replace(before, playing_since_s=now_s)

    def stopped(self, now_s: float) -> Session:
        """Return the session once the drill is over; nothing changes when none runs."""
        if self.playing_since_s is None:
            return self
        # A clock that was set back must not take time away.
        more_s = max(0.0, now_s - self.playing_since_s)
        return replace(
            self,
            played_s=self.played_s + more_s,
            total_s=self.total_s + more_s,
            here_s=self.here_s + more_s,
            playing_since_s=None,
            stopped_at_s=now_s,
        )

    def has_rested(self, now_s: float) -> bool:
        """Return whether the pause since the last drill is as long as a break."""
        return (
            self.playing_since_s is None
            and self.stopped_at_s is not None
            and now_s - self.stopped_at_s >= BREAK_S
        )

    def is_break_due(self, now_s: float) -> bool:
        """Return whether it is time for a break; never while a drill runs."""
        return self.playing_since_s is None and self.played_s >= BREAK_AFTER_S and not self.has_rested(now_s)

    def is_time_to_rotate(self, now_s: float) -> bool:
        """Return whether another figure should follow; never while a drill runs."""
        return self.playing_since_s is None and self.here_s >= ROTATE_S and not self.has_rested(now_s)

    def in_words(self, now_s: float, suggestion: Suggestion | None) -> str:
        """Return what to say between drills: the break, or what to play next; empty while a drill runs."""
        if self.playing_since_s is not None:
            return ""
        if self.is_break_due(now_s):
            return f"{_minutes(self.played_s)} of playing: rest for {_minutes(BREAK_S)}"
        if suggestion is None:
            return ""
        next_words = f"{suggestion.title}, {suggestion.role.value} (N)"
        if self.is_time_to_rotate(now_s):
            return f"{_minutes(self.here_s)} here: next {next_words}"
        return f"{'then' if self.pattern else 'begin with'} {next_words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One drill that was played: its figure, and when it began and ended on the session's clock."""

    pattern: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """The figure to play next, and why."""

    pattern: str
    title: str
    role: Role


def session_of(stretches: Iterable[Stretch]) -> Session:
    """Return the session that some drills make, in order: how a program that was closed remembers."""
    session = Session()
    for stretch in stretches:
        session = session.started(stretch.start_s, stretch.pattern).stopped(stretch.end_s)
    return session


def suggest(
    session: Session, patterns: Sequence[Pattern], standings: Mapping[str, Standing]
) -> Suggestion | None:
    """Return what to play next; None when there is nothing but the figure just played.

    Args:
        patterns: in the order of the course.
        standings: of all of them, from :func:`trainer.practice.course.standings`.
    """
    others = [pattern for pattern in patterns if pattern.name != session.pattern]
    by_role = {role: _first_of(role, others, standings, session.recent) for role in Role}
    now = standings.get(session.pattern)
    for role in _roles_after(_role_of(now) if now is not None else None):
        found = by_role[role]
        if found is not None:
            return Suggestion(pattern=found.name, title=found.title, role=role)
    if not others:
        return None
    # Everything else is new and waits for something; nothing is locked.
    return Suggestion(pattern=others[0].name, title=others[0].title, role=Role.NEW)


def _roles_after(role: Role | None) -> tuple[Role, ...]:
    order = tuple(Role)
    if role is None:
        return order
    at = order.index(role) + 1
    return order[at:] + order[:at]


def _role_of(standing: Standing) -> Role:
    """Return what a figure is to its player: refreshed once its goal is reached, new before it was played."""
    if standing.goal_reached:
        return Role.REFRESH
    return Role.NEW if standing.last_order is None else Role.LEARNING


def _first_of(
    role: Role, patterns: Sequence[Pattern], standings: Mapping[str, Standing], recent: Sequence[str]
) -> Pattern | None:
    """Return the figure of a role that was longest away; a new one is the first in the course that is ready.

    As long as no goal was reached, what is clean enough to go on may be refreshed as well.
    """
    known = [(pattern, standings[pattern.name]) for pattern in patterns if pattern.name in standings]
    mine = [(p, s) for p, s in known if _role_of(s) is role and (s.ready or role is not Role.NEW)]
    if role is Role.REFRESH and not mine:
        mine = [(p, s) for p, s in known if s.clean_enough]
    if role is Role.NEW or not mine:
        return mine[0][0] if mine else None
    return min(mine, key=lambda each: (_last_place(each[0].name, recent), each[1].last_order or 0))[0]


def _last_place(name: str, recent: Sequence[str]) -> int:
    """Return the place of a figure's latest turn in this session, -1 for none."""
    return max((at for at, played in enumerate(recent) if played == name), default=-1)


def _minutes(seconds: float) -> str:
    minutes = max(1, int(seconds // 60))
    return f"{minutes} minute{'' if minutes == 1 else 's'}"
