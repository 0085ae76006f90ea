"""Takes to keep, for the tests of the records."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from tests.strategies import LINES, NAMES, TEMPI, patterns
from trainer.judging.pocket import Pocket
from trainer.judging.spared import joined
from trainer.judging.take import Tap
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.take_text import clean_name, utc_text

BEGAN = datetime(2026, 3, 1, 17, 5, tzinfo=UTC)
DAY = date(2026, 3, 1).toordinal()
FIGURE = pattern_of(SKIP_FIGURE, BASIC_FIGURE)


def a_take(
    *,
    player: str = "",
    days: int = 0,
    minutes: int = 0,
    pattern: Pattern = FIGURE,
    bpm: int | str = 60,
    passes: int = 4,
    jitter_s: float = 0.004,
    seed: int = 1,
    **more: object,
) -> StoredTake:
    """A take of simulated hands that passes for a player's."""
    timeline = Timeline.steady(bpm)
    targets = lay_out(pattern, timeline, passes=passes)
    taps = simulate(targets, Faults(jitter_s=jitter_s), np.random.default_rng(seed)).taps
    take = StoredTake(
        player=player,
        begun=utc_text(BEGAN + timedelta(days=days, minutes=minutes)),
        day=DAY + days,
        pattern=pattern,
        timeline=timeline,
        passes=passes,
        slots_asked=len(targets),
        input_name="pads",
        sound="default",
        knows_left=True,
        taps=taps,
    )
    return summarised(replace(take, **more))  # type: ignore[arg-type]


PLAYERS = LINES.map(clean_name)
MOMENTS = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1)).map(
    lambda moment: utc_text(moment.replace(tzinfo=UTC))
)
SPANS = st.lists(st.tuples(*[st.integers(-(10**7), 10**8)] * 2), max_size=3).map(
    lambda spans: joined((min(span) / 1e6, max(span) / 1e6) for span in spans)
)
HANDS = st.sampled_from([None, Hand.NAIL, Hand.THUMB, Hand.LEFT])
TAPS = st.builds(
    Tap,
    song_s=st.integers(-10_000_000, 3_600_000_000).map(lambda us: us / 1e6),
    hand=HANDS,
    string=st.none() | st.integers(1, 5),
    velocity=st.none() | st.integers(1, 127),
    uncertainty_s=st.integers(0, 200_000).map(lambda us: us / 1e6),
)
FEELS = st.builds(
    Feel,
    swing=st.fractions(1, 4, max_denominator=12),
    layback_s=st.lists(st.tuples(st.sampled_from(Kind), st.floats(-0.08, 0.08)), max_size=3).map(tuple),
)


@st.composite
def timelines(draw: st.DrawFn, beats: int) -> Timeline:
    """Any tempo, changed now and then at the start of a pass of so many beats."""
    timeline = Timeline.steady(draw(TEMPI))
    at = Fraction(0)
    for bpm in draw(st.lists(TEMPI, max_size=3)):
        at += beats * draw(st.integers(1, 3))
        timeline = timeline.with_tempo(bpm, from_beat=at)
    return timeline


@st.composite
def takes(draw: st.DrawFn) -> StoredTake:
    """Any take, summarised."""
    pattern = draw(patterns(name=draw(NAMES), most_bars=2))
    passes = draw(st.integers(1, 4))
    return summarised(
        StoredTake(
            uid=draw(st.uuids().map(lambda uid: uid.hex)),
            player=draw(PLAYERS),
            begun=draw(MOMENTS),
            day=draw(st.integers(date(1970, 1, 1).toordinal(), date(2199, 12, 31).toordinal())),
            pattern=pattern,
            timeline=draw(timelines(pattern.beats)),
            passes=passes,
            slots_asked=draw(st.integers(0, passes * len(pattern.strokes))),
            feel=draw(FEELS),
            pocket=draw(st.sampled_from(Pocket)),
            input_name=draw(LINES),
            sound=draw(LINES),
            delay_ms=draw(st.integers(-300, 300)),
            click_off=draw(st.booleans()),
            knows_left=draw(st.booleans()),
            spared=draw(SPANS),
            simulated=draw(st.booleans()),
            not_graded=draw(LINES),
            taps=tuple(draw(st.lists(TAPS, max_size=12))),
        )
    )
