"""The painter against pixels, on SDL's dummy display."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.screen.views import BOTH, all_views, drill_view, titled
from trainer.screen.draw import Anchor, Disc, Item, Panel, Rect, Scene, Strip, Text
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

try:
    import pygame

    from tests.screen.make_icon import SIZES, icon
    from trainer.screen.painter import MOST_SPRITE_BYTES, SPRITE_FRAMES, Painter
except ImportError:
    pytest.skip("pygame has no wheel for this Python", allow_module_level=True)

ASSETS = Path(__file__).parents[2] / "assets"
RED, BLUE, GREY = (200, 0, 0), (0, 0, 200), (40, 40, 40)


@pytest.fixture
def window(monkeypatch: pytest.MonkeyPatch) -> Iterator[pygame.Surface]:
    # Set for these tests only: others want the display there is.
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.quit()
    pygame.display.init()
    yield pygame.display.set_mode((1280, 720))
    pygame.display.quit()


def painter_for(surface: pygame.Surface) -> Painter:
    return Painter(surface, ASSETS / "fonts")


class Chequer:
    """A picture that counts how often it is asked what it is made of."""

    def __init__(self) -> None:
        self.asked = 0

    def items(self) -> tuple[Item, ...]:
        self.asked += 1
        return (Rect(0, 0, 20, 20, RED), Rect(-10, 20, 30, 20, BLUE))


def strips_scene(picture: Chequer, x: int, dim_before: int | None = None) -> Scene:
    strip = Strip(x, 10, 40, 40, GREY, picture)
    return Scene((Panel(0, 10, 200, 40, (0, 0, 0), (), (strip,), dim_before),))


def test_a_picture_is_made_once_however_often_it_moves(window: pygame.Surface) -> None:
    painter, picture = painter_for(window), Chequer()
    for x in (0, 7, 90):
        painter.paint(strips_scene(picture, x))
    assert picture.asked == 1
    assert window.get_at((91, 11))[:3] == RED
    assert window.get_at((95, 35))[:3] == BLUE


def test_a_rectangle_that_begins_outside_is_cut_and_not_moved(window: pygame.Surface) -> None:
    painter_for(window).paint(strips_scene(Chequer(), 0))
    assert window.get_at((19, 35))[:3] == BLUE
    assert window.get_at((21, 35))[:3] == GREY


def test_a_picture_that_has_passed_is_faded_up_to_the_line(window: pygame.Surface) -> None:
    painter_for(window).paint(strips_scene(Chequer(), 0, dim_before=10))
    assert window.get_at((11, 11))[:3] == RED
    faded = window.get_at((9, 11))[:3]
    assert faded != RED
    assert GREY[0] < faded[0] < RED[0]


@pytest.mark.parametrize(("width", "height"), [(0, 10), (10, 0), (-5, 10), (10, -5)])
def test_a_strip_without_room_is_not_painted(window: pygame.Surface, width: int, height: int) -> None:
    """In a window of some pixels the sheet has less than none."""
    [panel] = strips_scene(Chequer(), 0).panels
    strips = tuple(replace(strip, w=width, h=height) for strip in panel.strips)
    painter_for(window).paint(Scene(panels=(replace(panel, strips=strips),)))


def test_an_equal_panel_is_left_alone(window: pygame.Surface) -> None:
    painter = painter_for(window)
    scene = Scene((Panel(0, 0, 100, 100, RED), Panel(100, 0, 100, 100, RED)))
    painter.paint(scene)
    window.set_at((50, 50), BLUE)
    painter.paint(Scene((Panel(0, 0, 100, 100, RED), Panel(100, 0, 100, 100, BLUE))))
    assert window.get_at((50, 50))[:3] == BLUE
    assert window.get_at((150, 50))[:3] == BLUE
    painter.resize(window)
    painter.paint(scene)
    assert window.get_at((50, 50))[:3] == RED


def test_a_scene_given_up_half_way_is_painted_whole_the_next_time(window: pygame.Surface) -> None:
    painter = painter_for(window)
    scene = all_views(1280, 720, ThemeName.ROOM)["drill"].scene()
    slices = painter.paint_slices(scene)
    for _ in range(3):
        next(slices)
    slices.close()  # type: ignore[attr-defined]
    painter.paint(scene)
    painter.flip()
    other = pygame.Surface((1280, 720)).convert(window)
    painter_for(other).paint(scene)
    assert pygame.image.tobytes(window, "RGB") == pygame.image.tobytes(other, "RGB")


def test_texts_that_are_shown_no_more_are_let_go(window: pygame.Surface) -> None:
    """A pass has its number in large type: 0.1 MB each, for as long as the drill goes on."""
    painter = painter_for(window)
    held = []
    for frame in range(6 * SPRITE_FRAMES):
        number = Text(10, 60, f"pass {frame // 100}", 40, RED)
        painter.paint(Scene((Panel(0, 0, 400, 100, GREY, (number, Text(10, 90, "always", 20, RED)), ()),)))
        painter.flip()
        held.append(painter.held)
    of_half_a_minute = SPRITE_FRAMES // 100 + 2
    assert of_half_a_minute < max(held) <= 2 * of_half_a_minute
    assert max(held[: 3 * SPRITE_FRAMES]) == max(held)


def test_large_texts_are_let_go_however_few_frames_there_are(window: pygame.Surface) -> None:
    """At some frames a second half a minute's frames take minutes, each with a number of its own."""
    painter = painter_for(window)
    held = []
    for frame in range(400):
        number = Text(10, 60, f"pass {frame}", 80, RED)
        painter.paint(Scene((Panel(0, 0, 400, 100, GREY, (number,), ()),)))
        painter.flip()
        held.append(painter.held)
    one = painter.text_size(Text(10, 60, "pass 100", 80, RED))
    most = MOST_SPRITE_BYTES // (one[2] * one[3] * 4) + 2
    assert max(held) <= 2 * 1.5 * most
    assert max(held) < 300


