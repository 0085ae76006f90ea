"""Read and write a pattern's text.

A pattern file is TOML. Its key ``bars`` holds the strokes in words that can be read aloud: one bar a
line (or several parted by ``|``), strokes parted by commas, ``#`` begins a remark::

    strike 3, rest, accented brush, thumb
    skip, drop-thumb 2, brush 4 to 1, thumb     # the skip figure

A stroke is ``[accented] [muted] strike N``, ``brush [N to M]``, ``thumb``, ``drop-thumb N``, ``skip``,
``rest``, ``hammer-on N``, ``pull-off N`` or ``slide N``; after a string may stand ``fret F``, and after a
brush ``frets F F F``, one for each of its strings in their order. After a strike's fret may stand ``slid from
F``, or ``triplet F F`` for two more notes in the same beat. Parts, endings and pickups have headings:
:mod:`trainer.music.form_text`.

A pattern may say how the strings are tuned (``tuning``, ``capo``) and which chords lie under it (``chords``
by number, with their ``key``): :mod:`trainer.music.chords_text` and :mod:`trainer.music.tuning` say how.
"""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.bars_text import BarsReader
from trainer.music.chart import Chart
from trainer.music.chords_text import chords_words, read_chart_form
from trainer.music.form import Part, whole_form
from trainer.music.form_text import form_lines
from trainer.music.keys import read_key_and_mode
from trainer.music.pattern import MAX_TEACHER, MAX_TITLE, Level, Meter, Pattern, usual_motion
from trainer.music.source import shown
from trainer.music.strokes import DEFAULT_BRUSH, Kind, Motion, Stroke
from trainer.music.toml_text import TomlText
from trainer.music.tuning import HIGHEST_CAPO, OPEN_G, Tuning, read_tuning

MAX_STEP = 999
LONGEST_TUNING = 40

REQUIRED_KEYS = ("title", "level", "step", "meter", "slots_per_beat", "slow_bpm", "goal_bpm", "bars")
OPTIONAL_KEYS = ("kind", "playing_bpm", "needs", "motion", "teacher", "key", "capo", "tuning", "chords")


def read_pattern(text: str, *, name: str, source: str = "<text>") -> Pattern:
    """Read a pattern from the text of its file.

    Args:
        text: the whole file; a byte-order mark and either kind of line end are accepted.
        name: what other patterns call it, usually the file's stem.
        source: what to call the file in an error.

    Raises:
        BadNotation: the first thing that is wrong, with its line and column.
    """
    return pattern_of(TomlText.of(text, source), name)


def pattern_of(toml: TomlText, name: str) -> Pattern:
    """Return the pattern that a file's table holds.

    Raises:
        BadNotation: the first thing that is wrong, with its line and column.
    """
    if "kind" in toml.table:
        toml.choice("kind", ("pattern",))
    toml.check_keys(REQUIRED_KEYS, OPTIONAL_KEYS, "patterns")
    meter = meter_of(toml)
    spb = slots_of_beat(toml, meter)
    motion = _motion(toml, meter, spb)
    slow, goal, playing = toml.tempi()
    placed, parts = BarsReader(toml.source, motion, spb).read(toml.block("bars"))
    bars = tuple(tuple(each.stroke for each in bar) for bar in placed)
    return Pattern(
        name=name,
        title=toml.words("title", MAX_TITLE),
        level=Level(toml.choice("level", tuple(v.value for v in Level))),
        step=toml.whole("step", 1, MAX_STEP),
        meter=meter,
        slots_per_beat=spb,
        motion=motion,
        bars=bars,
        needs=toml.needs(name),
        slow_bpm=slow,
        goal_bpm=goal,
        teacher=teacher_of(toml),
        chart=_chart(toml, meter, parts or whole_form(len(bars))),
        tuning=tuning_of(toml),
        playing_bpm=playing,
        parts=parts,
    )


def write_pattern(pattern: Pattern) -> str:
    """Return the text of a pattern; :func:`read_pattern` gives the same pattern back.

    Raises:
        ValueError: a tempo that has no finite decimal form, which no file can have given.
    """
    lines = [
        f"title = {_quoted(pattern.title)}",
        f"level = {_quoted(pattern.level.value)}",
        f"step = {pattern.step}",
        f"meter = {_quoted(pattern.meter.value)}",
        f"slots_per_beat = {pattern.slots_per_beat}",
        f"slow_bpm = {_decimal(pattern.slow_bpm)}",
        f"goal_bpm = {_decimal(pattern.goal_bpm)}",
    ]
    if pattern.playing_bpm is not None:
        lines.append(f"playing_bpm = {_decimal(pattern.playing_bpm)}")
    if pattern.motion != usual_motion(pattern.meter, pattern.slots_per_beat):
        lines.append(f"motion = {_quoted(', '.join(m.value for m in pattern.motion))}")
    lines.append(f"needs = [{', '.join(_quoted(need) for need in pattern.needs)}]")
    lines.append(f"teacher = {_quoted(pattern.teacher)}")
    if pattern.tuning.notes != OPEN_G.notes:
        lines.append(f"tuning = {_quoted(pattern.tuning.words)}")
    if pattern.tuning.capo:
        lines.append(f"capo = {pattern.tuning.capo}")
    if pattern.chart is not None:
        lines.append(f"key = {_quoted(pattern.chart.key_words)}")
        lines += ['chords = """', *chords_words(pattern.chart.spans), '"""']
    return "\n".join([*lines, 'bars = """', *bars_words(pattern), '"""', ""])


def bars_words(pattern: Pattern) -> tuple[str, ...]:
    """Return the bars of a pattern as they are written, under the headings of its parts."""
    return form_lines(pattern.parts, pattern.bars, _slots_words)


