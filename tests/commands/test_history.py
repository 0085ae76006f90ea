"""history, export, import and records, end to end: words in, words and exit codes out."""

import csv
import json
import struct
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.judging.helpers import BASIC_FIGURE, pattern_of
from tests.records.takes import DAY, FIGURE, a_take
from trainer.cli import main
from trainer.commands.history import HistoryOrder, history
from trainer.practice.settings import Settings
from trainer.records.library import load_library
from trainer.records.midifile import read_take
from trainer.records.settings import save_settings
from trainer.records.store import Store, records_path

Capture = pytest.CaptureFixture[str]
OTHER = pattern_of(BASIC_FIGURE)


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A user with nothing kept, in a zone of its own."""
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    monkeypatch.delenv("THUMBFALL_RECORDS", raising=False)
    monkeypatch.setenv("TZ", "Asia/Tokyo")
    if hasattr(time, "tzset"):
        time.tzset()
    yield tmp_path / "home"
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
    return a_take(pattern=load_library().find("basic-figure").pattern, **more)  # type: ignore[arg-type]


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
    goal = load_library().find("basic-figure").pattern.goal_bpm
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


def test_damage_is_looked_for_and_mended(capsys: Capture) -> None:
    path = keep(*(in_course(minutes=n) for n in range(200)))
    assert run(capsys, "records", "--check")[1] == f"{path}: no damage found.\n"
    data = bytearray(path.read_bytes())
    data[20 * 4096 : 20 * 4096 + 64] = b"\xa5" * 64
    path.write_bytes(data)
    code, out, _ = run(capsys, "records", "--check")
    assert code == 0
    assert f"{path} was damaged. Saved in new records: " in out
    assert "takes.sqlite.damaged" in out
    assert run(capsys, "records", "--check")[1] == f"{path}: no damage found.\n"


def test_a_newer_file_is_one_sentence_with_the_code_for_the_users_files(capsys: Capture) -> None:
    path = keep(in_course())
    store = Store.open(path)
    store._connection.execute("PRAGMA user_version = 99")
    store.close()
    for words in (["history"], ["export", "x.json"], ["import", "x.json"], ["records"]):
        code, out, err = run(capsys, *words)
        assert (code, out, err.count("\n")) == (4, "", 1)
        assert "newer Thumbfall" in err
