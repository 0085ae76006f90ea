"""Advice is true for its numbers, at most three sentences, and silent without a fault."""

import re
from collections import Counter
from collections.abc import Sequence

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from trainer.judging.advice import MOST_SENTENCES, Finding, advise
from trainer.judging.breakdown import indices_after_skip, timed_outcomes
from trainer.judging.limits import candidates, noticeable_s
from trainer.judging.take import Judgement, Tap
from trainer.judging.verdicts import judge
from trainer.judging.wording import WORDING, Fault
from trainer.music.strokes import Hand, Kind
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate

MIXED = (BASIC_FIGURE, SKIP_FIGURE)
DROP_FIGURE = "strike 3, drop-thumb 2, brush, thumb"
LEFT_FIGURE = "strike 3, hammer-on 3 fret 2, brush, thumb"


def take_of(faults: Faults, *bars: str, passes: int = 20, bpm: int = 100, seed: int = 1) -> Judgement:
    targets = targets_of(*bars, passes=passes, bpm=bpm)
    return judge(targets, simulate(targets, faults, np.random.default_rng(seed)).taps)


def advice_of(faults: Faults, *bars: str, **more: int) -> tuple[Finding, ...]:
    return advise(take_of(faults, *bars, **more))


def faults_said(findings: Sequence[Finding]) -> list[Fault]:
    return [f.fault for f in findings]


class TestSilence:
    @pytest.mark.parametrize("bars", [(BASIC_FIGURE,), (SKIP_FIGURE,), MIXED, (DROP_FIGURE,)])
    @pytest.mark.parametrize(
        "faults",
        [
            Faults(jitter_s=0.010),
            Faults(jitter_s=0.013),
            Faults(jitter_s=0.012, lean_s=tuple((k, -0.030) for k in Kind if k.sounds)),
            Faults(jitter_s=0.012, lean_s=tuple((k, 0.025) for k in Kind if k.sounds)),
            Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=0.5),
            Faults(clock_sd_s=0.006, motor_sd_s=0.004, correction=0.25),
            Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=1.0),
            Faults(jitter_s=0.010, miss=0.02, stray=0.02),
            Faults(jitter_s=0.010, double=0.3),
        ],
    )
    def test_blameless_players_are_told_nothing_but_one_time_in_twenty(
        self, faults: Faults, bars: tuple[str, ...]
    ) -> None:
        """40 takes with a chance of 5 % each: more than 5 would come up once in 70 such tests.

        A normal lead: Aschersleben & Prinz 1995. A steady place is a feel; a bouncing pad is no habit.
        """
        said = [advice_of(faults, *bars, seed=seed) for seed in range(40)]
        assert sum(1 for s in said if s) <= 5

    @pytest.mark.parametrize("correction", [0.2, 0.4, 0.8])
    def test_a_hand_that_follows_the_click_is_not_told_it_drifts(self, correction: float) -> None:
        faults = Faults(clock_sd_s=0.008, motor_sd_s=0.004, correction=correction)
        said = Counter(
            f.fault for seed in range(60) for f in advice_of(faults, BASIC_FIGURE, passes=40, seed=seed)
        )
        assert said[Fault.DRIFT_AHEAD] + said[Fault.DRIFT_BEHIND] <= 3

    def test_a_certain_difference_that_nobody_hears_is_not_said(self) -> None:
        """5 ms at slots of 300 ms, where 7.5 ms are noticed: Friberg & Sundberg 1995."""
        faults = Faults(jitter_s=0.002, lean_s=((Kind.BRUSH, -0.005),))
        assert advice_of(faults, BASIC_FIGURE, passes=100) == ()
        louder = Faults(jitter_s=0.002, lean_s=((Kind.BRUSH, -0.012),))
        assert faults_said(advice_of(louder, BASIC_FIGURE)) == [Fault.KIND_EARLY]

    def test_slips_a_little_above_one_in_twenty_are_not_said_however_long_the_take(self) -> None:
        faults = Faults(jitter_s=0.010, touch_skips=0.08, miss=0.08, wrong_hand=0.08)
        assert advice_of(faults, *MIXED, passes=1000) == ()

    def test_what_the_input_cannot_resolve_is_not_said(self) -> None:
        targets = targets_of(BASIC_FIGURE, passes=40, bpm=100)
        rng = np.random.default_rng(3)

        def played(uncertainty_s: float) -> list[Tap]:
            return [
                tap(
                    t.song_s + 0.002 * rng.standard_normal() - (0.012 if t.stroke.kind is Kind.BRUSH else 0),
                    t.stroke.hand,
                    uncertainty_s=uncertainty_s,
                )
                for t in targets
                if t.stroke.kind.sounds
            ]

        assert advise(judge(targets, played(0.008))) == ()
        assert faults_said(advise(judge(targets, played(0.001)))) == [Fault.KIND_EARLY]

    @pytest.mark.parametrize("passes", [1, 2, 3, 20])
    def test_a_machine_that_plays_as_asked_is_told_nothing(self, passes: int) -> None:
        targets = targets_of(*MIXED, passes=passes)
        assert advise(judge(targets, as_asked(targets))) == ()

    def test_a_take_without_a_tap_says_nothing(self) -> None:
        assert advise(judge(targets_of(BASIC_FIGURE, passes=5), ())) == ()
        assert advise(judge((), ())) == ()

    def test_a_take_broken_off_is_not_full_of_misses(self) -> None:
        targets = targets_of(BASIC_FIGURE, passes=20)
        assert advise(judge(targets, as_asked(targets)[:30])) == ()

    def test_left_hand_strokes_that_cannot_be_heard_are_not_missed(self) -> None:
        targets = targets_of(LEFT_FIGURE, passes=20)
        right = [t for t in as_asked(targets) if t.hand is not Hand.LEFT]
        assert advise(judge(targets, right)) == ()
        heard = advise(judge(targets, right, knows_left=True))
        assert [(f.fault, f.kind, f.hits, f.n) for f in heard] == [
            (Fault.MISSED_KIND, Kind.HAMMER_ON, 20, 20)
        ]

    @pytest.mark.parametrize(
        ("interval_s", "least_s"),
        [(1.0, 0.025), (0.6, 0.015), (0.375, 0.009375), (0.24, 0.006), (0.1, 0.006)],
    )
    def test_what_is_noticed_follows_the_published_rule(self, interval_s: float, least_s: float) -> None:
        """Friberg & Sundberg 1995: 6 ms below 240 ms, 2.5 % above."""
        assert noticeable_s(interval_s) == pytest.approx(least_s)


