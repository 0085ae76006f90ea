"""Takes out of the records into files, and back in without doubling."""

import csv
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import mido
import pretty_midi
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.records.takes import a_take, takes
from trainer.errors import BadRecords, StoreProblem
from trainer.practice.stored_take import StoredTake, judgement_of
from trainer.records.export import TAKE_COLUMNS, Exported, write_csv, write_json
from trainer.records.importing import import_takes, read_csv, read_json
from trainer.records.midi_export import write_midi, write_midi_file
from trainer.records.midifile import read_take
from trainer.records.store import Store

HALF_TICK_S = 26e-6  # half a tick of 30 000 to a quarter at the slowest tempo here, and a rounding
FEW = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=50)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store.open(tmp_path / "takes.sqlite")
    yield opened
    opened.close()


def kept() -> list[StoredTake]:
    return [
        a_take(player="Zoë", uid="a" * 32, bpm="97.3", jitter_s=0.03),
        a_take(player='He said "so", twice', uid="b" * 32, minutes=1, input_name="a,b; c", passes=2),
    ]


@FEW
@given(st.lists(takes(), max_size=3))
def test_json_gives_back_exactly_what_was_written(tmp_path: Path, given_takes: list[StoredTake]) -> None:
    (tmp_path / "x.json").unlink(missing_ok=True)
    assert write_json(tmp_path / "x.json", given_takes).takes == len(given_takes)
    assert list(read_json(tmp_path / "x.json")) == given_takes


@FEW
@given(takes())
def test_csv_gives_back_exactly_what_was_written(tmp_path: Path, take: StoredTake) -> None:
    assert write_csv(tmp_path / "csv", [take]).takes == 1
    assert list(read_csv(tmp_path / "csv")) == [take]


def test_csv_is_what_pythons_reader_of_rfc_4180_reads(tmp_path: Path) -> None:
    write_csv(tmp_path, kept())
    with (tmp_path / "takes.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["player"] for row in rows] == ["Zoë", 'He said "so", twice']
    assert (rows[0]["bpm_first"], rows[0]["begun_utc"], rows[0]["day"]) == (
        "97.3", "2026-03-01T17:05:00.000000Z", "2026-03-01",
    )  # fmt: skip
    assert rows[1]["input"] == "a,b; c"
    # RFC 4180, section 2: lines end with CRLF, quotes inside a quoted field are doubled.
    raw = (tmp_path / "takes.csv").read_bytes()
    assert raw.endswith(b"\r\n")
    assert b'"He said ""so"", twice"' in raw


def test_the_strokes_of_the_csv_are_the_judgement(tmp_path: Path) -> None:
    (take, _) = kept()
    write_csv(tmp_path, kept())
    with (tmp_path / "strokes.csv").open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["uid"] == take.uid]
    outcomes = judgement_of(take).outcomes
    assert [row["verdict"] for row in rows] == [o.verdict.value for o in outcomes]
    assert [float(row["placement_ms"]) for row in rows if row["placement_ms"]] == [
        pytest.approx(o.placement_s * 1000) for o in outcomes if o.placement_s is not None
    ]
    assert (rows[-1]["pass"], rows[-1]["bar"], rows[-1]["slot"], rows[-1]["kind"]) == ("4", "2", "4", "thumb")


@pytest.mark.parametrize("write", [write_json, write_csv])
def test_an_import_twice_doubles_nothing(
    store: Store, tmp_path: Path, write: Callable[[Path, list[StoredTake]], Exported]
) -> None:
    write(tmp_path / "x.json", kept())
    first, second = import_takes(tmp_path / "x.json", store), import_takes(tmp_path / "x.json", store)
    assert (first.new, first.known, second.new, second.known) == (2, 0, 0, 2)
    assert [replace(take, id=None) for take in store.each_take()] == kept()


def test_what_the_records_export_they_read_back(store: Store, tmp_path: Path) -> None:
    store.keep_all(a_take(minutes=n) for n in range(3))
    write_json(tmp_path / "x.json", store.each_take())
    assert import_takes(tmp_path / "x.json", store).known == 3


