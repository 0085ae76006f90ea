"""What is remembered, and what a broken file or another program at work costs: nothing."""

import json
import os
import stat
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from trainer.errors import StoreProblem
from trainer.practice.settings import Settings
from trainer.records.settings import load_settings, save_changes, save_settings

WRITERS = 4
CHANGES = 15
# Each writer learns its own delays and changes nothing else; what it holds of the others' is old.
WRITER = """
import sys
from dataclasses import replace
from pathlib import Path
from trainer.practice.settings import Settings
from trainer.records.settings import save_changes
path, name, changes = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
mine = Settings()
for n in range(changes):
    after = replace(mine, known_delays={**mine.known_delays, f"{name} | {n}": str(n)})
    save_changes(mine, after, path)
    mine = after
"""


def test_settings_come_back_as_they_were_for_their_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "folder" / "settings.json"
    kept = Settings(
        input_name="Schlägel 鼓",
        pads={"Pad": "nail=36,thumb=38"},
        click_volume=3,
        tempi={"x": "97.3"},
        passes=0,
    )
    save_settings(kept, path)
    assert load_settings(path) == (kept, "")
    assert sorted(p.name for p in path.parent.iterdir()) == ["settings.json", "settings.json.lock"]
    assert [stat.S_IMODE(p.stat().st_mode) for p in (path, path.parent)] == [0o600, 0o700]


def test_an_interrupted_save_leaves_the_old_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "settings.json"
    save_settings(Settings(click_volume=3), path)

    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(StoreProblem, match="No space left on device"):
        save_settings(Settings(click_volume=9), path)
    assert load_settings(path)[0].click_volume == 3


def test_no_file_gives_the_usual_settings(tmp_path: Path) -> None:
    assert load_settings(tmp_path / "none.json") == (Settings(), "")


@pytest.mark.parametrize(
    "text", ["{", "[]", "nonsense", '"text"', "[" * 100_000, "\xff\xfe", "{" + " " * (1 << 20)]
)
def test_a_broken_file_is_put_aside_and_said(tmp_path: Path, text: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(text, encoding="latin-1")
    settings, note = load_settings(path)
    assert settings == Settings()
    assert "put aside as settings.json.unread" in note
    assert (tmp_path / "settings.json.unread").read_text(encoding="latin-1") == text


def test_what_is_no_file_at_all_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    os.mkfifo(path)
    settings, note = load_settings(path)
    assert settings == Settings()
    assert "it is no plain file" in note


def test_a_wrong_value_costs_only_itself_and_the_file_is_kept_beside(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    text = json.dumps(
        {"click_volume": 99, "click": "yes", "theme": "projector", "pads": {"a": 3, "b": "any=1"}}
    )
    path.write_text(text)
    settings, note = load_settings(path)
    assert settings == Settings(theme="projector", click_volume=10, pads={"b": "any=1"})
    assert note == (
        "the settings hold an unusable pads, click, click_volume; what can be used instead is used, and they "
        "are kept as they were in settings.json.unread."
    )
    load_settings(path)
    save_settings(settings, path)
    assert load_settings(path) == (settings, "")
    assert [p.name for p in tmp_path.glob("*unread*")] == ["settings.json.unread"]
    assert (tmp_path / "settings.json.unread").read_text() == text


@pytest.mark.parametrize(
    ("name", "stored"),
    [
        ("ladder", '"steep"'),
        ("ladder", "1"),
        ("text_size", '"huge"'),
        ("theme", '"dusk"'),
        ("pocket", '"deep"'),
        ("thinning", '"now and then"'),
        ("band", '"on"'),
        ("player", json.dumps("x" * 41)),
        ("player", '"\\ud800"'),
        ("player", '"a\\u0000b"'),
        ("input_name", '"a\\nb"'),
        ("nail_key", "null"),
        ("own_keys", '{"start": 3}'),
        ("own_keys", '{"sing": "5"}'),
        ("known_delays", '["12"]'),
        ("known_delays", '{"Pad | wire": "soon"}'),
        ("known_delays", '{"Pad | wire": "301"}'),
        ("pads", '{"\\ud800": "any=1"}'),
        ("tempi", '{"figure": "1e-999999999"}'),
        ("tempi", '{"figure": "1e999999999"}'),
        ("tempi", '{"figure": "19.9"}'),
        ("tempi", '{"figure": 60}'),
        ("swing", '"1e999999999"'),
        ("swing", '"1/0"'),
        ("swing", '"nan"'),
        ("lay_back_of", '"hammer"'),
        ("passes", "true"),
        ("passes", "1e3"),
        ("passes", "9" * 5000),
        ("records_folder", '"~nouser"'),
        ("records_folder", '"/a\\u0000b"'),
        ("lamps", "[" * 50 + "]" * 50),
        ("lamps", "NaN"),
        ("lamps", '"\\udc80"'),
    ],
)
def test_a_value_that_cannot_be_used_is_named_and_costs_only_itself(
    tmp_path: Path, name: str, stored: str
) -> None:
    path = tmp_path / "settings.json"
    path.write_text(f'{{"{name}": {stored}, "subdivide": true}}')
    settings, note = load_settings(path)
    assert settings == Settings(subdivide=True)
    assert note.startswith(f"the settings hold an unusable {name if name != 'lamps' else repr(name)};")
    save_settings(settings, path)  # nothing of it comes back
    assert load_settings(path) == (Settings(subdivide=True), "")


@pytest.mark.parametrize(
    ("stored", "expected"),
    [
        ({"thin_of": 17}, Settings(thin_of=16)),
        ({"thin_off": 0}, Settings(thin_off=1)),
        ({"thin_off": 6, "thin_of": 3}, Settings(thin_off=2, thin_of=3)),
        ({"band_volume": -1}, Settings(band_volume=0)),
        ({"lay_back_ms": 81}, Settings(lay_back_ms=80)),
        ({"lay_back_ms": -80}, Settings(lay_back_ms=0)),
        ({"passes": 10_001}, Settings(passes=10_000)),
        ({"swing": "9/2"}, Settings(swing="4")),
    ],
)
def test_a_number_beyond_its_limits_becomes_the_nearest_inside(
    tmp_path: Path, stored: dict[str, object], expected: Settings
) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps(stored))
    settings, note = load_settings(path)
    assert settings == expected
    assert "the settings hold an unusable" in note


def test_what_a_newer_version_wrote_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"lamps": ["left", {"right": 0.5}], "click": False}))
    settings, _ = load_settings(path)
    save_changes(settings, replace(settings, passes=8), path)
    table = json.loads(path.read_text())
    assert (table["lamps"], table["click"], table["passes"]) == (["left", {"right": 0.5}], False, 8)


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreProblem, match="cannot be kept in"):
        save_settings(Settings(), tmp_path / "file" / "settings.json")


