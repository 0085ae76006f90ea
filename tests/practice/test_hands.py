"""The simulated player does what it was told, and the judge finds it again.

Statistical checks state their error as so many standard errors of the estimate; with a fixed seed they
always take the same course. The model is that of Wing & Kristofferson (1973) with linear phase correction
(Vorberg & Wing 1996; formulas from memory, re-derived in the closing sums of `expected_variance`).
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.judging.helpers import targets_of
from trainer.errors import BadSettings
from trainer.judging.statistics import by_slot, summarise
from trainer.judging.take import Judgement, Verdict
from trainer.judging.verdicts import judge
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind
from trainer.practice.faults import Faults
from trainer.practice.hands import Cause, Deed, SimulatedTake, hand_asynchrony, simulate

BOTH = ("strike 3, rest, accented brush, thumb", "skip, drop-thumb 2, brush, thumb")
TWO_CHORDS = Chart(
    key="G", spans=(ChordSpan(chord=Chord(degree=1), beats=2), ChordSpan(chord=Chord(degree=4), beats=2))
)
SIGMA = 5.0  # standard errors allowed: a right program fails such a check once in 1.7 million seeds


def play(targets: Sequence[Target], faults: Faults, seed: int = 1) -> SimulatedTake:
    return simulate(targets, faults, np.random.default_rng(seed))


def judged(targets: Sequence[Target], faults: Faults, seed: int = 1) -> Judgement:
    return judge(targets, play(targets, faults, seed).taps, knows_left=True)


def mean_by_kind(judgement: Judgement, kind: Kind) -> float:
    found = [
        o.placement_s
        for o in judgement.outcomes
        if o.target.stroke.kind is kind and o.placement_s is not None
    ]
    return float(np.mean(found))


class TestExactPlay:
    def test_a_player_without_faults_is_exact_and_clean(self) -> None:
        targets = targets_of(*BOTH, bpm=90, passes=4)
        take = play(targets, Faults())
        asked = [t for t in targets if t.stroke.kind.sounds]
        assert [tap.song_s for tap in take.taps] == [t.song_s for t in asked]
        assert [tap.hand for tap in take.taps] == [t.stroke.hand for t in asked]
        assert [tap.string for tap in take.taps] == [t.stroke.strings[0] for t in asked]
        assert summarise(judge(targets, take.taps)).clean_share == 1

    def test_accented_strokes_are_louder_than_any_other(self) -> None:
        targets = targets_of(*BOTH, passes=50)
        take = play(targets, Faults())
        loud = [
            truth.tap_index for truth, t in zip(take.target_truths, targets, strict=True) if t.stroke.accented
        ]
        velocities = [tap.velocity or 0 for tap in take.taps]
        others = [v for at, v in enumerate(velocities) if at not in loud]
        assert np.mean([velocities[at] for at in loud if at is not None]) > np.mean(others) + 20
        assert all(1 <= v <= 127 for v in velocities)

    def test_rests_and_skips_get_no_tap(self) -> None:
        take = play(targets_of(*BOTH), Faults())
        assert [t.deed for t in take.target_truths] == [
            Deed.PLAYED, Deed.RESTED, Deed.PLAYED, Deed.PLAYED,
            Deed.KEPT_SILENT, Deed.PLAYED, Deed.PLAYED, Deed.PLAYED,
        ]  # fmt: skip

    def test_nothing_asked_gives_nothing(self) -> None:
        take = play((), Faults(jitter_s=0.01, stray=1.0))
        assert (take.taps, take.tap_truths, take.target_truths) == ((), (), ())

    def test_the_same_seed_gives_the_same_take(self) -> None:
        targets = targets_of(*BOTH, passes=3)
        faults = Faults(jitter_s=0.02, miss=0.2, stray=0.1, double=0.1, touch_skips=0.5, wrong_hand=0.2)
        assert play(targets, faults, 7) == play(targets, faults, 7)
        assert play(targets, faults, 7) != play(targets, faults, 8)

    def test_another_fault_changes_nothing_else_of_the_take(self) -> None:
        targets = targets_of(*BOTH, passes=10)
        plain = play(targets, Faults(jitter_s=0.02, miss=0.2))
        touching = play(targets, Faults(jitter_s=0.02, miss=0.2, touch_skips=1.0))
        touches = {t.tap_index for t in touching.target_truths if t.deed is Deed.TOUCHED}
        assert tuple(tap for at, tap in enumerate(touching.taps) if at not in touches) == plain.taps


class TestStatedFaults:
    def test_a_lean_moves_its_own_kind_alone(self) -> None:
        targets = targets_of(*BOTH, passes=5)
        judgement = judged(targets, Faults(lean_s=((Kind.THUMB, -0.025), (Kind.BRUSH, 0.010))))
        assert mean_by_kind(judgement, Kind.THUMB) == pytest.approx(-0.025, abs=1e-6)
        assert mean_by_kind(judgement, Kind.BRUSH) == pytest.approx(0.010, abs=1e-6)
        assert mean_by_kind(judgement, Kind.STRIKE) == pytest.approx(0, abs=1e-6)

    def test_a_rushed_gap_moves_the_stroke_after_the_skip_and_no_other(self) -> None:
        targets = targets_of(*BOTH, passes=5)
        take = play(targets, Faults(rush_gap_s=0.120))
        for truth, target in zip(take.target_truths, targets, strict=True):
            if truth.placement_s is not None:
                rushed = target.stroke.kind is Kind.DROP_THUMB
                assert truth.placement_s == pytest.approx(-0.120 if rushed else 0, abs=1e-9)
                assert truth.rushed is rushed
        found = {o.target.stroke.kind for o in judge(targets, take.taps).outcomes if o.rushed_gap}
        assert found == {Kind.DROP_THUMB}

    def test_a_rush_waits_for_the_stroke_that_follows_a_rest_after_the_skip(self) -> None:
        take = play(targets_of("skip, rest, brush, thumb"), Faults(rush_gap_s=0.1))
        assert [t.rushed for t in take.target_truths] == [False, False, True, False]

    def test_a_late_change_moves_the_stroke_after_the_change_and_no_other(self) -> None:
        targets = targets_of(*BOTH, bpm=80, passes=3)
        faults = Faults(late_change_s=0.045)
        take = simulate(targets, faults, np.random.default_rng(1), chart=TWO_CHORDS)
        late = [t for t in take.target_truths if t.late_change]
        # Of four beats the third begins the second chord, over a skip; the first begins the first again.
        assert [t.target_index for t in late] == [5, 8, 13, 16, 21]
        assert [t.placement_s for t in late] == pytest.approx([0.045] * 5)
        rest = [t.placement_s for t in take.target_truths if t.placement_s is not None and not t.late_change]
        assert rest == pytest.approx([0.0] * len(rest))

    def test_without_a_chart_no_stroke_comes_after_a_change(self) -> None:
        targets = targets_of(*BOTH, passes=3)
        assert play(targets, Faults(late_change_s=0.045)) == play(targets, Faults())

    def test_a_touched_skip_is_a_tap_of_the_nail_on_a_long_string(self) -> None:
        targets = targets_of(*BOTH, passes=20)
        take = play(targets, Faults(touch_skips=1.0))
        touches = [tap for tap, t in zip(take.taps, take.tap_truths, strict=True) if t.cause is Cause.TOUCH]
        assert len(touches) == 20
        assert {tap.hand for tap in touches} == {Hand.NAIL}
        assert {tap.string for tap in touches} == {1, 2, 3, 4}
        verdicts = [
            o.verdict for o in judge(targets, take.taps).outcomes if o.target.stroke.kind is Kind.SKIP
        ]
        assert verdicts == [Verdict.TOUCHED] * 20

    def test_a_player_who_misses_everything_taps_nothing(self) -> None:
        take = play(targets_of(*BOTH), Faults(miss=1.0))
        assert take.taps == ()
        assert {t.deed for t in take.target_truths} == {Deed.RESTED, Deed.MISSED, Deed.KEPT_SILENT}

    def test_the_wrong_hand_is_the_other_one_on_the_same_string(self) -> None:
        targets = targets_of("strike 3, rest, brush, thumb", passes=3)
        take = play(targets, Faults(wrong_hand=1.0))
        assert [tap.hand for tap in take.taps] == [Hand.THUMB, Hand.THUMB, Hand.NAIL] * 3
        assert all(t.wrong_hand for t in take.tap_truths)
        assert {o.verdict for o in judge(targets, take.taps).outcomes} == {Verdict.WRONG_HAND}

    def test_the_left_hand_has_no_wrong_hand(self) -> None:
        take = play(targets_of("strike 3, hammer-on 3, brush, thumb"), Faults(wrong_hand=1.0))
        assert take.taps[1].hand is Hand.LEFT

    def test_strays_fall_between_slots_and_belong_to_nothing(self) -> None:
        targets = targets_of(*BOTH, bpm=60, passes=3)
        take = play(targets, Faults(stray=1.0))
        strays = [tap for tap, t in zip(take.taps, take.tap_truths, strict=True) if t.cause is Cause.STRAY]
        assert len(strays) == len(targets)
        for tap, target in zip(strays, targets, strict=True):
            assert 0.3 <= (tap.song_s - target.song_s) / target.slot_s <= 0.7
        assert {t.target_index for t in take.tap_truths if t.cause is Cause.STRAY} == {None}

    def test_a_bouncing_pad_repeats_the_stroke_softly_within_45_ms(self) -> None:
        take = play(targets_of("strike 3, rest, brush, thumb"), Faults(double=1.0))
        for stroke, bounce in zip(take.taps[::2], take.taps[1::2], strict=True):
            assert 0.015 <= bounce.song_s - stroke.song_s <= 0.045
            assert (bounce.hand, bounce.string) == (stroke.hand, stroke.string)
            assert (bounce.velocity or 0) < (stroke.velocity or 0)
        assert [t.cause for t in take.tap_truths] == [Cause.STROKE, Cause.DOUBLE] * 3

    def test_one_pad_knows_neither_hand_nor_string_and_hears_no_left_hand(self) -> None:
        take = play(targets_of("strike 3, hammer-on 3, brush, thumb"), Faults(one_pad=True, wrong_hand=1.0))
        assert [(tap.hand, tap.string) for tap in take.taps] == [(None, None)] * 3
        assert [t.deed for t in take.target_truths][1] is Deed.NOT_HEARD
        assert not any(t.wrong_hand for t in take.tap_truths)

    def test_taps_are_sorted_and_every_truth_stands_beside_its_tap(self) -> None:
        targets = targets_of(*BOTH, bpm=160, passes=30)
        faults = Faults(jitter_s=0.15, miss=0.1, stray=0.3, double=0.3, touch_skips=0.5, rush_gap_s=0.2)
        take = play(targets, faults)
        times = [tap.song_s for tap in take.taps]
        assert times == sorted(times)
        for truth, target in zip(take.target_truths, targets, strict=True):
            assert (truth.tap_index is None) == (truth.placement_s is None)
            if truth.tap_index is not None:
                tap_truth = take.tap_truths[truth.tap_index]
                assert tap_truth.target_index == target.index
                assert tap_truth.cause in (Cause.STROKE, Cause.TOUCH)
                assert truth.placement_s == pytest.approx(times[truth.tap_index] - target.song_s, abs=1e-12)


class TestJudgeFindsTheTruth:
    def test_with_known_hands_every_stroke_gets_its_own_tap(self) -> None:
        targets = targets_of(*BOTH, bpm=90, passes=100)
        take = play(
            targets, Faults(jitter_s=0.012, miss=0.05, touch_skips=0.3, rush_gap_s=0.06, wrong_hand=0.03)
        )
        truth = {t.target_index: t.tap_index for t in take.target_truths}
        judgement = judge(targets, take.taps)
        wrong = [o for o in judgement.outcomes if o.tap_index != truth[o.target.index]]
        assert wrong == []
        assert judgement.strays == ()

    def test_players_sort_by_their_spread_and_each_is_recovered(self) -> None:
        """Spreads of 10, 20 and 40 ms at 120 bpm: trained, novice and poor tappers (Repp 2005, from memory).

        The sample standard deviation of n normal values has a standard error of sd / sqrt(2(n - 1)).
        """
        targets = targets_of("strike 3, rest, strike 3, rest", bpm=120, passes=100)
        spreads = []
        for sd_s in (0.010, 0.020, 0.040):
            placement = summarise(judged(targets, Faults(jitter_s=sd_s))).placement
            assert placement.spread_s is not None
            assert placement.mean_s is not None
            assert abs(placement.spread_s - sd_s) < SIGMA * sd_s / math.sqrt(2 * (placement.n - 1))
            assert abs(placement.mean_s) < SIGMA * sd_s / math.sqrt(placement.n)
            spreads.append(placement.spread_s)
        assert spreads == sorted(spreads)

    def test_a_lean_is_recovered_within_five_standard_errors(self) -> None:
        targets = targets_of(*BOTH, bpm=60, passes=200)
        judgement = judged(targets, Faults(jitter_s=0.015, lean_s=((Kind.DROP_THUMB, -0.040),)))
        for slot in by_slot(judgement):
            wanted = -0.040 if slot.stroke.kind is Kind.DROP_THUMB else 0.0
            if slot.stroke.kind is not Kind.SKIP:
                assert slot.mean_s == pytest.approx(wanted, abs=SIGMA * 0.015 / math.sqrt(200))

    @pytest.mark.parametrize("share", [0.1, 0.5])
    def test_shares_of_touched_skips_and_misses_are_recovered(self, share: float) -> None:
        """A count of n draws with probability p has a standard deviation of sqrt(n p (1 - p))."""
        n = 400
        targets = targets_of("skip, drop-thumb 2, brush, thumb", bpm=60, passes=n)
        touched = summarise(judged(targets, Faults(touch_skips=share)))
        missed = summarise(judged(targets, Faults(miss=share)))
        sd = math.sqrt(share * (1 - share))
        assert abs(dict(touched.counts)[Verdict.TOUCHED] - share * n) < SIGMA * sd * math.sqrt(n)
        assert abs(dict(missed.counts)[Verdict.MISSED] - share * 3 * n) < SIGMA * sd * math.sqrt(3 * n)


def autocovariance(values: NDArray[np.float64], lag: int) -> float:
    centred = values - values.mean()
    return float(np.mean(centred[: len(centred) - lag] * centred[lag:]))


def noisy_hand(
    *, correction: float, clock_s: float = 0.020, motor_s: float = 0.010, drift: float = 0.0, n: int = 40_000
) -> NDArray[np.float64]:
    targets = targets_of("strike 3, rest, strike 3, rest", bpm=120)
    beat = [replace(targets[0], index=i, song_s=0.5 * i) for i in range(n)]
    faults = Faults(clock_sd_s=clock_s, motor_sd_s=motor_s, correction=correction, drift=drift)
    return hand_asynchrony(beat, faults, np.random.default_rng(3))


class TestTheModel:
    """Values in ms squared for a timekeeper of 20 ms and a motor delay of 10 ms, computed from the formulas.

    With correction a: variance (400 + 2a*100) / (a(2 - a)), lag-1 autocovariance (1 - a) * variance - 100.
    """

    @pytest.mark.parametrize(
        ("correction", "variance", "lag_1"),
        [(0.25, 1028.57, 671.43), (0.5, 666.67, 233.33), (1.0, 600.0, -100.0), (1.5, 933.33, -566.67)],
    )
    def test_a_corrected_hand_has_the_stated_variance_and_autocovariance(
        self, correction: float, variance: float, lag_1: float
    ) -> None:
        hand_ms = 1000 * noisy_hand(correction=correction)[100:]
        # 40 000 correlated values: within 5 % (the slowest case has about n(1 - 0.75**2)/(1 + 0.75**2) of
        # them independent, a standard error of 1.2 %).
        assert autocovariance(hand_ms, 0) == pytest.approx(variance, rel=0.05)
        assert autocovariance(hand_ms, 1) == pytest.approx(lag_1, abs=0.05 * variance)

    def test_without_a_click_intervals_are_those_of_wing_and_kristofferson(self) -> None:
        """Variance 400 + 2*100, lag-1 autocovariance -100, nothing beyond: correlation -1/6."""
        intervals_ms = np.diff(1000 * noisy_hand(correction=0.0))
        standard_error = 600 / math.sqrt(len(intervals_ms))
        assert autocovariance(intervals_ms, 0) == pytest.approx(
            600, abs=SIGMA * math.sqrt(2) * standard_error
        )
        assert autocovariance(intervals_ms, 1) == pytest.approx(-100, abs=SIGMA * standard_error)
        assert autocovariance(intervals_ms, 2) == pytest.approx(0, abs=SIGMA * standard_error)

    def test_a_slow_timekeeper_that_is_corrected_lags_by_its_error_over_the_correction(self) -> None:
        """5 ms slow at every interval of 500 ms and half of it made good: 10 ms late in the long run."""
        hand_s = noisy_hand(correction=0.5, clock_s=0.0, motor_s=0.0, drift=0.01, n=200)
        assert hand_s[-1] == pytest.approx(0.010, abs=1e-9)

    def test_a_slow_timekeeper_that_is_not_corrected_falls_behind_steadily(self) -> None:
        hand_s = noisy_hand(correction=0.0, clock_s=0.0, motor_s=0.0, drift=0.01, n=200)
        assert hand_s == pytest.approx(0.005 * np.arange(200), abs=1e-9)

    def test_a_hand_that_speeds_up_leads_more_with_each_pass(self) -> None:
        """By the recursion's own mean: the lead settles at interval * (1 - 1.02**-k) / alpha in pass k."""
        targets = targets_of(*BOTH * 4, bpm=60, passes=4)
        faults = Faults(speed_up=0.02, correction=0.5)
        hand_s = hand_asynchrony(targets, faults, np.random.default_rng(1))
        for k in range(4):
            last = max(at for at, t in enumerate(targets) if t.pass_index == k)
            assert hand_s[last] == pytest.approx(-0.5 * (1 - 1.02**-k) / 0.5, abs=1e-6)

    def test_a_hand_that_speeds_up_and_does_not_listen_plays_each_pass_faster(self) -> None:
        targets = targets_of(*BOTH, bpm=60, passes=3)
        hand_s = hand_asynchrony(targets, Faults(speed_up=0.05, correction=0.0), np.random.default_rng(1))
        played_s = np.array([t.song_s for t in targets]) + hand_s
        steps = np.diff(played_s)
        assert [steps[1], steps[9], steps[17]] == pytest.approx([0.5, 0.5 / 1.05, 0.5 / 1.05**2])

    def test_a_hand_without_noise_is_exact(self) -> None:
        assert not noisy_hand(correction=0.5, clock_s=0.0, motor_s=0.0, n=50).any()

    def test_the_hand_passes_silent_slots_too(self) -> None:
        targets = targets_of(*BOTH, bpm=60, passes=1)
        take = play(targets, Faults(drift=0.01, correction=0.0))
        late = [t.placement_s for t in take.target_truths if t.placement_s is not None]
        # Slots of 0.5 s, 5 ms later at each: 0, 2, 3, 5, 6 and 7 slots in.
        assert late == pytest.approx([0.005 * at for at in (0, 2, 3, 5, 6, 7)], abs=1e-9)


@pytest.mark.parametrize(
    ("faults", "words"),
    [
        ({"jitter_s": -0.001}, "the jitter is -1 ms, outside 0 to 2000 ms"),
        ({"jitter_s": math.nan}, "the jitter is nan ms"),
        ({"rush_gap_s": 2.5}, "the rush after a skip is 2500 ms"),
        ({"touch_skips": 1.5}, "the probability of touch_skips is 1.5, outside 0 to 1"),
        ({"miss": -0.1}, "the probability of miss is -0.1"),
        ({"correction": 2.0}, "a correction of 2 runs away"),
        ({"drift": 0.5}, "the drift is 0.5"),
        ({"speed_up": 0.5}, "the speeding up is 0.5"),
        ({"late_change_s": 3.0}, "the lateness after a change is 3000 ms"),
        ({"lean_s": ((Kind.SKIP, 0.01),)}, "a skip is silent and cannot be early or late"),
        ({"lean_s": ((Kind.BRUSH, math.inf),)}, "the lean of brush is inf ms"),
    ],
)
def test_a_fault_that_no_hand_has_is_refused(faults: dict[str, float], words: str) -> None:
    with pytest.raises(BadSettings, match=words):
        Faults(**faults)  # type: ignore[arg-type]