def test_a_midi_file_of_each_take_is_read_alike_by_other_libraries(tmp_path: Path) -> None:
    """pretty_midi and mido, general MIDI libraries."""
    assert write_midi(tmp_path, kept()).takes == 2
    path = tmp_path / "2026-03-01-170500-figure-aaaaaaaa.mid"
    (take, _) = kept()
    count_in_s = 4 * 60 / 97.3
    notes = sorted(n.start for track in pretty_midi.PrettyMIDI(str(path)).instruments for n in track.notes)
    assert notes == [pytest.approx(tap.song_s + count_in_s, abs=HALF_TICK_S) for tap in take.taps]
    assert mido.MidiFile(path).type == 1
    again = read_take(path)
    taps = again.taps(offset_s=again.beat_0_s)
    assert [(t.hand, t.string, t.velocity) for t in taps] == [
        (t.hand, t.string, t.velocity) for t in take.taps
    ]


def test_a_file_name_holds_only_what_every_system_takes(tmp_path: Path) -> None:
    take = a_take(uid="a" * 32, pattern=replace(a_take().pattern, name="barn/lantern: at skips"))
    write_midi(tmp_path, [take])
    assert [each.name for each in tmp_path.iterdir()] == [
        "2026-03-01-170500-barn-lantern-at-skips-aaaaaaaa.mid"
    ]


def test_files_that_cannot_be_written_are_said_and_nothing_half_is_left(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StoreProblem, match="cannot be written"):
        write_json(tmp_path / "file" / "x.json", kept())
    with pytest.raises(StoreProblem, match="cannot be made"):
        write_csv(tmp_path / "file", kept())
    with pytest.raises(StoreProblem, match="cannot be made"):
        write_midi(tmp_path / "file", kept())
    with pytest.raises(StoreProblem, match="cannot be written"):
        write_midi_file(tmp_path / "file" / "x.mid", kept()[0])


def test_an_export_that_fails_half_way_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    write_json(path, kept())
    before = path.read_bytes()

    def breaking() -> Iterator[StoredTake]:
        yield kept()[0]
        raise StoreProblem("the records are damaged", "mend them")

    with pytest.raises(StoreProblem, match="damaged; mend"):
        write_json(path, breaking())
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["x.json"]


def exported(tmp_path: Path) -> dict[str, object]:
    write_json(tmp_path / "x.json", kept())
    table = json.loads((tmp_path / "x.json").read_text(encoding="utf-8"))
    assert isinstance(table, dict)
    return table


