"""Files that nobody's own program has written: exports, CSV and journals, wrong in one thing or in any.

What must never come of one: an error that is no sentence, a take in the records that cannot be read again, a
text that moves a terminal's cursor, and in a journal's case a program that does not start.
"""

import csv
import json
import os
import random
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.records.takes import a_take
from trainer.errors import BadRecords, TrainerError
from trainer.records import csv_cells
from trainer.records.export import write_csv, write_json
from trainer.records.importing import import_takes
from trainer.records.journal import ENDING, Journal, journal_folder, recover
from trainer.records.midi_export import write_midi
from trainer.records.store import Store

UID = "c" * 32
FORMULAS = ('=HYPERLINK("http://x","y")', "+1+1", "-1+1", "@SUM(A1)", "'=1")


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store.open(tmp_path / "takes.sqlite")
    yield opened
    opened.close()


def exported(path: Path, **more: object) -> dict[str, Any]:
    write_json(path, [a_take(player="Ann", uid=UID, passes=2, **more)])  # type: ignore[arg-type]
    table: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return table


LONG = "9" * 5000
REFUSED = [
    ("begun", "0001-01-01T00:00:00.000000Z", "years 1970 to 2199"),
    ("begun", "2026-03-01T17:05:00.000000+99:00", "for the time of a take"),
    ("day", "0001-01-01", "for day"),
    ("uid", "a\x00b", "for uid"),
    ("uid", "\ud800", "for uid"),
    ("uid", "../../etc/passwd", "for uid"),
    ("player", None, "for player"),
    ("tempi", [[LONG, LONG, "60"]], "for a number"),
    ("tempi", [["0", "0", "1/" + LONG]], "for a number"),
    ("tempi", [["99999999", "0", "60"]], "for a number"),
    ("tempi", [], "for the tempi"),
    ("slots_asked", 200_001, "slots asked"),
    ("delay_ms", 10**15, "for delay_ms"),
    ("seconds_played", 1e300, "for seconds_played"),
    ("mean_s", 10**400, "this is no JSON"),
    ("asked", 10**20, "for asked"),
    ("spared", [[1, 0]], "for spared"),
    ("spared", [[0, 5], [5, 9]], "do not meet"),
    ("rungs", [{"bpm": LONG}], "for a number"),
    ("taps", {name: [2**60] for name in ("at_us", "hand", "string", "velocity", "within_us")}, "for a tap"),
]


@pytest.mark.parametrize(("field", "value", "words"), REFUSED)
def test_what_no_take_can_have_is_refused_in_one_sentence(
    store: Store, tmp_path: Path, field: str, value: object, words: str
) -> None:
    path = tmp_path / "x.json"
    table = exported(path)
    table["takes"][0][field] = value
    path.write_text(json.dumps(table), encoding="utf-8")
    with pytest.raises(BadRecords, match=words) as caught:
        import_takes(path, store)
    assert str(caught.value).isprintable()
    assert store.count() == 0


