"""Merge two changes of one class: what this window has made of it, and what another has meanwhile.

Names and turns that either has added are kept; a name that either has taken away is gone, for who forgets a
name wants it gone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.practice.classroom import MOST_NAMES, Classroom, Pupil
from trainer.practice.turns import Turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """A class that two windows have changed.

    Attributes:
        room: what both have made of it.
        note: what another window did, in a sentence; empty when it did nothing.
    """

    room: Classroom
    note: str


def merged(before: Classroom, after: Classroom, theirs: Classroom) -> Merged:
    """Return what became of a class.

    Args:
        before: as this window knew it last; ``after`` as it has it now.
        theirs: as the file has it, which another window may have changed since ``before``.
    """
    if theirs.order is before.order and _without_dots(theirs) == _without_dots(before):
        return Merged(room=after, note="")
    was, ours, others = _by_name(before), _by_name(after), _by_name(theirs)
    added = [name for name in others if name not in was and name not in ours]
    gone = [name for name in was if name not in others and name in ours]
    names = [name for name in ours if name not in gone] + added
    room = replace(
        after,
        pupils=tuple(_both(was.get(n), ours.get(n), others.get(n)) for n in names[:MOST_NAMES]),
        order=after.order if after.order is not before.order else theirs.order,
    )
    current = after.current
    room = room.named(current.name) if current is not None else room
    room = room.chosen(room.at)
    return Merged(room=room, note=_note(before, after, theirs, added, gone))


def _by_name(room: Classroom) -> dict[str, Pupil]:
    return {pupil.name: pupil for pupil in room.pupils}


def _both(was: Pupil | None, ours: Pupil | None, theirs: Pupil | None) -> Pupil:
    """Return one pupil as two windows have made of it; at least one has it."""
    if ours is None or theirs is None:
        found = ours or theirs
        assert found is not None
        return found
    turns: dict[object, Turn] = {_key(turn): turn for turn in theirs.turns}
    known = {_key(turn): turn for turn in was.turns} if was is not None else {}
    for turn in ours.turns:
        # What this window has left as it was is theirs to change.
        if _key(turn) not in turns or turn != known.get(_key(turn)):
            turns[_key(turn)] = turn
    away = ours.away if was is None or ours.away != was.away else theirs.away
    ordered = sorted(turns.values(), key=lambda turn: (turn.day or 0, turn.begun))
    return Pupil(name=ours.name, turns=tuple(ordered), away=away)


def _key(turn: Turn) -> object:
    return turn.uid or _bare(turn)


def _bare(turn: Turn) -> Turn:
    return replace(turn, placements_s=(), verdicts=())


def _without_dots(room: Classroom) -> tuple[Pupil, ...]:
    """Return the pupils as every file has them: the dots of older turns are not kept."""
    return tuple(replace(pupil, turns=tuple(map(_bare, pupil.turns))) for pupil in room.pupils)


def _note(before: Classroom, after: Classroom, theirs: Classroom, added: list[str], gone: list[str]) -> str:
    if before.pupils and not theirs.pupils and after.pupils:
        return "Another window has forgotten this class: its names and turns are gone here too."
    count = len(
        {t.uid for p in theirs.pupils for t in p.turns} - {t.uid for p in before.pupils for t in p.turns}
    )
    did = [
        f"added {', '.join(added)}" if added else "",
        f"taken away {', '.join(gone)}" if gone else "",
        f"added {count} turn{'s' if count > 1 else ''}" if count else "",
    ]
    said = " and ".join(words for words in did if words)
    return f"Another window has {said or 'changed this class'}; what both did is kept."
