"""The library: typing jumps to a title, a menu leads to what is rare, a silent take suggests nothing."""

import pytest

from tests.app.bench import Bench, keys_for
from tests.shipped import shipped
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.keymap import MENU
from trainer.screen.scenes.library import LibraryView
from trainer.screen.scenes.menu import MenuView

LIBRARY = shipped()


def bench() -> Bench:
    return Bench(settings=Settings(cautions_seen=True, passes=2), library=LIBRARY)


def title(bench: Bench) -> str:
    tune = bench.preferences.shelves.tune
    assert tune is not None
    return tune.title


def test_typing_begins_with_one_key_and_jumps_to_a_title() -> None:
    desk = bench()
    desk.key("g")
    assert desk.top.wants_text
    for letter in "the skip f":
        desk.top.typed(letter)
    assert title(desk) == "The skip figure"
    assert desk.seen(LibraryView).finding == "the skip f"
    desk.key("return")
    assert not desk.top.wants_text
    desk.key("return")
    assert desk.scene == "drill"


def test_escape_from_typing_goes_back_to_what_was_chosen_and_backspace_takes_a_letter_back() -> None:
    desk = bench()
    before = title(desk)
    desk.key("g")
    desk.top.typed("barn")
    assert title(desk) == "Barn Lantern"
    desk.key("backspace")
    assert desk.seen(LibraryView).finding == "bar"
    desk.key("escape")
    assert (desk.scene, title(desk)) == ("library", before)


@pytest.mark.parametrize("entry", MENU, ids=lambda entry: entry.caps[0].label)
def test_the_menu_leads_where_the_key_leads(entry: object) -> None:
    place = MENU.index(entry)  # type: ignore[arg-type]
    by_key, by_menu = bench(), bench()
    by_key.key(MENU[place].caps[0].keys[0])
    by_menu.key("m")
    assert by_menu.seen(MenuView).focus == 0
    for _ in range(place):
        by_menu.key("down")
    by_menu.key("return")
    assert by_menu.scene == by_key.scene
    assert by_menu.notes == by_key.notes


def test_escape_leaves_the_menu_for_the_library() -> None:
    desk = bench()
    desk.key("m")
    desk.key("escape")
    assert desk.scene == "library"


def test_a_take_without_a_tap_changes_nothing_of_what_is_suggested() -> None:
    desk = bench()
    before = desk.seen(LibraryView).suggestion
    desk.key("return")
    desk.until(2.0)
    desk.key("escape")
    desk.key("escape")
    assert desk.seen(LibraryView).suggestion == before
    desk.key("return")
    desk.until(6.0, keys_for(desk))
    desk.key("escape")
    desk.key("escape")
    assert desk.seen(LibraryView).suggestion != before


def test_the_ladder_is_changed_beside_the_tempo() -> None:
    desk = bench()
    assert desk.seen(LibraryView).ladder == ""
    desk.act(Act.SELECT, 0)
    desk.key("l")
    assert desk.seen(LibraryView).ladder == desk.preferences.settings.ladder != "off"


def test_the_arrows_stop_at_either_end_of_the_menu() -> None:
    desk = bench()
    desk.key("m")
    seen = []
    for keys in (["up"], ["down"] * (len(MENU) + 3), ["up"], ["up"] * (len(MENU) + 3)):
        for key in keys:
            desk.key(key)
        seen.append(desk.seen(MenuView).focus)
    assert seen == [0, len(MENU) - 1, len(MENU) - 2, 0]
