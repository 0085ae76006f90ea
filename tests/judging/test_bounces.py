"""A pad that bounces is heard once, and two pads are heard twice."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from trainer.judging.bounces import BOUNCE_US, Bounces


def kept(touches: list[tuple[str, int]]) -> list[tuple[str, int]]:
    bounces = Bounces()
    return [(pad, at_us) for pad, at_us in touches if bounces.is_touch(pad, at_us)]


def test_the_first_touch_is_kept_and_a_long_bounce_hides_no_stroke() -> None:
    touches = [("nail", at_us) for at_us in (0, 15_000, 45_000, 52_000, 300_000)]
    assert kept(touches) == [("nail", 0), ("nail", 52_000), ("nail", 300_000)]


def test_two_pads_at_once_are_two_touches() -> None:
    assert kept([("nail", 0), ("thumb", 4_000), ("nail", 20_000)]) == [("nail", 0), ("thumb", 4_000)]


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
