"""A file that nobody has named gets a name of its own in the user's documents."""

import sys
from pathlib import Path

import pytest

from trainer.errors import BadNotation, StoreProblem
from trainer.files import documents_folder
from trainer.music.toml_text import MAX_FILE_BYTES
from trainer.records.copies import Copy, CopyKind, known_copies, note_copy
from trainer.records.documents import free_document
from trainer.records.forgetting import all_remaining, remaining_words
from trainer.records.in_use import hold
from trainer.records.tune_file import read_tune_text


def test_the_folder_is_made_and_nothing_that_is_there_is_written_over(tmp_path: Path) -> None:
    folder = tmp_path / "not" / "there yet"
    names = []
    for _ in range(3):
        path = free_document("First skips 2026-11-25", ".pdf", folder)
        path.touch()
        names.append(path.name)
    assert names == [f"First skips 2026-11-25{n}.pdf" for n in ("", "-2", "-3")]
    assert {each.parent for each in folder.iterdir()} == {folder}


@pytest.mark.parametrize(
    ("stem", "name"),
    [
        ("a/b\\c:d*e?", "a-b-c-d-e-.pdf"),
        ("../../up", "------up.pdf"),
        ("Ärger im Haus", "Ärger im Haus.pdf"),
        ("  ", "lesson.pdf"),
        ("", "lesson.pdf"),
        ("x" * 300, "x" * 80 + ".pdf"),
    ],
)
def test_what_no_system_allows_in_a_name_becomes_a_hyphen(tmp_path: Path, stem: str, name: str) -> None:
    assert free_document(stem, ".pdf", tmp_path) == tmp_path / name


@pytest.mark.usefixtures("own_folders")
def test_without_a_folder_it_lies_in_the_users_documents() -> None:
    path = free_document("Lesson", ".png")
    assert path == documents_folder() / "Lesson.png"
    assert path.parent.is_dir()


def test_a_folder_that_cannot_be_made_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "taken").touch()
    with pytest.raises(StoreProblem, match=r"taken cannot be made .*; mend the folder's rights"):
        free_document("Lesson", ".pdf", tmp_path / "taken")


@pytest.mark.usefixtures("own_folders")
def test_files_that_were_written_outside_are_remembered_each_once_while_they_are_there(
    tmp_path: Path,
) -> None:
    first, second = tmp_path / "class.csv", tmp_path / "copy.sqlite"
    for path in (first, second):
        path.touch()
    note_copy(CopyKind.CLASS, first)
    note_copy(CopyKind.BACKUP, second)
    note_copy(CopyKind.CLASS, first)
    assert known_copies() == (
        Copy(kind=CopyKind.BACKUP, path=second),
        Copy(kind=CopyKind.CLASS, path=first),
    )
    second.unlink()
    assert known_copies() == (Copy(kind=CopyKind.CLASS, path=first),)


@pytest.mark.skipif(sys.platform != "linux", reason="only there a file's name may be any bytes")
@pytest.mark.usefixtures("own_folders")
def test_a_file_whose_name_is_no_text_is_remembered_too(tmp_path: Path) -> None:
    path = tmp_path / "class \udcff.csv"
    path.touch()
    note_copy(CopyKind.CLASS, path)
    assert known_copies() == (Copy(kind=CopyKind.CLASS, path=path),)


@pytest.mark.parametrize(
    ("name", "data", "problem"),
    [
        ("fig\x01ure.toml", b"", "the file's name is not UTF-8, or holds a character that can't be shown"),
        (
            "figure.toml",
            b"#" * (MAX_FILE_BYTES + 1),
            f"the file is {MAX_FILE_BYTES + 1} bytes long and at most",
        ),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="no such name can be given there")
def test_a_tune_file_that_is_not_read_is_pointed_at_its_first_place(
    tmp_path: Path, name: str, data: bytes, problem: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(BadNotation) as caught:
        read_tune_text(path)
    assert caught.value.problem.startswith(problem)
    assert (caught.value.line, caught.value.column) == (1, 1)


@pytest.mark.usefixtures("own_folders")
@pytest.mark.parametrize(
    "name",
    ["takes.sqlite.damaged", "takes.damaged-2.sqlite", "takes.salvaged.sqlite", "takes.version-2.sqlite"],
)
def test_every_kind_of_file_beside_the_records_that_may_hold_names_is_named(
    tmp_path: Path, name: str
) -> None:
    records = tmp_path / "takes.sqlite"
    records.touch()
    assert remaining_words(records) == all_remaining(records) == ()
    (tmp_path / name).touch()
    (words,) = remaining_words(records)
    assert str(tmp_path / name) in words
    assert [each.path for each in all_remaining(records)] == [tmp_path / name]


@pytest.mark.skipif(sys.platform == "win32", reason="its locks are between programs only")
def test_records_that_are_held_are_not_waited_for_unless_it_is_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slept(_seconds: float) -> None:
        raise AssertionError("it waits")

    monkeypatch.setattr("trainer.records.in_use.time.sleep", slept)
    held = hold(tmp_path / "takes.sqlite", alone=False)
    assert held is not None
    assert hold(tmp_path / "takes.sqlite", alone=True) is None
    held.leave()
    again = hold(tmp_path / "takes.sqlite", alone=True)
    assert again is not None
    again.leave()
