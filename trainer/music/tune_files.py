"""Read a file of ours, whichever of the three it is: a pattern, a break or a chart; ``kind`` says so.

A chart file (``kind = "chart"``) has a title, ``key``, ``capo``, ``tuning``, ``meter``, ``chords``, and
``figure``: the pattern that is laid over it when none is named. A break file (``kind = "break"``) has
``step``, tempi and ``needs`` as a pattern has them, and ``chords``, ``melody``
(:mod:`trainer.music.melody_text`), and, where a level should not be as usual, a section for it::

    [skips]
    figures = "left hand, skip"     # in turn, bar after bar: basic, left hand, skip, early skip
    bars = \"\"\"
    bar 4: skip
    bar 8: strike 3, rest, brush, thumb
    \"\"\"
"""

from __future__ import annotations

import re

from trainer.music.backup import BackupChart
from trainer.music.bars_text import BarsReader
from trainer.music.breaks import USUAL_PLANS, Break, LevelPlan, usual_slots
from trainer.music.form import whole_form
from trainer.music.form_text import REMARK, bar_pieces
from trainer.music.laying import Figure
from trainer.music.melody_text import MelodyReader
from trainer.music.notation import (
    MAX_STEP,
    chart_of,
    meter_of,
    pattern_of,
    slots_of_beat,
    teacher_of,
    tuning_of,
)
from trainer.music.pattern import MAX_TEACHER, Level, Meter, Pattern, usual_motion
from trainer.music.source import Word, nearest, shown
from trainer.music.strokes import Stroke
from trainer.music.toml_text import TomlText, is_name

KINDS = ("pattern", "break", "chart")
MAX_TUNE_TITLE = 64  # with a level after it, it is still a title
CHART_KEYS = ("kind", "title", "key", "meter", "figure", "chords")
CHART_OPTIONS = ("capo", "tuning", "teacher")
BREAK_KEYS = ("kind", "title", "step", "key", "meter", "slow_bpm", "goal_bpm", "chords", "melody")
BREAK_OPTIONS = (
    "slots_per_beat",
    "playing_bpm",
    "capo",
    "tuning",
    "teacher",
    "needs",
    *(level.value for level in Level),
)
LEVEL_OPTIONS = ("figures", "bars", "teacher", "needs")
_FIGURE_WORDS = tuple(figure.value for figure in Figure)
_BAR_HEAD = re.compile(r"\s*bar\s+([0-9]{1,3})\s*:", re.IGNORECASE)

Tune = Pattern | Break | BackupChart


def read_tune(text: str, *, name: str, source: str = "<text>") -> Tune:
    """Read a pattern, a break or a chart from the text of its file.

    Args:
        text: the whole file.
        name: what others call it, usually the file's stem.
        source: what to call the file in an error.

    Raises:
        BadNotation: the first thing that is wrong, with its line and column.
    """
    toml = TomlText.of(text, source)
    kind = toml.choice("kind", KINDS) if "kind" in toml.table else "pattern"
    if kind == "break":
        return _break(toml, name)
    if kind == "chart":
        return _backup(toml, name)
    return pattern_of(toml, name)


def _backup(toml: TomlText, name: str) -> BackupChart:
    toml.check_keys(CHART_KEYS, CHART_OPTIONS, "charts")
    meter = meter_of(toml)
    figure = toml.words("figure", MAX_TUNE_TITLE)
    if not is_name(figure):
        toml.fail_key(
            "figure", f"found {shown(figure)} for figure", "write a pattern's name, such as basic-figure"
        )
    return BackupChart(
        name=name,
        title=toml.words("title", MAX_TUNE_TITLE),
        meter=meter,
        chart=chart_of(toml, meter),
        tuning=tuning_of(toml),
        figure=figure,
        teacher=teacher_of(toml),
    )


