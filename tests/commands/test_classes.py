"""Classes are kept by name, and forgotten as wholly as it is said: the bytes of all files are searched."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.records.takes import a_take
from trainer.cli import main
from trainer.practice.classroom import player_of
from trainer.records.class_lists import list_names, list_path
from trainer.records.settings import load_settings
from trainer.records.store import Store, records_path

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.delenv("THUMBFALL_RECORDS", raising=False)
    return tmp_path / "home"


def run(capsys: Capture, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def a_class(capsys: Capture, tmp_path: Path, name: str, *pupils: str) -> None:
    names = tmp_path / "names.txt"
    names.write_text("\n".join(pupils), encoding="utf-8")
    assert run(capsys, "class", name, "--names", names)[0] == 0


def keep_takes(*pupils: str) -> None:
    store = Store.open(records_path(load_settings()[0].records_folder))
    store.keep_all(
        [replace(a_take(), uid=f"take-{at}-{name}", player=player_of(name)) for at, name in enumerate(pupils)]
    )
    store.close()


def bytes_under(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_several_classes_are_kept_by_name_and_one_is_in_use(tmp_path: Path, capsys: Capture) -> None:
    a_class(capsys, tmp_path, "Monday", "Anna", "Bela")
    a_class(capsys, tmp_path, "Über/Tag: 2", "Cora")
    assert list_names() == ("Monday", "Über/Tag: 2")
    _, out, _ = run(capsys, "class")
    assert out == "Monday: 2 pupils\nÜber/Tag: 2: 1 pupil (in use)\n"
    assert run(capsys, "class", "Monday")[1] == "Monday: 2 pupils (in use)\n"
    assert load_settings()[0].class_list == "Monday"


def test_a_forgotten_class_is_gone_also_where_the_records_were_before(
    home: Path, tmp_path: Path, capsys: Capture
) -> None:
    a_class(capsys, tmp_path, "Monday", "Quirinalda")
    keep_takes("Quirinalda")
    assert run(capsys, "records", "--move", home / "moved")[0] == 0
    assert b"Quirinalda" in bytes_under(home)
    (tmp_path / "names.txt").unlink()
    code, out, err = run(capsys, "class", "Monday", "--forget")
    assert (code, out, err) == (0, "Monday: names, turns and takes are forgotten.\n", "")
    assert b"Quirinalda" not in bytes_under(home)
    assert load_settings()[0].class_list == ""


def test_what_was_copied_or_written_is_named_and_left_to_the_user(tmp_path: Path, capsys: Capture) -> None:
    a_class(capsys, tmp_path, "Monday", "Anna")
    keep_takes("Anna")
    copy, export = tmp_path / "copy.sqlite", tmp_path / "all.json"
    assert run(capsys, "records", "--backup", copy)[0] == 0
    assert run(capsys, "export", export)[0] == 0
    _, _, err = run(capsys, "class", "Monday", "--forget")
    assert err == (
        f"Files that you have written may still hold names; delete them yourself: {copy}, {export}.\n"
    )
    copy.unlink()
    _, out, _ = run(capsys, "class")
    assert str(copy) not in out
    assert str(export) in out


def test_a_pupil_of_two_classes_keeps_the_takes_until_both_are_forgotten(
    tmp_path: Path, capsys: Capture
) -> None:
    a_class(capsys, tmp_path, "Monday", "Anna", "Bela")
    a_class(capsys, tmp_path, "Tuesday", "Anna")
    keep_takes("Anna", "Bela")
    run(capsys, "class", "Monday", "--forget")
    store = Store.open(records_path())
    assert store.players() == (player_of("Anna"),)
    store.close()
    run(capsys, "class", "Tuesday", "--forget")
    store = Store.open(records_path())
    assert store.count() == 0
    store.close()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--forget",), "no class is named; name one, or give --first for the one without a name."),
        (("Nobody", "--forget"), "there is no class called Nobody; there are: none."),
        (("x" * 25,), "found 25 characters for the name of a class"),
        (("A", "--first"), "a name and --first were given; leave one out."),
    ],
)
def test_what_cannot_be_done_is_said(words: tuple[str, ...], said: str, capsys: Capture) -> None:
    code, out, err = run(capsys, "class", *words)
    assert (code, out) == (2, "")
    assert err.startswith(said)


def test_the_name_of_a_class_leads_to_no_file_elsewhere(home: Path) -> None:
    path = list_path("../../x")
    assert path.parent.name == "classes"
    assert path.resolve().is_relative_to(home.resolve())
