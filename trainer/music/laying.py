"""Make strokes of a bar of melody, in one of four figures (common practice, no source).

- basic: what the falling hand can strike is struck, what lies on a rise is left out; where a note goes on, a
  brush; the thumb follows a brush and ends the bar. Slides and triplets are left out.
- left hand: the same, and what lies on a rise is hammered on, pulled off, or sounded by the left hand alone,
  but for an open string between others, which is left out.
- skip: in each two units the nail falls in silence once, and the thumb drops in after it with the note of
  that beat, which comes late; notes on a rise on an inside string are dropped in too.
- early skip: in each two units (in a bar of three, once) the note of the later is brought forward to the rise
  before it, by the thumb or the left hand, in place of a passing note there, and the nail falls in silence
  where it was.

A unit is a fall and the rise after it: a beat, or half a beat of four slots. A note that is accented, slid
into or in a triplet is never moved. While a note goes on, the brush under it keeps its fret, so no brush
undoes what the left hand has just done. Where the melody rests, the hand moves and nothing sounds.
"""

from __future__ import annotations

import enum
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from trainer.music.chart import Chart, Chord
from trainer.music.fretboard import chord_frets, shape_frets
from trainer.music.melody import MelodyBar, MelodySlot, Note
from trainer.music.strokes import (
    DEFAULT_BRUSH,
    DRONE,
    HIGHEST_FRET,
    INSIDE_STRINGS,
    Kind,
    Stroke,
    left_hand_kind,
)
from trainer.music.tuning import Tuning

WIDEST_HOLD = 4  # frets from the lowest to the highest that a hand holds at once: common practice, no source
_THUMB = Stroke(kind=Kind.THUMB, strings=(DRONE,))
_REST = Stroke(kind=Kind.REST)
_SKIP = Stroke(kind=Kind.SKIP)


class Figure(enum.Enum):
    """The figures that make strokes of a melody; the value is the word that a break file uses."""

    BASIC = "basic"
    LEFT_HAND = "left hand"
    SKIP = "skip"
    EARLY_SKIP = "early skip"


MOVING = (Figure.SKIP, Figure.EARLY_SKIP)


@dataclass(frozen=True, slots=True)
class Ringing:
    """What the strings did last, so far as a left hand or a brush must know.

    Attributes:
        note: string and fret of the melody note that goes on; None for none.
        frets: the strings that the last stroke sounded, with their frets.
        silent: whether the melody rests.
    """

    note: tuple[int, int] | None = None
    frets: dict[int, int] = field(default_factory=dict)
    silent: bool = False

    def after(self, strokes: tuple[Stroke, ...]) -> Ringing:
        """Return what rings after some strokes."""
        note, frets, silent = self.note, self.frets, self.silent
        for stroke in strokes:
            if not stroke.kind.sounds or stroke.kind is Kind.THUMB:
                continue
            frets = dict(zip(stroke.strings, stroke.last_frets, strict=True))
            if stroke.kind is not Kind.BRUSH:
                note, silent = (stroke.strings[0], stroke.last_frets[0]), False
        return Ringing(note, frets, silent)


@dataclass(slots=True)
class _Unit:
    """A fall, the slots between, and the rise that ends it: what the melody does, and the strokes so far."""

    slots: tuple[MelodySlot, ...]
    chord: Chord
    strokes: list[Stroke]
    is_last: bool
    silent: bool  # the melody rests as the unit begins
    ends_silent: bool

    @property
    def fall(self) -> MelodySlot:
        return self.slots[0]

    @property
    def rise(self) -> MelodySlot:
        return self.slots[-1]

    @property
    def has_triplet(self) -> bool:
        return self.fall.note is not None and bool(self.fall.note.triplet)

    @property
    def moves(self) -> bool:
        """Whether the note on its fall may be moved off it."""
        note = self.fall.note
        fixed = note is not None and (
            note.accented or note.slid_from is not None or note.triplet or note.by is not None
        )
        return not fixed and not self.silent and all(not slot.begins for slot in self.slots[1:])