def test_texts_of_a_file_become_such_as_can_be_shown(store: Store, tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    table = exported(path)
    code = "x\x1b]0;owned\x07\x1b[2J"
    table["takes"][0] |= {"not_graded": code, "input": code + "\ud800", "player": code}
    (pattern,) = table["patterns"].values()
    pattern["name"] = "\ud800 " + code
    path.write_text(json.dumps(table), encoding="utf-8")
    assert import_takes(path, store).new == 1
    take = store.take(1)
    texts = (take.not_graded, take.input_name, take.player, take.pattern.name)
    assert all(text.isprintable() and text.encode() for text in texts)
    assert store.faults() == ()
    write_midi(tmp_path / "midi", [replace(take, uid="../../x")])
    assert [each.parent for each in tmp_path.glob("**/*.mid")] == [tmp_path / "midi"]


@pytest.mark.parametrize("formula", FORMULAS)
def test_no_cell_of_a_csv_is_a_formula(store: Store, tmp_path: Path, formula: str) -> None:
    """As a spreadsheet takes it: what begins with =, +, -, @ or a tab and is no number."""
    take = a_take(player=formula, uid=UID, input_name=formula, not_graded=formula, delay_ms=-12)
    take = replace(take, pattern=replace(take.pattern, name=formula, title=formula))
    write_csv(tmp_path / "csv", [take])
    text = (tmp_path / "csv" / "takes.csv").read_text(encoding="utf-8")
    for row in csv.reader(text.splitlines(keepends=True)):
        for cell in row:
            assert not cell.startswith(("=", "+", "@", "\t", "\r")) or cell.lstrip("+-").isdigit()
            assert not cell.startswith("-") or cell[1:].replace(".", "").isdigit()
    assert ",-12," in text
    assert import_takes(tmp_path / "csv", store).new == 1
    assert replace(store.take(1), id=None) == replace(take, pattern=store.take(1).pattern)


@pytest.mark.parametrize("text", ["", "a", "'", "''", "'=1", "=1", "-12.5", "-", "\tx", "it's", "'a"])
def test_a_cell_comes_back_as_it_was(text: str) -> None:
    assert csv_cells.read(str(csv_cells.written(text))) == text


def spoilt(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one to three places changed: a byte, a piece cut out, doubled, or put in."""
    for _ in range(chance.randint(1, 3)):
        at, length = chance.randrange(len(data)), chance.randint(1, 40)
        piece = data[at : at + length]
        put = chance.choice(
            (
                bytes([chance.randrange(256)]),
                b"",
                piece * 2,
                chance.choice(
                    (b"-1", b"9" * 40, b"null", b"[]", b"{}", b"1e999", b"\\ud800", b'"', b"\x1b", b"\n")
                ),
            )
        )
        data = data[:at] + put + data[at + length :]
    return data


@pytest.mark.parametrize("seed", range(60))
def test_a_spoilt_export_is_taken_or_refused_and_never_spoils_the_records(
    store: Store, tmp_path: Path, seed: int
) -> None:
    chance = random.Random(seed)
    path = tmp_path / "x.json"
    exported(path)
    path.write_bytes(spoilt(path.read_bytes(), chance))
    folder = tmp_path / "csv"
    write_csv(folder, [a_take(player="Bo", uid="d" * 32, passes=2)])
    broken = folder / chance.choice(("takes.csv", "taps.csv"))
    broken.write_bytes(spoilt(broken.read_bytes(), chance))
    for source in (path, folder):
        with suppress(TrainerError):
            import_takes(source, store)
    assert store.faults() == ()


def a_journal(folder: Path) -> Path:
    take = a_take(player="Ann", uid=UID, passes=2)
    journal = Journal.begin(folder, replace(take, taps=(), passes=0, slots_asked=0, rungs=()))
    for tap in take.taps:
        journal.tap(tap)
    journal.tempo(take.timeline)
    journal.spared(((0.5, 0.7),))
    journal.ends(take)
    journal.leave()
    return journal.path


@pytest.mark.parametrize("seed", range(80))
def test_a_spoilt_journal_is_taken_in_or_put_aside(store: Store, tmp_path: Path, seed: int) -> None:
    folder = journal_folder(store.path)
    path = a_journal(folder)
    path.write_bytes(spoilt(path.read_bytes(), random.Random(seed)))
    whole = a_journal(tmp_path / "whole").replace(folder / f"{'f' * 32}{ENDING}")
    text = whole.read_text().replace(UID, "f" * 32)
    whole.write_text(text)
    found = recover(folder, store)
    assert "could not be saved" not in found.note
    assert not list(folder.glob(f"*{ENDING}"))
    assert store.count() >= 1
    assert store.faults() == ()


LINES = [
    '["take", [], {}]',
    '["take", ["a"], {}]',
    '["take", ["fig\\udcff", "title = 1"], {}]',
    '["take"]',
    "[]",
    "{}",
    "[" * 3000,
    '["take", ["a", "b", "c"], []]',
]


@pytest.mark.parametrize("first", LINES)
def test_a_journal_that_begins_with_nonsense_is_put_aside_and_said(store: Store, first: str) -> None:
    folder = journal_folder(store.path)
    folder.mkdir()
    (folder / f"x{ENDING}").write_text(first + "\n" + '["tap", 1, "nail", 3, 90, 0]\n')
    (folder / "x.unread").write_text("of an earlier time")
    found = recover(folder, store)
    assert found.note.startswith("An unfinished take cannot be read (")
    assert sorted(each.name for each in folder.iterdir()) == ["x.unread", "x.unread-2"]


def test_a_pattern_whose_files_name_is_no_utf_8_is_kept_and_taken_in(store: Store, tmp_path: Path) -> None:
    """A name such as Übung in Latin-1, which Python gives a lone surrogate (PEP 383)."""
    name = b"\xdcbung".decode("utf-8", "surrogateescape")
    take = a_take(uid=UID)
    take = replace(take, pattern=replace(take.pattern, name=name))
    store.keep(take)
    assert store.take(1).pattern.name == "\\udcdcbung"
    folder = journal_folder(store.path)
    journal = Journal.begin(folder, replace(take, uid="b" * 32))
    journal.tap(take.taps[0])
    journal.leave()
    assert recover(folder, store).takes == 1
    write_csv(tmp_path / "csv", store.each_take())
    write_json(tmp_path / "x.json", store.each_take())
    write_midi(tmp_path / "midi", store.each_take())


def test_a_journal_that_is_a_pipe_or_a_folder_is_not_waited_for(store: Store) -> None:
    folder = journal_folder(store.path)
    (folder / f"folder{ENDING}").mkdir(parents=True)
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / f"pipe{ENDING}")
    assert recover(folder, store).takes == 0


def test_an_end_with_far_too_many_passes_is_no_end(store: Store) -> None:
    folder = journal_folder(store.path)
    path = a_journal(folder)
    text = path.read_text().replace(
        '"passes": 2, "slots_asked": 16', '"passes": 10000, "slots_asked": 80000000'
    )
    path.write_text(text)
    assert recover(folder, store).takes == 1
    assert store.take(1).passes <= 3


def test_a_large_file_of_another_layout_is_refused_before_it_fills_the_memory(
    store: Store, tmp_path: Path
) -> None:
    path = tmp_path / "x.json"
    shutil.copy(tmp_path / "takes.sqlite", tmp_path / "unused")
    for text, words in (
        (
            '{"format": "thumbfall takes", "version": 1, "takes": [' + "{}," * 300_000 + "{}]}",
            "lists and tables",
        ),
        ('{"format":\n' + "0" * (9 << 20), "larger than 8 MB and not laid out"),
        ('{"format": "thumbfall takes", "version": 1, "takes": [\n' + "0" * (9 << 20), "a take is larger"),
    ):
        path.write_text(text)
        with pytest.raises(BadRecords, match=words):
            import_takes(path, store)
