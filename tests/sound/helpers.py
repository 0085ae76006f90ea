"""Small plans for the sound tests."""

from dataclasses import replace
from fractions import Fraction

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.sound.plan import SoundSettings, StreamPlan, plan_for

CLICKS_ONLY = SoundSettings(left_hand=False)
ONE, FOUR, FIVE = (Chord(degree=degree) for degree in (1, 4, 5))
ALTERNATING = pattern_of(SKIP_FIGURE, BASIC_FIGURE)


def plan_of(
    bpm: str,
    *,
    pattern: Pattern = ALTERNATING,
    passes: int = 0,
    changes: tuple[tuple[int, str], ...] = (),
    settings: SoundSettings = CLICKS_ONLY,
    feel: Feel = NO_FEEL,
) -> StreamPlan:
    """A plan at one tempo, or with tempo changes as (beat, beats a minute)."""
    timeline = Timeline.steady(bpm)
    for beat, later_bpm in changes:
        timeline = timeline.with_tempo(later_bpm, from_beat=Fraction(beat))
    return plan_for(pattern, timeline, passes=passes, settings=settings, feel=feel)


def chart_of(*spans: tuple[Chord, int], key: str = "G") -> Chart:
    return Chart(key=key, spans=tuple(ChordSpan(chord=chord, beats=beats) for chord, beats in spans))


def charted(*spans: tuple[Chord, int], key: str = "G") -> Pattern:
    beats = sum(n for _, n in spans)
    pattern = pattern_of(*["strike 3, rest, brush, thumb"] * (beats // 2))
    return replace(pattern, chart=chart_of(*spans, key=key))