@dataclass(frozen=True, slots=True, kw_only=True)
class BarLaying:
    """Lays one bar.

    Attributes:
        chart: the chords of the tune.
        first_beat: the beat at which the bar begins.
        tuning: of the strings.
        slots_per_beat: slots of a beat.
    """

    chart: Chart
    first_beat: int
    tuning: Tuning
    slots_per_beat: int

    def fitted(self, strokes: tuple[Stroke, ...]) -> tuple[Stroke, ...]:
        """Return strokes in words with the chord's shape under every brush that names no frets."""
        return tuple(
            replace(stroke, frets=self._shape(self._chord(at), stroke.strings))
            if stroke.kind is Kind.BRUSH and not stroke.frets
            else stroke
            for at, stroke in enumerate(strokes)
        )

    def figure(self, bar: MelodyBar, figure: Figure, ringing: Ringing) -> tuple[tuple[Stroke, ...], Ringing]:
        """Return the strokes of a bar of melody, and what rings after them.

        Args:
            ringing: what the strings did before it.
        """
        units = self._units(bar, ringing)
        late = _late(units) if figure is Figure.SKIP else frozenset[int]()
        now = ringing
        for at, unit in enumerate(units):
            if figure is not Figure.BASIC and at and units[at - 1].has_triplet and self.slots_per_beat == 4:
                unit.strokes = [_REST] * len(unit.slots)  # the triplet takes the whole beat
                continue
            self._lay(unit, figure, now)
            # Three units, as a bar of three beats has, are one group; else they go by two.
            first = 0 if len(units) == 3 else at - at % 2
            pair = units[first : first + 3 if len(units) == 3 else first + 2]
            if at in late:
                self._skip(unit, pair)
            elif figure is Figure.EARLY_SKIP and at > first and not any(_SKIP in u.strokes for u in pair):
                now = self._bring_forward(units[at - 1], unit, now)
            after = now.after(tuple(unit.strokes))
            # A tone of the chord that the thumb adds is no note of the melody, which goes on under it.
            is_added = at in late and unit.fall.note is None
            note = now.note if is_added else after.note
            now = replace(after, note=None if unit.ends_silent else note, silent=unit.ends_silent)
        return tuple(stroke for unit in units for stroke in unit.strokes), now

    def _units(self, bar: MelodyBar, ringing: Ringing) -> list[_Unit]:
        wide = 3 if self.slots_per_beat == 3 else 2
        units: list[_Unit] = []
        silent = ringing.silent
        for at in range(0, len(bar), wide):
            slots = bar[at : at + wide]
            starts_silent = slots[0].rest or (silent and slots[0].note is None)
            for slot in slots:
                silent = slot.rest or (silent and slot.note is None)
            last = at + wide == len(bar)
            units.append(_Unit(slots, self._chord(at), [], last, starts_silent, silent))
        return units

    def _lay(self, unit: _Unit, figure: Figure, ringing: Ringing) -> None:
        """Lay a unit as it stands: the note on its fall or a brush, what follows, the thumb or the rise."""
        left = figure is not Figure.BASIC
        unit.strokes = [self._fall(unit, ringing, left=left)]
        now = ringing.after(tuple(unit.strokes))
        for slot in unit.slots[1:-1]:
            unit.strokes.append(_between(slot.note, now, left=left))
            now = now.after(tuple(unit.strokes[-1:]))
        rise = None if unit.rise.note is None or not left else _risen(unit.rise.note, now, figure)
        held = unit.fall.note is None and not unit.silent
        taken = unit.has_triplet and left
        usual = _THUMB if (held or unit.is_last) and not unit.silent and not taken else _REST
        unit.strokes.append(rise or (_REST if unit.rise.rest else usual))

    def _fall(self, unit: _Unit, ringing: Ringing, *, left: bool) -> Stroke:
        note = unit.fall.note
        if note is not None:
            by = note.by if left else None
            return Stroke(
                kind=by or Kind.STRIKE,
                strings=(note.string,),
                fret=note.fret,
                accented=note.accented,
                slid_from=note.slid_from if left else None,
                triplet=note.triplet if left else (),
            )
        if unit.silent or unit.chord.silent:
            return _REST
        return self._brush(unit, ringing)

    def _brush(self, unit: _Unit, ringing: Ringing) -> Stroke:
        """Return the brush under a note that goes on: the chord's shape, but for the note's own string.

        A note that is not of the chord rings on under a brush of the strings beyond it, where there are two.
        """
        strings = unit.fall.brush or DEFAULT_BRUSH
        frets = list(shape_frets(unit.chord, self.chart.key, self.tuning, strings))
        if ringing.note is not None and ringing.note[0] in strings:
            at = strings.index(ringing.note[0])
            beyond = len(strings) - at - 1
            is_of_chord = ringing.note[1] in chord_frets(
                unit.chord, self.chart.key, self.tuning, ringing.note[0], highest=HIGHEST_FRET
            )
            kept = [*frets[:at], ringing.note[1], *frets[at + 1 :]]
            stopped = [fret for fret in kept if fret]
            can_hold = not stopped or max(stopped) - min(stopped) <= WIDEST_HOLD
            if beyond >= 2 and not (is_of_chord and can_hold):
                strings, frets = strings[at + 1 :], frets[at + 1 :]
            elif can_hold:
                frets = kept
            elif at >= 2:
                strings, frets = strings[:at], frets[:at]
        return Stroke(kind=Kind.BRUSH, strings=strings, frets=tuple(frets) if any(frets) else ())

    def _skip(self, unit: _Unit, pair: list[_Unit]) -> None:
        """Let the nail fall in silence and the thumb drop in with the note, or with one of the chord."""
        note = unit.fall.note
        rests = [_REST] * (len(unit.slots) - 2)
        if note is not None:
            drop = Stroke(kind=Kind.DROP_THUMB, strings=(note.string,), fret=note.fret)
        elif unit.chord.silent:
            return
        else:
            # A tone of the chord, on a string that the melody is not ringing on.
            notes = [slot.note for each in pair for slot in each.slots if slot.note is not None]
            struck = {note.string for note in notes}
            string = next((string for string in INSIDE_STRINGS if string not in struck), INSIDE_STRINGS[0])
            [fret] = shape_frets(unit.chord, self.chart.key, self.tuning, (string,))
            drop = Stroke(kind=Kind.DROP_THUMB, strings=(string,), fret=fret)
        unit.strokes = [_SKIP, *rests, drop]

    def _bring_forward(self, before: _Unit, unit: _Unit, ringing: Ringing) -> Ringing:
        """Bring the note of a unit forward to the rise before it, where thumb or left hand can sound it.

        Returns:
            What rings as the unit begins.
        """
        note = unit.fall.note
        if note is None or not unit.moves or before.rise.rest or before.silent or before.strokes[0].triplet:
            return ringing
        # A passing note gives way: the rise has room for one note only.
        now = Ringing().after(tuple(before.strokes[:-1]))
        early = None if now.note == (note.string, note.fret) else _brought(note, now)
        if early is None:
            return ringing
        before.strokes[-1] = early
        unit.strokes = [_SKIP, *[_REST] * (len(unit.slots) - 2), _THUMB]
        return ringing.after((early,))

    def _chord(self, slot: int) -> Chord:
        return self.chart.chord_at(self.first_beat + Fraction(slot, self.slots_per_beat))

    def _shape(self, chord: Chord, strings: tuple[int, ...]) -> tuple[int, ...]:
        return () if chord.silent else brush_over(chord, self.chart.key, self.tuning, strings)


