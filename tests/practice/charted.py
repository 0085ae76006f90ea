"""A pattern that every part of a report has something to say of: chords, accents, brushes and skips."""

from dataclasses import replace

from tests.judging.helpers import SKIP_FIGURE, pattern_of
from trainer.music.chart import Chart, Chord, ChordSpan

ONE, FOUR = Chord(degree=1), Chord(degree=4)
CHART = Chart(key="A", spans=tuple(ChordSpan(chord=chord, beats=2) for chord in (ONE, FOUR, ONE)))
PATTERN = replace(
    pattern_of(
        "accented strike 3, thumb, brush, thumb", "strike 1, rest, brush, thumb", SKIP_FIGURE, SKIP_FIGURE
    ),
    chart=replace(CHART, spans=(*CHART.spans, ChordSpan(chord=ONE, beats=2))),
)