def _slots_words(strokes: tuple[Stroke, ...]) -> str:
    return ", ".join(stroke_words(stroke) for stroke in strokes)


def stroke_words(stroke: Stroke) -> str:
    """Return a stroke in the words of a pattern file, such as ``drop-thumb 3``."""
    words = ["accented"] if stroke.accented else []
    words += ["muted"] if stroke.muted else []
    words.append(stroke.kind.value)
    if stroke.kind is Kind.BRUSH:
        if stroke.strings != DEFAULT_BRUSH:
            words.append(f"{stroke.strings[0]} to {stroke.strings[-1]}")
    elif stroke.kind is not Kind.THUMB and stroke.strings:
        words.append(str(stroke.strings[0]))
    if stroke.fret is not None:
        words.append(f"fret {stroke.fret}")
    if stroke.frets:
        words.append(f"frets {' '.join(str(fret) for fret in stroke.frets)}")
    if stroke.slid_from is not None:
        words.append(f"slid from {stroke.slid_from}")
    if stroke.triplet:
        words.append(f"triplet {' '.join(str(fret) for fret in stroke.triplet)}")
    return " ".join(words)


def meter_of(toml: TomlText) -> Meter:
    """Return the meter that a file names."""
    return Meter(toml.choice("meter", tuple(m.value for m in Meter)))


def slots_of_beat(toml: TomlText, meter: Meter) -> int:
    """Return the slots of a beat that a file names."""
    spb = toml.whole("slots_per_beat", 2, 4)
    if spb not in meter.slots_per_beat_choices:
        wanted = " or ".join(str(n) for n in meter.slots_per_beat_choices)
        toml.fail_key("slots_per_beat", f"found {spb} slots to a beat in {meter.value}", f"write {wanted}")
    return spb


def teacher_of(toml: TomlText) -> str:
    """Return the sentence to say to a class; empty when the file has none."""
    return toml.words("teacher", MAX_TEACHER) if "teacher" in toml.table else ""


def tuning_of(toml: TomlText) -> Tuning:
    """Return the tuning and the capo of a file; open G without a capo when it names neither."""
    capo = toml.whole("capo", 0, HIGHEST_CAPO) if "capo" in toml.table else 0
    if "tuning" not in toml.table:
        return Tuning(capo=capo)
    try:
        return read_tuning(toml.words("tuning", LONGEST_TUNING), capo=capo)
    except BadSettings as err:
        toml.said("tuning", err)


def chart_of(toml: TomlText, meter: Meter, parts: tuple[Part, ...] | None = None) -> Chart:
    """Return the chords of a file that has the keys ``key`` and ``chords``.

    Args:
        parts: the form of what is played over them, as long as they must be and with the same parts if the
            chords have any; None where the chords stand alone.
    """
    try:
        key, mode = read_key_and_mode(toml.words("key", LONGEST_TUNING))
    except BadSettings as err:
        toml.said("key", err)
    spans, own = read_chart_form(toml.source, toml.block("chords"), meter.beats)
    chart = Chart(key=key, spans=spans, mode=mode)
    if parts is not None:
        check_length(toml, chart, meter, sum(part.played for part in parts))
        _check_same_form(toml, own, parts)
    return chart


def _chart(toml: TomlText, meter: Meter, parts: tuple[Part, ...]) -> Chart | None:
    for one, other in (("key", "chords"), ("chords", "key")):
        if one in toml.table and other not in toml.table:
            toml.fail_key(one, f"found {one} without {other}", f"add {other}, or remove {one}")
    return chart_of(toml, meter, parts) if "chords" in toml.table else None


def check_length(toml: TomlText, chart: Chart, meter: Meter, bars: int) -> None:
    """Refuse chords that are not as long as the bars over them."""
    if chart.beats != bars * meter.beats:
        toml.fail_key(
            "chords",
            f"the chords last {chart.beats // meter.beats} bars and there are {bars} of them",
            "write chords for every bar and no more",
        )


def _check_same_form(toml: TomlText, own: tuple[Part, ...], parts: tuple[Part, ...]) -> None:
    """Refuse chords whose parts are not those of what is played over them; chords without parts fit any."""
    for mine, theirs in zip(own, parts, strict=False):
        if mine != replace(theirs, pickup=0):
            toml.fail_key(
                "chords",
                f"part {mine.name} of the chords is not as {theirs.name or 'the tune'} over them",
                "give both the same names, times, endings and lengths, or write the chords out without parts",
            )
    if own and len(own) != len(parts):
        toml.fail_key(
            "chords",
            f"the chords have {len(own)} parts and there are {len(parts)} over them",
            "write the same parts, or the chords without any",
        )


def _motion(toml: TomlText, meter: Meter, spb: int) -> tuple[Motion, ...]:
    if "motion" not in toml.table:
        return usual_motion(meter, spb)
    words = [word.strip() for word in toml.words("motion", MAX_TEACHER).split(",")]
    slots = meter.beats * spb
    for word in words:
        if word not in ("down", "up"):
            toml.fail_key("motion", f"found {shown(word)} in motion", "write down or up for each slot")
    if len(words) != slots:
        toml.fail_key("motion", f"motion has {len(words)} slots", f"write {slots}, one bar")
    return tuple(Motion(word) for word in words)


def _quoted(text: str) -> str:
    # TOML's basic strings take JSON's escapes, but want DEL escaped too.
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _decimal(value: Fraction) -> str:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    if Fraction(exact) != value:
        raise ValueError(f"{value} has no finite decimal form")
    return f"{exact:f}"
