"""A class comes back as it was left, is forgotten for good, and never loses what it cannot read.

Two windows that write one class lose nothing of one another's, and say what the other did.
"""

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from trainer.errors import StoreProblem
from trainer.judging.take import Verdict
from trainer.practice.classroom import Classroom, Order
from trainer.practice.turns import Turn
from trainer.records.class_file import VERDICT_LETTERS, keep_class, load_class, write_class_csv

TURN = Turn(
    uid="a", begun="2026-11-25T18:30:00.000000Z", day=739580, pattern="figure", title="Figure", level="plain",
    bpm=Fraction(973, 10), asked=16, clean=15, mean_s=None, spread_s=0.0125, rushed=1, touched=2,
    not_judged=1, reading="a beat late", disturbed="the pad was unplugged", by_word=True, together=True,
    placements_s=(-0.0205, 0.004), verdicts=(Verdict.EARLY, Verdict.IN_TIME),
)  # fmt: skip
NONE = Classroom()
ROOM = Classroom(order=Order.RANDOM).with_names(["Ann", "Jörg", "名前"]).played(TURN).chosen(1)
ROOM = ROOM.left_out("Jörg", 739580)


def test_a_class_comes_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "class.json"
    assert keep_class(NONE, ROOM, path) == (ROOM, "")
    assert load_class(path) == (ROOM, "")
    assert sorted(file.name for file in path.parent.iterdir()) == ["class.json", "class.json.lock"]


def test_every_verdict_has_a_letter_of_its_own() -> None:
    assert set(VERDICT_LETTERS) == set(Verdict)
    assert len(set(VERDICT_LETTERS.values())) == len(Verdict)


def test_the_dots_are_kept_of_the_turns_that_a_board_shows(tmp_path: Path) -> None:
    room = ROOM.played(replace(TURN, uid="b"), "Ann").played(replace(TURN, uid="c", day=1), "Ann")
    keep_class(NONE, room, tmp_path / "class.json")
    turns = load_class(tmp_path / "class.json")[0].pupils[0].turns
    assert [bool(turn.placements_s) for turn in turns] == [False, True, True]
    assert [turn.uid for turn in turns] == ["a", "b", "c"]


def test_a_class_of_version_0_3_0_is_read_and_its_turns_say_no_day(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    turn = {
        "pattern": "figure", "bpm": "973/10", "asked": 16, "clean": 15, "mean_s": None, "spread_s": 0.0125,
        "rushed": 1, "touched": 2, "placements_us": [-20500, 4000], "verdicts": ["early", "in time"],
    }  # fmt: skip
    table = {"format": 1, "at": 0, "order": "in order", "pupils": [{"name": "Ann", "turns": [turn]}]}
    path.write_text(json.dumps(table))
    room, note = load_class(path)
    assert note == ""
    [read] = room.pupils[0].turns
    assert (read.day, read.clean, read.verdicts) == (None, 15, (Verdict.EARLY, Verdict.IN_TIME))
    assert read.counts
    assert keep_class(room, room.with_names(["Bo"]), path)[0].names == ("Ann", "Bo")


def two_windows(path: Path) -> tuple[Classroom, Classroom]:
    """One class as two windows have read it."""
    keep_class(NONE, Classroom().with_names(["Ann", "Bo"]), path)
    return load_class(path)[0], load_class(path)[0]


def test_what_two_windows_add_is_kept_and_said(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    one, other = two_windows(path)
    keep_class(one, one.played(TURN, "Ann").with_names(["Cy"]), path)
    room, note = keep_class(other, other.played(replace(TURN, uid="z"), "Ann").chosen(1), path)
    assert room.names == ("Ann", "Bo", "Cy")
    assert {turn.uid for turn in room.pupils[0].turns} == {"a", "z"}
    assert room.at == 1
    assert note == "Another window has added Cy and added 1 turn; what both did is kept."
    assert {turn.uid for turn in load_class(path)[0].pupils[0].turns} == {"a", "z"}
    assert keep_class(room, room.chosen(0), path)[1] == ""


def test_a_name_that_one_window_takes_away_is_gone_from_the_other(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    one, other = two_windows(path)
    keep_class(one, one.without(0), path)
    room, note = keep_class(other, other.played(TURN, "Bo"), path)
    assert room.names == ("Bo",)
    assert note == "Another window has taken away Ann; what both did is kept."


def test_a_class_that_one_window_forgets_is_forgotten_in_the_other(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    one, other = two_windows(path)
    keep_class(one, Classroom(), path)
    room, note = keep_class(other, other.played(TURN, "Bo"), path)
    assert room.names == ()
    assert "has forgotten this class" in note
    assert not path.exists()


def test_the_teachers_word_and_the_order_are_merged_by_who_changed_them(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    lost = replace(TURN, by_word=False)
    keep_class(NONE, Classroom().with_names(["Ann"]).played(lost), path)
    one, other = load_class(path)[0], load_class(path)[0]
    keep_class(one, one.with_word("Ann", "a", by_word=True).with_order(Order.RANDOM), path)
    room, _note = keep_class(other, other.left_out("Ann", 5), path)
    assert room.pupils[0].turns[0].by_word
    assert (room.order, room.pupils[0].away) == (Order.RANDOM, 5)


def test_no_file_is_an_empty_class(tmp_path: Path) -> None:
    assert load_class(tmp_path / "class.json") == (Classroom(), "")


def test_a_class_without_names_leaves_no_file(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    keep_class(NONE, ROOM, path)
    keep_class(ROOM, Classroom(), path)
    assert not path.exists()


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{}", '{"format": 3}', '{"format": 2}', "\0", '{"format": 1, "pupils": [3]}', "[" * 5000],
)
def test_a_file_that_cannot_be_read_is_put_aside(tmp_path: Path, text: str) -> None:
    path = tmp_path / "class.json"
    path.write_text(text, encoding="utf-8")
    room, note = load_class(path)
    assert room == Classroom()
    assert "put aside as class.json.unread" in note
    assert (tmp_path / "class.json.unread").read_text(encoding="utf-8") == text


def test_a_folder_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "no-folder").write_text("in the way")
    with pytest.raises(StoreProblem, match="the class cannot be kept in"):
        keep_class(NONE, ROOM, tmp_path / "no-folder" / "class.json")
    with pytest.raises(StoreProblem, match="the class cannot be written to"):
        write_class_csv(ROOM, "class", tmp_path / "no-folder")


def test_a_csv_file_is_never_written_over(tmp_path: Path) -> None:
    first = write_class_csv(ROOM, "class", tmp_path)
    kept = first.read_bytes()
    second = write_class_csv(ROOM.without(0), "class", tmp_path)
    assert (first.name, second.name) == ("class.csv", "class-2.csv")
    assert first.read_bytes() == kept
    assert b"\r\n" in kept  # RFC 4180: lines end with CR LF


def test_a_name_that_looks_like_a_formula_stays_a_name(tmp_path: Path) -> None:
    path = write_class_csv(Classroom().with_names(["=1+1"]), "class", tmp_path)
    assert "\n'=1+1," in path.read_text(encoding="utf-8")
