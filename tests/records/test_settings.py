"""What is remembered, and what a broken file costs: nothing."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from trainer.errors import StoreProblem
from trainer.records.settings import Settings, load_settings, save_settings


def test_settings_come_back_as_they_were(tmp_path: Path) -> None:
    path = tmp_path / "folder" / "settings.json"
    kept = Settings(
        input_name="Pad", pads={"Pad": "nail=36,thumb=38"}, click_volume=3, tempi={"x": "97.3"}, passes=0
    )
    save_settings(kept, path)
    assert load_settings(path) == (kept, "")
    assert [p.name for p in path.parent.iterdir()] == ["settings.json"]


def test_names_in_any_script_and_broken_ones_come_back(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    kept = Settings(input_name="Schlägel 鼓 \udc80", pattern="x\x00\n")
    save_settings(kept, path)
    assert load_settings(path) == (kept, "")


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


@pytest.mark.parametrize("text", ["{", "[]", "nonsense", '"text"', "[" * 100_000])
def test_a_broken_file_is_put_aside_and_said(tmp_path: Path, text: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(text, encoding="latin-1")
    settings, note = load_settings(path)
    assert settings == Settings()
    assert "put aside as settings.json.unread" in note
    assert (tmp_path / "settings.json.unread").read_text(encoding="latin-1") == text


def test_a_wrong_value_costs_only_itself(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"click_volume": 99, "click": "yes", "theme": "projector", "pads": {"a": 3}}))
    settings, note = load_settings(path)
    assert settings == Settings(theme="projector")
    assert note == "the settings hold an unusable click, click_volume, pads; the usual is used."


def test_what_a_newer_version_wrote_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"lamps": ["left", "right"], "click": False}))
    settings, _ = load_settings(path)
    save_settings(replace(settings, passes=8), path)
    table = json.loads(path.read_text())
    assert (table["lamps"], table["click"], table["passes"]) == (["left", "right"], False, 8)


def test_a_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreProblem, match="cannot be kept in"):
        save_settings(Settings(), tmp_path / "file" / "settings.json")


@pytest.mark.parametrize(("old", "new"), [(True, "plain"), (False, "off"), ("homing in", "homing in")])
def test_a_ladder_of_an_older_file_is_read_as_todays(tmp_path: Path, old: object, new: str) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"ladder": old}))
    assert load_settings(path) == (Settings(ladder=new), "")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("ladder", "steep"),
        ("ladder", 1),
        ("text_size", "huge"),
        ("thinning", "now and then"),
        ("thin_off", 0),
        ("thin_of", 17),
        ("band_volume", 11),
        ("band", "on"),
        ("player", "x" * 41),
        ("own_keys", {"start": 3}),
        ("known_delays", ["12"]),
    ],
)
def test_a_value_that_is_no_choice_costs_only_itself(tmp_path: Path, name: str, value: object) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({name: value, "theme": "projector"}))
    settings, note = load_settings(path)
    assert settings == Settings(theme="projector")
    assert note == f"the settings hold an unusable {name}; the usual is used."


def test_more_silent_bars_than_there_are_give_the_usual_ones(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"thin_off": 6, "thin_of": 3}))
    settings, note = load_settings(path)
    assert (settings.thin_off, settings.thin_of) == (Settings().thin_off, Settings().thin_of)
    assert "thin_off" in note
