"""Escape goes back one step everywhere, and never out of the program; F1 says what the keys do."""

import pytest

from tests.app.bench import Bench, keys_for
from trainer.app.scenes.drill import DrillController
from trainer.app.scenes.help import HelpController
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.scenes.help import HelpView


def test_escape_pressed_again_and_again_never_ends_the_program() -> None:
    bench = Bench()
    seen = []
    for _ in range(6):
        bench.key("escape")
        seen.append(bench.scene)
    assert seen == ["leaving", "library"] * 3
    assert not bench.context.is_ended


def test_leaving_is_asked_once_and_to_stay_stands_ready() -> None:
    bench = Bench()
    bench.key("escape")
    view = bench.seen(AskingView)
    assert view.options[view.focus] == "Stay"
    bench.key("return")
    assert (bench.scene, bench.context.is_ended) == ("library", False)
    bench.key("escape")
    bench.key("down")
    bench.key("return")
    assert bench.context.is_ended


@pytest.mark.parametrize("until_s", [-1.0, 0.5, 3.0])
def test_from_a_drill_it_is_two_steps_to_the_library_whenever_it_is_stopped(until_s: float) -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(until_s, keys_for(bench))
    bench.key("escape")
    assert bench.scene == "review"
    bench.key("escape")
    assert bench.scene == "library"


@pytest.mark.parametrize("key", ["f1", "h", "?"])
def test_each_of_three_keys_shows_the_keys_of_the_scene_and_goes_back_to_it(key: str) -> None:
    bench = Bench()
    bench.key(key)
    labels = {cap.label for entry in bench.seen(HelpView).helps for cap in entry.caps}
    assert {"Enter", "P", "Esc"} <= labels
    assert bench.seen(HelpView).taps == (("F", "nail"), ("J", "thumb"))
    bench.key(key)
    assert bench.scene == "library"


def test_what_is_clicked_in_the_list_is_done_below() -> None:
    bench = Bench()
    bench.key("f1")
    bench.app.act(Action(act=Act.OPEN_SETTINGS), bench.system.ns)
    assert bench.scene == "settings"
    bench.key("escape")
    assert bench.scene == "library"


def test_a_drill_waits_under_the_list_of_keys_and_goes_on_with_a_count_in() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(1.0, keys_for(bench))
    bench.key("f1")
    assert isinstance(bench.top, HelpController)
    bench.key("escape")
    assert isinstance(bench.top, DrillController)
    assert bench.running.paused is not None
    bench.key("space")
    assert bench.running.paused is None


def test_a_demonstration_waits_on_a_stroke_under_the_list_of_keys() -> None:
    bench = Bench()
    bench.act(Act.OPEN_DEMONSTRATION)
    bench.go(5.0)
    bench.key("f1")
    assert isinstance(bench.top, HelpController)
    bench.key("escape")
    assert bench.scene == "demonstration"
    assert not bench.top.in_time


def test_space_in_a_drill_says_what_to_tap_and_begins_nothing_anew() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(0.5)
    drill = bench.running.drill
    bench.key("space")
    assert bench.notes == ("Tap F for the nail and J for the thumb.",)
    assert bench.running.drill is drill
    bench.key("r")
    assert bench.running.drill is not drill


def test_escape_while_pads_are_taught_in_the_settings_keeps_what_was_taught() -> None:
    bench = Bench("Pad 20:0")
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.INPUT, 1)
    bench.system.send(0x99, 36, 90)
    bench.app.poll()
    bench.key("escape")
    assert bench.scene == "settings"
    assert bench.preferences.settings.pads == {"Pad": "any=36"}
    bench.key("escape")
    assert bench.scene == "library"
