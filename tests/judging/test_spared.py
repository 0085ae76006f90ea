"""A stall of the sound costs the strokes beside it: inside a span none is judged, outside all are."""

import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from tests.judging.live_takes import STEP_S, sloppy_take
from trainer.judging.live import LiveJudge
from trainer.judging.spared import is_spared, joined
from trainer.judging.take import Outcome, Verdict
from trainer.judging.verdicts import judge

SPANS = st.lists(st.tuples(st.floats(-3, 20), st.floats(-3, 20)), max_size=6)


@given(SPANS, st.floats(-4, 21))
def test_a_second_is_spared_when_any_span_holds_it(spans: list[tuple[float, float]], song_s: float) -> None:
    inside = any(round(a * 1e6) <= round(song_s * 1e6) <= round(b * 1e6) for a, b in spans)
    assert is_spared(joined(spans), song_s) == inside


@given(SPANS)
def test_joined_spans_lie_in_order_and_apart(spans: list[tuple[float, float]]) -> None:
    found = joined(spans)
    assert found == joined(found)
    assert all(a[1] < b[0] for a, b in pairwise(found))


@pytest.mark.parametrize("seed", range(12))
def test_what_lies_outside_a_span_is_judged_as_without_one(seed: int) -> None:
    rng = random.Random(seed)
    targets = targets_of(SKIP_FIGURE, BASIC_FIGURE, bpm=rng.choice([60, 90, 140]), passes=6)
    taps = sloppy_take(targets, rng)
    at = rng.uniform(0, targets[-1].song_s)
    spans = joined([(at, at + rng.uniform(0.1, 2.0))])
    plain, with_span = judge(targets, taps), judge(targets, taps, spans=spans)
    for before, after in zip(plain.outcomes, with_span.outcomes, strict=True):
        if is_spared(spans, before.target.song_s):
            assert (after.verdict, after.tap, after.placement_s) == (Verdict.NOT_JUDGED, None, None)
            assert not after.rushed_gap
        else:
            assert after == before
    assert with_span.strays == tuple(s for s in plain.strays if not is_spared(spans, plain.taps[s].song_s))


@pytest.mark.parametrize("seed", range(12))
def test_a_stall_heard_of_in_mid_take_is_judged_live_as_it_is_of_the_whole_take(seed: int) -> None:
    rng = random.Random(seed)
    targets = targets_of(SKIP_FIGURE, BASIC_FIGURE, bpm=rng.choice([60, 90, 140]), passes=6)
    live = LiveJudge()
    live.expect(targets)
    told: list[Outcome] = []
    waiting = sloppy_take(targets, rng)
    waiting.sort(key=lambda each: each.song_s)
    taps = list(waiting)
    stalls_s = sorted(rng.uniform(0, targets[-1].song_s) for _ in range(2))
    for step in range(-100, int((targets[-1].song_s + 1.5) / STEP_S)):
        now_s = step * STEP_S
        while waiting and waiting[0].song_s <= now_s:
            live.add_tap(waiting.pop(0))
        while stalls_s and stalls_s[0] <= now_s:
            live.spare(stalls_s.pop(0) - 0.3, now_s + 0.5)
        told += live.view(now_s).settled
    told += live.finish().settled
    whole = judge(targets, taps, spans=live.spans)
    assert sorted(told, key=lambda o: o.target.index) == list(live.judgement().outcomes)
    assert live.judgement().outcomes == whole.outcomes
    assert live.judgement().strays == whole.strays
    assert any(o.verdict is Verdict.NOT_JUDGED for o in told)


def test_what_was_said_already_stays_said() -> None:
    targets = targets_of(BASIC_FIGURE, bpm=60, passes=4)
    live = LiveJudge()
    live.expect(targets)
    for each in (*as_asked(targets), tap(1.5)):
        live.add_tap(each)
    said = live.view(5.0).settled
    assert said
    live.spare(0.0, 100.0)
    live.finish()
    assert live.judgement().outcomes[: len(said)] == said
    assert all(o.verdict is Verdict.NOT_JUDGED for o in live.judgement().outcomes[len(said) :])
