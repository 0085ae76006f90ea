"""Hold a melody: what it does in each slot of its bars, by string and fret."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.strokes import DEFAULT_BRUSH, HIGHEST_FRET, LONG_STRINGS, Hand, Kind, is_triplet


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A melody note.

    Attributes:
        string: 1 to 4.
        fret: where it is stopped, 0 for open.
        accented: louder than its neighbours; it is never moved off its beat.
        slid_from: a fret from which the left hand slides into it; None for none.
        triplet: frets of two more notes in the same beat, as a stroke has them; empty for none.
        by: the left-hand stroke that sounds it; None where that is left to the figure.
    """

    string: int
    fret: int = 0
    accented: bool = False
    slid_from: int | None = None
    triplet: tuple[int, ...] = ()
    by: Kind | None = None

    def __post_init__(self) -> None:
        """Refuse a note that no hand could make (a broken promise in our code, not user input)."""
        ok = self.string in LONG_STRINGS and 0 <= self.fret <= HIGHEST_FRET
        if self.slid_from is not None:
            ok = ok and self.fret > 0 and 1 <= self.slid_from <= HIGHEST_FRET and self.slid_from != self.fret
        if self.triplet:
            ok = ok and is_triplet(self.fret, self.triplet, Kind.STRIKE) and self.by is None
        if self.by is not None:
            ok = (
                ok
                and self.by.hand is Hand.LEFT
                and self.fret >= self.by.least_fret
                and self.slid_from is None
            )
        if not ok:
            raise ValueError(f"no melody has {self}")

    @property
    def last_fret(self) -> int:
        """The fret at which the string rings on."""
        return self.triplet[-1] if self.triplet else self.fret


@dataclass(frozen=True, slots=True, kw_only=True)
class MelodySlot:
    """What a melody does in one slot.

    Attributes:
        note: the note that begins there; None where the one before it goes on.
        rest: the melody is silent from here on.
        brush: the strings of the brush under a note that goes on; empty for the usual ones.
    """

    note: Note | None = None
    rest: bool = False
    brush: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Refuse two things at once (a broken promise in our code, not user input)."""
        if (self.note is not None) + self.rest + bool(self.brush) > 1:
            raise ValueError("a slot of a melody has a note, a rest or a brush")

    @property
    def begins(self) -> bool:
        """Whether anything begins here: a note or a silence."""
        return self.note is not None or self.rest


HOLD = MelodySlot()
REST = MelodySlot(rest=True)
MelodyBar = tuple[MelodySlot, ...]


def slots_of(items: tuple[MelodySlot, ...], slots_per_beat: int) -> MelodyBar | None:
    """Return a beat's slots from what is written for it; None where it cannot be parted so.

    One thing begins the beat; of two the second is on its last slot; otherwise there is one for each slot.
    """
    if len(items) == slots_per_beat:
        return items
    if len(items) > 2:
        return None
    return (items[0], *(HOLD,) * (slots_per_beat - len(items)), *items[1:])


def items_of(slots: MelodyBar) -> MelodyBar:
    """Return what is written for a beat's slots: as little as will do."""
    if all(slot == HOLD for slot in slots[1:]):
        return slots[:1]
    if all(slot == HOLD for slot in slots[1:-1]):
        return (slots[0], slots[-1])
    return slots


def note_words(note: Note) -> str:
    """Return a note in the words of a melody, such as ``2 fret 1`` or ``accented 3 open``."""
    words = ["accented"] if note.accented else []
    words += [note.by.value] if note.by is not None else []
    words += [f"{note.string} fret {note.fret}" if note.fret else f"{note.string} open"]
    words += [f"slid from {note.slid_from}"] if note.slid_from is not None else []
    words += [f"triplet {' '.join(map(str, note.triplet))}"] if note.triplet else []
    return " ".join(words)


def beat_words(slots: MelodyBar) -> str:
    """Return a beat in the words of a melody, such as ``3 open then 3 fret 2``."""
    return " then ".join(_slot_words(slot) for slot in items_of(slots))


def _slot_words(slot: MelodySlot) -> str:
    if slot.note is not None:
        return note_words(slot.note)
    if slot.rest:
        return "rest"
    if not slot.brush:
        return "hold"
    usual = slot.brush == DEFAULT_BRUSH
    return "brush" if usual else f"brush {slot.brush[0]} to {slot.brush[-1]}"
