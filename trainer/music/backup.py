"""Lay a figure over a chart, bar by bar: backup, the playing between breaks.

What moves with the chord (common practice, no source), so that any figure of the same meter can be laid:

- The first strike under a chord goes to its root (or to the bass that it names), the next to its fifth, and
  so on in turn for as long as the chord lasts, over bars too: each at the lowest fret, of equals on the
  lower-sounding string. The next chord begins with its own root.
- A strike that the left hand follows on the same string goes, with the left-hand stroke, to a string where
  the two are neighbours in the key's scale and the second is a tone of the chord, as low as possible. It
  takes its turn like any other strike.
- A strike that is slid into or begins a triplet stays on its string where it can, at a tone of the chord, and
  moves by steps of the scale.
- A drop-thumb and any other left-hand stroke stay on their strings and take a tone of the chord there.
- A brush keeps its strings and takes the chord's shape. Thumb, skip and rest stay as they are, and so do
  accents, muting and the hand's motion.
- Where there is no chord, strikes and brushes are muted and nothing else sounds: the hand keeps the time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.chart import Chart, Chord, Mode
from trainer.music.fretboard import (
    HIGHEST_SHAPE_FRET,
    Place,
    chord_frets,
    scale_step,
    shape_frets,
    tone_places,
)
from trainer.music.keys import capo_for, shape_key
from trainer.music.laying import brush_over
from trainer.music.pattern import MAX_TITLE, Meter, Pattern
from trainer.music.strokes import HIGHEST_FRET, LONG_STRINGS, Hand, Kind, Stroke
from trainer.music.tuning import Tuning

OCTAVE_FRETS = 12
TURNS = 2  # root and fifth


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupChart:
    """The chords of a tune, to play backup over.

    Attributes:
        name: the file's stem.
        title: what the library shows.
        meter: that of the figures that fit it.
        chart: the chords, whole bars.
        tuning: of the strings, with the capo.
        figure: name of the pattern to lay over it when none is named.
        teacher: one sentence to say to a class; empty for that of the figure.
    """

    name: str
    title: str
    meter: Meter
    chart: Chart
    tuning: Tuning
    figure: str
    teacher: str = ""

    @property
    def bars(self) -> int:
        """Length in bars."""
        return self.chart.beats // self.meter.beats

    def in_key(self, key: str) -> BackupChart:
        """Return the chart as it sounds in another key: the same shapes, the capo moved."""
        shapes = shape_key(self.chart.key, self.tuning.capo)
        tuning = replace(self.tuning, capo=capo_for(shapes, key))
        return replace(self, chart=replace(self.chart, key=key), tuning=tuning)


def laid_chart_name(name: str, figure: str) -> str:
    """Return what a chart with a figure is called wherever patterns have names."""
    return f"{name} with {figure}"


def lay_chart(backup: BackupChart, figure: Pattern) -> Pattern:
    """Return the figure repeated under each bar of a chart, moved to its chords.

    Level, tempi and needs are the figure's: they say what the hand must do.

    Raises:
        BadSettings: figure and chart have different meters.
    """
    if figure.meter is not backup.meter:
        raise BadSettings(
            f"{figure.name} is in {figure.meter.value} and {backup.name} in {backup.meter.value}",
            f"choose a figure in {backup.meter.value}",
        )
    title = f"{backup.title}, {figure.title[:1].lower()}{figure.title[1:]}"
    return replace(
        figure,
        name=laid_chart_name(backup.name, figure.name),
        title=title if len(title) <= MAX_TITLE else title[: MAX_TITLE - 1] + "…",
        bars=_bars(backup, figure),
        parts=(),
        teacher=backup.teacher or figure.teacher,
        chart=backup.chart,
        tuning=backup.tuning,
    )


def _bars(backup: BackupChart, figure: Pattern) -> tuple[tuple[Stroke, ...], ...]:
    """Return the figure's bars under the chords, the turn of root and fifth going on from bar to bar."""
    hand = _LeftHand(backup.chart.key, backup.tuning, backup.chart.mode)
    turn = _Turn(backup.chart)
    return tuple(_bar(backup, figure, bar, hand, turn) for bar in range(backup.bars))


def _bar(backup: BackupChart, figure: Pattern, bar: int, hand: _LeftHand, turn: _Turn) -> tuple[Stroke, ...]:
    strokes = figure.bars[bar % len(figure.bars)]
    laid: list[Stroke] = []
    followed = False
    for slot, stroke in enumerate(strokes):
        beat = bar * figure.meter.beats + Fraction(slot, figure.slots_per_beat)
        chord = backup.chart.chord_at(beat)
        if followed:
            followed = False
            continue
        after = strokes[slot + 1] if slot + 1 < len(strokes) else None
        lead = beat + Fraction(1, figure.slots_per_beat)
        if chord.silent:
            laid.append(_without_chord(stroke))
        elif after is not None and _is_one_lick(stroke, after) and not backup.chart.chord_at(lead).silent:
            # The chord is that of the left-hand stroke: it is what the ear is led to.
            laid += hand.lick(stroke, after, backup.chart.chord_at(lead))
            turn.taken(beat)
            followed = True
        elif stroke.kind is Kind.STRIKE and not stroke.triplet:
            places = tone_places(chord, hand.key, hand.tuning)[:TURNS]
            laid.append(hand.struck(stroke, places[turn.taken(beat) % len(places)]))
        else:
            laid.append(hand.moved(stroke, chord))
    return tuple(laid)


