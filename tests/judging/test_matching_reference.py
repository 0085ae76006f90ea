"""Pairing against mir_eval's, the reference for onsets: alike in clear cases, else apart on purpose.

mir_eval (Raffel et al. 2014) pairs as many events as it can within a window, each once. Ours pairs in
order at the least total price, and knows hands. Where no tap lies in the windows of two strokes there is
nothing to choose, and both must agree.
"""

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import SKIP_FIGURE, targets_of
from trainer.judging.matching import Priced, Touch, match, price
from trainer.music.strokes import Hand

EVEN = "strike 3, thumb, brush, thumb"
WINDOW_S = 0.05


def priced_of(*bars: str, bpm: int = 60, passes: int = 1) -> list[Priced]:
    priced = (price(t, knows_left=False) for t in targets_of(*bars, bpm=bpm, passes=passes))
    return [p for p in priced if p is not None]


def touches_at(times_s: list[float], hand: Hand | None = None) -> list[Touch]:
    return [Touch(at_us=round(1e6 * t), hand=hand, string=None) for t in times_s]


def their_pairs(reference_s: list[float], taps_s: list[float], window_s: float) -> set[tuple[int, int]]:
    if not taps_s:
        return set()
    found = mir_eval.util.match_events(np.array(reference_s), np.array(taps_s), window_s)
    return {(int(a), int(b)) for a, b in found}


def our_pairs(targets: list[Priced], touches: list[Touch], window_s: float) -> set[tuple[int, int]]:
    return {
        (at, tap)
        for at, tap in enumerate(match(targets, touches))
        if tap is not None and abs(touches[tap].at_us - targets[at].at_us) <= round(1e6 * window_s)
    }


@given(
    st.lists(st.one_of(st.none(), st.integers(-49, 49)), min_size=8, max_size=8),
    st.sampled_from([60, 100, 140]),
)
def test_where_windows_do_not_conflict_pairs_are_mir_evals(late_ms: list[int | None], bpm: int) -> None:
    """Outside check: mir_eval.util.match_events, window 50 ms, at most one tap to a window."""
    targets = priced_of(EVEN, bpm=bpm, passes=2)
    reference = [p.at_us / 1e6 for p in targets]
    taps = [r + d / 1e3 for r, d in zip(reference, late_ms, strict=True) if d is not None]
    assert our_pairs(targets, touches_at(taps), WINDOW_S) == their_pairs(reference, taps, WINDOW_S)


@given(st.lists(st.integers(-100, 4_100), max_size=16, unique=True))
def test_as_many_taps_find_a_stroke_as_mir_eval_can_pair(times_ms: list[int]) -> None:
    """Outside check: at 60 bpm windows lie 0.4 s apart, so the largest pairing is the number of windows hit.

    Ours may give a stroke another tap than theirs, the nearest one, but never fewer.
    """
    targets = priced_of(EVEN, passes=2)
    reference = [p.at_us / 1e6 for p in targets]
    taps = sorted(t / 1e3 + 0.0003 for t in times_ms)
    ours, theirs = (
        our_pairs(targets, touches_at(taps), WINDOW_S),
        their_pairs(reference, taps, WINDOW_S),
    )
    assert {at for at, _ in ours} == {at for at, _ in theirs}
    for at, tap in ours:
        nearest = min(abs(t - reference[at]) for t in taps)
        assert abs(taps[tap] - reference[at]) == pytest.approx(nearest, abs=1e-6)


def test_scores_of_the_published_example_follow_from_our_pairs() -> None:
    """Published functions, worked: F 0.6667 at 50 ms and 0.8889 at 70 ms for these lists (mir_eval 0.8.2)."""
    targets = priced_of(EVEN)
    reference, taps = [0.0, 0.5, 1.0, 1.5], [0.01, 0.49, 0.56, 1.06, 1.5]
    assert [p.at_us / 1e6 for p in targets] == reference
    for window_s, f_measure in ((0.05, 2 / 3), (0.07, 8 / 9)):
        hits = len(our_pairs(targets, touches_at(taps), window_s))
        precision, recall = hits / len(taps), hits / len(reference)
        ours = 2 * precision * recall / (precision + recall)
        assert ours == pytest.approx(f_measure)
        theirs = mir_eval.onset.f_measure(np.array(reference), np.array(taps), window=window_s)
        assert ours == pytest.approx(theirs[0])


def test_both_pair_in_order_where_greedy_pairing_loses_a_stroke() -> None:
    """The case of reference 1.00, 1.09 and taps 0.955, 1.044, scaled to slots of 90 ms: both are paired."""
    targets = priced_of(EVEN, bpm=333)
    slot_s = targets[1].at_us / 1e6
    taps = [-0.045, slot_s - 0.046]
    assert match(targets, touches_at(taps))[:2] == [0, 1]
    assert their_pairs([0.0, slot_s], taps, WINDOW_S) == {(0, 0), (1, 1)}


def test_on_purpose_a_tap_that_two_strokes_could_have_goes_to_the_nearer() -> None:
    """mir_eval asks only for the number of pairs: both answers have one, and it may give the further."""
    targets = priced_of(EVEN, bpm=333)
    slot_s = targets[1].at_us / 1e6
    taps = [slot_s - 0.042]
    assert len(their_pairs([0.0, slot_s], taps, WINDOW_S)) == 1
    assert match(targets, touches_at(taps))[:2] == [None, 0]


def test_on_purpose_a_rushed_thumb_beyond_any_window_is_still_that_thumb() -> None:
    """A fixed window calls it a miss and an extra; the learner played one stroke, 200 ms early."""
    targets = priced_of(SKIP_FIGURE)
    taps = [0.3, 1.0, 1.5]
    assert their_pairs([0.5, 1.0, 1.5], taps, WINDOW_S) == {(1, 1), (2, 2)}
    touches = [
        Touch(at_us=300_000, hand=Hand.THUMB, string=None),
        *touches_at([1.0], Hand.NAIL),
        *touches_at([1.5], Hand.THUMB),
    ]
    assert match(targets, touches) == [None, 0, 1, 2]


def test_on_purpose_the_hand_decides_between_two_strokes_in_reach() -> None:
    """Times alone give the tap to the slot it is nearer to; the nail that made it belongs to the other."""
    targets = priced_of(EVEN, bpm=300)
    slot_s = targets[1].at_us / 1e6
    taps = [0.55 * slot_s]
    window_s = 0.049
    assert their_pairs([0.0, slot_s], taps, window_s) == {(1, 0)}
    assert match(targets, touches_at(taps, Hand.NAIL))[:2] == [0, None]
    assert match(targets, touches_at(taps, Hand.THUMB))[:2] == [None, 0]