BAD_FIELDS = [
    ("begun", "yesterday", 'found "yesterday" for the time of a take'),
    ("day", "2026-13-01", '"2026-13-01" for day'),
    ("pattern", "other", '"other" for pattern'),
    ("tempi", [["0", "0", "1000"]], "a tempo of 1000"),
    ("tempi", [["0", "x", "60"]], 'found "x" for a number'),
    ("tempi", [[0, 0, 60]], "where a list of words should be"),
    ("passes", -1, '"-1" for passes'),
    ("passes", True, '"True" for passes'),
    ("passes", 10**12, '"1000000000000" for passes; write a whole number from 0 to 10000'),
    ("slots_asked", 99, "with 99 slots asked"),
    ("swing", "7", "swing ratio of 7"),
    ("lay_back", "brush=1", "lay-back of 1000 ms"),
    ("pocket", "deep", '"deep" for the pocket'),
    ("click_off", 1, '"1" for click_off'),
    ("player", None, '"None" for player'),
    ("seconds_played", None, '"None" for seconds_played'),
    ("spread_s", "wide", '"wide" for spread_s'),
    ("rungs", {}, '"{}" for rungs'),
    ("rungs", [7], '"7" where a table should be'),
    ("taps", {"at_us": [1]}, "the field hand is missing"),
    ("taps", {"at_us": [1], "hand": [], "string": [], "velocity": [], "within_us": []}, "equally long"),
    ("taps", {"at_us": [1], "hand": ["foot"], "string": [0], "velocity": [0], "within_us": [0]}, "'foot'"),
    ("taps", {"at_us": [1], "hand": ["nail"], "string": [6], "velocity": [0], "within_us": [0]}, "6, 0, 0"),
    ("taps", {"at_us": [1.5], "hand": ["nail"], "string": [1], "velocity": [0], "within_us": [0]}, "1.5"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value", "words"), BAD_FIELDS)
def test_a_take_that_cannot_be_one_is_named_and_nothing_is_taken_in(
    store: Store, tmp_path: Path, field: str, value: object, words: str
) -> None:
    table = exported(tmp_path)
    table["takes"][1][field] = value  # type: ignore[index]
    path = tmp_path / "x.json"
    path.write_text(json.dumps(table), encoding="utf-8")
    with pytest.raises(BadRecords) as caught:
        import_takes(path, store)
    assert str(caught.value).startswith(f"{path}: take 2: ")
    assert ".;" not in str(caught.value), "one sentence, with one remedy"
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)
    assert store.count() == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "this is no JSON"),
        ("[" * 100_000, "this is no JSON"),
        ("[1]", "where a table should be"),
        ('{"format": "songs"}', '"songs" for format'),
        ('{"format": "thumbfall takes", "version": 2}', '"2" for version; bring Thumbfall up to date'),
        ('{"format": "thumbfall takes", "version": 1, "patterns": {}}', "the field takes is missing"),
        (
            '{"format": "thumbfall takes", "version": 1, "takes": [], "patterns":'
            ' {"a": {"name": "a", "text": "?"}}}',
            "the pattern cannot be read",
        ),
    ],
)
def test_a_file_that_is_no_export_is_said(store: Store, tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "x.json"
    path.write_text(text)
    with pytest.raises(BadRecords) as caught:
        import_takes(path, store)
    assert str(path) in str(caught.value)
    assert words in str(caught.value)


def test_files_that_are_not_there_are_said(store: Store, tmp_path: Path) -> None:
    with pytest.raises(StoreProblem, match=r"nothing.json cannot be read"):
        import_takes(tmp_path / "nothing.json", store)
    with pytest.raises(StoreProblem, match=r"taps.csv cannot be read"):
        import_takes(tmp_path, store)


def test_damaged_csv_is_said_with_its_line(store: Store, tmp_path: Path) -> None:
    write_csv(tmp_path, kept())
    good = (tmp_path / "taps.csv").read_text(encoding="utf-8")
    for broken, words in [
        (good.replace("at_us", "when"), "the column at_us is missing"),
        (good.replace(",nail,", ",foot,", 1), "foot"),
        (good + "c,1\r\n", "the line is too short"),
        (good + 'c,"1', "this is no CSV"),
        (good.replace(",nail,", ",\x00nail,", 1), "nail"),
    ]:
        (tmp_path / "taps.csv").write_text(broken, encoding="utf-8", newline="")
        with pytest.raises(BadRecords, match=r"taps\.csv") as caught:
            import_takes(tmp_path, store)
        assert words in str(caught.value)
    (tmp_path / "taps.csv").write_bytes(b"\xff\xfe")
    with pytest.raises(BadRecords, match="not UTF-8"):
        import_takes(tmp_path, store)
    assert store.count() == 0


def test_the_columns_of_takes_are_those_that_others_have_come_to_read() -> None:
    """What is told in ms is not told in seconds besides."""
    assert TAKE_COLUMNS == (
        "uid", "player", "begun_utc", "day", "tempi", "passes", "slots_asked", "swing", "lay_back", "pocket",
        "input", "sound", "delay_ms", "placed_by", "click_off", "knows_left", "simulated", "not_graded",
        "by_word", "seconds_played", "asked", "clean", "spared", "pattern", "title", "bpm_first", "bpm_last",
        "mean_ms", "spread_ms", "fastest_clean_bpm", "pattern_text",
    )  # fmt: skip


def test_an_export_whose_patterns_are_no_table_says_which_is_missing(tmp_path: Path) -> None:
    path = tmp_path / "takes.json"
    write_json(path, [a_take()])
    table = json.loads(path.read_text(encoding="utf-8"))
    spoilt: tuple[object, ...] = ([], "none", None)
    for patterns in spoilt:
        path.write_text(json.dumps({**table, "patterns": patterns}), encoding="utf-8")
        with pytest.raises(BadRecords, match="pattern"):
            list(read_json(path))
