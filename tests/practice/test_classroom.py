"""A class: names as people write them, turns in order or at random, a board that ranks only when asked."""

import csv
import datetime
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
    LONGEST_NAME,
    MOST_NAMES,
    Classroom,
    Order,
    board_order,
    player_of,
    pupil_of,
    read_names,
)
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.turns import Board, Turn, turn_of
from trainer.records.class_csv import CSV_COLUMNS, csv_rows

TODAY = 739580
BOARD = Board(pattern="figure", bpm=Fraction(60), day=TODAY)


def a_turn(clean: int, asked: int = 16, spread_s: float = 0.010, **more: object) -> Turn:
    fields = {"pattern": "figure", "bpm": Fraction(60), "day": TODAY, **more}
    return Turn(
        asked=asked, clean=clean, mean_s=0.004, spread_s=spread_s, rushed=0, touched=0,
        **fields,  # type: ignore[arg-type]
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
    assert board_order(room.pupils, BOARD, ranked=False) == (0, 1, 2, 3)
    assert board_order(room.pupils, BOARD, ranked=True) == (1, 2, 0, 3)


def test_absent_pupils_are_passed_over_until_another_day() -> None:
    room, chance = Classroom().with_names("ABC").left_out("B", TODAY), rng()
    seen = []
    for _ in range(4):
        assert room.current is not None
        seen.append(room.current.name)
        room = room.played(a_turn(8)).next(chance, TODAY)
    assert seen == list("ACAC")
    assert room.next(chance, TODAY + 1).names[room.next(chance, TODAY + 1).at] == "B"
    assert room.left_out("B", None).next(chance, TODAY).at == 1


def test_the_turns_of_another_day_give_nobody_a_turn_less_today() -> None:
    room = Classroom().with_names("AB")
    for _ in range(3):
        room = room.played(a_turn(8, day=TODAY - 1), "A")
    room = room.chosen(1).played(a_turn(8)).next(rng(), TODAY)
    assert room.at == 0


def test_a_board_holds_one_figure_at_one_tempo_on_one_day() -> None:
    turns = (
        a_turn(8, begun="2026-11-25T18:02Z"),
        a_turn(9, bpm=Fraction(65), begun="2026-11-25T18:01Z"),
        a_turn(10, begun="2026-11-25T18:03Z"),
        a_turn(11, day=TODAY - 1, begun="2026-11-24T18:00Z"),
        a_turn(12, pattern="figure at skips", begun="2026-11-25T18:04Z"),
        a_turn(13, day=None),
    )
    room = Classroom().with_names("AB")
    for at, turn in enumerate(turns):
        room = room.played(turn, "AB"[at % 2])
    assert [turn.clean for pupil in room.pupils for turn in pupil.on(BOARD)] == [8, 10]
    assert [(board.pattern, int(board.bpm), board.day) for board in room.boards] == [
        ("figure", 60, None),
        ("figure", 60, TODAY - 1),
        ("figure", 65, TODAY),
        ("figure", 60, TODAY),
        ("figure at skips", 60, TODAY),
    ]


def test_a_disturbed_turn_counts_by_the_teachers_word_alone_and_stays_marked() -> None:
    lost = a_turn(3, disturbed="the sound device was lost", uid="x", begun="b")
    room = Classroom().with_names("AB").played(a_turn(8, begun="a")).played(lost)
    pupil = room.pupils[0]
    assert [turn.clean for turn in pupil.counted(BOARD)] == [8]
    assert room.held(BOARD) == ("A", lost)
    said = room.with_word("A", "x", by_word=True)
    assert [turn.clean for turn in said.pupils[0].counted(BOARD)] == [8, 3]
    assert said.pupils[0].turns[-1].disturbed == "the sound device was lost"
    assert said.held(BOARD) is None
    assert said.with_word("A", "x", by_word=False) == room
    # Another turn of the same pupil since then has taken its place.
    assert room.played(a_turn(9, begun="c")).held(BOARD) is None


def test_the_name_of_a_pupil_is_in_that_of_their_takes() -> None:
    assert pupil_of(player_of("Ann")) == "Ann"
    assert pupil_of("Ann") == ""


def test_a_turn_says_what_the_judge_said() -> None:
    pattern = pattern_of(SKIP_FIGURE)
    targets = lay_out(pattern, Timeline.steady(60), passes=8)
    judgement = judge(targets, simulate(targets, Faults(touch_skips=1.0), rng()).taps)
    turn = turn_of(judgement, pattern=pattern, bpm=Fraction(60))
    assert (turn.asked, turn.clean, turn.touched, turn.rushed) == (32, 24, 8, 0)
    assert (turn.share, turn.besides) == ("24 of 32", "8 touched")
    assert turn.counts
    assert len(turn.placements_s) == len(turn.verdicts) == 32


@pytest.mark.parametrize(("stalled_s", "counts"), [(3.0, True), (8.0, False)])
def test_a_turn_counts_while_the_sound_stood_still_for_a_quarter_of_it_at_most(
    stalled_s: float, counts: bool
) -> None:
    pattern = pattern_of(SKIP_FIGURE)
    targets = lay_out(pattern, Timeline.steady(60), passes=8)  # 32 strokes in 16 s
    taps = simulate(targets, Faults(), rng()).taps
    turn = turn_of(judge(targets, taps, spans=((0.0, stalled_s),)), pattern=pattern, bpm=Fraction(60))
    assert turn.counts is counts
    assert turn.not_judged > 0
    assert f"{turn.not_judged} not judged" in turn.besides
    assert turn.asked + turn.not_judged == 32
    assert counts or "the sound stood still" in turn.disturbed


def test_what_nothing_can_hear_of_the_left_hand_disturbs_no_turn() -> None:
    pattern = pattern_of("strike 4, hammer-on 4 fret 2, hammer-on 4 fret 4, hammer-on 4 fret 5")
    targets = lay_out(pattern, Timeline.steady(60), passes=8)
    turn = turn_of(judge(targets, ()), pattern=pattern, bpm=Fraction(60))
    assert (turn.not_judged, turn.disturbed) == (0, "")


def test_a_class_as_csv_comes_back_through_a_reader_of_rfc_4180() -> None:
    room = Classroom().with_names(['Ann "the thumb"', "Bo"]).played(a_turn(15, level="plain", uid="a"))
    lost = a_turn(3, disturbed="the pad was unplugged", by_word=True, uid="b")
    room = room.played(lost).played(a_turn(2, disturbed="broken off", uid="c", together=True))
    text = io.StringIO()
    csv.writer(text).writerows(csv_rows(room))
    rows = list(csv.DictReader(io.StringIO(text.getvalue())))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert rows[0]["name"] == 'Ann "the thumb"'
    assert (rows[0]["strokes_asked"], rows[0]["strokes_clean"], rows[0]["mean_ms"]) == ("16", "15", "4.0")
    assert (rows[0]["date"], rows[0]["bpm"], rows[0]["level"]) == (
        datetime.date.fromordinal(TODAY).isoformat(), "60", "plain",
    )  # fmt: skip
    assert [(row["turn"], row["counts"], row["disturbed"], row["together"]) for row in rows[:3]] == [
        ("1", "yes", "", "no"),
        ("2", "by the teacher's word", "the pad was unplugged", "no"),
        ("3", "no", "broken off", "yes"),
    ]
    assert rows[3]["name"] == "Bo"
    assert rows[3]["strokes_asked"] == ""
