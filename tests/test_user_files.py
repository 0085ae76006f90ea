"""One door for files of the user's: plain files only, no more bytes than allowed, bounded JSON."""

import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadNotation
from trainer.files import read_whole
from trainer.music.bounded_json import parse_json
from trainer.records.class_file import load_class
from trainer.records.library import load_library
from trainer.records.midifile import read_take
from trainer.records.tune_file import try_read

JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(10**20), 10**20) | st.floats(-1e9, 1e9) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=20,
)
needs_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")


def test_a_file_comes_whole_up_to_its_limit(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"12345")
    assert read_whole(path, 5) == b"12345"
    with pytest.raises(OSError, match="larger than 4 bytes"):
        read_whole(path, 4)


@needs_pipes
def test_a_pipe_that_nobody_writes_to_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.mid")
    with pytest.raises(OSError, match="no plain file"):
        read_whole(tmp_path / "a.mid", 10)
    with pytest.raises(Exception, match="no plain file"):
        read_take(tmp_path / "a.mid")


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="the system has no such device")
def test_a_device_without_an_end_is_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="no plain file"):
        read_whole(Path("/dev/zero"), 10)
    (tmp_path / "link").symlink_to("/dev/zero")
    with pytest.raises(OSError, match="no plain file"):
        read_whole(tmp_path / "link", 10)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system has no /proc")
def test_a_file_that_says_it_is_empty_is_read_to_its_limit_all_the_same() -> None:
    assert read_whole(Path("/proc/self/status"), 1 << 20).startswith(b"Name:")
    with pytest.raises(OSError, match="larger"):
        read_whole(Path("/proc/self/status"), 10)


def test_a_folder_and_a_name_that_cannot_be_are_said_as_what_they_are(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="no plain file"):
        read_whole(tmp_path, 10)
    for name in ("none", "nul\0name", "long" * 200):
        with pytest.raises(OSError, match=r"\w"):
            read_whole(tmp_path / name, 10)


@given(JSON)
def test_json_is_read_as_the_standard_library_reads_it(value: object) -> None:
    text = json.dumps(value)
    try:
        assert parse_json(text.encode()) == json.loads(text)
    except ValueError:
        assert text.count("[") + text.count("{") > 32


@pytest.mark.parametrize(
    "text",
    [
        "[" * 40 + "]" * 40,
        '{"a":' * 40,
        "[" * 100_000,
        "9" * 31,
        "[1e99999]",
        "NaN",
        "-Infinity",
        '"open',
        "\xff",
    ],
)
def test_json_that_nests_too_deep_or_holds_a_monster_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        parse_json(text.encode("latin-1"))


def test_brackets_inside_a_string_do_not_nest() -> None:
    assert parse_json(json.dumps("[" * 99 + '\\"' + "{" * 99).encode()) == "[" * 99 + '\\"' + "{" * 99


@pytest.mark.skipif(os.name == "nt", reason="names are Unicode there")
def test_a_pattern_whose_name_is_no_utf_8_is_a_sentence_and_stops_no_other(tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    good = Path("patterns/basic-figure.toml")
    text = (Path(__file__).parent.parent / good).read_bytes()
    for name in (b"\xdcbung.toml", b"a\x1b[2J.toml", b"good.toml"):
        Path(os.fsdecode(os.fsencode(own) + b"/" + name)).write_bytes(text)
    library = load_library(own, shipped=tmp_path / "none")
    assert [each.name for each in library.patterns] == ["good"]
    assert len(library.problems) == 2
    for problem in library.problems:
        str(problem).encode("utf-8")
        assert "give it a name of letters, digits and hyphens" in str(problem)
        assert "\x1b" not in str(problem)


@pytest.mark.parametrize(
    "line",
    [
        "step = 0x" + "f" * 60_000,
        "step = " + "1" * 5000,
        "goal_bpm = 1e999999999999999999999999",
        "x = " + "[" * 3000,
    ],
)
def test_one_monstrous_file_stops_no_other(tmp_path: Path, line: str) -> None:
    (tmp_path / "bad.toml").write_text(line + "\n")
    text = (Path(__file__).parent.parent / "patterns" / "basic-figure.toml").read_text()
    (tmp_path / "good.toml").write_text(text)
    library = load_library(tmp_path, shipped=tmp_path / "none")
    assert [each.name for each in library.patterns] == ["good"]
    [problem] = library.problems
    assert (problem.line, problem.column) == (1, line.index("=") + 3 + (8 if "[" in line else 0))
    assert isinstance(try_read(tmp_path / "bad.toml"), BadNotation)


def test_a_class_with_a_monstrous_tempo_is_put_aside(tmp_path: Path) -> None:
    path = tmp_path / "class.json"
    turn = {
        "pattern": "x", "bpm": "1e-999999999", "asked": 1, "clean": 1, "mean_s": None, "spread_s": None,
        "rushed": 0, "touched": 0, "placements_us": [], "verdicts": [],
    }  # fmt: skip
    table = {"format": 1, "at": 0, "order": "in turn", "pupils": [{"name": "Ann", "turns": [turn]}]}
    path.write_text(json.dumps(table))
    room, note = load_class(path)
    assert not room.pupils
    assert "class.json.unread" in note
