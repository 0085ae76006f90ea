"""Fold a tune into the bars that are written: each once, with its parts, repeats and endings as signs.

The signs are those of written music: a repeat's bar line is a fine and a heavy one with two dots on the side
of the repeat, an ending has a line over its bars with its number, a part has its name over its first bar.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trainer.music.chart import Chart, ChordSpan
from trainer.music.form import Part, played_bars
from trainer.music.pattern import Pattern

USUAL_TIMES = 2  # what a repeat sign without words means


@dataclass(frozen=True, slots=True, kw_only=True)
class BarSigns:
    """The signs at one bar.

    Attributes:
        part: the name of the part that begins here, with how often where that is more than twice; or empty.
        begins_repeat, ends_repeat: whether a repeat begins or ends at this bar.
        ending: over the bars of an ending its number, such as ``1.``; empty elsewhere.
        begins_ending, ends_ending: whether the ending's line begins or ends with this bar.
    """

    part: str = ""
    begins_repeat: bool = False
    ends_repeat: bool = False
    ending: str = ""
    begins_ending: bool = False
    ends_ending: bool = False


NO_SIGNS = BarSigns()


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenTune:
    """A tune as it is written: the bars, each once, and the signs at each."""

    pattern: Pattern
    signs: tuple[BarSigns, ...]


@lru_cache(maxsize=8)
def written(pattern: Pattern) -> WrittenTune:
    """Return a pattern's bars as they are written; all of them as played where it says nothing of a form."""
    if not pattern.parts:
        return WrittenTune(pattern=pattern, signs=(NO_SIGNS,) * len(pattern.bars))
    first_played: dict[int, int] = {}
    for at, played in enumerate(played_bars(pattern.parts)):
        first_played.setdefault(played.written, at)
    bars = [first_played[number] for number in sorted(first_played)]
    folded = replace(
        pattern, bars=tuple(pattern.bars[bar] for bar in bars), chart=_chart_of(pattern, bars), parts=()
    )
    signs = [sign for part in pattern.parts for sign in _signs_of(part)]
    return WrittenTune(pattern=folded, signs=tuple(signs))


def _signs_of(part: Part) -> list[BarSigns]:
    """Return the signs at each written bar of a part."""
    repeats = part.times > 1
    name = f"{part.name}, {part.times} times" if part.times > USUAL_TIMES and part.name else part.name
    found = [
        BarSigns(
            part=name if bar == 0 else "",
            begins_repeat=repeats and bar == 0,
            ends_repeat=repeats and not part.endings and bar == part.bars - 1,
        )
        for bar in range(part.bars)
    ]
    for time, bars in enumerate(part.endings):
        is_last = time == len(part.endings) - 1
        found += [
            BarSigns(
                ending=f"{time + 1}.",
                begins_ending=bar == 0,
                ends_ending=bar == bars - 1,
                ends_repeat=bar == bars - 1 and not is_last,
            )
            for bar in range(bars)
        ]
    return found


def _chart_of(pattern: Pattern, bars: list[int]) -> Chart | None:
    """Return the chords over some bars, one after another."""
    chart, beats = pattern.chart, pattern.meter.beats
    if chart is None:
        return None
    spans = []
    for bar in bars:
        first, end = Fraction(bar * beats), Fraction((bar + 1) * beats)
        for start, span in zip(chart.starts, chart.spans, strict=True):
            length = min(start + span.beats, end) - max(start, first)
            if length > 0:
                spans.append(ChordSpan(chord=span.chord, beats=length))
    return replace(chart, spans=tuple(spans))
