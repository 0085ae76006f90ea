"""Doubt what a hand or an ear would doubt in a file that can be read: a pull-off upwards, a slide from
nowhere.

A doubt is no error: the file is played as it stands. What a left hand can reach and what a chord needs is
common practice, no source: five frets from one finger to another at most, four held at once; a chord has its
root, and its seventh, suspended or diminished tone where it is named for one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from trainer.errors import BadNotation
from trainer.music.backup import BackupChart
from trainer.music.bars_text import BarsReader
from trainer.music.breaks import Break, lay_break
from trainer.music.chart import Chart, Chord, Tones
from trainer.music.form import Bars
from trainer.music.fretboard import chord_shape
from trainer.music.keys import PLAINEST_KEYS, chord_classes, chord_letters
from trainer.music.melody_text import MelodyReader
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.source import Word
from trainer.music.strokes import DRONE, DRONE_FRET, Hand, Kind, Stroke
from trainer.music.toml_text import TomlText
from trainer.music.tune_files import Tune, read_tune
from trainer.music.tuning import Tuning

WIDEST_HOLD = 4  # frets from the lowest to the highest finger of a shape
WIDEST_REACH = 5  # frets from a finger that stays to one that lands
_DEFINING = {
    Tones.SEVENTH: (3, "seventh"),
    Tones.MAJOR_SEVENTH: (3, "seventh"),
    Tones.DIMINISHED: (2, "diminished fifth"),
    Tones.SUSPENDED: (1, "fourth"),
    Tones.SUSPENDED_SECOND: (1, "second"),
}


@dataclass(frozen=True, slots=True)
class _Doubt:
    """What is doubtful in a stroke, why, and what would do."""

    problem: str
    remedy: str


def doubts(text: str, *, name: str, source: str = "<text>") -> tuple[BadNotation, ...]:
    """Return what is doubtful in a file, each with its place, in order; none of them is raised.

    Args:
        text, name, source: as :func:`trainer.music.tune_files.read_tune` takes them.

    Raises:
        BadNotation: the file cannot be read at all.
    """
    tune = read_tune(text, name=name, source=source)
    toml = TomlText.of(text, source)
    if isinstance(tune, Pattern):
        found = [*_of_pattern(toml, tune)]
    elif isinstance(tune, Break):
        found = [*_of_break(toml, tune), *_of_shapes(toml, tune.chart, tune.tuning)]
    else:
        found = [*_of_shapes(toml, tune.chart, tune.tuning)]
    once = {(each.line, each.column, each.problem): each for each in found}
    return tuple(sorted(once.values(), key=lambda each: (each.line, each.column)))


def doubtful_names(
    text: str, tune: Tune, figures: Mapping[str, Meter], *, source: str = "<text>"
) -> tuple[BadNotation, ...]:
    """Return the names in ``needs`` and ``figure`` that lead nowhere, each with its place.

    Args:
        figures: the meters of the patterns that there are, by name.
    """
    toml = TomlText.of(text, source)
    found = []
    for section in (toml, *(toml.section(level.value) for level in Level if level.value in toml.table)):
        if "needs" in section.table and not isinstance(tune, BackupChart):
            found += [
                _at_key(section, "needs", f"{need} in needs is not in the library", "check its name")
                for need in section.needs("")
                if need not in figures and need != tune.name
            ]
    if isinstance(tune, BackupChart):
        meter = figures.get(tune.figure)
        if meter is None:
            found.append(
                _at_key(toml, "figure", f"the figure {tune.figure} is not in the library", "check its name")
            )
        elif meter is not tune.meter:
            problem = f"the figure {tune.figure} is in {meter.value}, the chart in {tune.meter.value}"
            found.append(_at_key(toml, "figure", problem, f"name a figure in {tune.meter.value}"))
    return tuple(found)


def _of_pattern(toml: TomlText, pattern: Pattern) -> Iterator[BadNotation]:
    reader = BarsReader(toml.source, pattern.motion, pattern.slots_per_beat)
    placed, _parts = reader.read(toml.block("bars"))
    words = tuple(tuple(each.word for each in bar) for bar in placed)
    yield from _of_strokes(toml, pattern.bars, words)
    if pattern.chart is not None:
        yield from _of_brushes(toml, pattern, words)


def _of_break(toml: TomlText, brk: Break) -> Iterator[BadNotation]:
    reader = MelodyReader(toml.source, brk.meter.beats, brk.slots_per_beat)
    placed, _parts = reader.read(toml.block("melody"))
    words = tuple(tuple(each.word for each in bar) for bar in placed)
    for level in Level:
        yield from _of_strokes(toml, lay_break(brk, level).bars, words)


def _of_strokes(toml: TomlText, bars: Bars[Stroke], words: Bars[Word]) -> Iterator[BadNotation]:
    """Doubt strokes of the left hand; a pass is taken to follow another."""
    hand = _Hand()
    for turn in range(2):  # the end of a pass says what its begin finds
        for bar, bar_words in zip(bars, words, strict=True):
            for stroke, word in zip(bar, bar_words, strict=True):
                if turn:
                    for doubt in hand.doubts(stroke):
                        yield _at(toml, word, doubt)
                hand.play(stroke)


class _Hand:
    """Remembers where the left hand is."""

    def __init__(self) -> None:
        self._frets: dict[int, int] = {}  # by string, as it was sounded last
        self._near: dict[int, int] = {}  # what the last stroke of the nail or the left hand sounded

    def play(self, stroke: Stroke) -> None:
        """Move on by one stroke."""
        if stroke.kind is Kind.REST or not stroke.kind.sounds or stroke.kind is Kind.THUMB:
            return
        if stroke.kind is Kind.SLIDE and stroke.strings[0] not in self._frets:
            return  # it comes from nowhere and makes no sound
        self._near = dict(zip(stroke.strings, stroke.last_frets, strict=True))
        self._frets |= self._near

    def doubts(self, stroke: Stroke) -> Iterator[_Doubt]:
        """Return what is doubtful in a stroke, coming from where the hand is."""
        stopped = [fret for fret in stroke.all_frets if fret]
        if stopped and max(stopped) - min(stopped) > WIDEST_HOLD:
            yield _Doubt(
                f"this {stroke.kind.value} holds frets {min(stopped)} and {max(stopped)} at once, "
                "a stretch that few hands make",
                f"keep within {WIDEST_HOLD} frets",
            )
        if stroke.hand is not Hand.LEFT:
            return
        [string] = stroke.strings
        kind = stroke.kind.value
        if stroke.fret is None and stroke.kind is not Kind.PULL_OFF:
            yield _Doubt(
                f"this {kind} names no fret, so nobody knows where the finger lands",
                f"write {kind} {string} fret 2",
            )
            return
        fret = stroke.fret or 0
        if string == DRONE and 0 < fret <= DRONE_FRET:
            yield _Doubt(f"the short string begins at fret {DRONE_FRET}", f"write a fret above {DRONE_FRET}")
            return
        yield from self._from(stroke, string, fret)

    def _from(self, stroke: Stroke, string: int, fret: int) -> Iterator[_Doubt]:
        before, near = self._frets.get(string), self._near.get(string)
        if stroke.kind is Kind.SLIDE:
            if not before:
                where = "nothing has sounded on it" if before is None else "it was open"
                yield _Doubt(
                    f"this slide on string {string} comes from nowhere: {where}",
                    f"strike it at a fret first, such as strike {string} fret 2",
                )
            elif before == fret:
                yield _Doubt(f"this slide goes from fret {fret} to itself", "name another fret")
            return
        if near is None:
            return  # a finger that sounds a string by itself may come from anywhere
        if stroke.kind is Kind.HAMMER_ON and near >= fret:
            way = "goes nowhere" if near == fret else "goes down"
            yield _Doubt(
                f"this hammer-on {way}, from fret {near} to {fret}", "write pull-off, or a higher fret"
            )
        elif stroke.kind is Kind.PULL_OFF and (near < fret or (near == fret and fret > 0)):
            way = "goes nowhere" if near == fret else "goes upwards"
            yield _Doubt(
                f"this pull-off {way}, from fret {near} to {fret}", "write hammer-on, or a lower fret"
            )
        elif near and fret and abs(fret - near) > WIDEST_REACH:
            yield _Doubt(
                f"from fret {near} to fret {fret} is a stretch that few hands make",
                "bring them nearer, or slide",
            )


def _of_brushes(toml: TomlText, pattern: Pattern, words: Bars[Word]) -> Iterator[BadNotation]:
    """Doubt brushes that name frets and sound another chord than the one under them."""
    chart = pattern.chart
    assert chart is not None
    slots = pattern.slots_per_beat
    for at, (stroke, word) in enumerate(
        zip(pattern.strokes, (word for bar in words for word in bar), strict=True)
    ):
        chord = chart.chord_at(at // slots)
        if stroke.kind is not Kind.BRUSH or stroke.muted or chord.silent:
            continue
        heard = {note % 12 for note in pattern.tuning.stroke_notes(stroke)}
        classes = chord_classes(chord, chart.key)
        name = f"{chord.words} ({chord_letters(chord, chart.key)})"
        foreign = sorted(heard - set(classes))
        if foreign:
            said = " and ".join(PLAINEST_KEYS[each] for each in foreign)
            yield _at(
                toml,
                word,
                _Doubt(f"this brush sounds {said}, which the chord {name} does not have", "check its frets"),
            )
        elif missing := _missing(chord, classes, heard):
            yield _at(
                toml, word, _Doubt(f"this brush lacks the {missing} of the chord {name}", "check its frets")
            )


def _of_shapes(toml: TomlText, chart: Chart, tuning: Tuning) -> Iterator[BadNotation]:
    """Doubt chords whose shape in this tuning lacks what they are named for."""
    for chord in dict.fromkeys(span.chord for span in chart.spans):
        shape = chord_shape(chord, chart.key, tuning)
        heard = {tuning.note(string, fret) % 12 for string, fret in zip((4, 3, 2, 1), shape, strict=True)}
        missing = _missing(chord, chord_classes(chord, chart.key), heard)
        if missing and not chord.silent:
            name = f"{chord.words} ({chord_letters(chord, chart.key)})"
            yield _at_key(
                toml, "chords", f"the shape of {name} that is played in {tuning.words} lacks its {missing}",
                "choose another chord, or another tuning",
            )  # fmt: skip


def _missing(chord: Chord, classes: tuple[int, ...], heard: Iterable[int]) -> str:
    """Return the tone that makes a chord what it is called and is not heard; empty for none."""
    tones = set(heard)
    if classes and classes[0] not in tones and len(tones) < len(classes):
        return "root"
    at, word = _DEFINING.get(chord.tones, (0, ""))
    return word if word and classes[at] not in tones else ""


def _at(toml: TomlText, word: Word, doubt: _Doubt) -> BadNotation:
    return BadNotation(
        source=toml.source.name, line=word.line, column=word.column, problem=doubt.problem,
        remedy=doubt.remedy, line_text=toml.source.lines[word.line - 1],
    )  # fmt: skip


def _at_key(toml: TomlText, key: str, problem: str, remedy: str) -> BadNotation:
    line, column = toml.position(key)
    return _at(toml, Word("", line, column), _Doubt(problem, remedy))
