"""Hold a break, a solo chorus, and lay it at a level: strokes over the chart that bring out the melody.

The melody is written once, slot by slot. :mod:`trainer.music.laying` makes strokes of it, in one of four
figures for each bar. A level says which figure each bar has, counted from the first bar of each part; single
bars may have another, or strokes in words. The last bar of a part, where its phrase comes to rest, is not
moved off its beats unless the file says so. A brush that names no frets has the shape of the chord under it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.music.chart import Chart
from trainer.music.form import Part, kept_form, played_bars, whole_form
from trainer.music.keys import capo_for, shape_key
from trainer.music.laying import MOVING, BarLaying, Figure, Ringing
from trainer.music.melody import MelodyBar
from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import Stroke
from trainer.music.tuning import Tuning


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPlan:
    """How the bars of a break are played at one level.

    Attributes:
        figures: the figure of each bar of a part, going round when there are fewer than bars; at least one.
        changed: single bars, from 0 as they are written, that have another figure or strokes of their own.
        teacher: one sentence to say to a class; empty for that of the break.
        needs: names of patterns that should be clean before, besides those of the break.
    """

    figures: tuple[Figure, ...]
    changed: tuple[tuple[int, Figure | tuple[Stroke, ...]], ...] = ()
    teacher: str = ""
    needs: tuple[str, ...] = ()

    def of_bar(self, bar: int, written: int, *, is_last: bool) -> Figure | tuple[Stroke, ...]:
        """Return the figure of a bar, or its own strokes.

        Args:
            bar: counted in its part, from 0.
            written: counted in the whole tune as it is written, from 0.
            is_last: whether a part ends with it.
        """
        usual = self.figures[bar % len(self.figures)]
        if is_last and usual in MOVING:
            usual = Figure.LEFT_HAND
        return dict(self.changed).get(written, usual)


USUAL_PLANS = {
    Level.PLAIN: LevelPlan(figures=(Figure.BASIC,)),
    Level.ORNAMENTS: LevelPlan(figures=(Figure.LEFT_HAND,)),
    Level.SKIPS: LevelPlan(figures=(Figure.LEFT_HAND, Figure.SKIP, Figure.EARLY_SKIP, Figure.LEFT_HAND)),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A solo chorus at three levels.

    Attributes:
        name: the file's stem.
        title: what the library shows.
        step: place among the breaks, 1 first.
        meter, slots_per_beat: the grid.
        chart: the chords, as long as the melody.
        tuning: of the strings, with the capo.
        melody: slots by bar, as it is played, repeats written out.
        plans: how each level is played, in the order of the levels.
        needs, slow_bpm, goal_bpm, playing_bpm, teacher, parts: as a pattern has them.
    """

    name: str
    title: str
    step: int
    meter: Meter
    slots_per_beat: int
    chart: Chart
    tuning: Tuning
    melody: tuple[MelodyBar, ...]
    plans: tuple[LevelPlan, LevelPlan, LevelPlan]
    needs: tuple[str, ...]
    slow_bpm: Fraction
    goal_bpm: Fraction
    teacher: str = ""
    playing_bpm: Fraction | None = None
    parts: tuple[Part, ...] = ()

    def plan(self, level: Level) -> LevelPlan:
        """Return how a level is played."""
        return self.plans[tuple(Level).index(level)]

    def in_key(self, key: str) -> Break:
        """Return the break as it sounds in another key: the same shapes, the capo moved."""
        shapes = shape_key(self.chart.key, self.tuning.capo)
        tuning = replace(self.tuning, capo=capo_for(shapes, key))
        return replace(self, chart=replace(self.chart, key=key), tuning=tuning)


def usual_slots(meter: Meter) -> int:
    """Return the slots that a break has in one beat of a meter unless its file says other."""
    return meter.slots_per_beat_choices[0]


def laid_break_name(name: str, level: Level) -> str:
    """Return what a break at a level is called wherever patterns have names."""
    return f"{name} at {level.value}"


def lay_break(brk: Break, level: Level) -> Pattern:
    """Return a break at a level as a pattern with its chart, each melody note with its string and fret."""
    plan = brk.plan(level)
    form = brk.parts or whole_form(len(brk.melody))
    ringing = Ringing()
    bars = []
    for bar, (played, slots) in enumerate(zip(played_bars(form), brk.melody, strict=True)):
        if played.bar == 0:
            ringing = Ringing()  # so that a part is laid in the same way each time
        what = plan.of_bar(played.bar, played.written, is_last=played.is_last)
        layer = BarLaying(
            chart=brk.chart,
            first_beat=bar * brk.meter.beats,
            tuning=brk.tuning,
            slots_per_beat=brk.slots_per_beat,
        )
        if isinstance(what, Figure):
            strokes, ringing = layer.figure(slots, what, ringing)
        else:
            strokes = layer.fitted(what)
            ringing = ringing.after(strokes)
        bars.append(strokes)
    return Pattern(
        name=laid_break_name(brk.name, level),
        title=f"{brk.title}, {level.value}",
        level=level,
        step=brk.step,
        meter=brk.meter,
        slots_per_beat=brk.slots_per_beat,
        motion=usual_motion(brk.meter, brk.slots_per_beat),
        bars=tuple(bars),
        needs=tuple(dict.fromkeys((*brk.needs, *plan.needs))),
        slow_bpm=brk.slow_bpm,
        goal_bpm=brk.goal_bpm,
        teacher=plan.teacher or brk.teacher,
        chart=brk.chart,
        tuning=brk.tuning,
        playing_bpm=brk.playing_bpm,
        parts=kept_form(brk.parts, tuple(bars)),
    )
