"""A class comes back as it was left, is forgotten for good, and never loses what it cannot read."""

from fractions import Fraction
from pathlib import Path

import pytest

from trainer.errors import StoreProblem
from trainer.judging.take import Verdict
from trainer.practice.classroom import Classroom, Order, Turn
from trainer.records.class_file import load_class, save_class, write_class_csv

TURN = Turn(
    pattern="figure", bpm=Fraction(973, 10), asked=16, clean=15, mean_s=None, spread_s=0.0125, rushed=1,
    touched=2, placements_s=(-0.0205, 0.004), verdicts=(Verdict.EARLY, Verdict.IN_TIME),
)  # fmt: skip
ROOM = Classroom(order=Order.RANDOM).with_names(["Ann", "Jörg", "名前"]).played(TURN).chosen(1)


def test_a_class_comes_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "class.json"
    save_class(ROOM, path)
    assert load_class(path) == (ROOM, "")
    assert [file.name for file in path.parent.iterdir()] == ["class.json"]


def test_no_file_is_an_empty_class(tmp_path: Path) -> None:
    assert load_class(tmp_path / "class.json") == (Classroom(), "")


def test_a_class_without_names_leaves_no_file(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    save_class(ROOM, path)
    save_class(Classroom(), path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"format": 2}', "\0", '{"format": 1, "pupils": [3]}', "[" * 5000]
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
        save_class(ROOM, tmp_path / "no-folder" / "class.json")
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
