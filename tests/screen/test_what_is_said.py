"""What is said is seen on every scene, whichever it is."""

from dataclasses import replace

import pytest

from tests.screen.views import all_views
from trainer.screen.draw import Text
from trainer.screen.scenes.show import SCENES, scene_of
from trainer.screen.theme import ThemeName
from trainer.screen.views import Act, Action, Banner, BannerKind

NAMES = tuple(all_views(1280, 720, ThemeName.ROOM))
SAID = Banner(kind=BannerKind.NOTE, lines=("The pad was unplugged.",))


@pytest.mark.parametrize("name", NAMES)
def test_what_is_said_is_seen_and_a_click_takes_it_away(name: str) -> None:
    view = all_views(1280, 720, ThemeName.ROOM)[name]
    scene = scene_of(replace(view, window=replace(view.window, banner=SAID)))
    words = {item.text for panel in scene.panels for item in panel.items if isinstance(item, Text)}
    assert set(SAID.lines) <= words
    assert Action(act=Act.DISMISS) in {hit.action for hit in scene.hits}


def test_every_scene_is_among_those_that_are_looked_at() -> None:
    assert {type(view) for view in all_views(1280, 720, ThemeName.ROOM).values()} == set(SCENES)