def brush_over(chord: Chord, key: str, tuning: Tuning, strings: tuple[int, ...]) -> tuple[int, ...]:
    """Return the frets of a brush over a chord; empty where all its strings are open."""
    frets = shape_frets(chord, key, tuning, strings)
    return frets if any(frets) else ()


def _late(units: Sequence[_Unit]) -> frozenset[int]:
    """Return which units the nail passes in silence: in each two the first where the thumb can drop in."""
    pairs = (range(at, at + 2) for at in range(0, len(units) - 1, 2))
    fit = (
        [at for at in pair if units[at].moves and _can_drop(units[at])]
        for pair in pairs
        if not any(units[at].has_triplet for at in pair)
    )
    return frozenset(found[0] for found in fit if found)


def _can_drop(unit: _Unit) -> bool:
    """Tell whether the thumb can drop in with a unit's note, or with one of the chord where it goes on."""
    note = unit.fall.note
    return (
        note.string in INSIDE_STRINGS if note is not None else not unit.chord.silent and not unit.fall.brush
    )


def _between(note: Note | None, ringing: Ringing, *, left: bool) -> Stroke:
    """Return the stroke on the fall inside three: the left hand where the string rings, else the nail."""
    if note is None:
        return _REST
    before = ringing.frets.get(note.string)
    if left and note.by is not None:
        return Stroke(kind=note.by, strings=(note.string,), fret=note.fret, accented=note.accented)
    if left and before is not None and before != note.fret and not note.accented:
        return Stroke(kind=left_hand_kind(before, note.fret), strings=(note.string,), fret=note.fret)
    return Stroke(kind=Kind.STRIKE, strings=(note.string,), fret=note.fret, accented=note.accented)


def _risen(note: Note, ringing: Ringing, figure: Figure) -> Stroke | None:
    """Return the stroke of a note on a rise; None where no hand is free for it."""
    inside = note.string in INSIDE_STRINGS
    drop = Stroke(kind=Kind.DROP_THUMB, strings=(note.string,), fret=note.fret, accented=note.accented)
    if note.by is not None:
        return Stroke(kind=note.by, strings=(note.string,), fret=note.fret, accented=note.accented)
    before = ringing.frets.get(note.string)
    if before == note.fret:
        return drop if inside else None  # the left hand cannot sound a note that is already held
    if figure in MOVING and inside and before is None:
        return drop
    if before is None and inside and not note.fret:
        return None  # between its neighbours no finger plucks an open string by itself
    kind = left_hand_kind(before or 0, note.fret)
    return Stroke(kind=kind, strings=(note.string,), fret=note.fret, accented=note.accented)


def _brought(note: Note, ringing: Ringing) -> Stroke | None:
    """Return the stroke that sounds a note half a unit early; None where it cannot be."""
    before = ringing.frets.get(note.string)
    inside = note.string in INSIDE_STRINGS
    if before == note.fret or (before is None and inside):
        return Stroke(kind=Kind.DROP_THUMB, strings=(note.string,), fret=note.fret) if inside else None
    return Stroke(kind=left_hand_kind(before or 0, note.fret), strings=(note.string,), fret=note.fret)