@pytest.mark.parametrize(("old", "new"), [(True, "plain"), (False, "off"), ("homing in", "homing in")])
def test_a_ladder_of_an_older_file_is_read_as_todays(tmp_path: Path, old: object, new: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"ladder": old}))
    assert load_settings(path) == (Settings(ladder=new), "")


def test_a_file_of_version_0_2_is_read_as_it_was(tmp_path: Path) -> None:
    """As version 0.2.0 wrote it, with every setting away from its usual value."""
    path = tmp_path / "settings.json"
    path.write_text((Path(__file__).parent / "settings-0.2.0.json").read_text())
    settings, note = load_settings(path)
    assert note == ""
    usual = Settings()
    written = json.loads(path.read_text())
    assert [n for n in written if n != "lamps" and getattr(settings, n) == getattr(usual, n)] == []
    save_settings(settings, path)
    after = json.loads(path.read_text())
    assert {name: after[name] for name in written} == written


def test_two_programs_keep_each_others_changes(tmp_path: Path) -> None:
    """A window is open, and meanwhile a delay is set and the records are moved from the command line."""
    path = tmp_path / "settings.json"
    window = Settings(known_delays={"Pad | wire": "5"}, tempi={"figure": "60"})
    save_settings(window, path)
    save_changes(window, replace(window, known_delays={"Pad | wire": "5", "Pad | other": "40"}), path)
    save_changes(window, replace(window, records_folder="/new"), path)
    found = save_changes(window, replace(window, theme="projector", tempi={"figure": "65"}), path)
    assert found == load_settings(path)[0]
    assert found == Settings(
        known_delays={"Pad | wire": "5", "Pad | other": "40"}, records_folder="/new", theme="projector",
        tempi={"figure": "65"},
    )  # fmt: skip


def test_what_one_program_takes_away_another_does_not_bring_back(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    both = Settings(own_keys={"start": "5", "next": "6"})
    save_settings(both, path)
    save_changes(both, replace(both, own_keys={"start": "5"}), path)
    save_changes(both, replace(both, passes=8), path)
    assert load_settings(path)[0] == Settings(own_keys={"start": "5"}, passes=8)


def test_programs_that_write_at_once_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    command = [sys.executable, "-c", WRITER, str(path)]
    writers = [subprocess.Popen([*command, f"program {n}", str(CHANGES)]) for n in range(WRITERS)]
    assert [writer.wait(120) for writer in writers] == [0] * WRITERS
    settings, note = load_settings(path)
    assert note == ""
    assert len(settings.known_delays) == WRITERS * CHANGES
    assert sorted(p.name for p in tmp_path.iterdir()) == ["settings.json", "settings.json.lock"]


def test_settings_that_were_taken_away_meanwhile_are_written_whole(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    before = Settings(theme="projector")
    save_changes(before, replace(before, passes=8), path)
    assert load_settings(path)[0] == Settings(theme="projector", passes=8)


def test_no_link_is_followed(tmp_path: Path) -> None:
    path, other = tmp_path / "settings.json", tmp_path / "another's"
    other.write_text("{}")
    path.symlink_to(other)
    save_settings(Settings(passes=8), path)
    assert other.read_text() == "{}"
    assert not path.is_symlink()
