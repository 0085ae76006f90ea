"""A class: names as people write them, turns in order or at random, a board that ranks only when asked."""

import csv
import io
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import SKIP_FIGURE, pattern_of
from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.classroom import (
    CSV_COLUMNS,
    LONGEST_NAME,
    MOST_NAMES,
    Classroom,
    Order,
    Turn,
    board_order,
    csv_rows,
    read_names,
    turn_of,
)
from trainer.practice.hands import Faults, simulate


def a_turn(clean: int, asked: int = 16, spread_s: float = 0.010) -> Turn:
    return Turn(
        pattern="figure", bpm=Fraction(60), asked=asked, clean=clean, mean_s=0.004, spread_s=spread_s,
        rushed=0, touched=0,
    )  # fmt: skip


def rng() -> np.random.Generator:
    return np.random.default_rng(3)


def test_names_are_read_as_people_write_them() -> None:
    assert read_names("Wilma\nOndo, Petra; Quist\r\n\n  Hale   B. \t Imre") == (
        "Wilma", "Ondo", "Petra", "Quist", "Hale B.", "Imre",
    )  # fmt: skip


@given(st.text())
def test_any_text_gives_names_that_can_be_shown(text: str) -> None:
    for name in read_names(text):
        assert name
        assert len(name) <= LONGEST_NAME
        assert name.isprintable()
        assert name == name.strip()


def test_a_name_that_is_there_already_gets_a_number() -> None:
    assert Classroom().with_names(["Ann", "Ann", "Ann"]).names == ("Ann", "Ann 2", "Ann 3")


@given(st.lists(st.sampled_from(["A" * LONGEST_NAME, "B", "B 2"]), max_size=80))
def test_names_stay_different_and_few_enough(names: list[str]) -> None:
    room = Classroom().with_names(names)
    assert len(set(room.names)) == len(room.names) == min(len(names), MOST_NAMES)
    assert all(len(name) <= LONGEST_NAME for name in room.names)


@pytest.mark.parametrize("order", list(Order))
def test_nobody_has_a_second_turn_before_all_have_had_a_first(order: Order) -> None:
    room = Classroom(order=order).with_names("ABCDEFG")
    chance = rng()
    seen = []
    for _ in range(14):
        assert room.current is not None
        seen.append(room.current.name)
        room = room.played(a_turn(8)).next(chance)
    assert sorted(seen[:7]) == sorted(seen[7:]) == list("ABCDEFG")
    assert (seen[:7] == list("ABCDEFG")) == (order is Order.LISTED)


def test_turns_at_random_are_even() -> None:
    chance, count = rng(), dict.fromkeys("ABCD", 0)
    for _ in range(400):
        room = Classroom(order=Order.RANDOM).with_names("ABCD").next(chance)
        assert room.current is not None
        count[room.current.name] += 1
    # A, whose turn it was, waits; the three others share 400 evenly: 133 each, standard deviation 9.4.
    assert count["A"] == 0
    assert all(abs(count[name] - 400 / 3) < 4 * 9.5 for name in "BCD")


def test_the_turn_stays_with_somebody_when_names_go() -> None:
    room = Classroom().with_names("ABC").chosen(2).without(2)
    assert room.current is not None
    assert room.current.name == "B"
    assert room.without(0).without(0).current is None


def test_the_board_ranks_only_when_asked() -> None:
    room = Classroom().with_names("ABCD")
    for at, clean in ((0, 8), (1, 15), (2, 12)):
        room = room.chosen(at).played(a_turn(clean))
    assert board_order(room.pupils, ranked=False) == (0, 1, 2, 3)
    assert board_order(room.pupils, ranked=True) == (1, 2, 0, 3)


def test_a_turn_says_what_the_judge_said() -> None:
    pattern = pattern_of(SKIP_FIGURE)
    targets = lay_out(pattern, Timeline.steady(60), passes=8)
    judgement = judge(targets, simulate(targets, Faults(touch_skips=1.0), rng()).taps)
    turn = turn_of(judgement, pattern="figure", bpm=Fraction(60))
    assert (turn.asked, turn.clean, turn.touched, turn.rushed) == (32, 24, 8, 0)
    assert turn.in_words == "24 of 32, 8 touched"
    assert len(turn.placements_s) == len(turn.verdicts) == 32


def test_a_class_as_csv_comes_back_through_a_reader_of_rfc_4180() -> None:
    room = Classroom().with_names(['Ann "the thumb"', "Bo"]).played(a_turn(15))
    text = io.StringIO()
    csv.writer(text).writerows(csv_rows(room))
    rows = list(csv.DictReader(io.StringIO(text.getvalue())))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert rows[0]["name"] == 'Ann "the thumb"'
    assert (rows[0]["strokes_asked"], rows[0]["strokes_clean"], rows[0]["mean_ms"]) == ("16", "15", "4.0")
    assert rows[1]["name"] == "Bo"
    assert rows[1]["strokes_asked"] == ""
