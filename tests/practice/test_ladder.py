"""The ways up: only on clean passes, in steps that are heard, and down again."""

import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.errors import BadSettings
from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.ladder import (
    LARGEST_FALL,
    LARGEST_STEP,
    MOST_LETTERS,
    AlternatingLadder,
    HomingLadder,
    Ladder,
    LadderKind,
    PlainLadder,
    is_at_goal,
    ladder_for,
)
from trainer.practice.passes import PassPlayed, passes_played
from trainer.practice.staircase import InARow, UpDown, Weighted, estimate_from

AUDIBLE = Fraction(103, 100)  # Drake & Botte 1993: a tempo is heard to differ from about 3 % on
RULES: tuple[UpDown, ...] = (InARow(), Weighted())


def climbing(bpm: int = 60, needed: int = 2) -> PlainLadder:
    return PlainLadder(low=Fraction(40), goal=Fraction(120), bpm=Fraction(bpm), needed=needed)


def homing(rule: UpDown, bpm: int = 60, low: int = 40, goal: int = 240) -> HomingLadder:
    return HomingLadder(low=Fraction(low), goal=Fraction(goal), bpm=Fraction(bpm), rule=rule)


def a_pass(ladder: Ladder, clean: bool) -> PassPlayed:
    return PassPlayed(bpm=ladder.bpm, clean=clean, why="" if clean else "2 early")


def on(ladder: Ladder, *passes: bool) -> Ladder:
    for clean in passes:
        ladder = ladder.after(a_pass(ladder, clean))
    return ladder


# Every ladder


def every_kind(bpm: int = 60) -> list[Ladder]:
    pattern = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
    found = [ladder_for(kind, pattern, Fraction(bpm)) for kind in LadderKind]
    assert found[0] is None
    return [ladder for ladder in found if ladder is not None]


@pytest.mark.parametrize("at", range(3))
def test_a_clean_player_reaches_the_goal_of_every_ladder_and_stays(at: int) -> None:
    ladder = on(every_kind()[at], *[True] * 200)
    assert is_at_goal(ladder)
    assert ladder.bpm == ladder.next_time_bpm == 120
    assert "goal" in ladder.in_words()


@pytest.mark.parametrize("at", range(3))
def test_a_player_who_is_never_clean_stays_at_the_foot_of_every_ladder(at: int) -> None:
    ladder = on(every_kind()[at], *[False] * 200)
    assert ladder.next_time_bpm == 40
    assert "2 early" in ladder.in_words()


@pytest.mark.parametrize("at", range(3))
def test_a_pass_at_another_tempo_moves_no_ladder(at: int) -> None:
    ladder = every_kind()[at]
    assert ladder.after(PassPlayed(bpm=Fraction(99), clean=True)) == ladder


@pytest.mark.parametrize("at", range(3))
def test_words_fit_beside_the_tempo(at: int) -> None:
    ladder = every_kind(bpm=100)[at]
    rng = np.random.default_rng(at)
    for chance in rng.random(300):
        clean = bool(chance < 0.8)
        why = "" if clean else "spread 174 ms (limit 140), speeding up"
        ladder = ladder.after(PassPlayed(bpm=ladder.bpm, clean=clean, why=why))
        words = ladder.in_words()
        assert len(words) <= MOST_LETTERS
        assert clean or "spread 174 ms (limit 140)" in words


def test_kinds_go_by_their_names() -> None:
    assert [kind.value for kind in LadderKind] == ["off", "plain", "homing in", "alternating"]
    assert all(LadderKind.named(kind.value) is kind for kind in LadderKind)
    with pytest.raises(BadSettings, match='found "steep" for the ladder'):
        LadderKind.named("steep")


def test_a_tempo_beyond_the_patterns_own_widens_the_ladder() -> None:
    for kind in (LadderKind.PLAIN, LadderKind.HOMING_IN, LadderKind.ALTERNATING):
        fast = ladder_for(kind, pattern_of(BASIC_FIGURE), Fraction(200))
        assert fast is not None
        assert is_at_goal(fast)
        slow = ladder_for(kind, pattern_of(BASIC_FIGURE), Fraction(30))
        assert slow is not None
        assert on(slow, *[False] * 30).bpm in (30, 120)


@given(st.integers(40, 236), st.booleans(), st.sampled_from(RULES), st.integers(0, 5))
def test_each_step_of_a_staircase_is_heard_and_small_enough(
    bpm: int, clean: bool, rule: UpDown, turns: int
) -> None:
    """Source: Drake & Botte 1993 for 3 %; the largest is common practice, no source.

    Only a step that an end of the ladder holds back may be less.
    """
    for _ in range(turns):
        rule = rule.turned()
    ladder = homing(rule, bpm)
    after = on(ladder, *([True] * 3 if clean else [False]))
    way = float(after.bpm / ladder.bpm)
    if after.bpm not in (ladder.low, ladder.goal):
        assert max(way, 1 / way) >= AUDIBLE
    # Three clean passes of a search are up to three steps.
    steps = 3 if (clean and turns < 4) or isinstance(rule, Weighted) else 1
    assert way <= float(LARGEST_STEP) ** steps
    assert 1 / way <= float(LARGEST_FALL) * (1 + 0.5 / (bpm / float(LARGEST_FALL)))


