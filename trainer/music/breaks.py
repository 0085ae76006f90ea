"""Hold a break, a solo chorus, and lay it at a level: strokes over the chart that bring out the melody.

The melody is written once, beat by beat: a string and a fret, or a hold. A beat may have a second, passing
note at its end. Three figures make strokes of it (common practice, no source):

- basic: a melody note is struck, a hold is a brush; the thumb follows a brush and ends the bar. Passing notes
  are left out.
- left hand: the same, and a passing note is hammered on, pulled off, or sounded by the left hand alone.
- skip: in each two beats the nail falls in silence once, where the thumb can drop in with the note; passing
  notes on an inside string are dropped in too.

A level says which figure each bar has; single bars may have another, or strokes in words. A brush that names
no frets has the shape of the chord under it.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from trainer.music.chart import Chart, Chord
from trainer.music.fretboard import shape_frets
from trainer.music.keys import capo_for, shape_key
from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import DEFAULT_BRUSH, DRONE, INSIDE_STRINGS, Kind, Stroke
from trainer.music.tuning import Tuning

_THUMB = Stroke(kind=Kind.THUMB, strings=(DRONE,))
_REST = Stroke(kind=Kind.REST)
_SKIP = Stroke(kind=Kind.SKIP)


class Figure(enum.Enum):
    """The figures that make strokes of a melody; the value is the word that a break file uses."""

    BASIC = "basic"
    LEFT_HAND = "left hand"
    SKIP = "skip"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A melody note: a string from 1 to 4 and the fret at which it is stopped, 0 for open."""

    string: int
    fret: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class MelodyBeat:
    """What the melody does in one beat.

    Attributes:
        note: the note on the beat; None where the one before it is held.
        then: a passing note on the last slot of the beat; None for none.
    """

    note: Note | None = None
    then: Note | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPlan:
    """How the bars of a break are played at one level.

    Attributes:
        figures: the figure of each bar, going round when there are fewer than bars; at least one.
        changed: single bars, from 0, that have another figure or strokes of their own.
        teacher: one sentence to say to a class; empty for that of the break.
        needs: names of patterns that should be clean before, besides those of the break.
    """

    figures: tuple[Figure, ...]
    changed: tuple[tuple[int, Figure | tuple[Stroke, ...]], ...] = ()
    teacher: str = ""
    needs: tuple[str, ...] = ()

    def of_bar(self, bar: int) -> Figure | tuple[Stroke, ...]:
        """Return the figure of a bar, or its own strokes."""
        return dict(self.changed).get(bar, self.figures[bar % len(self.figures)])


