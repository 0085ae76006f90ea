"""What a clean pass is, and the words for one that was not."""

import dataclasses
import statistics
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of, targets_of
from trainer.judging.pocket import Pocket
from trainer.judging.take import Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import Target, lay_out
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.passes import PassPlayed, pass_played, passes_needed, passes_played, spread_limit_s

BPM = Fraction(60)


def played(targets: Sequence[Target], taps: Sequence[Tap], pocket: Pocket = Pocket.MIDDLE) -> PassPlayed:
    judgement = judge(targets, taps, pocket=pocket)
    return pass_played(judgement.outcomes, BPM, strays=[judgement.taps[at] for at in judgement.strays])


def test_a_pass_as_asked_is_clean_and_nothing_is_said_against_it() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    assert played(targets, as_asked(targets)) == PassPlayed(bpm=BPM, clean=True, share=1.0)


def test_nine_of_ten_is_clean_and_a_touched_skip_or_a_rushed_gap_is_not() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE, passes=3)
    taps = as_asked(targets)
    assert played(targets, taps[:-1]).clean
    missed = played(targets, taps[:-4])
    assert (missed.clean, missed.why) == (False, "4 missed")
    skip = next(t for t in targets if t.stroke.kind.value == "skip")
    touched = played(targets, [*taps, dataclasses.replace(taps[0], song_s=skip.song_s)])
    assert (touched.clean, touched.skips_silent, touched.why) == (False, False, "a skip touched")
    rushed = played(
        targets, [dataclasses.replace(t, song_s=t.song_s - 0.2) if t is taps[3] else t for t in taps]
    )
    assert (rushed.clean, rushed.rushed) == (False, 1)
    assert "a gap rushed" in rushed.why


def test_a_pass_in_which_nothing_can_be_judged_is_not_clean() -> None:
    targets = targets_of("skip, hammer-on 3 fret 2, rest, rest")
    judgement = judge(targets, [])
    assert all(o.verdict is Verdict.NOT_JUDGED for o in judgement.outcomes)
    empty = pass_played(judgement.outcomes, BPM)
    assert (empty.clean, empty.share, empty.why) == (False, None, "nothing to judge")


def test_strays_count_as_strokes_that_were_not_as_asked_but_a_bounce_does_not() -> None:
    targets = targets_of(*[BASIC_FIGURE] * 4)
    taps = as_asked(targets)
    between = [Tap(song_s=t.song_s + 0.25, hand=t.hand, string=t.string) for t in taps[:3]]
    strays = played(targets, [*taps, *between])
    assert strays.share == pytest.approx(12 / 15)
    assert (strays.clean, strays.why) == (False, "3 stray")
    bounces = [dataclasses.replace(t, song_s=t.song_s + 0.045) for t in taps[:3]]
    assert played(targets, [*taps, *bounces]).clean


class TestSkipsThatAreToBeMarked:
    """The marks are an exercise beside the tempo: what the hands did on the strings decides of the pass."""

    TARGETS = targets_of(SKIP_FIGURE, passes=4)

    def marked(self, taps: Sequence[Tap]) -> PassPlayed:
        judgement = judge(self.TARGETS, taps, marks_skips=True)
        return pass_played(judgement.outcomes, BPM, strays=[judgement.taps[at] for at in judgement.strays])

    def marks(self, late_s: float) -> list[Tap]:
        skips = [t.song_s for t in self.TARGETS if t.stroke.kind is Kind.SKIP]
        return [Tap(song_s=at_s + late_s, hand=Hand.NONE) for at_s in skips]

    @pytest.mark.parametrize("late_s", [0.0, 0.09, -0.09, 0.4])
    def test_the_pass_is_what_it_is_without_marks_wherever_they_fall(self, late_s: float) -> None:
        hands = as_asked(self.TARGETS)
        assert self.marked(hands + self.marks(late_s)) == played(self.TARGETS, hands)

    def test_no_mark_at_all_is_no_missed_stroke(self) -> None:
        hands = as_asked(self.TARGETS)
        assert self.marked(hands).clean
        assert self.marked(hands) == played(self.TARGETS, hands)

    def test_a_touched_skip_is_one_and_a_stopped_hand_keeps_none(self) -> None:
        hands = as_asked(self.TARGETS)
        first = next(t for t in self.TARGETS if t.stroke.kind is Kind.SKIP)
        assert not self.marked([*hands, Tap(song_s=first.song_s, hand=Hand.NAIL, string=1)]).skips_silent
        assert self.marked(hands[:3]) == played(self.TARGETS, hands[:3])


