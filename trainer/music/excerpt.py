"""Cut bars out of a pattern, with the chords that are heard under them, so that they can be looped."""

from __future__ import annotations

import re
from dataclasses import replace

from trainer.errors import BadSettings
from trainer.music.chart import Chart, ChordSpan
from trainer.music.pattern import MAX_TITLE, Pattern

_CUT_OUT = re.compile(r" bars? (\d{1,3})(?: to \d{1,3})?$")  # as excerpt names what it cuts out


def excerpt(pattern: Pattern, first_bar: int, last_bar: int) -> Pattern:
    """Return the bars from one to another, both included, as a pattern of their own.

    What is cut out has no parts. A chord that began before the first bar goes on in it, and one that goes on
    after the last ends with it.

    Args:
        first_bar, last_bar: from 0.

    Returns:
        A pattern named ``NAME bars 3 to 6``, as people count; all bars give the pattern itself.

    Raises:
        BadSettings: there are no such bars, or the last comes before the first.
    """
    count = len(pattern.bars)
    if not 0 <= first_bar <= last_bar < count:
        raise BadSettings(
            f"found bars {first_bar + 1} to {last_bar + 1} of {pattern.name}, which has {count}",
            f"choose bars in order from 1 to {count}",
        )
    if (first_bar, last_bar) == (0, count - 1):
        return pattern
    words = bar_words(first_bar, last_bar)
    beats = pattern.meter.beats
    return replace(
        pattern,
        name=f"{pattern.name} {words}",
        title=f"{pattern.title[: MAX_TITLE - len(words) - 2]}, {words}",
        bars=pattern.bars[first_bar : last_bar + 1],
        parts=(),
        chart=cut_chart(pattern.chart, first_bar * beats, (last_bar + 1) * beats) if pattern.chart else None,
    )


def is_cut_out(pattern: Pattern) -> bool:
    """Return whether a pattern is bars that were cut out of another, as :func:`excerpt` names them."""
    return not pattern.parts and _CUT_OUT.search(pattern.name) is not None


def bar_numbers(pattern: Pattern) -> tuple[int, ...]:
    """Return the number of each bar as people count them; bars cut out keep those of the whole."""
    found = _CUT_OUT.search(pattern.name)
    first = int(found[1]) if found is not None and is_cut_out(pattern) else 1
    return tuple(range(first, first + len(pattern.bars)))


def bar_words(first_bar: int, last_bar: int) -> str:
    """Return bars, from 0, in words: ``bar 3``, or ``bars 3 to 6``.

    >>> bar_words(0, 0), bar_words(2, 5)
    ('bar 1', 'bars 3 to 6')
    """
    if first_bar == last_bar:
        return f"bar {first_bar + 1}"
    return f"bars {first_bar + 1} to {last_bar + 1}"


def cut_chart(chart: Chart, first_beat: int, end_beat: int) -> Chart:
    """Return the chords from one beat up to, but not including, another; ``first_beat`` is before it."""
    spans = []
    for start, span in zip(chart.starts, chart.spans, strict=True):
        beats = min(start + span.beats, end_beat) - max(start, first_beat)
        if beats > 0:
            spans.append(ChordSpan(chord=span.chord, beats=beats))
    return replace(chart, spans=tuple(spans))
