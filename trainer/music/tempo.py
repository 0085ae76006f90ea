"""Say a tempo in figures a minute, which is how a dance counts, beside the beats that click.

A figure is what a hand does before it begins again (common practice, no source): two falls and two rises,
which is a bar of 2/4 with two slots to the beat, or one beat with four; a bar of 3/4 and of 9/8; two beats
elsewhere. So a dance of 110 figures a minute clicks 220 beats of 2/4.
"""

from __future__ import annotations

from fractions import Fraction

from trainer.music.pattern import Meter, Pattern

THREE_BEATS = (Meter.THREE_FOUR, Meter.NINE_EIGHT)


def figure_beats(meter: Meter, slots_per_beat: int) -> int:
    """Return the beats that a figure lasts.

    >>> [figure_beats(Meter(m), n) for m, n in (("2/4", 2), ("2/4", 4), ("3/4", 2), ("6/8", 3))]
    [2, 1, 3, 2]
    """
    if meter in THREE_BEATS:
        return meter.beats
    return 1 if slots_per_beat == 4 else 2


def figures_a_minute(meter: Meter, slots_per_beat: int, bpm: Fraction) -> Fraction:
    """Return how many figures a minute a tempo in beats a minute makes, exactly.

    >>> figures_a_minute(Meter.TWO_FOUR, 2, Fraction(220))
    Fraction(110, 1)
    """
    return bpm / figure_beats(meter, slots_per_beat)


def tempo_words(pattern: Pattern, bpm: Fraction) -> str:
    """Return a tempo of a pattern in words: ``150 beats, 75 figures a minute``."""
    figures = figures_a_minute(pattern.meter, pattern.slots_per_beat, bpm)
    return f"{float(bpm):g} beats, {float(figures):g} figures a minute"


def seconds_of_pass(pattern: Pattern, bpm: Fraction) -> float:
    """Return how long one pass of a pattern lasts, in seconds."""
    return float(pattern.beats * 60 / bpm)