def _break(toml: TomlText, name: str) -> Break:
    toml.check_keys(BREAK_KEYS, BREAK_OPTIONS, "breaks")
    meter = meter_of(toml)
    slots = slots_of_beat(toml, meter) if "slots_per_beat" in toml.table else usual_slots(meter)
    placed, parts = MelodyReader(toml.source, meter.beats, slots).read(toml.block("melody"))
    melody = tuple(tuple(each.slot for each in bar) for bar in placed)
    form = parts or whole_form(len(melody))
    slow, goal, playing = toml.tempi()
    written = sum(part.written for part in form)
    plain, ornaments, skips = (_plan(toml, level, meter, slots, written) for level in Level)
    return Break(
        name=name,
        title=toml.words("title", MAX_TUNE_TITLE),
        step=toml.whole("step", 1, MAX_STEP),
        meter=meter,
        slots_per_beat=slots,
        chart=chart_of(toml, meter, form),
        tuning=tuning_of(toml),
        melody=melody,
        plans=(plain, ornaments, skips),
        needs=toml.needs(""),
        slow_bpm=slow,
        goal_bpm=goal,
        teacher=teacher_of(toml),
        playing_bpm=playing,
        parts=parts,
    )


def _plan(toml: TomlText, level: Level, meter: Meter, slots: int, bars: int) -> LevelPlan:
    section = toml.section(level.value)
    section.check_keys((), LEVEL_OPTIONS, "levels")
    usual = USUAL_PLANS[level]
    return LevelPlan(
        figures=_figures(section) if "figures" in section.table else usual.figures,
        changed=_changed_bars(section, meter, slots, bars) if "bars" in section.table else usual.changed,
        teacher=teacher_of(section),
        needs=section.needs(""),
    )


def _figures(section: TomlText) -> tuple[Figure, ...]:
    words = [" ".join(word.split()).lower() for word in section.words("figures", MAX_TEACHER).split(",")]
    for word in words:
        if word not in _FIGURE_WORDS:
            near = nearest(word, _FIGURE_WORDS)
            section.fail_key(
                "figures",
                f"found {shown(word)} in figures",
                f"did you mean {near}" if near else f"write {', '.join(_FIGURE_WORDS)}, in turn",
            )
    return tuple(Figure(word) for word in words)


def _changed_bars(
    section: TomlText, meter: Meter, slots: int, bars: int
) -> tuple[tuple[int, Figure | tuple[Stroke, ...]], ...]:
    reader = BarsReader(section.source, usual_motion(meter, slots), slots)
    changed: dict[int, Figure | tuple[Stroke, ...]] = {}
    block = section.block("bars")
    lines = [
        Word(REMARK.sub("", text), block.line + at, block.column if at == 0 else 1)
        for at, text in enumerate(block.text.split("\n"))
    ]
    for piece in bar_pieces([line for line in lines if line.text.strip()]):
        head = _BAR_HEAD.match(piece.text)
        if head is None:
            section.source.fail_word(
                piece.trimmed(), "this line does not say which bar it is", "begin it with, say, bar 4:"
            )
        number = Word(head[1], piece.line, piece.column + head.start(1))
        if not 1 <= int(head[1]) <= bars:
            section.source.fail_word(
                number, f"found bar {int(head[1])} in a break of {bars}", f"write a bar from 1 to {bars}"
            )
        if int(head[1]) - 1 in changed:
            section.source.fail_word(
                number, f"bar {int(head[1])} stands here a second time", "remove one of them"
            )
        rest = Word(piece.text[head.end() :], piece.line, piece.column + head.end())
        word = " ".join(rest.text.split()).lower()
        # "skip" alone is the figure: as a stroke it could not fill a bar.
        changed[int(head[1]) - 1] = Figure(word) if word in _FIGURE_WORDS else _strokes(reader, rest)
    return tuple(sorted(changed.items(), key=lambda item: item[0]))


def _strokes(reader: BarsReader, text: Word) -> tuple[Stroke, ...]:
    return tuple(placed.stroke for placed in reader.bar(text))
