"""What the window has chosen, while other programs keep settings in the same file."""

from dataclasses import replace
from pathlib import Path

import pytest

from trainer.app.preferences import Preferences, keep_nothing
from trainer.errors import StoreProblem
from trainer.practice.delays import with_delay
from trainer.practice.settings import Settings
from trainer.records.library import Library
from trainer.records.settings import load_settings, save_changes, save_settings
from trainer.sound.clicks import ClickVoice

LIBRARY = Library(entries=())


def opened(path: Path) -> Preferences:
    """The preferences of a window that has read a file of settings and keeps them there."""

    def save(before: Settings, after: Settings) -> Settings:
        return save_changes(before, after, path)

    preferences = Preferences(load_settings(path)[0], LIBRARY, save)
    preferences.output_name = "wire"
    return preferences


def test_a_delay_set_while_a_window_is_open_holds_there_too(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    window = opened(path)
    settings = load_settings(path)[0]
    save_changes(settings, replace(settings, known_delays=with_delay(settings, "", "wire", 25)), path)
    window.step("theme", 1)
    assert window.delay_ms == 25
    kept = load_settings(path)[0]
    assert (kept.theme, kept.known_delays) == ("projector", {"Computer keys | wire": "25"})


def test_what_another_window_has_chosen_stays_its_own_here_and_is_kept_in_the_file(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    one, other = opened(path), opened(path)
    one.step("theme", 1)
    other.step("band", 1)
    other.step("click_volume", -2)
    assert (other.settings.theme, one.settings.band) == ("room", False)
    one.change(player="Ada")
    kept = load_settings(path)[0]
    assert (kept.theme, kept.band, kept.click_volume, kept.player) == ("projector", True, 5, "Ada")


def test_taking_back_takes_only_the_own_change_back(tmp_path: Path) -> None:
    path = tmp_path / "settings.json"
    save_settings(Settings(pads={"A": "any=1"}), path)
    window = opened(path)
    window.change(pads={"A": "nail=36,thumb=38"})
    now = load_settings(path)[0]
    save_changes(now, replace(now, pads={**now.pads, "B": "any=2"}, passes=8), path)
    window.undo()
    assert window.settings.pads == {"A": "any=1", "B": "any=2"}
    assert load_settings(path)[0].pads == {"A": "any=1", "B": "any=2"}
    assert load_settings(path)[0].passes == 8


def test_what_could_not_be_kept_is_kept_with_the_next_change(tmp_path: Path) -> None:
    path = tmp_path / "folder" / "settings.json"
    (tmp_path / "folder").write_text("in the way")
    window = opened(path)
    with pytest.raises(StoreProblem, match="cannot be kept"):
        window.step("theme", 1)
    (tmp_path / "folder").unlink()
    window.step("band", 1)
    kept = load_settings(path)[0]
    assert (kept.theme, kept.band) == ("projector", True)


def test_taught_pads_are_read_once_and_not_at_every_tap() -> None:
    window = Preferences(Settings(input_name="Pad", pads={"Pad": "nail=36,thumb=38"}), LIBRARY, keep_nothing)
    assert window.pads is window.pads
    assert window.pads.touch(9, 36) is not None
    window.change(pads={"Pad": "any=40"})
    assert window.pads.touch(9, 36) is None


def test_what_is_chosen_of_the_sound_reaches_it() -> None:
    window = Preferences(
        Settings(click_voice="tone", click_pan=-10, banjo_pan=3, band_pan=0, band=True),
        LIBRARY,
        keep_nothing,
    )
    sound = window.sound_settings(hears_left=False)
    assert sound.click_voice is ClickVoice.TONE
    assert (sound.click_pan, sound.stroke_pan, sound.band_pan) == (-1.0, 0.3, 0.0)
    assert (sound.band, sound.left_hand, sound.click, sound.subdivide) == (True, True, True, False)


@pytest.mark.parametrize(
    ("click", "volume", "clicks"), [(True, 7, True), (True, 1, True), (True, 0, False), (False, 7, False)]
)
def test_a_click_that_is_off_or_silent_is_none(click: bool, volume: int, clicks: bool) -> None:
    settings = Settings(click=click, click_volume=volume)
    assert Preferences(settings, Library(entries=()), keep_nothing).clicks == clicks