class _Turn:
    """Counts the strikes under each chord; made anew for each tune that is laid."""

    def __init__(self, chart: Chart) -> None:
        self._chart = chart
        self._span = -1
        self._strikes = 0

    def taken(self, beat: Fraction) -> int:
        """Return how many strikes there were under the chord before this one."""
        span = self._chart.span_index(beat)
        if span != self._span:
            self._span, self._strikes = span, 0
        self._strikes += 1
        return self._strikes - 1


def _without_chord(stroke: Stroke) -> Stroke:
    if stroke.hand is Hand.NAIL:
        return replace(stroke, fret=None, frets=(), slid_from=None, triplet=(), muted=True)
    return stroke if not stroke.kind.sounds else Stroke(kind=Kind.REST)


def _is_one_lick(stroke: Stroke, after: Stroke) -> bool:
    """Tell whether the left hand sounds the string again that the right hand has just sounded."""
    struck = stroke.kind in (Kind.STRIKE, Kind.DROP_THUMB) and not stroke.muted and not stroke.triplet
    return struck and stroke.slid_from is None and after.hand is Hand.LEFT and after.strings == stroke.strings


@dataclass(frozen=True, slots=True)
class _LeftHand:
    """Finds what the left hand stops for a chord."""

    key: str
    tuning: Tuning
    mode: Mode

    def struck(self, stroke: Stroke, place: Place) -> Stroke:
        """Return a strike at a place; it is slid into by a step of the scale where it was, and can be."""
        slid_from = None
        if stroke.slid_from is not None and place.fret:
            from_below = stroke.slid_from < (stroke.fret or 0)
            start = scale_step(self.key, self.tuning, place, -1 if from_below else 1, self.mode)
            slid_from = start if 1 <= start <= HIGHEST_FRET else None
        return replace(stroke, strings=(place.string,), fret=place.fret, slid_from=slid_from)

    def moved(self, stroke: Stroke, chord: Chord) -> Stroke:
        """Return a stroke on its own string or strings at tones of a chord."""
        if stroke.kind is Kind.BRUSH:
            return replace(stroke, frets=brush_over(chord, self.key, self.tuning, stroke.strings))
        if stroke.kind is Kind.DROP_THUMB:
            [fret] = shape_frets(chord, self.key, self.tuning, stroke.strings)
            return self.struck(stroke, Place(string=stroke.strings[0], fret=fret))
        if stroke.triplet:
            [fret] = shape_frets(chord, self.key, self.tuning, stroke.strings)
            place = Place(string=stroke.strings[0], fret=fret)
            above = scale_step(self.key, self.tuning, place, 1, self.mode)
            return replace(stroke, fret=fret, triplet=(above, fret))
        if stroke.hand is Hand.LEFT:
            # A hammer-on or a slide to the open string makes no sound of its own.
            least = 0 if stroke.kind is Kind.PULL_OFF else 1
            frets = chord_frets(chord, self.key, self.tuning, stroke.strings[0], highest=OCTAVE_FRETS)
            return replace(stroke, fret=next(fret for fret in frets if fret >= least))
        return stroke

    def lick(self, struck: Stroke, left: Stroke, chord: Chord) -> tuple[Stroke, Stroke]:
        """Return a struck note and the left-hand stroke that leads from it to a tone of a chord."""
        # A thumb that drops in stays where it is; the nail reaches every long string.
        strings = LONG_STRINGS if struck.kind is Kind.STRIKE else struck.strings
        ways = [
            (start, place)
            for string in strings
            for fret in chord_frets(chord, self.key, self.tuning, string, highest=OCTAVE_FRETS)
            if (start := self._start(left.kind, place := Place(string=string, fret=fret))) is not None
        ]
        lowest = [way for way in ways if way[1].fret <= HIGHEST_SHAPE_FRET] or ways
        start, place = min(lowest, key=lambda way: (way[0] + way[1].fret, -way[1].string))
        return (
            replace(struck, strings=(place.string,), fret=start),
            replace(left, strings=(place.string,), fret=place.fret),
        )

    def _start(self, kind: Kind, place: Place) -> int | None:
        """Return the fret from which the left hand reaches a place; None where there is none."""
        if kind is Kind.PULL_OFF:
            return scale_step(self.key, self.tuning, place, 1, self.mode)
        start = scale_step(self.key, self.tuning, place, -1, self.mode)
        # A string can be hammered from the open note but slid only from a stopped one.
        return start if start >= (1 if kind is Kind.SLIDE else 0) else None
