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


# What the records say when they had to be mended, the longest single sentence there is.
LONG = Banner(
    kind=BannerKind.NOTE,
    lines=(
        "The records were damaged: 212 takes were saved and 3 of which something was left over are lost; the "
        "damaged file lies beside the new one, with the name takes.sqlite.damaged at its end.",
    ),
)


@pytest.mark.parametrize(("width", "height"), [(1014, 520), (1280, 688), (1920, 1080)])
def test_a_long_sentence_is_not_cut_and_stays_in_its_row(width: int, height: int) -> None:
    for name, view in all_views(width, height, ThemeName.ROOM).items():
        if view.window.text_scale > 1:
            continue  # the smallest window is for the usual text
        scene = replace(view, window=replace(view.window, banner=LONG)).scene()
        [note] = [
            panel
            for panel in scene.panels
            if any(
                isinstance(item, Text) and item.text.startswith("The records were") for item in panel.items
            )
        ]
        said = [item for item in note.items if isinstance(item, Text)]
        assert " ".join(item.text for item in said) == LONG.lines[0], name
        assert all(note.y < item.y - 0.7 * item.size and item.y < note.y + note.h for item in said), name