# The plain ladder


def test_the_plain_ladder_climbs_only_after_enough_clean_passes_in_a_row() -> None:
    ladder = on(climbing(), True)
    assert (ladder.bpm, ladder.in_words()) == (60, "ladder: 1 of 2 clean")
    assert on(ladder, False, True).bpm == 60
    assert on(ladder, False).in_words() == "ladder: 0 of 2 clean; last: 2 early"
    up = on(ladder, True)
    assert (up.bpm, up.in_words()) == (63, "ladder: 0 of 2 clean")


def test_the_plain_ladder_goes_down_after_failed_passes_and_never_below_its_foot() -> None:
    assert on(climbing(bpm=42), *[False] * 10).bpm == 40


@given(st.integers(40, 119))
def test_each_step_up_of_the_plain_ladder_is_heard_and_small(bpm: int) -> None:
    """Source: Drake & Botte 1993; only the last step, to the goal, may be less."""
    up = on(climbing(bpm=bpm, needed=1), True)
    if not is_at_goal(up):
        assert up.bpm >= bpm * AUDIBLE
    assert up.bpm <= bpm * LARGEST_STEP


# The alternating ladder


def alternating(slow: int = 60, turn: int = 2) -> AlternatingLadder:
    return AlternatingLadder(low=Fraction(40), goal=Fraction(120), slow=Fraction(slow), turn=turn)


def test_the_alternating_ladder_takes_turns_and_only_the_slow_tempo_rises() -> None:
    """By hand: a clean slow turn lifts 60 by a twentieth to 63; what happens at the goal lifts nothing."""
    ladder: Ladder = alternating()
    tempi = []
    for _ in range(8):
        tempi.append(ladder.bpm)
        ladder = on(ladder, True)
    assert tempi == [60, 60, 120, 120, 63, 63, 120, 120]
    assert ladder.next_time_bpm == 67
    assert ladder.in_words() == "slow turn: 0 of 2 clean"


def test_the_slow_tempo_stays_after_a_mixed_turn_and_falls_after_a_failed_one() -> None:
    assert on(alternating(), True, False).next_time_bpm == 60
    assert on(alternating(), False, False).next_time_bpm == 57
    assert on(alternating(), True, True, False, False).bpm == 63


def test_the_alternating_ladder_ends_at_the_goal_alone() -> None:
    ladder = on(alternating(slow=118), True, True)
    assert (ladder.bpm, is_at_goal(ladder), ladder.next_time_bpm) == (120, True, 120)
    assert on(ladder, True, True, True).bpm == 120


# The ladder that homes in: a player whose share of clean passes is known at each tempo


def clean_share(bpm: float, half: float, slope: float = 0.07, lapses: float = 0.02) -> float:
    """A logistic in log tempo: half of the passes clean at ``half``, and now and then a lapse anywhere."""
    return (1 - lapses) / (1 + math.exp((math.log(bpm) - math.log(half)) / slope))


def tempo_of(share: float, half: float, slope: float = 0.07, lapses: float = 0.02) -> float:
    """The inverse of the logistic above."""
    return half * math.exp(-slope * math.log(share / (1 - lapses - share)))


def climb(rule: UpDown, half: float, passes: int, seed: int, **ends: int) -> list[HomingLadder]:
    rng = np.random.default_rng(seed)
    ladders = [homing(rule, **ends)]
    for _ in range(passes):
        now = ladders[-1]
        ladders.append(now.after(a_pass(now, bool(rng.random() < clean_share(float(now.bpm), half)))))
    return ladders


@pytest.mark.parametrize("half", [70.0, 110.0, 180.0])
@pytest.mark.parametrize("rule", RULES, ids=["in a row", "weighted"])
def test_the_staircase_finds_the_published_point_in_steps_that_are_heard(rule: UpDown, half: float) -> None:
    """Levitt 1971: clean at 0.7937 for three in a row; Kaernbach 1991: at the share the weights are for.

    The share of clean passes along the way, after the search, is the point. Tolerance: 0.03 = what steps of
    3 % and whole beats a minute can move it, as half a step is 0.015 / 0.07 * p(1 - p) = 0.035.
    """
    late = [ladder for seed in range(30) for ladder in climb(rule, half, 330, seed)[30:]]
    share = float(np.mean([clean_share(float(ladder.bpm), half) for ladder in late]))
    assert share == pytest.approx(rule.target, abs=0.03)


