"""Hypothesis strategies shared by the tests."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.keys import KEYS
from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import DEFAULT_BRUSH, DRONE, HIGHEST_FRET, Hand, Kind, Motion, Stroke
from trainer.music.tuning import HIGHEST_NOTE, LOWEST_NOTE, NAMED_NOTES, OPEN_G_NOTES, Tuning

NAMES = st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,2}", fullmatch=True)
LINES = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), max_size=80)
TEMPI = st.decimals(min_value=20, max_value=400, places=3).map(Fraction)
CHORDS = st.builds(Chord, degree=st.integers(1, 7), shift=st.sampled_from((-1, 0, 0, 1)), minor=st.booleans())
TUNINGS = st.builds(
    Tuning,
    notes=st.just(OPEN_G_NOTES)
    | st.sampled_from(tuple(NAMED_NOTES.values()))
    | st.tuples(*[st.integers(LOWEST_NOTE, HIGHEST_NOTE)] * 5),
    capo=st.just(0) | st.integers(0, 12),
)


@st.composite
def charts(draw: st.DrawFn, beats: int) -> Chart:
    """Any chart of a length."""
    changes = draw(st.sets(st.integers(1, beats - 1), max_size=8)) if beats > 1 else set()
    starts = [0, *sorted(changes), beats]
    spans = tuple(ChordSpan(chord=draw(CHORDS), beats=end - start) for start, end in pairwise(starts))
    return Chart(key=draw(st.sampled_from(KEYS)), spans=spans)


@st.composite
def strokes(draw: st.DrawFn, motion: Motion) -> Stroke:
    """Any stroke that fits a hand travelling this way."""
    kind = draw(st.sampled_from([k for k in Kind if k.motion in (None, motion)]))
    accented = draw(st.booleans()) if kind.sounds else False
    fret = None
    if kind is Kind.THUMB:
        strings: tuple[int, ...] = (DRONE,)
    elif kind is Kind.BRUSH:
        first = draw(st.integers(2, 4))
        strings = draw(
            st.just(DEFAULT_BRUSH) | st.integers(1, first - 1).map(lambda n: tuple(range(first, n - 1, -1)))
        )
    elif kind.sounds:
        strings = (draw(st.sampled_from(kind.strings)),)
    else:
        strings = ()
    if kind.takes_fret:
        least = 1 if kind.hand is Hand.LEFT and kind is not Kind.PULL_OFF else 0
        fret = draw(st.none() | st.integers(least, HIGHEST_FRET))
    frets: tuple[int, ...] = ()
    if kind is Kind.BRUSH:
        frets = draw(st.just(()) | st.tuples(*[st.integers(0, HIGHEST_FRET)] * len(strings)))
    return Stroke(kind=kind, strings=strings, fret=fret, frets=frets, accented=accented)


@st.composite
def patterns(draw: st.DrawFn, name: str = "figure", most_bars: int = 6) -> Pattern:
    """Any pattern that a file can hold."""
    meter = draw(st.sampled_from(Meter))
    spb = draw(st.sampled_from(meter.slots_per_beat_choices))
    slots = meter.beats * spb
    motion = draw(
        st.just(usual_motion(meter, spb))
        | st.lists(st.sampled_from(Motion), min_size=slots, max_size=slots).map(tuple)
    )
    bars = draw(
        st.lists(st.tuples(*(strokes(way) for way in motion)).map(tuple), min_size=1, max_size=most_bars).map(
            tuple
        )
    )
    slow, goal = sorted((draw(TEMPI), draw(TEMPI)))
    return Pattern(
        name=name,
        title=draw(LINES.filter(lambda text: bool(text.strip()))),
        level=draw(st.sampled_from(Level)),
        step=draw(st.integers(1, 999)),
        meter=meter,
        slots_per_beat=spb,
        motion=motion,
        bars=bars,
        needs=tuple(draw(st.lists(NAMES.filter(lambda n: n != name), max_size=4))),
        slow_bpm=slow,
        goal_bpm=goal,
        teacher=draw(LINES),
        chart=draw(st.none() | charts(meter.beats * len(bars))),
        tuning=draw(TUNINGS),
    )