class TestFinding:
    def test_a_rushed_gap_is_named_with_its_size(self) -> None:
        (found,) = advice_of(Faults(jitter_s=0.010, rush_gap_s=0.060), *MIXED, passes=40)
        assert found.fault is Fault.RUSHED_GAP
        assert found.size_s is not None
        assert found.size_s == pytest.approx(-0.060, abs=0.006)
        assert found.half_interval_s is not None
        assert found.size_s - found.half_interval_s <= -0.060 <= found.size_s + found.half_interval_s
        assert f"{-1000 * found.size_s:.0f} ms earlier" in found.sentence

    def test_a_hand_that_stops_on_the_skip_is_told_to_keep_moving(self) -> None:
        (found,) = advice_of(Faults(jitter_s=0.010, rush_gap_s=-0.050), SKIP_FIGURE)
        assert found.fault is Fault.DRAGGED_GAP
        assert "leave the hand moving" in found.sentence

    @pytest.mark.parametrize("rush_s", [0.02, 0.0, -0.02])
    def test_a_gap_is_tested_each_way_by_itself(self, rush_s: float) -> None:
        """Outside check: scipy.stats.ttest_ind of the strokes after a skip against their like, one-sided."""
        judgement = take_of(
            Faults(jitter_s=0.010, rush_gap_s=rush_s), SKIP_FIGURE, DROP_FIGURE, passes=12, seed=2
        )
        after = indices_after_skip(judgement.outcomes)
        kinds = {o.target.stroke.kind for o in judgement.outcomes if o.target.index in after}
        timed = [o for o in timed_outcomes(judgement) if o.target.stroke.kind in kinds]
        here, elsewhere = (
            [o.placement_s for o in timed if (o.target.index in after) is is_after]
            for is_after in (True, False)
        )
        tested = {c.fault: c for c in candidates(judgement)}
        for fault, way in ((Fault.RUSHED_GAP, "less"), (Fault.DRAGGED_GAP, "greater")):
            chance = scipy.stats.ttest_ind(here, elsewhere, alternative=way).pvalue
            assert tested[fault].probability == pytest.approx(chance, rel=1e-6, abs=1e-12)
        assert tested[Fault.RUSHED_GAP].weight > tested[Fault.DRAGGED_GAP].weight

    def test_a_drop_thumb_that_is_early_everywhere_rushes_no_gap(self) -> None:
        faults = Faults(jitter_s=0.008, lean_s=((Kind.DROP_THUMB, -0.040),))
        found = advice_of(faults, DROP_FIGURE, SKIP_FIGURE, passes=20)
        assert [(f.fault, f.kind) for f in found] == [(Fault.KIND_EARLY, Kind.DROP_THUMB)]

    @pytest.mark.parametrize("kind", [Kind.BRUSH, Kind.THUMB, Kind.STRIKE])
    @pytest.mark.parametrize(("lean_s", "fault"), [(-0.02, Fault.KIND_EARLY), (0.02, Fault.KIND_LATE)])
    def test_the_kind_that_leans_is_the_one_named(self, kind: Kind, lean_s: float, fault: Fault) -> None:
        found = advice_of(Faults(jitter_s=0.008, lean_s=((kind, lean_s),)), BASIC_FIGURE, passes=30)
        assert [(f.fault, f.kind) for f in found] == [(fault, kind)]

    def test_of_two_kinds_the_one_off_the_click_is_named(self) -> None:
        for kind, lean_s, fault in (
            (Kind.THUMB, 0.02, Fault.KIND_LATE),
            (Kind.BRUSH, -0.02, Fault.KIND_EARLY),
        ):
            faults = Faults(jitter_s=0.008, lean_s=((kind, lean_s),))
            found = advice_of(faults, "brush, thumb, brush, thumb", passes=20)
            assert [(f.fault, f.kind) for f in found] == [(fault, kind)]

    def test_touched_skips_come_before_timing(self) -> None:
        faults = Faults(jitter_s=0.010, touch_skips=0.5, lean_s=((Kind.BRUSH, 0.03),))
        found = advice_of(faults, *MIXED, passes=30)
        assert faults_said(found) == [Fault.TOUCHED_SKIP, Fault.KIND_LATE]
        touched = sum(1 for o in take_of(faults, *MIXED, passes=30).outcomes if o.verdict.value == "touched")
        assert (found[0].hits, found[0].n) == (touched, 30)
        assert f"{touched} of 30 skips" in found[0].sentence

    def test_missing_everywhere_is_said_of_all_strokes(self) -> None:
        (found,) = advice_of(Faults(jitter_s=0.010, miss=0.4), BASIC_FIGURE, passes=30)
        assert (found.fault, found.kind) == (Fault.MISSED, None)

    def test_missing_thumbs_are_said_to_be_thumbs(self) -> None:
        targets = targets_of(BASIC_FIGURE, passes=20)
        found = advise(judge(targets, [t for t in as_asked(targets) if t.hand is not Hand.THUMB]))
        assert [(f.fault, f.kind, f.hits) for f in found] == [(Fault.MISSED_KIND, Kind.THUMB, 20)]

    def test_the_other_hand_is_said(self) -> None:
        found = advice_of(Faults(jitter_s=0.010, wrong_hand=0.4), BASIC_FIGURE, passes=20)
        assert found[0].fault is Fault.WRONG_HAND

    def test_another_string_is_said(self) -> None:
        targets = targets_of("strike 3, rest, brush, thumb", passes=20)
        taps = [
            Tap(song_s=t.song_s, hand=t.hand, string=4 if t.string == 3 and n % 3 == 0 else t.string)
            for n, t in enumerate(as_asked(targets))
        ]
        assert faults_said(advise(judge(targets, taps))) == [Fault.WRONG_STRING]

    def test_taps_that_nobody_asked_for_are_said(self) -> None:
        assert Fault.STRAY in faults_said(advice_of(Faults(jitter_s=0.010, stray=0.4), BASIC_FIGURE))

    @pytest.mark.parametrize(("drift", "fault"), [(-0.002, Fault.DRIFT_AHEAD), (0.002, Fault.DRIFT_BEHIND)])
    def test_a_drift_is_named_with_its_direction(self, drift: float, fault: Fault) -> None:
        """40 beats of 0.6 s less the last slot: 23.7 s from first to last stroke."""
        faults = Faults(jitter_s=0.004, correction=0.0, drift=drift)
        found = advice_of(faults, BASIC_FIGURE, passes=20)
        assert faults_said(found)[0] is fault
        assert found[0].size_s == pytest.approx(drift * 23.7, abs=0.005)

    def test_a_wide_scatter_is_said_and_a_place_is_not_taken_for_it(self) -> None:
        (found,) = advice_of(Faults(jitter_s=0.028), BASIC_FIGURE, passes=30)
        assert found.fault is Fault.UNEVEN
        assert found.size_s == pytest.approx(0.028, rel=0.15)
        places = Faults(jitter_s=0.008, lean_s=((Kind.BRUSH, 0.03), (Kind.THUMB, -0.03)))
        assert Fault.UNEVEN not in faults_said(advice_of(places, BASIC_FIGURE, passes=30))

    def test_one_wild_tap_is_no_scatter(self) -> None:
        targets = targets_of(BASIC_FIGURE, passes=12, bpm=100)
        taps = list(simulate(targets, Faults(jitter_s=0.009), np.random.default_rng(5)).taps)
        taps[14] = Tap(song_s=taps[14].song_s + 0.2, hand=taps[14].hand)
        assert advise(judge(targets, taps)) == ()

    @pytest.mark.parametrize(("lean_s", "fault"), [(-0.11, Fault.AHEAD), (0.055, Fault.BEHIND)])
    def test_far_from_the_click_the_place_is_said(self, lean_s: float, fault: Fault) -> None:
        faults = Faults(jitter_s=0.010, lean_s=tuple((k, lean_s) for k in Kind if k.sounds))
        (found,) = advice_of(faults, BASIC_FIGURE)
        assert found.fault is fault
        assert found.size_s == pytest.approx(lean_s, abs=0.005)

    def test_a_machine_far_ahead_is_told_its_place_and_no_more(self) -> None:
        targets = targets_of(BASIC_FIGURE, passes=10)
        (found,) = advise(judge(targets, as_asked(targets, late_s=-0.09)))
        assert (found.fault, found.size_s, found.half_interval_s) == (
            Fault.AHEAD,
            pytest.approx(-0.09, abs=1e-6),
            pytest.approx(0.0, abs=1e-6),
        )


