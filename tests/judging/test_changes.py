"""After a change against inside a chord: by hand, against scipy, and by the truth of simulated players."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
import scipy.stats

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of
from trainer.judging.advice import Finding, advise
from trainer.judging.changes import AroundChanges, around_changes, first_after_changes
from trainer.judging.take import Judgement, Tap
from trainer.judging.verdicts import judge
from trainer.judging.wording import Fault
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import lay_out
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

TIME_S = 1e-6
ONE, FOUR, FIVE = Chord(degree=1), Chord(degree=4), Chord(degree=5)


def chart_of(*spans: tuple[Chord, int]) -> Chart:
    return Chart(key="A", spans=tuple(ChordSpan(chord=chord, beats=beats) for chord, beats in spans))


# Eight bars of 2/4: changes in bars 3, 5, 6 and 7; from the last chord to the first there is none.
EIGHT = chart_of((ONE, 4), (FOUR, 4), (ONE, 2), (FIVE, 2), (ONE, 4))
BASIC_OVER = replace(pattern_of(*[BASIC_FIGURE] * 8), chart=EIGHT)
SKIPS_OVER = replace(pattern_of(*[SKIP_FIGURE] * 8), chart=EIGHT)
TURN_BY_TURN = replace(pattern_of(*[BASIC_FIGURE, SKIP_FIGURE] * 4), chart=EIGHT)


def take_of(
    faults: Faults, *, pattern: object = BASIC_OVER, passes: int = 6, bpm: int = 100, seed: int = 1
) -> Judgement:
    assert pattern in (BASIC_OVER, SKIPS_OVER, TURN_BY_TURN)
    chosen = {id(p): p for p in (BASIC_OVER, SKIPS_OVER, TURN_BY_TURN)}[id(pattern)]
    targets = lay_out(chosen, Timeline.steady(bpm), passes=passes)
    return judge(targets, simulate(targets, faults, np.random.default_rng(seed), chart=chosen.chart).taps)


def taken_apart(judgement: Judgement) -> AroundChanges:
    around = around_changes(judgement, EIGHT)
    assert around is not None
    return around


class TestPlaces:
    def test_the_first_stroke_in_the_beat_of_a_change_comes_after_it(self) -> None:
        """By hand: a change on beat 4, 8, 10 and 12 of each pass of 16; slots are halves of a beat."""
        targets = lay_out(BASIC_OVER, Timeline.steady(100), passes=2)
        found = first_after_changes(targets, EIGHT)
        assert sorted(found) == [8, 16, 20, 24, 40, 48, 52, 56]
        assert [found[at].words for at in (8, 16, 20, 24)] == [
            "from 1 to 4 in bar 3",
            "from 4 to 1 in bar 5",
            "from 1 to 5 in bar 6",
            "from 5 to 1 in bar 7",
        ]

    def test_where_the_hand_skips_on_the_change_the_stroke_after_it_is_meant(self) -> None:
        targets = lay_out(SKIPS_OVER, Timeline.steady(100))
        kinds = {targets[at].stroke.kind for at in first_after_changes(targets, EIGHT)}
        assert kinds == {Kind.DROP_THUMB}

    def test_a_beat_in_which_nothing_sounds_has_no_stroke_after_the_change(self) -> None:
        pattern = pattern_of("strike 3, thumb, rest, rest", "rest, rest, strike 3, rest")
        targets = lay_out(pattern, Timeline.steady(100), passes=2)
        found = first_after_changes(targets, chart_of((ONE, 2), (FOUR, 2)))
        # Bar 2 begins with silence; bar 1 of the second pass comes after the change back.
        assert [targets[at].beat for at in found] == [4]

    def test_the_first_beat_of_all_follows_no_change_but_that_of_a_later_pass_does(self) -> None:
        targets = lay_out(pattern_of(BASIC_FIGURE, BASIC_FIGURE), Timeline.steady(100), passes=2)
        beats = [targets[at].beat for at in first_after_changes(targets, chart_of((ONE, 2), (FOUR, 2)))]
        assert beats == [2, 4, 6]

    def test_one_chord_written_in_two_spans_does_not_change(self) -> None:
        targets = lay_out(pattern_of(BASIC_FIGURE, BASIC_FIGURE), Timeline.steady(100), passes=3)
        assert first_after_changes(targets, chart_of((ONE, 2), (ONE, 2))) == {}
        assert first_after_changes(targets, None) == {}


class TestDifference:
    def test_a_late_change_is_measured_and_the_rest_stays_where_it_was(self) -> None:
        around = taken_apart(take_of(Faults(late_change_s=0.025)))
        assert around.after.placement.mean_s == pytest.approx(0.025, abs=TIME_S)
        assert around.inside.placement.mean_s == pytest.approx(0.0, abs=TIME_S)
        assert (around.after.placement.n, around.inside.placement.n) == (4 * 6, 6 * 24 - 4 * 6)

    def test_with_one_kind_of_stroke_it_is_welchs_test(self) -> None:
        """scipy.stats.ttest_ind with equal_var=False; whole degrees of freedom make ours a little larger."""
        judgement = take_of(Faults(jitter_s=0.010, late_change_s=0.012))
        places = first_after_changes([o.target for o in judgement.outcomes], EIGHT)
        strikes = [o for o in judgement.outcomes if o.target.stroke.kind is Kind.STRIKE]
        one = [o.placement_s for o in strikes if o.target.index in places]
        other = [o.placement_s for o in strikes if o.target.index not in places]
        outside = scipy.stats.ttest_ind(one, other, equal_var=False)
        low, high = outside.confidence_interval()
        found = taken_apart(judgement).difference
        assert found is not None
        assert found.size == pytest.approx((low + high) / 2, abs=1e-9)
        assert found.half_interval == pytest.approx((high - low) / 2, rel=0.01)
        assert found.probability == pytest.approx(outside.pvalue, rel=0.3)
        assert (found.n, found.n_other) == (len(one), len(other))

    def test_a_strike_that_is_late_everywhere_makes_no_change_late(self) -> None:
        around = taken_apart(take_of(Faults(lean_s=((Kind.STRIKE, 0.030),))))
        assert around.difference is not None
        assert around.difference.size == pytest.approx(0.0, abs=TIME_S)
        mixed = around_changes(
            take_of(Faults(rush_gap_s=0.05, lean_s=((Kind.STRIKE, 0.030),)), pattern=TURN_BY_TURN), EIGHT
        )
        assert mixed is not None
        assert mixed.difference is not None
        assert mixed.difference.size == pytest.approx(0.0, abs=TIME_S)

    def test_its_interval_holds_the_truth_nineteen_times_in_twenty(self) -> None:
        """300 takes: 95 % give or take 2.5 % (two standard errors of a share, sqrt(p (1 - p) / n))."""
        held = 0
        for seed in range(300):
            faults = Faults(jitter_s=0.010, late_change_s=0.015, lean_s=((Kind.DROP_THUMB, -0.02),))
            around = taken_apart(take_of(faults, pattern=TURN_BY_TURN, passes=3, seed=seed))
            assert around.difference is not None
            held += abs(around.difference.size - 0.015) <= around.difference.half_interval
        assert 0.92 <= held / 300 <= 0.985

    def test_the_change_that_costs_most_is_found(self) -> None:
        targets = lay_out(BASIC_OVER, Timeline.steady(100), passes=8)
        places = first_after_changes(targets, EIGHT)
        cost_s = {4: 0.010, 8: 0.005, 10: 0.028, 12: 0.0}
        by_song_s = {targets[at].song_s: cost_s[place.beat] for at, place in places.items()}
        taps = [replace(t, song_s=t.song_s + by_song_s.get(t.song_s, 0.0)) for t in as_asked(targets)]
        worst = taken_apart(judge(targets, taps)).worst
        assert worst is not None
        assert worst.change.words == "from 1 to 5 in bar 6"
        assert worst.difference is not None
        assert worst.difference.size == pytest.approx(0.028, abs=TIME_S)

    def test_too_few_strokes_say_nothing(self) -> None:
        around = taken_apart(take_of(Faults(), passes=1))
        assert around.difference is not None, "four changes in one pass"
        assert all(cost.difference is None for cost in around.changes)
        assert around.worst is None

    def test_a_take_in_which_every_strike_follows_a_change_has_nothing_to_compare_it_with(self) -> None:
        pattern = replace(pattern_of(BASIC_FIGURE, BASIC_FIGURE), chart=chart_of((ONE, 2), (FOUR, 2)))
        targets = lay_out(pattern, Timeline.steady(100), passes=4)
        around = around_changes(judge(targets, as_asked(targets)), pattern.chart)
        assert around is not None
        assert around.difference is None, "one strike alone, the first of all, is inside a chord"

    def test_a_take_without_taps_has_empty_groups(self) -> None:
        around = around_changes(judge(lay_out(BASIC_OVER, Timeline.steady(100)), ()), EIGHT)
        assert around is not None
        assert (around.after.placement.n, around.difference, around.changes) == (0, None, ())


class TestAdvice:
    def told(self, faults: Faults, **more: object) -> tuple[Finding, ...]:
        return advise(take_of(faults, **more), EIGHT)  # type: ignore[arg-type]

    def test_a_hand_that_waits_for_the_left_one_is_told_so(self) -> None:
        (found,) = self.told(Faults(jitter_s=0.010, late_change_s=0.030))
        assert found.fault is Fault.LATE_AFTER_CHANGE
        # Three standard errors: 24 strokes of either side with 10 ms each.
        assert found.size_s == pytest.approx(0.030, abs=3 * 0.010 * (2 / 24) ** 0.5)
        assert "later than inside a chord" in found.sentence

    def test_without_the_chart_the_same_take_is_not_told_of_changes(self) -> None:
        judgement = take_of(Faults(jitter_s=0.010, late_change_s=0.030))
        assert all(f.fault is not Fault.LATE_AFTER_CHANGE for f in advise(judgement))

    def late_at(self, beat: int, late_s: float, seed: int) -> tuple[Finding, ...]:
        targets = lay_out(BASIC_OVER, Timeline.steady(100), passes=8)
        places = first_after_changes(targets, EIGHT)
        rng = np.random.default_rng(seed)
        late = {t.song_s: late_s for t in targets if t.index in places and places[t.index].beat == beat}
        taps: Sequence[Tap] = [
            replace(t, song_s=t.song_s + late.get(t.song_s, 0.0) + 0.008 * rng.standard_normal())
            for t in as_asked(targets)
        ]
        return advise(judge(targets, taps), EIGHT)

    def test_the_change_that_stands_out_is_named(self) -> None:
        (found,) = self.late_at(8, 0.060, 1)
        assert found.change == "from 4 to 1 in bar 5"
        assert found.change in found.sentence

    def test_a_late_change_is_neither_a_late_strike_nor_unsteadiness(self) -> None:
        for seed in range(20):
            said = {f.fault for f in self.told(Faults(jitter_s=0.008, late_change_s=0.060), seed=seed)}
            assert said == {Fault.LATE_AFTER_CHANGE}

    def test_a_hand_that_jumps_ahead_at_changes_is_told_to_let_them_ring(self) -> None:
        (found,) = self.told(Faults(jitter_s=0.008, late_change_s=-0.040))
        assert found.fault is Fault.EARLY_AFTER_CHANGE

    @pytest.mark.parametrize("pattern", [BASIC_OVER, SKIPS_OVER, TURN_BY_TURN], ids=["basic", "skip", "both"])
    @pytest.mark.parametrize(
        "faults",
        [Faults(jitter_s=0.012), Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=0.5)],
        ids=["jitter", "clock"],
    )
    def test_blameless_players_are_told_nothing_but_one_time_in_twenty(
        self, faults: Faults, pattern: object
    ) -> None:
        """60 takes with a chance of 5 % each: more than 7 would come up once in 50 such tests (binomial)."""
        said = [self.told(faults, pattern=pattern, passes=3, seed=seed) for seed in range(60)]
        assert sum(1 for s in said if s) <= 7

    def test_a_change_that_nobody_would_notice_is_not_said(self) -> None:
        """5 ms at slots of 300 ms, where 7.5 ms are noticed: Friberg & Sundberg 1995."""
        assert self.told(Faults(jitter_s=0.002, late_change_s=0.005), passes=10) == ()
