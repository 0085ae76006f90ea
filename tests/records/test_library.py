"""The library: what is read, what is kept as a problem, what is suggested."""

import os
from pathlib import Path

import pytest

from trainer.errors import BadNotation, BadSettings, StoreProblem
from trainer.music.toml_text import MAX_FILE_BYTES
from trainer.records.library import (
    Library,
    course_remarks,
    load_library,
    open_pattern,
    user_patterns_folder,
)
from trainer.records.tune_file import read_tune_file, try_read

GOOD = """title = "{title}"
level = "plain"
step = {step}
meter = "2/4"
slots_per_beat = 2
slow_bpm = 40
goal_bpm = 120
needs = [{needs}]
bars = "strike 3, rest, brush, thumb"
"""


def put(folder: Path, name: str, *, title: str = "A figure", step: int = 1, needs: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    path = folder / f"{name}.toml"
    path.write_text(GOOD.format(title=title, step=step, needs=needs), encoding="utf-8")
    return path


def load(tmp_path: Path) -> Library:
    return load_library(tmp_path / "own", shipped=tmp_path / "shipped")


def test_patterns_come_in_the_order_of_the_course(tmp_path: Path) -> None:
    for name, step in (("a", 3), ("c", 1), ("b", 1)):
        put(tmp_path / "shipped", name, step=step)
    assert [p.name for p in load(tmp_path).patterns] == ["b", "c", "a"]


def test_a_missing_user_folder_is_no_problem(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a")
    library = load(tmp_path)
    assert (library.problems, library.remarks) == ((), ())


def test_one_bad_file_stops_no_other_and_is_kept_with_its_place(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a")
    put(tmp_path / "own", "good")
    bad = put(tmp_path / "own", "bad")
    bad.write_text(bad.read_text(encoding="utf-8").replace("brush", "brsh"), encoding="utf-8")
    library = load(tmp_path)
    assert [p.name for p in library.patterns] == ["a", "good"]
    [problem] = library.problems
    assert (problem.source, problem.line, problem.column) == (str(bad), 9, 25)
    assert "did you mean brush" in str(problem)


def test_a_users_file_takes_the_place_of_a_shipped_one_and_that_is_said(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", title="Shipped")
    own = put(tmp_path / "own", "a", title="Mine")
    library = load(tmp_path)
    assert [p.title for p in library.patterns] == ["Mine"]
    assert library.remarks == (f"{own} is used in place of the pattern a that comes with the program.",)
    assert not library.find("a").shipped


def test_a_broken_users_file_leaves_the_shipped_one_in_place(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", title="Shipped")
    put(tmp_path / "own", "a").write_text("title =", encoding="utf-8")
    library = load(tmp_path)
    assert [p.title for p in library.patterns] == ["Shipped"]
    assert len(library.problems) == 1


def test_other_files_hidden_files_and_folders_are_passed_over(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a")
    (tmp_path / "shipped" / "notes.txt").write_text("no pattern", encoding="utf-8")
    (tmp_path / "shipped" / ".hidden.toml").write_text("no pattern", encoding="utf-8")
    library = load(tmp_path)
    assert [p.name for p in library.patterns] == ["a"]
    assert library.problems == ()


def test_too_long_a_file_is_refused_by_its_size(tmp_path: Path) -> None:
    path = put(tmp_path, "long")
    path.write_bytes(path.read_bytes() + b"#" * MAX_FILE_BYTES)
    with pytest.raises(
        BadNotation, match=f"is {path.stat().st_size} bytes long and at most {MAX_FILE_BYTES}"
    ):
        read_tune_file(path)


def test_a_file_as_long_as_the_limit_is_read(tmp_path: Path) -> None:
    path = put(tmp_path, "long")
    data = path.read_bytes()
    path.write_bytes(data + b"#" * (MAX_FILE_BYTES - len(data)))
    assert read_tune_file(path).name == "long"


def test_bytes_that_are_not_utf_8_are_shown_with_line_and_column(tmp_path: Path) -> None:
    path = put(tmp_path, "latin")
    path.write_bytes(b'# \xc3\xa9\ntitle = "caf\xe9"\n')
    with pytest.raises(
        BadNotation, match="found the byte E9, which is not UTF-8 text; save the file as"
    ) as caught:
        read_tune_file(path)
    assert (caught.value.line, caught.value.column) == (2, 13)
    assert caught.value.line_text.startswith('title = "caf')


def test_what_is_no_plain_file_is_not_read(tmp_path: Path) -> None:
    with pytest.raises(BadSettings, match="is not a plain file"):
        read_tune_file(tmp_path)
    if hasattr(os, "mkfifo"):
        os.mkfifo(tmp_path / "pipe.toml")
        with pytest.raises(BadSettings, match="is not a plain file"):
            read_tune_file(tmp_path / "pipe.toml")


def test_a_folder_called_like_a_pattern_is_a_problem_and_stops_nothing(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a")
    (tmp_path / "own" / "b.toml").mkdir(parents=True)
    library = load(tmp_path)
    assert [p.name for p in library.patterns] == ["a"]
    assert "is not a plain file" in str(library.problems[0])


def test_a_file_that_cannot_be_read_is_the_stores_problem(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = put(tmp_path, "a")

    def refuse(*_args: object, **_options: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(StoreProblem, match=r"cannot be read .Permission denied.; check its permissions"):
        read_tune_file(path)
    assert isinstance(try_read(path), StoreProblem)


def test_a_need_that_is_not_there_is_a_sentence(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", needs='"gone"')
    assert load(tmp_path).remarks == ("The pattern a needs gone, which is not in the library.",)


def test_a_circle_of_needs_is_a_sentence_for_each_of_its_patterns(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", needs='"b"')
    put(tmp_path / "shipped", "b", needs='"c"')
    put(tmp_path / "shipped", "c", needs='"a"')
    put(tmp_path / "shipped", "d", needs='"a"')
    patterns = {p.name: p for p in load(tmp_path).patterns}
    assert course_remarks(patterns) == (
        "The pattern a needs itself by way of b and c.",
        "The pattern b needs itself by way of c and a.",
        "The pattern c needs itself by way of a and b.",
    )


def test_a_mistyped_name_brings_the_nearest_ones(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "basic-figure")
    put(tmp_path / "shipped", "skip-figure")
    library = load(tmp_path)
    with pytest.raises(BadSettings, match='found no pattern called "basic-figur"; did you mean basic-figure'):
        library.find("basic-figur")
    with pytest.raises(BadSettings, match="did you mean skip-figure"):
        library.find("skip")
    with pytest.raises(BadSettings, match="list all with: thumbfall patterns"):
        library.find("zzzz")


def test_a_name_is_found_with_capitals_and_with_its_ending(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "basic-figure")
    library = load(tmp_path)
    assert library.find("Basic-Figure.toml").pattern.name == "basic-figure"


def test_a_path_is_opened_from_anywhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(tmp_path / "shipped", "a", title="Shipped")
    path = put(tmp_path / "elsewhere", "a", title="Elsewhere")
    library = load(tmp_path)
    assert open_pattern(str(path), library).title == "Elsewhere"
    monkeypatch.chdir(path.parent)
    assert open_pattern("a.toml", library).title == "Elsewhere"
    assert open_pattern("a", library).title == "Shipped"


def test_a_path_that_is_not_there_says_so(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a")
    with pytest.raises(BadSettings, match=r'found no file "nowhere/a\.toml"; check the path'):
        open_pattern("nowhere/a.toml", load(tmp_path))


@pytest.mark.parametrize("name", ["", ".", "a\0b", "x" * 5000, "../..", "~"])
def test_odd_names_end_in_a_sentence(tmp_path: Path, name: str) -> None:
    put(tmp_path / "shipped", "a")
    with pytest.raises(BadSettings):
        open_pattern(name, load(tmp_path))


def test_the_users_folder_lies_in_the_data_folder_of_the_program() -> None:
    assert user_patterns_folder().name == "patterns"
    assert user_patterns_folder().parent.name == "thumbfall"
