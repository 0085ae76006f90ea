"""history, export, import and records, end to end: words in, words and exit codes out."""

import csv
import json
import re
import shutil
import sqlite3
import struct
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from tests.judging.helpers import BASIC_FIGURE, pattern_of
from tests.records.takes import DAY, FIGURE, a_take
from tests.shipped import shipped
from trainer.cli import main
from trainer.commands.history import HistoryOrder, history
from trainer.practice.settings import Settings
from trainer.records.journal import Journal, journal_folder
from trainer.records.midifile import read_take
from trainer.records.settings import save_settings
from trainer.records.store import Store, records_path

Capture = pytest.CaptureFixture[str]
OTHER = pattern_of(BASIC_FIGURE)


@pytest.fixture(autouse=True)
def zone(own_folders: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A user with nothing kept, in a zone of its own."""
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    if hasattr(time, "tzset"):
        time.tzset()
    yield own_folders
    monkeypatch.undo()
    if hasattr(time, "tzset"):
        time.tzset()


def run(capsys: Capture, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def keep(*takes: object) -> Path:
    store = Store.open(records_path())
    store.keep_all(takes)  # type: ignore[arg-type]
    store.close()
    return records_path()


def in_course(**more: object) -> object:
    return a_take(pattern=shipped().find("basic-figure").pattern, **more)  # type: ignore[arg-type]


def test_nothing_kept_yet_says_what_to_do(capsys: Capture) -> None:
    assert run(capsys, "history") == (0, "Nothing is kept yet: play a drill, or import takes.\n", "")


def test_history_tells_patterns_minutes_and_takes() -> None:
    path = keep(
        in_course(bpm=60), in_course(days=1, bpm="72.5"), in_course(days=2, bpm=90, jitter_s=0.2),
        in_course(days=2, minutes=9, not_graded="the sound was interrupted"), a_take(player="Bo", days=2),
    )  # fmt: skip
    store = Store.open(path)
    answer = history(store, HistoryOrder(), DAY + 2)
    store.close()
    text = "\n".join(answer.lines)
    head, row = answer.lines[:2]
    assert head.split() == ["pattern", "takes", "clean", "at", "goal", "spread", "last", "played"]
    goal = shipped().find("basic-figure").pattern.goal_bpm
    assert row.split()[:4] == ["basic-figure", "4", "72.5", f"{float(goal):g}"]
    assert row.endswith("2026-03-03")
    assert "Minutes in the last 7 days: 2026-03-01 0.3, 2026-03-02 0.2, 2026-03-03" in text
    # 17:05 UTC is 02:05 of the next day in Tokyo; the newest comes first.
    listed = answer.lines[answer.lines.index(next(x for x in answer.lines if x.startswith("  take"))) + 1 :]
    assert listed[0].split()[:5] == ["4", "2026-03-04", "02:14", "basic-figure", "60"]
    assert listed[0].endswith("not graded: the sound was interrupted")
    assert [line.split()[0] for line in listed] == ["4", "3", "2", "1"]
    assert answer.notes == ("Players with takes of their own: Bo; see them with --player.",)


def test_minutes_older_than_a_week_are_left_out() -> None:
    store = Store.open(keep(in_course()))
    assert "Minutes in the last 7 days: none" in history(store, HistoryOrder(), DAY + 7).lines
    assert "Minutes in the last 7 days: none" not in history(store, HistoryOrder(), DAY + 6).lines
    store.close()


def test_history_is_of_one_player_and_one_pattern_when_asked(capsys: Capture) -> None:
    keep(a_take(player="Zoë", pattern=FIGURE), in_course(player="Zoë", minutes=1), a_take(minutes=2))
    code, out, _ = run(capsys, "history", "--player", "Zoë", "--pattern", "figure")
    assert code == 0
    assert out.startswith("Zoë\npattern")
    assert "basic-figure" not in out
    code, out, err = run(capsys, "history", "--player", "Bo")
    assert (code, out, err) == (2, "", 'the records have no player called "Bo"; they have: Zoë.\n')
    save_settings(Settings(player="Zoë"))
    assert run(capsys, "history")[1].startswith("Zoë\n")
    save_settings(Settings(player="new here"))
    assert run(capsys, "history")[1].startswith("Nothing is kept yet")


def test_history_as_json(capsys: Capture) -> None:
    keep(in_course(jitter_s=0.01))
    table = json.loads(run(capsys, "history", "--json")[1])
    (pattern,), (take,) = table["patterns"], table["takes"]
    assert (pattern["name"], pattern["fastest_clean_bpm"]) == ("basic-figure", 60)
    assert pattern["spread_ms"] == take["spread_ms"]  # one rung, at the very tempo
    assert (take["take"], take["begun"], take["day"]) == (1, "2026-03-01T17:05:00.000000Z", "2026-03-01")


@pytest.mark.parametrize("how", ["json", "csv"])
def test_export_and_import_carry_the_records_to_another_place(
    capsys: Capture, tmp_path: Path, how: str
) -> None:
    keep(in_course(player="Zoë"), in_course(minutes=1))
    to = tmp_path / ("x.json" if how == "json" else "folder")
    code, out, _ = run(capsys, "export", to, "--as", how)
    assert (code, out) == (0, f"{to}: 2 takes from {records_path()}.\n")
    other = ("--records", tmp_path / "other")
    assert run(capsys, "import", to, *other)[1] == "New: 2 takes. There already: 0 takes.\n"
    assert run(capsys, "import", to, *other)[1] == "New: 0 takes. There already: 2 takes.\n"
    assert run(capsys, "history", *other)[1] == run(capsys, "history")[1]


def test_export_takes_one_player_or_one_take(capsys: Capture, tmp_path: Path) -> None:
    keep(in_course(player="Zoë"), in_course(minutes=1))
    assert ": 1 take from" in run(capsys, "export", tmp_path / "z", "--as", "csv", "--player", "Zoë")[1]
    with (tmp_path / "z" / "takes.csv").open(newline="", encoding="utf-8") as file:
        assert [row["player"] for row in csv.DictReader(file)] == ["Zoë"]
    assert run(capsys, "export", tmp_path / "z", "--player", "Bo")[0] == 2
    assert run(capsys, "export", tmp_path / "one.mid", "--as", "midi", "--take", "2")[0] == 0
    assert len(read_take(tmp_path / "one.mid").notes) == 24
    assert run(capsys, "export", tmp_path, "--as", "midi")[1].startswith(f"{tmp_path}: 2 takes")
    assert run(capsys, "export", tmp_path, "--take", "9")[2].startswith("there is no take 9; see the numbers")
    run(capsys, "export", tmp_path)
    assert (tmp_path / "takes.json").exists()


def test_records_says_where_how_large_and_how_many(capsys: Capture) -> None:
    path = keep(in_course(player="Zoë"))
    code, out, _ = run(capsys, "records")
    assert code == 0
    assert f"The records are in {path}\n1 take, 0.1 MB\nPlayers: Zoë\n" in out


def test_the_place_comes_from_the_option_the_environment_or_the_settings(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_settings(Settings(records_folder=str(tmp_path / "chosen")))
    assert f"in {tmp_path / 'chosen' / 'takes.sqlite'}" in run(capsys, "records")[1]
    monkeypatch.setenv("THUMBFALL_RECORDS", str(tmp_path / "named"))
    assert f"in {tmp_path / 'named' / 'takes.sqlite'}" in run(capsys, "records")[1]
    Store.open(tmp_path / "x" / "takes.sqlite").close()
    assert f"in {tmp_path / 'x' / 'takes.sqlite'}" in run(capsys, "records", "--records", tmp_path / "x")[1]


def test_a_backup_can_be_opened_as_records(capsys: Capture, tmp_path: Path) -> None:
    keep(in_course())
    (tmp_path / "b").mkdir()
    assert run(capsys, "records", "--backup", tmp_path / "b" / "takes.sqlite")[0] == 0
    assert run(capsys, "history", "--records", tmp_path / "b") == run(capsys, "history")
    code, _, err = run(capsys, "records", "--backup", tmp_path / "no" / "x.sqlite")
    assert code == 4
    assert "cannot be opened" in err


def test_the_records_move_and_the_old_file_stays(capsys: Capture, tmp_path: Path) -> None:
    path = keep(in_course())
    before = run(capsys, "history")
    code, out, _ = run(capsys, "records", "--move", tmp_path / "barn")
    assert code == 0
    assert f"Takes are kept in {tmp_path / 'barn' / 'takes.sqlite'} from now on.\n" in out
    assert run(capsys, "history") == before
    assert f"in {tmp_path / 'barn' / 'takes.sqlite'}" in run(capsys, "records")[1]
    assert path.exists()
    code, _, err = run(capsys, "records", "--move", tmp_path / "barn")
    assert code == 2
    assert "there are records in" in err


@pytest.mark.parametrize("which", ["tempo", "spread", "minutes"])
def test_a_picture_of_progress_is_a_png(capsys: Capture, tmp_path: Path, which: str) -> None:
    """Signature, and width and height in the IHDR chunk, as the PNG specification (W3C) has them."""
    keep(in_course(), in_course(minutes=9, bpm=70))
    file = tmp_path / "progress.png"
    assert run(capsys, "export", file, "--as", "png", "--picture", which)[0] == 0
    data = file.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", data[16:24]) == (1920, 1080)


def test_a_picture_of_nothing_is_refused_in_a_sentence(capsys: Capture, tmp_path: Path) -> None:
    code, _, err = run(capsys, "export", tmp_path / "x.png", "--as", "png")
    assert code == 2
    assert err == "nothing was played yet, so there is no picture; play a drill, or name another --player.\n"
    keep(in_course())
    code, _, err = run(capsys, "export", tmp_path / "x.png", "--as", "png", "--pattern", "no-such")
    assert code == 2
    assert 'found no take of "no-such"' in err
    assert run(capsys, "export", tmp_path / "no" / "x.png", "--as", "png")[0] == 4


def spoil(path: Path, at: int, data: bytes) -> None:
    with path.open("r+b") as file:
        file.seek(at)
        file.write(data)


def test_damage_is_looked_for_and_mended(capsys: Capture) -> None:
    path = keep(*(in_course(minutes=n) for n in range(200)))
    assert run(capsys, "records", "--check") == (0, f"{path}: no damage found.\n", "")
    with closing(sqlite3.connect(path)) as connection:
        (body,) = connection.execute("SELECT body FROM takes WHERE id = 100").fetchone()
    spoil(path, path.read_bytes().index(body[:64]) // 4096 * 4096, bytes(4096))
    code, out, _ = run(capsys, "records", "--check")
    assert code == 5
    assert re.search(r"^The records were damaged: 19\d takes saved, \d takes? \(\d+ of 2026", out)
    assert f"The damaged file is {path.with_name('takes.sqlite.salvaged')}.\n" in out
    code, out, _ = run(capsys, "records", "--check")
    assert (code, out.splitlines()[0]) == (0, f"{path}: no damage found.")
    assert out.splitlines()[1].startswith("What could not be read earlier lies in ")


COMMANDS = (
    ["history"],
    ["export", "HOME/new.json"],
    ["export", "HOME/csv", "--as", "csv"],
    ["export", "HOME/tempo.png", "--as", "png", "--player", ""],
    ["import", "HOME/backup.json"],
    ["records"],
    ["records", "--check"],
    ["records", "--backup", "HOME/copy.sqlite"],
    ["records", "--move", "HOME/elsewhere"],
)


@pytest.fixture(scope="module")
def forty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("forty") / "takes.sqlite"
    store = Store.open(path)
    store.keep_all(in_course(minutes=n) for n in range(40))  # type: ignore[misc]
    store.close()
    return path


@pytest.mark.parametrize("damage", ["header", "schema", "a page"])
@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_command_that_meets_damage_says_so_saves_what_it_can_and_has_a_code_of_its_own(
    capsys: Capture, own_folders: Path, forty: Path, words: list[str], damage: str
) -> None:
    path = records_path()
    path.parent.mkdir(parents=True)
    shutil.copy(forty, path)
    run(capsys, "export", own_folders / "backup.json")
    before = (own_folders / "backup.json").read_bytes()
    if damage == "a page":
        with closing(sqlite3.connect(path)) as connection:
            (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'takes'").fetchone()
        spoil(path, (root - 1) * 4096, bytes(4096))
    else:
        spoil(path, 0 if damage == "header" else 4096 - 300, b"garbage garbage!")
    code, out, err = run(capsys, *(word.replace("HOME", str(own_folders)) for word in words))
    if damage == "a page" and words[:1] + words[2:] == ["export", "--as", "png", "--player", ""]:
        return  # it reads indexes alone, and these are whole
    if damage == "a page" and words[0] in ("records", "import") and len(words) < 3 and "--check" not in words:
        return  # so do these, the import because it finds all takes there already
    assert code == 5
    said = out if words == ["records", "--check"] else err
    assert said.startswith("The records were damaged: 40 takes saved, none known to be lost.")
    assert str(path.with_name("takes.sqlite.salvaged")) in said
    assert (own_folders / "backup.json").read_bytes() == before
    folder = ["--records", str(own_folders / "elsewhere")] if "--move" in words else []
    code, out, _ = run(capsys, "records", *folder)
    assert "40 takes" in out


def test_a_file_that_0_2_0_put_aside_is_pointed_at_and_looked_through(capsys: Capture) -> None:
    path = keep(*(in_course(minutes=n) for n in range(20)))
    spoil(path, 0, b"garbage garbage!")
    aside = path.with_name("takes.sqlite.damaged")
    path.replace(aside)
    Store.open(path.with_name("fresh.sqlite")).close()
    path.with_name("fresh.sqlite").replace(path)
    code, _, err = run(capsys, "records")
    assert (code, err) == (
        0,
        f"An earlier damaged file lies in {aside}. Look it through with: thumbfall records --check\n",
    )
    code, out, _ = run(capsys, "records", "--check")
    assert (code, out) == (
        5,
        f"{path.with_name('takes.sqlite.salvaged')}: 20 takes taken back into the records.\n",
    )
    assert "20 takes" in run(capsys, "records")[1]


def test_one_damaged_take_is_left_out_of_an_export_and_said(capsys: Capture, tmp_path: Path) -> None:
    path = keep(*(in_course(minutes=n) for n in range(5)))
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE takes SET sum = sum + 1 WHERE id = 2")
    code, out, err = run(capsys, "export", tmp_path / "x.json")
    assert (code, out) == (5, f"{tmp_path / 'x.json'}: 4 takes from {path}.\n")
    assert err == "Damaged and left out: 1 take (2). See what can be done with: thumbfall records --check\n"
    code, out, err = run(capsys, "export", tmp_path / "y.json", "--take", 2)
    assert code == 5
    assert "4 takes saved, 1 take (2 of 2026-03-01) could not be read" in err
    assert "there is no take 2" in err


def test_an_export_never_writes_over_the_only_good_copy(capsys: Capture, tmp_path: Path) -> None:
    to = tmp_path / "x.json"
    path = keep(*(in_course(minutes=n, player="Ann") for n in range(3)), in_course(player="Bo", minutes=9))
    run(capsys, "export", to)
    before = to.read_bytes()
    code, out, err = run(capsys, "export", to, "--player", "Bo")
    older = tmp_path / "x.older-1.json"
    assert (code, err) == (0, f"An older file that holds more takes is kept as {older}.\n")
    assert older.read_bytes() == before
    path.unlink()
    code, out, err = run(capsys, "export", to)
    assert (code, out) == (2, "")
    assert err == (
        f"there is no take to write, and {to} holds 1; name another file, or remove that one first.\n"
    )
    assert to.exists()
    letter = tmp_path / "letter.txt"
    letter.write_text("dear Ann")
    code, out, err = run(capsys, "export", letter)
    assert (code, err) == (2, f"{letter} is there already and is no export of takes; name another file.\n")
    code, _, err = run(capsys, "records", "--backup", letter)
    assert (code, err) == (2, f"{letter} is there already and is no copy of records; name another file.\n")
    assert letter.read_text() == "dear Ann"


def test_records_are_not_moved_under_an_open_window(capsys: Capture, tmp_path: Path) -> None:
    path = keep(in_course())
    window = Store.open(path)
    code, _, err = run(capsys, "records", "--move", tmp_path / "new")
    assert (code, err) == (
        4, f"Thumbfall is open and keeps takes in {path}; close it and move the records then.\n",
    )  # fmt: skip
    assert not (tmp_path / "new").exists()
    window.close()
    assert run(capsys, "records", "--move", tmp_path / "new")[0] == 0
    assert str(tmp_path / "new") in run(capsys, "records")[1]


def test_an_unfinished_take_moves_with_the_records(capsys: Capture, tmp_path: Path) -> None:
    path = keep(in_course())
    take = a_take(uid="e" * 32, minutes=5)
    journal = Journal.begin(journal_folder(path), take)
    for tap in take.taps:
        journal.tap(tap)
    journal.leave()
    code, _, err = run(capsys, "records", "--move", tmp_path / "new")
    assert (code, err) == (0, "A take that was broken off was saved.\n")
    assert "2 takes" in run(capsys, "records")[1]


def test_a_newer_file_is_one_sentence_with_the_code_for_the_users_files(capsys: Capture) -> None:
    path = keep(in_course())
    store = Store.open(path)
    store._connection.execute("PRAGMA user_version = 99")
    store.close()
    for words in (["history"], ["export", "x.json"], ["import", "x.json"], ["records"]):
        code, out, err = run(capsys, *words)
        assert (code, out, err.count("\n")) == (4, "", 1)
        assert "newer Thumbfall" in err


@pytest.mark.parametrize("words", [["history"], ["records"], ["export", "out.json"], ["records", "--check"]])
def test_a_folder_without_records_is_said_and_gets_none(
    words: list[str], tmp_path: Path, capsys: Capture
) -> None:
    wrong = tmp_path / "wrong"
    code, out, err = run(capsys, *words, "--records", wrong)
    assert (code, out) == (4, "")
    assert err == f"there are no records in {wrong}; name the folder in which takes.sqlite lies.\n"
    assert not wrong.exists()


def test_import_may_begin_new_records_in_a_folder_named(tmp_path: Path, capsys: Capture) -> None:
    keep(in_course())
    assert run(capsys, "export", tmp_path / "all.json")[0] == 0
    assert run(capsys, "import", tmp_path / "all.json", "--records", tmp_path / "new")[0] == 0
    assert (tmp_path / "new" / "takes.sqlite").exists()


def test_a_pattern_of_several_words_needs_no_quotes(tmp_path: Path, capsys: Capture) -> None:
    library = shipped()
    keep(in_course(), a_take(pattern=next(p for p in library.laid if p.name == "barn-lantern at skips")))
    to = tmp_path / "one.json"
    for words in (("--pattern", "barn-lantern", "at", "skips"), ("--pattern=barn-lantern", "at", "skips")):
        code, out, err = run(capsys, "export", *words, to)
        assert (code, err) == (0, "")
        assert out.startswith(f"{to}: 1 take from ")
        to.unlink()