@pytest.mark.parametrize("half", [70.0, 110.0, 180.0])
@pytest.mark.parametrize("rule", RULES, ids=["in a row", "weighted"])
def test_after_eighty_passes_the_estimate_is_near_and_its_interval_mostly_holds(
    rule: UpDown, half: float
) -> None:
    """Within 5 % of the tempo that the published point belongs to, over 100 players.

    Three in a row is nearer (1 %). The weighted rule's long steps down are as wide as the slope of these
    players, whose share of clean passes is bent there: its share is right and its mean tempo 4 % low.
    """
    want = tempo_of(rule.target, half)
    found = [estimate_from(climb(rule, half, 80, seed)[-1].turns) for seed in range(100)]
    said = [estimate for estimate in found if estimate is not None]
    assert len(said) >= 95
    assert math.exp(np.mean([math.log(e.bpm) for e in said])) == pytest.approx(want, rel=0.05)
    assert np.mean([e.low_bpm <= want <= e.high_bpm for e in said]) >= 0.85


def test_an_end_of_the_ladder_holds_the_staircase() -> None:
    """A goal below the point: it stays there, and no estimate is made of turns that were none."""
    ladder = climb(InARow(), 180.0, 200, 1, goal=100)[-1]
    assert ladder.bpm >= 90
    easy = climb(InARow(), 2000.0, 60, 2, goal=100)[-1]
    assert is_at_goal(easy)
    hard = climb(InARow(), 20.0, 200, 3, low=50, bpm=60)
    assert {ladder.bpm for ladder in hard[50:]} <= {50, 52, 54}


def test_the_words_are_the_estimate_once_there_is_one() -> None:
    ladders = climb(InARow(), 90.0, 80, 5)
    assert ladders[0].in_words() == "homing in: 0 of 3 clean"
    assert ladders[-1].in_words().startswith("homing in: about 8")


def test_it_homes_in_on_where_simulated_hands_are_clean_to_our_own_judge() -> None:
    """The whole chain: hands whose jitter grows with the tempo, the judge, what clean is, the ladder.

    The tempo at which these hands are clean in four passes of five is measured first, by itself; the
    estimate must lie within 6 % of it: the spread of one staircase of 90 passes (2 to 4 %) and the scan's.
    """
    pattern = pattern_of(*[SKIP_FIGURE, BASIC_FIGURE] * 2)

    def is_clean(bpm: Fraction, seed: int) -> bool:
        timeline = Timeline.steady(bpm)
        targets = lay_out(pattern, timeline)
        # In a pocket of 30 ms: sure at 60, hopeless at 130.
        jitter_s = 0.016 * (float(bpm) / 90) ** 2
        take = simulate(targets, Faults(jitter_s=jitter_s), np.random.default_rng([seed, int(bpm * 4)]))
        return passes_played(judge(targets, take.taps), timeline, pattern)[0].clean

    scanned = {
        bpm: np.mean([is_clean(Fraction(bpm), seed) for seed in range(60)]) for bpm in range(60, 132, 6)
    }
    want = min(scanned, key=lambda bpm: abs(float(scanned[bpm]) - InARow().target))
    ladder: Ladder | None = ladder_for(LadderKind.HOMING_IN, pattern, Fraction(60))
    assert isinstance(ladder, HomingLadder)
    for seed in range(90):
        ladder = ladder.after(PassPlayed(bpm=ladder.bpm, clean=is_clean(ladder.bpm, 1000 + seed)))
    estimate = estimate_from(ladder.turns)
    assert estimate is not None
    assert estimate.bpm == pytest.approx(want, rel=0.06)


def test_a_long_pattern_moves_after_each_pass_and_a_short_one_after_three() -> None:
    short = ladder_for(LadderKind.HOMING_IN, pattern_of(BASIC_FIGURE), Fraction(60))
    long = ladder_for(LadderKind.HOMING_IN, pattern_of(*[SKIP_FIGURE] * 16), Fraction(60))
    assert isinstance(short, HomingLadder)
    assert isinstance(long, HomingLadder)
    assert (type(short.rule), type(long.rule)) == (InARow, Weighted)


def test_a_ladder_begun_at_the_first_goal_leads_to_the_playing_tempo() -> None:
    danced = replace(pattern_of(BASIC_FIGURE), goal_bpm=Fraction(150), playing_bpm=Fraction(220))
    for bpm, goal in ((100, 150), (149, 150), (150, 220), (230, 230)):
        ladder = ladder_for(LadderKind.PLAIN, danced, Fraction(bpm))
        assert isinstance(ladder, PlainLadder)
        assert ladder.goal == goal
