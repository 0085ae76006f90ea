"""Say a pattern, a break or a chart in words: its facts, its chords in numbers and letters, its strokes."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from fractions import Fraction

from trainer.music.backup import BackupChart
from trainer.music.breaks import Break
from trainer.music.chart import Chart, ChordSpan
from trainer.music.chords_text import beats_words
from trainer.music.excerpt import cut_chart
from trainer.music.keys import chord_letters, shape_key
from trainer.music.melody_text import melody_lines
from trainer.music.notation import stroke_words
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.tuning import Tuning
from trainer.practice.report import COLUMNS

BARS_A_LINE = 4  # as a chart is read: four bars at a glance


def pattern_lines(pattern: Pattern) -> tuple[str, ...]:
    """Return a pattern in words, one line for each slot; with a chart its chords come first."""
    grid = f"{pattern.meter.value}, {pattern.slots_per_beat} slots to a beat"
    tempi = _tempi(pattern.slow_bpm, pattern.goal_bpm, pattern.playing_bpm)
    lines = [
        f"{pattern.title} ({pattern.name})",
        f"step {pattern.step}, level {pattern.level.value}, {grid}, {tempi}",
        *_needs(pattern.needs),
        *_wrapped(pattern.teacher),
    ]
    if pattern.chart is not None:
        lines += [
            *_strings(pattern.chart, pattern.tuning),
            *chart_lines(pattern.chart, pattern.meter, pattern.tuning),
        ]
    for number, bar in enumerate(pattern.bars, start=1):
        lines.append(f"bar {number}")
        lines += [
            f"  slot {slot}  {way.value:<4}  {stroke_words(stroke)}"
            for slot, (way, stroke) in enumerate(zip(pattern.motion, bar, strict=True), start=1)
        ]
    return tuple(lines)


def break_lines(brk: Break) -> tuple[str, ...]:
    """Return a break in words: its chords, its melody, and how to ask for its levels."""
    lines = [
        f"{brk.title} ({brk.name}), a break",
        f"{brk.meter.value}, {len(brk.melody)} bars, {_tempi(brk.slow_bpm, brk.goal_bpm, brk.playing_bpm)}",
        *_needs(brk.needs),
        *_wrapped(brk.teacher),
        *_strings(brk.chart, brk.tuning),
        *chart_lines(brk.chart, brk.meter, brk.tuning),
        "melody, by string and fret",
    ]
    lines += _melody(brk)
    lines.append("levels")
    lines += [f"  {brk.name} at {level.value}" for level in Level]
    return tuple(lines)


def _melody(brk: Break) -> list[str]:
    """Return the melody as it is written, its bars numbered; headings and pickups stand between them."""
    written = melody_lines(brk.melody, brk.parts, brk.slots_per_beat)
    wide = len(str(len(written)))
    lines, number = [], 0
    for line in written:
        if line.endswith(":") or line.startswith("pickup:"):
            lines.append(f"  {line}")
            continue
        number += 1
        lines.append(f"  bar {number:>{wide}}  {line}")
    return lines


def backup_lines(backup: BackupChart) -> tuple[str, ...]:
    """Return a chart in words: its chords, and how to lay a figure over it."""
    return (
        f"{backup.title} ({backup.name}), a chart",
        f"{backup.meter.value}, {backup.bars} bars",
        *_wrapped(backup.teacher),
        *_strings(backup.chart, backup.tuning),
        *chart_lines(backup.chart, backup.meter, backup.tuning),
        f"played with {backup.figure}, or with any other figure in {backup.meter.value}:",
        f"  {backup.name} with {backup.figure}",
    )


def chart_lines(chart: Chart, meter: Meter, tuning: Tuning) -> tuple[str, ...]:
    """Return a chart by lines of bars in numbers, in letters, and with a capo in the letters of the shapes.

    A bar shows each chord where it begins, and at its start the chord that goes on; ``/`` is one more beat of
    the same chord in a bar that has several.
    """
    bars = [_bar_spans(chart, bar, meter) for bar in range(chart.beats // meter.beats)]
    names = {"numbers": [[span.chord.words for span in bar] for bar in bars]}
    names["letters"] = [[chord_letters(span.chord, chart.key) for span in bar] for bar in bars]
    if tuning.capo:
        shapes = shape_key(chart.key, tuning.capo)
        names["shapes"] = [[chord_letters(span.chord, shapes) for span in bar] for bar in bars]
    cells = {
        row: [_cell(words, bar) for words, bar in zip(each, bars, strict=True)] for row, each in names.items()
    }
    wide = max(len(cell) for each in cells.values() for cell in each)
    lines = []
    for at in range(0, len(bars), BARS_A_LINE):
        for row, each in cells.items():
            shown = " | ".join(f"{cell:<{wide}}" for cell in each[at : at + BARS_A_LINE])
            lines.append(f"  {row:<7}  {shown}".rstrip())
    return (f"chords, {BARS_A_LINE} bars a line", *lines)


def _bar_spans(chart: Chart, bar: int, meter: Meter) -> tuple[ChordSpan, ...]:
    """Return the chords of one bar with the beats that each has in it."""
    return cut_chart(chart, bar * meter.beats, (bar + 1) * meter.beats).spans


def _cell(words: Iterable[str], spans: tuple[ChordSpan, ...]) -> str:
    if len(spans) == 1:
        return next(iter(words))
    if all(isinstance(span.beats, int) for span in spans):
        return " ".join(
            " ".join([word, *["/"] * (int(span.beats) - 1)]) for word, span in zip(words, spans, strict=True)
        )
    return " ".join(f"{word} ({beats_words(span.beats)})" for word, span in zip(words, spans, strict=True))


def _strings(chart: Chart, tuning: Tuning) -> list[str]:
    """Return what the left hand must know: tuning, key, capo."""
    pitches = "" if tuning.words == tuning.pitches else f" ({tuning.pitches})"
    capo = (
        f", capo {tuning.capo}: shapes of {shape_key(chart.key, tuning.capo)}" if tuning.capo else ", no capo"
    )
    return [f"tuning {tuning.words}{pitches}, key {chart.key_words}{capo}"]


def _tempi(slow: Fraction, goal: Fraction, playing: Fraction | None) -> str:
    words = f"{float(slow):g} to {float(goal):g} beats a minute"
    return words if playing is None else f"{words}, played at {float(playing):g}"


def _needs(needs: tuple[str, ...]) -> list[str]:
    return _wrapped(f"first clean: {', '.join(needs)}") if needs else []


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, COLUMNS, break_on_hyphens=False)
