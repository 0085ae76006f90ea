"""A pad that bounces is heard once, and two pads are heard twice."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import tap
from trainer.judging.bounces import BOUNCE_US, Bounces, without_bounces
from trainer.music.strokes import Hand


def test_the_first_touch_is_kept_and_a_long_bounce_hides_no_stroke() -> None:
    taps = [tap(s, Hand.NAIL) for s in (0.0, 0.015, 0.045, 0.052, 0.3)]
    assert [t.song_s for t in without_bounces(taps)] == [0.0, 0.052, 0.3]


def test_two_pads_at_once_are_two_touches() -> None:
    taps = [tap(0.0, Hand.NAIL), tap(0.004, Hand.THUMB), tap(0.02, Hand.NAIL)]
    assert [t.hand for t in without_bounces(taps)] == [Hand.NAIL, Hand.THUMB]


def test_the_reach_is_half_of_the_fastest_tapping() -> None:
    """Intervals of tapping along end just above 100 ms: Repp 2003."""
    assert BOUNCE_US == 100_000 // 2
    bounces = Bounces()
    assert [bounces.is_touch("pad", at) for at in (0, BOUNCE_US - 1, BOUNCE_US)] == [True, False, True]


@given(st.lists(st.tuples(st.integers(0, 10**7), st.sampled_from("ab")), max_size=60))
def test_what_is_kept_lies_apart_and_every_bounce_has_its_touch(hits: list[tuple[int, str]]) -> None:
    bounces = Bounces()
    hits = sorted(hits)
    kept = [(at, pad) for at, pad in hits if bounces.is_touch(pad, at)]
    for pad in "ab":
        times = [at for at, each in kept if each == pad]
        assert all(b - a >= BOUNCE_US for a, b in itertools.pairwise(times))
        for at, each in hits:
            if each == pad:
                assert any(0 <= at - touch < BOUNCE_US for touch in times)