def test_items_do_not_leave_their_panel(window: pygame.Surface) -> None:
    window.fill((0, 0, 0))
    items = (Disc(100, 50, 30, BLUE), Text(60, 50, "wide words", 40, BLUE, Anchor.LEFT))
    painter_for(window).paint(Scene((Panel(0, 0, 100, 100, RED, items),)))
    assert window.get_at((99, 50))[:3] != RED
    assert all(window.get_at((x, y))[:3] == (0, 0, 0) for x in (101, 110, 125) for y in range(0, 100, 5))


def test_scrolling_paints_what_a_fresh_painter_paints(window: pygame.Surface) -> None:
    """Nothing of an earlier frame is left behind."""
    both = titled("Both figures", *BOTH)
    small = Window(width=1280, height=720)
    painter = painter_for(window)
    for song_s in (2.0, 2.1, 2.2):
        painter.paint(drill_scene(drill_view(small, both, song_s)))
    other = pygame.Surface((1280, 720)).convert(window)
    painter_for(other).paint(drill_scene(drill_view(small, both, 2.2)))
    assert pygame.image.tobytes(window, "RGB") == pygame.image.tobytes(other, "RGB")


@pytest.mark.parametrize("theme", list(ThemeName), ids=lambda theme: theme.value)
@pytest.mark.parametrize("name", tuple(all_views(1280, 720, ThemeName.ROOM)))
def test_every_scene_can_be_painted(window: pygame.Surface, name: str, theme: ThemeName) -> None:
    scene = all_views(1280, 720, theme)[name].scene()
    painter_for(window).paint(scene)
    for panel in scene.panels:
        if panel.w * panel.h:
            assert window.get_at((panel.x + panel.w - 1, panel.y + panel.h - 1))[:3] == panel.colour


@pytest.mark.parametrize("size", SIZES)
def test_the_shipped_icon_is_the_one_that_the_code_draws(size: int) -> None:
    shipped = pygame.image.load(str(ASSETS / f"icon-{size}.png"))
    assert pygame.image.tobytes(shipped, "RGBA") == pygame.image.tobytes(icon(size), "RGBA")
    assert shipped.get_at((0, 0)).a == 0
