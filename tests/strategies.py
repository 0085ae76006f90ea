"""Hypothesis strategies shared by the tests."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import strategies as st

from trainer.music.chart import NO_CHORD, Chart, Chord, ChordSpan, Degree, Mode, Tones
from trainer.music.form import Bars, Item, Part, pickup_after, played_bars
from trainer.music.keys import KEYS, signature
from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import DEFAULT_BRUSH, DRONE, HIGHEST_FRET, Hand, Kind, Motion, Stroke
from trainer.music.tuning import HIGHEST_NOTE, LOWEST_NOTE, NAMED_NOTES, OPEN_G_NOTES, Tuning

NAMES = st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,2}", fullmatch=True)
LINES = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), max_size=80)
TEMPI = st.decimals(min_value=20, max_value=400, places=3).map(Fraction)
SHIFTS = st.sampled_from((-1, 0, 0, 1))
BASSES = st.none() | st.builds(Degree, degree=st.integers(1, 7), shift=SHIFTS)
CHORDS = st.one_of(
    st.builds(Chord, degree=st.integers(1, 7), shift=SHIFTS, minor=st.booleans()),
    st.builds(Chord, degree=st.integers(1, 7), shift=SHIFTS, tones=st.sampled_from(Tones), bass=BASSES),
    st.builds(
        Chord,
        degree=st.integers(1, 7),
        shift=SHIFTS,
        minor=st.just(True),
        tones=st.sampled_from((Tones.TRIAD, Tones.SEVENTH)),
        bass=BASSES,
    ),
)
CHORDS_OR_NONE = CHORDS | st.just(NO_CHORD)
TUNINGS = st.builds(
    Tuning,
    notes=st.just(OPEN_G_NOTES)
    | st.sampled_from(tuple(NAMED_NOTES.values()))
    | st.tuples(*[st.integers(LOWEST_NOTE, HIGHEST_NOTE)] * 5),
    capo=st.just(0) | st.integers(0, 12),
)


@st.composite
def charts(draw: st.DrawFn, beats: int, *, chords: st.SearchStrategy[Chord] = CHORDS_OR_NONE) -> Chart:
    """Any chart of a length, with changes on halves and thirds of beats too."""
    parts = draw(st.sampled_from((1, 1, 2, 3)))
    places = st.integers(1, parts * beats - 1)
    changes = draw(st.sets(places, max_size=8)) if parts * beats > 1 else set()
    starts = [0, *sorted(changes), parts * beats]
    lengths = (Fraction(end - start, parts) for start, end in pairwise(starts))
    spans = tuple(ChordSpan(chord=draw(chords), beats=int(n) if n.denominator == 1 else n) for n in lengths)
    mode = draw(st.sampled_from(Mode))
    keys = [key for key in (*KEYS, "G#", "D#", "A#") if abs(signature(key, mode)) <= 7]
    return Chart(key=draw(st.sampled_from(keys)), spans=spans, mode=mode)


@st.composite
def forms(draw: st.DrawFn, slots: int) -> tuple[Part, ...]:
    """Any form of a tune, small enough to be one; none at all in a third of the cases."""
    if draw(st.integers(0, 2)) == 0:
        return ()
    parts: list[Part] = []
    pickup = draw(st.integers(0, slots - 1))
    for name in draw(st.lists(st.sampled_from(["A", "B", "high part", "A2"]), min_size=1, max_size=3)):
        times = draw(st.integers(1, 3))
        own = draw(st.sampled_from((pickup, pickup, 0)))
        # A part that is played again must be followed alike each time, unless each time has an ending.
        ends = tuple(draw(st.integers(1, 2)) for _ in range(times)) if times > 1 else ()
        parts.append(Part(name=name, bars=draw(st.integers(1, 3)), times=times, endings=ends, pickup=own))
    return tuple(parts)


def in_form(bars: Bars[Item], parts: tuple[Part, ...]) -> Bars[Item]:
    """Return bars in a form: each written bar again where it is played again, pickups alike before a part."""
    if not parts:
        return bars
    places = played_bars(parts)
    written = {place.written: bars[place.written % len(bars)] for place in places}
    pickups = [bars[at % len(bars)] for at in range(len(parts))]
    laid = []
    for at, place in enumerate(places):
        bar, missing = written[place.written], pickup_after(parts, place)
        coming = places[(at + 1) % len(places)].part
        laid.append(bar[: len(bar) - missing] + pickups[coming][len(bar) - missing :] if missing else bar)
    return tuple(laid)


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
        fret = draw(st.none() | st.integers(kind.least_fret, HIGHEST_FRET))
    frets: tuple[int, ...] = ()
    if kind is Kind.BRUSH:
        frets = draw(st.just(()) | st.tuples(*[st.integers(0, HIGHEST_FRET)] * len(strings)))
    muted, slid_from = False, None
    if kind.hand is Hand.NAIL or kind.may_be_slid_into:
        more = draw(st.integers(0, 4))  # most strokes are plain
        muted = more == 1 and kind.may_be_muted
        if more == 2 and kind.may_be_slid_into and fret:
            slid_from = fret + 1 if fret < HIGHEST_FRET else fret - 1
    return Stroke(
        kind=kind,
        strings=strings,
        fret=fret,
        frets=frets,
        accented=accented,
        muted=muted,
        slid_from=slid_from,
    )


@st.composite
def bars_of(draw: st.DrawFn, motion: tuple[Motion, ...], slots_per_beat: int) -> tuple[Stroke, ...]:
    """Any bar of strokes, sometimes with a triplet on one of its beats."""
    bar = list(draw(st.tuples(*(strokes(way) for way in motion))))
    beat = draw(st.none() | st.sampled_from(range(0, len(motion), slots_per_beat)))
    if beat is not None and motion[beat] is Motion.DOWN:
        fret, up = draw(st.integers(0, 10)), draw(st.integers(1, 5))
        triplet = draw(st.sampled_from(((fret + up, fret), (fret + up, fret + 2 * up))))
        string = draw(st.integers(1, 4))
        rests = (Stroke(kind=Kind.REST),) * (slots_per_beat - 1)
        struck = Stroke(kind=Kind.STRIKE, strings=(string,), fret=fret, triplet=triplet)
        bar[beat : beat + slots_per_beat] = [struck, *rests]
    return tuple(bar)


@st.composite
def patterns(draw: st.DrawFn, name: str = "figure", most_bars: int = 4) -> Pattern:
    """Any pattern that a file can hold."""
    meter = draw(st.sampled_from(Meter))
    spb = draw(st.sampled_from(meter.slots_per_beat_choices))
    slots = meter.beats * spb
    motion = draw(
        st.just(usual_motion(meter, spb))
        | st.lists(st.sampled_from(Motion), min_size=slots, max_size=slots).map(tuple)
    )
    bars = draw(st.lists(bars_of(motion, spb), min_size=1, max_size=most_bars).map(tuple))
    # A pickup that cuts a triplet in two is none, so only bars without one are put into a form.
    plain = all(not stroke.triplet for bar in bars for stroke in bar)
    parts = draw(forms(slots)) if plain else ()
    if sum(part.played for part in parts) > most_bars:
        parts = ()
    bars = in_form(bars, parts)
    slow, goal, playing = sorted((draw(TEMPI), draw(TEMPI), draw(TEMPI)))
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
        playing_bpm=draw(st.none() | st.just(playing)),
        parts=parts,
    )
