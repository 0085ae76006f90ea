"""One table says which key does what: it is whole, and the guide shows it."""

from collections import Counter
from pathlib import Path

import pytest

from trainer.practice.gestures import Gesture
from trainer.practice.settings import SCREEN_GESTURES
from trainer.screen.actions import Act, Action
from trainer.screen.key_help import gestures_of, helps_of, keys_table, walked
from trainer.screen.keymap import KEYMAP

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"
# What is filled in by the scenes: the words in braces, and the actions that have names.
WORDS = {
    "what was changed": "the swing",
    "the other order": "at random",
    "start": "turn",
    "take it, start or listen": "listen",
    "start or again": "start",
    "back, no questions or end": "back",
    "again": "again at 50",
    "the other input": "Pad",
    "begin or again": "begin",
}


@pytest.mark.parametrize("scene", KEYMAP)
@pytest.mark.parametrize("is_so", [True, False])
def test_a_key_means_one_thing_in_each_state_of_a_scene(scene: str, is_so: bool) -> None:
    """In states that exclude one another a key may have a meaning in each."""
    exclusive = (
        {"breaks", "charts"},
        {"found", "can start"},
        {"over", "can begin"},
        {"asked", "held"},
        {"here", "away"},
        {"taught", "undo"},
        {"ready", "done"},
    )
    states = {entry.when.removeprefix("not "): is_so for entry in KEYMAP[scene] if entry.when}
    for pair in exclusive:
        if pair <= set(states):
            states[min(pair)] = False
    helps = helps_of(scene, states=states, words=WORDS)
    pressed = Counter(key for entry in helps for cap in entry.caps for key in cap.keys)
    assert [key for key, times in pressed.items() if times > 1] == []


@pytest.mark.parametrize("scene", KEYMAP)
def test_every_scene_can_be_left_and_fills_the_screen(scene: str) -> None:
    keys = {key for entry in KEYMAP[scene] for cap in entry.caps for key in cap.keys}
    assert {"escape", "f11"} <= keys


def test_a_named_action_is_filled_in_or_its_key_does_nothing() -> None:
    filled = helps_of("takes", actions=walked(3, 9, page=5))
    asked = {key: cap.action for entry in filled for cap in entry.caps for key in cap.keys}
    assert asked["up"] == Action(act=Act.SELECT, value=2)
    assert asked["down"] == Action(act=Act.SELECT, value=4)
    assert asked["page up"] == Action(act=Act.SELECT, value=0)
    assert asked["page down"] == Action(act=Act.SELECT, value=8)
    bare = {key for entry in helps_of("takes") for cap in entry.caps for key in cap.keys}
    assert not {"up", "down", "page up"} & bare


def test_pads_and_keys_of_ones_own_ask_for_what_the_keys_do() -> None:
    assert {gesture.value for gesture in Gesture} == set(SCREEN_GESTURES)
    for scene in ("library", "review"):
        assert set(gestures_of(scene)) == set(SCREEN_GESTURES)
    assert set(gestures_of("drill")) == {"start", "slower", "faster"}
    assert gestures_of("library")["faster"] == Action(act=Act.TEMPO, value=1)


def test_the_guide_shows_the_table_as_it_is() -> None:
    """If this fails, put these lines into DEVELOPERS.md, under "The keys"."""
    guide = GUIDE.read_text(encoding="utf-8").splitlines()
    assert [line for line in keys_table() if line not in guide] == []
