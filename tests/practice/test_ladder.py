"""The way up: only on clean passes, in steps that are heard, and down again."""

import dataclasses
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of, targets_of
from trainer.judging.verdicts import judge
from trainer.practice.ladder import Ladder, is_clean, ladder_for

AUDIBLE = Fraction(103, 100)  # Drake & Botte 1993: a tempo is heard to differ from about 3 % on


def climbing(bpm: int = 60, needed: int = 2) -> Ladder:
    return Ladder(low=Fraction(40), goal=Fraction(120), bpm=Fraction(bpm), needed=needed)


def test_it_climbs_only_after_enough_clean_passes_in_a_row() -> None:
    ladder = climbing().after(clean=True)
    assert (ladder.bpm, ladder.clean) == (60, 1)
    assert ladder.after(clean=False).after(clean=True).bpm == 60
    up = ladder.after(clean=True)
    assert (up.bpm, up.clean, up.failed) == (63, 0, 0)


def test_it_goes_down_after_failed_passes_and_never_below_its_foot() -> None:
    ladder = climbing(bpm=42)
    for _ in range(10):
        ladder = ladder.after(clean=False)
    assert ladder.bpm == 40


@given(st.integers(40, 119))
def test_each_step_up_is_heard_and_small(bpm: int) -> None:
    """Source: Drake & Botte 1993, 3 % and more is heard; only the last step, to the goal, may be less."""
    up = climbing(bpm=bpm, needed=1).after(clean=True)
    if not up.at_goal:
        assert up.bpm >= bpm * AUDIBLE
    assert up.bpm <= bpm * Fraction(108, 100)


def test_a_clean_player_reaches_the_goal_and_stays() -> None:
    ladder = climbing()
    for _ in range(100):
        ladder = ladder.after(clean=True)
    assert ladder.at_goal
    assert ladder.bpm == 120
    assert "at the goal" in ladder.in_words()


def test_short_figures_need_more_passes() -> None:
    assert ladder_for(pattern_of(BASIC_FIGURE), Fraction(60)).needed == 6
    assert ladder_for(pattern_of(*[SKIP_FIGURE] * 8), Fraction(60)).needed == 2


def test_a_tempo_beyond_the_patterns_own_widens_the_ladder() -> None:
    assert ladder_for(pattern_of(BASIC_FIGURE), Fraction(200)).goal == 200
    assert ladder_for(pattern_of(BASIC_FIGURE), Fraction(30)).low == 30


def test_nine_of_ten_as_asked_is_clean_and_a_touched_skip_or_a_rushed_gap_is_not() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE, passes=3)
    taps = as_asked(targets)
    assert is_clean(judge(targets, taps).outcomes)
    assert is_clean(judge(targets, taps[:-1]).outcomes)
    assert not is_clean(judge(targets, taps[:-4]).outcomes)
    assert not is_clean(judge(targets, []).outcomes)
    skip = next(t for t in targets if t.stroke.kind.value == "skip")
    touched = [*taps, dataclasses.replace(taps[0], song_s=skip.song_s)]
    assert not is_clean(judge(targets, touched).outcomes)
    rushed = [dataclasses.replace(t, song_s=t.song_s - 0.2) if t is taps[3] else t for t in taps]
    assert not is_clean(judge(targets, rushed).outcomes)


@pytest.mark.parametrize("chance", [0.3, 0.9])
def test_a_player_finds_a_tempo_that_suits(chance: float) -> None:
    """A player who is clean below 80 and rarely above stays around 80."""
    ladder = climbing(bpm=60)
    visited = []
    for n in range(600):
        clean = ladder.bpm < 80 or (n * 7919 % 100) / 100 < chance * 0.2
        ladder = ladder.after(clean=clean)
        visited.append(ladder.bpm)
    assert 72 <= sum(visited[200:]) / 400 <= 90
