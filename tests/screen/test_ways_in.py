"""Whatever a key does on a screen a click can do there, and whatever a click does a key can."""

import dataclasses

import pytest

from tests.screen.views import all_views, settings_view
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Scene, View
from trainer.screen.scenes.help import HelpView
from trainer.screen.scenes.setting_rows import rows_of
from trainer.screen.scenes.settings import settings_scene
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

NAMES = tuple(all_views(1280, 720, ThemeName.ROOM))
# Which one is a matter of walking there, by arrows or by clicks: only that it can be done is compared.
WALKED = (Act.SELECT, Act.SCROLL, Act.SHELF, Act.CHOICE, Act.STEP)
# Where a click can do at once what keys do one step back.
OVER_THE_LIBRARY = ("help", "library, finding")
# The mouse scrolls with its wheel, on every screen (trainer/app/loop.py).
BY_WHEEL = {(Act.SCROLL, 0)}
# Ten small steps, which have their places to click, are as far as one large one.
LARGE_STEPS = {(Act.DELAY, -10), (Act.DELAY, 10)}


def kinds(actions: list[Action]) -> set[tuple[Act | str, int]]:
    return {(a.setting or a.act, 0 if a.act in WALKED else a.value) for a in actions}


def by_keys(scene: Scene) -> set[tuple[Act | str, int]]:
    return kinds([use.action for use in scene.keys])


def by_clicks(scene: Scene) -> set[tuple[Act | str, int]]:
    """What the middle of each place to click asks for, so that one hidden under another does not count."""
    found = [scene.action_at(hit.x + hit.w // 2, hit.y + hit.h // 2) for hit in scene.hits]
    return kinds([action for action in found if action is not None])


def in_the_list(scene: Scene) -> set[tuple[Act | str, int]]:
    """What can be clicked in the list of keys, which a click on F1 opens, wherever it is scrolled."""
    window = Window(width=1280, height=720)
    lists = [HelpView(window=window, helps=scene.helps, first_row=row).scene() for row in range(40)]
    return set().union(*(by_clicks(each) for each in lists))


@pytest.mark.parametrize("scale", [1.0, 1.5])
@pytest.mark.parametrize("name", NAMES)
def test_the_mouse_alone_can_do_what_the_keys_can(name: str, scale: float) -> None:
    scene = larger(name, scale).scene()
    left = by_keys(scene) - by_clicks(scene) - BY_WHEEL - LARGE_STEPS - {(Act.TELL_KEYS, 0)}
    assert not left or left <= in_the_list(scene)


@pytest.mark.parametrize("name", NAMES)
def test_the_keys_alone_can_do_what_the_mouse_can(name: str) -> None:
    scene = larger(name, 1.0).scene()
    beyond = by_clicks(scene) - by_keys(scene)
    beyond.discard((Act.DISMISS, 0))  # the next key takes a note with it (trainer/app/loop.py)
    if (Act.MARK_FIRST, 1) in by_keys(scene):
        beyond.discard((Act.SELECT, 0))  # on the page a click marks bars; keys move the two ends
    if name in OVER_THE_LIBRARY:
        beyond -= by_keys(all_views(1280, 720, ThemeName.ROOM)["library, session"].scene())
    assert beyond == set()


def larger(name: str, scale: float) -> View:
    view = all_views(1280, 720, ThemeName.ROOM)[name]
    return dataclasses.replace(view, window=dataclasses.replace(view.window, text_scale=scale))


@pytest.mark.parametrize("text_scale", [1.0, 1.5])
def test_every_setting_can_be_reached_and_changed_either_way(text_scale: float) -> None:
    """By keys: down from the first row to the last. By clicks: a group's name, the row, and its arrows."""
    window = Window(width=1280, height=720, text_scale=text_scale)
    rows = rows_of(settings_view(window))
    place, seen = 0, {0}
    for _ in rows:
        (down,) = settings_scene(settings_view(window, place)).actions_for_key("down")
        place = down.value
        seen.add(place)
    assert seen == set(range(len(rows)))
    clicked = {0}
    waiting = [0]
    while waiting:
        scene = settings_scene(settings_view(window, waiting.pop()))
        for act, value in {(h.action.act, h.action.value) for h in scene.hits}:
            if act is Act.SELECT and value not in clicked:
                clicked.add(value)
                waiting.append(value)
    assert clicked == set(range(len(rows)))
    for at, row in enumerate(rows):
        scene = settings_scene(settings_view(window, at))
        wanted = {action for action in (row.enter, row.less, row.more) if action is not None}
        for offered in ([use.action for use in scene.keys], [hit.action for hit in scene.hits]):
            assert wanted <= set(offered)
