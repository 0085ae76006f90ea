"""Choose the bars that a demonstration loops, so that a fault is reached within two bars."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.judging.changes import first_after_changes
from trainer.music.excerpt import bar_numbers, cut_chart, excerpt, is_cut_out
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.showing import SKIP_FAULTS, Showing

SHORT_BARS = 4  # so long a pattern is shown whole: a figure is known by all of it
FEW_BARS = 2  # of a longer one: the bar before the fault and its own
BARS_OF_HURRY = 4  # speeding up takes some time to be heard


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownPart:
    """Bars that go round.

    Attributes:
        pattern: these bars as a pattern.
        numbers: each bar's number in the whole, as people count.
    """

    pattern: Pattern
    numbers: tuple[int, ...]

    def beginning_at(self, bar: int) -> ShownPart:
        """Return the same bars going round from another of them, from 0."""
        at = bar % len(self.numbers)
        return ShownPart(
            pattern=beginning_at(self.pattern, at), numbers=self.numbers[at:] + self.numbers[:at]
        )


def part_for(whole: Pattern, showing: Showing) -> ShownPart:
    """Return the bars to be looped.

    Returns:
        All bars, if these are few or somebody has cut them out; of a long pattern those round the first place
        where the fault shows. They go round from at most one bar before it.
    """
    cut = ShownPart(pattern=whole, numbers=bar_numbers(whole))
    if showing is Showing.CLEAN:
        return cut
    fault = first_fault_bar(cut.pattern, showing)
    count = len(cut.pattern.bars)
    if is_cut_out(whole) or count <= SHORT_BARS:
        return cut if fault <= 1 else cut.beginning_at(fault - 1)
    bars = BARS_OF_HURRY if showing is Showing.HURRYING else FEW_BARS
    first = min(max(fault - 1, 0), count - bars)
    return ShownPart(
        pattern=excerpt(cut.pattern, first, first + bars - 1), numbers=cut.numbers[first : first + bars]
    )


def first_fault_bar(pattern: Pattern, showing: Showing) -> int:
    """Return the first bar, from 0, in which a fault shows; 0 for one that shows everywhere."""
    targets = lay_out(pattern, Timeline.steady(60), passes=1)
    if showing in SKIP_FAULTS:
        return next((t.bar for t in targets if t.stroke.kind is Kind.SKIP), 0)
    if showing is Showing.LATE_CHANGE:
        return min((change.bar for change in first_after_changes(targets, pattern.chart).values()), default=0)
    return 0


def beginning_at(pattern: Pattern, bar: int) -> Pattern:
    """Return a pattern that goes round from another of its bars, so that one can go on from there."""
    at = bar % len(pattern.bars)
    if at == 0:
        return pattern
    chart = pattern.chart
    if chart is not None:
        beat = at * pattern.meter.beats
        before, after = cut_chart(chart, 0, beat), cut_chart(chart, beat, chart.beats)
        chart = replace(chart, spans=after.spans + before.spans)
    return replace(pattern, bars=pattern.bars[at:] + pattern.bars[:at], parts=(), chart=chart)
