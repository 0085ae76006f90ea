"""What is clean, what is ready and what should come first; nothing is ever locked."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.practice.courses import COURSE, named, rung
from tests.shipped import shipped
from trainer.practice.course import Rung, course_after, enough_bpm, standings


def test_without_a_history_only_what_needs_nothing_is_ready() -> None:
    found = standings(COURSE, ())
    assert [found[p.name].ready for p in COURSE] == [True, False, False]
    assert found["three"].in_words() == "first: One, clean at 80; Two, clean at 80"
    assert found["one"].in_words() == "ready"
    assert found["one"].fastest_clean_bpm is None
    assert found["one"].last_order is None


def test_clean_half_way_to_the_goal_is_enough_to_go_on() -> None:
    """By hand: half way from 40 to 120 is 80, from 50 to 85 it is 67.5, said as a whole number."""
    assert enough_bpm(COURSE[0]) == 80
    assert enough_bpm(named("odd", slow=50, goal=85)) == 68
    assert enough_bpm(named("narrow", slow=60, goal=60)) == 60
    assert not standings(COURSE, [rung("one", 79, 0)])["two"].ready
    assert standings(COURSE, [rung("one", 80, 0)])["two"].ready
    assert not standings(COURSE, [rung("one", 80, 0, clean=False)])["two"].ready


def test_the_fastest_clean_tempo_is_of_clean_rungs_alone() -> None:
    rows = [rung("one", 60, 0), rung("one", 72, 1), rung("one", 90, 2, clean=False)]
    standing = standings(COURSE, rows)["one"]
    assert (standing.fastest_clean_bpm, standing.last_order) == (72, 2)


def test_what_is_clean_itself_is_ready_whatever_it_needs() -> None:
    assert standings(COURSE, [rung("three", 85, 0)])["three"].ready


@pytest.mark.parametrize(
    ("rows", "reached"),
    [
        ([rung("one", 120, 0)], False),
        ([rung("one", 120, 0), rung("one", 120, 1)], False),
        ([rung("one", 120, 0), rung("one", 120, 1, day=2)], True),
        ([rung("one", 120, 0), rung("two", 60, 1, clean=False), rung("one", 125, 2)], True),
        ([rung("two", 60, 0), rung("one", 120, 1), rung("one", 120, 2), rung("two", 60, 3)], False),
        ([rung("one", 119, 0), rung("one", 120, 1, day=2)], False),
        ([rung("one", 120, 0, clean=False), rung("one", 120, 1, day=2)], False),
        ([rung("one", 120, 0), rung("one", 100, 1, clean=False), rung("one", 120, 2)], False),
        ([rung("one", 120, 0), rung("gone", 60, 1), rung("one", 120, 2)], True),
        ([], False),
    ],
)
def test_a_goal_is_reached_at_the_goal_tempo_twice_and_apart(rows: list[Rung], reached: bool) -> None:
    assert standings(COURSE, rows)["one"].goal_reached is reached
    assert standings(COURSE[:1], list(reversed(rows)))["one"].goal_reached is reached


def test_unknown_needs_and_circles_do_no_harm() -> None:
    circle = (named("a", "b"), named("b", "a"), named("self", "self"), named("lost", "nowhere", "a", "a"))
    found = standings(circle, ())
    assert [need.pattern for need in found["a"].waits_for] == ["b"]
    assert [need.pattern for need in found["b"].waits_for] == ["a"]
    assert found["self"].ready
    assert found["lost"].in_words() == "first: A, clean at 80"
    assert standings((), [rung("one", 80, 0)]) == {}


def test_the_shipped_course_can_be_walked_from_its_first_step_to_its_last() -> None:
    """Each time something that is not clean yet is ready, until everything is."""
    patterns = shipped().patterns
    rows: list[Rung] = []
    while len(rows) < len(patterns):
        found = standings(patterns, rows)
        open_now = [p for p in patterns if found[p.name].ready and not found[p.name].clean_enough]
        assert open_now
        chosen = open_now[0]
        rows.append(Rung(pattern=chosen.name, bpm=enough_bpm(chosen), clean=True, day=1, order=len(rows)))
    assert all(s.clean_enough for s in standings(patterns, rows).values())


def test_the_playing_tempo_is_told_apart_from_the_first_goal() -> None:
    danced = replace(named("one"), playing_bpm=Fraction(220))
    rows = [rung("one", 120, 0), rung("one", 120, 1, day=2)]
    slow = standings((danced,), rows)["one"]
    assert (slow.goal_reached, slow.at_playing_tempo) == (True, False)
    assert standings((danced,), [*rows, rung("one", 220, 2)])["one"].at_playing_tempo
    assert not standings(COURSE, [rung("one", 300, 0)])["one"].at_playing_tempo


def test_after_a_pattern_comes_the_first_that_is_ready_and_not_clean_enough_yet() -> None:
    found = standings(COURSE, [rung("one", 120, 0)])
    after = course_after(COURSE[0], COURSE, found)
    assert after is not None
    assert after.name == "two"
    everything = [rung(name, 120, at) for at, name in enumerate(("one", "two", "three"))]
    assert course_after(COURSE[0], COURSE, standings(COURSE, everything)) is None
    last = standings(COURSE, [rung("two", 120, 0), rung("three", 120, 1)])
    assert course_after(COURSE[2], COURSE, last) is COURSE[0]


def test_what_waits_for_the_pattern_just_played_alone_comes_after_it() -> None:
    after = course_after(COURSE[0], COURSE, standings(COURSE, []))
    assert after is not None
    assert after.name == "two"


def test_nothing_comes_after_bars_cut_out_of_a_pattern() -> None:
    assert course_after(named("one, the gap alone"), COURSE, standings(COURSE, [])) is None