USUAL_PLANS = {
    Level.PLAIN: LevelPlan(figures=(Figure.BASIC,)),
    Level.ORNAMENTS: LevelPlan(figures=(Figure.LEFT_HAND,)),
    Level.SKIPS: LevelPlan(figures=(Figure.BASIC, Figure.SKIP)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A solo chorus at three levels.

    Attributes:
        name: the file's stem.
        title: what the library shows.
        step: place among the breaks, 1 first.
        meter: two slots to a beat, three in 6/8.
        chart: the chords, as long as the melody.
        tuning: of the strings, with the capo.
        melody: beats by bar.
        plans: how each level is played, in the order of the levels.
        needs, slow_bpm, goal_bpm, teacher: as a pattern has them.
    """

    name: str
    title: str
    step: int
    meter: Meter
    chart: Chart
    tuning: Tuning
    melody: tuple[tuple[MelodyBeat, ...], ...]
    plans: tuple[LevelPlan, LevelPlan, LevelPlan]
    needs: tuple[str, ...]
    slow_bpm: Fraction
    goal_bpm: Fraction
    teacher: str = ""

    def plan(self, level: Level) -> LevelPlan:
        """Return how a level is played."""
        return self.plans[tuple(Level).index(level)]

    @property
    def slots_per_beat(self) -> int:
        """Slots in one beat."""
        return slots_per_beat(self.meter)

    def in_key(self, key: str) -> Break:
        """Return the break as it sounds in another key: the same shapes, the capo moved."""
        shapes = shape_key(self.chart.key, self.tuning.capo)
        tuning = replace(self.tuning, capo=capo_for(shapes, key))
        return replace(self, chart=replace(self.chart, key=key), tuning=tuning)


def slots_per_beat(meter: Meter) -> int:
    """Return the slots that a break has in one beat of a meter."""
    return meter.slots_per_beat_choices[0]


def laid_break_name(name: str, level: Level) -> str:
    """Return what a break at a level is called wherever patterns have names."""
    return f"{name} at {level.value}"


def lay_break(brk: Break, level: Level) -> Pattern:
    """Return a break at a level as a pattern with its chart, each melody note with its string and fret."""
    plan = brk.plan(level)
    bars = []
    for bar, beats in enumerate(brk.melody):
        chords = _chords(brk.chart, bar * brk.meter.beats, len(beats))
        what = plan.of_bar(bar)
        layer = _Layer(chords, brk.chart.key, brk.tuning, brk.slots_per_beat)
        bars.append(layer.figure(beats, what) if isinstance(what, Figure) else layer.fitted(what))
    return Pattern(
        name=laid_break_name(brk.name, level),
        title=f"{brk.title}, {level.value}",
        level=level,
        step=brk.step,
        meter=brk.meter,
        slots_per_beat=brk.slots_per_beat,
        motion=usual_motion(brk.meter, brk.slots_per_beat),
        bars=tuple(bars),
        needs=tuple(dict.fromkeys((*brk.needs, *plan.needs))),
        slow_bpm=brk.slow_bpm,
        goal_bpm=brk.goal_bpm,
        teacher=plan.teacher or brk.teacher,
        chart=brk.chart,
        tuning=brk.tuning,
    )


def brush_over(chord: Chord, key: str, tuning: Tuning, strings: tuple[int, ...]) -> tuple[int, ...]:
    """Return the frets of a brush over a chord; empty where all its strings are open."""
    frets = shape_frets(chord, key, tuning, strings)
    return frets if any(frets) else ()


def _chords(chart: Chart, first_beat: int, beats: int) -> tuple[Chord, ...]:
    return tuple(chart.chord_at(first_beat + beat) for beat in range(beats))


@dataclass(frozen=True, slots=True)
class _Beat:
    """The strokes of one beat: as the hand falls on it, and as it rises at its end."""

    down: Stroke
    up: Stroke


@dataclass(frozen=True, slots=True)
class _Layer:
    """Lays one bar; ``chords`` has the chord of each beat."""

    chords: tuple[Chord, ...]
    key: str
    tuning: Tuning
    slots: int

    def fitted(self, strokes: tuple[Stroke, ...]) -> tuple[Stroke, ...]:
        """Return strokes in words with the chord's shape under every brush that names no frets."""
        return tuple(
            replace(
                stroke, frets=brush_over(self.chords[at // self.slots], self.key, self.tuning, stroke.strings)
            )
            if stroke.kind is Kind.BRUSH and not stroke.frets
            else stroke
            for at, stroke in enumerate(strokes)
        )

    def figure(self, melody: tuple[MelodyBeat, ...], figure: Figure) -> tuple[Stroke, ...]:
        """Return the strokes of a bar of melody."""
        beats = [
            _Beat(self._fall(at, beat.note), self._rise(at, beat, figure)) for at, beat in enumerate(melody)
        ]
        if figure is Figure.SKIP:
            for at in range(0, len(beats) - 1, 2):
                self._skip_once(beats, melody, at)
        rests = (_REST,) * (self.slots - 2)
        return tuple(chain.from_iterable((beat.down, *rests, beat.up) for beat in beats))

    def _fall(self, at: int, note: Note | None) -> Stroke:
        if note is not None:
            return Stroke(kind=Kind.STRIKE, strings=(note.string,), fret=note.fret)
        frets = brush_over(self.chords[at], self.key, self.tuning, DEFAULT_BRUSH)
        return Stroke(kind=Kind.BRUSH, strings=DEFAULT_BRUSH, frets=frets)

    def _rise(self, at: int, beat: MelodyBeat, figure: Figure) -> Stroke:
        passing = _passing(beat, figure) if beat.then is not None else None
        if passing is not None:
            return passing
        return _THUMB if beat.note is None or at == len(self.chords) - 1 else _REST

    def _skip_once(self, beats: list[_Beat], melody: tuple[MelodyBeat, ...], first: int) -> None:
        """Let the nail fall in silence on one of two beats, where the thumb can drop in after it."""
        for at in (first, first + 1):
            note = melody[at].note
            if melody[at].then is None and (note is None or note.string in INSIDE_STRINGS):
                struck = {beat.note.string for beat in melody[first : first + 2] if beat.note is not None}
                beats[at] = _Beat(_SKIP, self._drop(at, note, struck))
                return

    def _drop(self, at: int, note: Note | None, struck: set[int]) -> Stroke:
        if note is not None:
            return Stroke(kind=Kind.DROP_THUMB, strings=(note.string,), fret=note.fret)
        # A tone of the chord, on a string that the melody is not ringing on.
        string = next(string for string in INSIDE_STRINGS if string not in struck)
        [fret] = shape_frets(self.chords[at], self.key, self.tuning, (string,))
        return Stroke(kind=Kind.DROP_THUMB, strings=(string,), fret=fret)


def _passing(beat: MelodyBeat, figure: Figure) -> Stroke | None:
    """Return the stroke of a passing note; None where a figure has no hand free for it."""
    then, before = beat.then, beat.note
    if figure is Figure.BASIC or then is None:
        return None
    inside = then.string in INSIDE_STRINGS
    dropped = Stroke(kind=Kind.DROP_THUMB, strings=(then.string,), fret=then.fret) if inside else None
    same_string = before is not None and before.string == then.string
    if same_string and before is not None and before.fret == then.fret:
        return dropped  # the left hand cannot sound a note that is already held
    if figure is Figure.SKIP and inside and not same_string:
        return dropped
    rising = then.fret > (before.fret if same_string and before is not None else 0)
    kind = Kind.HAMMER_ON if rising else Kind.PULL_OFF
    return Stroke(kind=kind, strings=(then.string,), fret=then.fret)