def test_a_spread_beyond_the_limit_is_not_clean_even_in_a_wide_pocket() -> None:
    """At 60 the slot is 500 ms: 40 ms allowed, and the wide pocket holds 75 either way.

    Fifty ms either way in turn has the robust spread 1.4826 * 50 = 74 ms, by hand.
    """
    assert spread_limit_s(0.5) == pytest.approx(0.040)
    assert spread_limit_s(0.125) == 0.020
    targets = targets_of(*["strike 3, thumb, strike 3, thumb"] * 6)
    sway = [0.05, 0.05, -0.05, -0.05]
    taps = [dataclasses.replace(t, song_s=t.song_s + sway[n % 4]) for n, t in enumerate(as_asked(targets))]
    result = played(targets, taps, Pocket.WIDE)
    assert result.share == 1.0
    assert result.spread_s == pytest.approx(1.4826 * 0.05, rel=1e-6)
    assert (result.clean, result.why) == (False, "spread 74 ms (limit 40)")


def test_a_hand_that_moves_away_within_the_pass_is_not_clean() -> None:
    targets = targets_of(*["strike 3, thumb, brush, thumb"] * 6)
    for sign, words in ((1, "slowing down"), (-1, "speeding up")):
        taps = [
            dataclasses.replace(t, song_s=t.song_s + sign * 0.06 * (n / 23 - 0.5))
            for n, t in enumerate(as_asked(targets))
        ]
        result = played(targets, taps, Pocket.WIDE)
        assert result.drift_s is not None
        assert result.drift_s * sign > 0.04
        assert (result.clean, result.why) == (False, words)


def test_a_steady_lean_of_one_kind_is_neither_spread_nor_drift() -> None:
    targets = targets_of(*["strike 3, thumb, brush, thumb"] * 6)
    taps = [
        dataclasses.replace(t, song_s=t.song_s + (0.03 if t.string == 5 else 0.0)) for t in as_asked(targets)
    ]
    result = played(targets, taps)
    assert (result.clean, result.spread_s) == (True, pytest.approx(0.0, abs=1e-9))


def test_earlier_passes_help_a_short_figure_and_those_at_another_tempo_do_not() -> None:
    short = targets_of(BASIC_FIGURE, passes=5)
    outcomes = judge(short, as_asked(short)).outcomes
    alone = pass_played(outcomes[-3:], BPM)
    assert (alone.spread_s, alone.drift_s) == (None, None)
    assert pass_played(outcomes[-3:], BPM, before=outcomes[:-3]).spread_s == pytest.approx(0.0, abs=1e-9)
    faster = targets_of(BASIC_FIGURE, bpm=80, passes=5)
    others = judge(faster, as_asked(faster)).outcomes
    assert pass_played(outcomes[-3:], BPM, before=others).spread_s is None


def test_a_take_is_cut_into_its_whole_passes_at_their_tempi() -> None:
    pattern = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
    timeline = Timeline.steady(60).with_tempo(66, from_beat=Fraction(8))
    targets = lay_out(pattern, timeline, passes=4)
    judgement = judge(targets[:-2], as_asked(targets[:-2]))
    found = passes_played(judgement, timeline, pattern)
    assert {index: (p.bpm, p.clean) for index, p in found.items()} == {
        0: (60, True), 1: (60, True), 2: (66, True),
    }  # fmt: skip


def test_the_shorter_a_pattern_the_more_passes_it_needs() -> None:
    assert passes_needed(pattern_of(BASIC_FIGURE)) == 6
    assert passes_needed(pattern_of(*[SKIP_FIGURE] * 8)) == 2


def test_a_player_well_inside_the_limits_is_seldom_told_otherwise() -> None:
    """At 100 a spread of 12 ms, 24 allowed, in a pocket of 30: no more than 1 in 20 fails."""
    pattern = pattern_of(*[SKIP_FIGURE, BASIC_FIGURE] * 2)
    timeline = Timeline.steady(100)
    targets = lay_out(pattern, timeline, passes=300)
    take = simulate(targets, Faults(jitter_s=0.012), np.random.default_rng(3))
    judgement = judge(targets, take.taps)
    clean = [p.clean for p in passes_played(judgement, timeline, pattern).values()]
    assert statistics.fmean(clean) >= 0.95
