"""A key means one thing: keys of one's own never take a screen's or a hand's key away."""

import pytest

from tests.app.bench import Bench
from tests.screen.views import all_views
from trainer.app.own_keys import DRILL_KEYS, SCREEN_KEYS, gesture_of_key, why_refused
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.drill import DrillView
from trainer.screen.theme import ThemeName

VIEWS = all_views(1280, 720, ThemeName.ROOM)


@pytest.mark.parametrize("name", [name for name, view in VIEWS.items() if isinstance(view, DrillView)])
def test_no_key_of_the_drill_can_become_a_tapping_key(name: str) -> None:
    assert {use.key for use in VIEWS[name].scene().keys} <= set(DRILL_KEYS)


@pytest.mark.parametrize("name", VIEWS)
def test_no_key_of_any_screen_can_become_a_key_of_ones_own(name: str) -> None:
    assert {use.key for use in VIEWS[name].scene().keys} <= SCREEN_KEYS


def test_a_tapping_key_that_the_drill_needs_is_refused_in_a_sentence() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.NAIL_KEY)
    assert bench.app.key_down("space", host_ns=0, looked_ns=0)
    assert bench.inputs.keys.keys.nail == "f"
    assert bench.notes == ('The key space is for "go on" while you play: choose another.',)


def test_a_key_of_ones_own_is_given_kept_and_taken_away() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.OWN_KEY, 2)
    assert bench.app.key_down("f7", host_ns=0, looked_ns=0)
    assert bench.kept[-1].own_keys == {"faster": "f7"}
    assert gesture_of_key("f7", bench.preferences.settings) == "faster"
    bench.act(Act.OWN_KEY, 2)
    bench.app.key_down("backspace", host_ns=0, looked_ns=0)
    assert bench.kept[-1].own_keys == {}
    assert gesture_of_key("f7", bench.preferences.settings) is None


@pytest.mark.parametrize("key", ["space", "f", "j", "d", "f8", "tab"])
def test_a_key_that_means_something_already_is_refused(key: str) -> None:
    settings = Settings(own_keys={"next": "f8"})
    assert why_refused(key, "start", settings).endswith(".")
    assert why_refused("f9", "start", settings) == ""
    assert why_refused("f8", "next", settings) == ""
