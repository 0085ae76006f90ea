"""What is said is seen on every scene, whichever it is."""

from dataclasses import replace

import pytest

from tests.screen.views import all_views
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Text
from trainer.screen.theme import ThemeName
from trainer.screen.window import Banner, BannerKind

NAMES = tuple(all_views(1280, 720, ThemeName.ROOM))
SAID = Banner(kind=BannerKind.NOTE, lines=("The pad was unplugged.",))


@pytest.mark.parametrize("name", NAMES)
def test_what_is_said_is_seen_and_a_click_takes_it_away(name: str) -> None:
    view = all_views(1280, 720, ThemeName.ROOM)[name]
    scene = replace(view, window=replace(view.window, banner=SAID)).scene()
    words = {item.text for panel in scene.panels for item in panel.items if isinstance(item, Text)}
    assert set(SAID.lines) <= words
    assert Action(act=Act.DISMISS) in {hit.action for hit in scene.hits}
