"""What is remembered of a track: written whole, read back the same, and refused in a sentence."""

import tomllib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import TEMPI
from trainer.errors import StoreProblem
from trainer.files import data_folder
from trainer.records.tracks import TrackNote, read_track_note, recent_tracks, write_track_note

MARK = "0" * 63 + "a"
NOTE = TrackNote(name="porch-night.mp3", bpm=Fraction("97.3"), beat_1_s=3.25)


@given(st.text(max_size=30), TEMPI, st.floats(0, 1200))
def test_a_note_is_read_back_as_it_was_written(
    tmp_path_factory: pytest.TempPathFactory, name: str, bpm: Fraction, beat_1_s: float
) -> None:
    folder = tmp_path_factory.mktemp("tracks")
    note = TrackNote(name=name, bpm=bpm, beat_1_s=round(beat_1_s, 6))
    write_track_note(MARK, note, folder)
    found = read_track_note(MARK, folder)
    assert found is not None
    assert (found.bpm, found.beat_1_s) == (note.bpm, note.beat_1_s)
    if not any("\ud800" <= c <= "\udfff" for c in name):
        assert found.name == name


def test_the_note_is_toml_that_any_reader_reads(tmp_path: Path) -> None:
    path = write_track_note(MARK, NOTE, tmp_path)
    assert tomllib.loads(path.read_text()) == {
        "name": "porch-night.mp3",
        "bpm": 97.3,
        "beat_1": 3.25,
        "first_bar": 1,
        "speed": 100,
        "path": "",
    }
    assert [each.name for each in tmp_path.iterdir()] == [f"{MARK}.toml"]


def test_a_track_never_noted_has_no_note(tmp_path: Path) -> None:
    assert read_track_note(MARK, tmp_path / "nowhere") is None


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("bpm = 97.3\n", "beat_1 is not a number"),
        ('bpm = "97"\nbeat_1 = 1\n', "bpm is not a number"),
        ("bpm = true\nbeat_1 = 1\n", "bpm is not a number"),
        ("bpm = 900\nbeat_1 = 1\n", "a tempo of 900 beats a minute is outside 20 to 400"),
        ("bpm = 97\nbeat_1 = -1\n", "beat_1 is no second of the file"),
        ("bpm = 97\nbeat_1 = inf\n", "this number is outside all that can be meant"),
        ("name = 3\nbpm = 97\nbeat_1 = 1\n", "name is not text"),
        ("bpm = = 97\n", "Invalid value"),
        ("#" * 20_000, "it is larger than"),
    ],
)
def test_a_spoilt_note_is_refused_with_its_place_and_reason(tmp_path: Path, text: str, why: str) -> None:
    (tmp_path / f"{MARK}.toml").write_text(text)
    with pytest.raises(StoreProblem) as caught:
        read_track_note(MARK, tmp_path)
    assert why in str(caught.value)
    assert f"{MARK}.toml cannot be read" in str(caught.value)


def test_a_folder_that_cannot_be_written_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreProblem, match=r"beat and tempo of porch-night\.mp3 cannot be kept"):
        write_track_note(MARK, NOTE, tmp_path / "file" / "tracks")


@pytest.mark.usefixtures("own_folders")
def test_notes_lie_in_the_users_data_folder(tmp_path: Path) -> None:
    sound = tmp_path / "porch.ogg"
    sound.touch()
    path = write_track_note(MARK, replace(NOTE, path=str(sound)))
    assert path == data_folder() / "tracks" / f"{MARK}.toml"
    assert recent_tracks() == (sound,)


@pytest.mark.parametrize(
    "more", ["", "path = 3\nspeed = 0\nfirst_bar = 0\n", "speed = 101\nfirst_bar = 1.5\n"]
)
def test_what_is_missing_or_no_use_costs_only_itself(tmp_path: Path, more: str) -> None:
    (tmp_path / f"{MARK}.toml").write_text(f"bpm = 97.3\nbeat_1 = 3.25\n{more}")
    assert read_track_note(MARK, tmp_path) == replace(NOTE, name="")


@pytest.mark.parametrize(("speed", "bar"), [(1, 1), (75, 4), (100, 900)])
def test_speed_and_first_bar_are_read_back(tmp_path: Path, speed: int, bar: int) -> None:
    note = replace(NOTE, speed=speed, first_bar=bar, path="/music/porch-night.mp3")
    write_track_note(MARK, note, tmp_path)
    assert read_track_note(MARK, tmp_path) == note