class TestWords:
    def test_every_fault_has_its_sentence_short_and_plain(self) -> None:
        assert set(WORDING) == set(Fault) - {Fault.READING}
        for words in WORDING.values():
            assert len(words) <= 130
            assert words.endswith(".")
            assert ";" in words, "what was found; what to do next"
            assert not re.search(
                r"\b(great|good|well done|perfect|bad|wrong|poor|fail\w*|fault|mistake)\b|!", words, re.I
            )

    @given(
        st.floats(0, 0.04),
        st.floats(-0.1, 0.1),
        st.floats(0, 0.6),
        st.floats(0, 0.6),
        st.floats(0, 0.5),
        st.integers(0, 50),
    )
    def test_whatever_is_played_sentences_are_few_and_true_for_their_numbers(
        self, jitter_s: float, rush_s: float, touch: float, miss: float, wrong: float, seed: int
    ) -> None:
        faults = Faults(
            jitter_s=jitter_s,
            rush_gap_s=rush_s,
            touch_skips=touch,
            miss=miss,
            wrong_hand=wrong,
            stray=miss / 2,
        )
        found = advice_of(faults, *MIXED, passes=6, seed=seed)
        assert len(found) <= MOST_SENTENCES
        assert len({f.fault for f in found}) == len(found)
        for finding in found:
            numbers = [int(n) for n in re.findall(r"\d+", finding.sentence)]
            if finding.size_s is None:
                assert numbers[0] == finding.hits
                assert numbers[1] == finding.n
            else:
                assert numbers[0] == pytest.approx(abs(finding.size_s) * 1000, abs=0.51)
                assert "{" not in finding.sentence
            assert finding.probability <= 0.05
