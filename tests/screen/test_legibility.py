"""Contrast, shape and size of everything on every screen, measured from rendered pixels.

Sources: WCAG 2.2, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (what is not text 3:1); ISO 9241-303, text
of 20 minutes of arc, h = 2 D tan(theta / 2).
"""

import dataclasses
import itertools
import math
from collections.abc import Iterator, Mapping

import numpy as np
import pytest

from tests.screen.views import BOTH, all_views, drill_view, settings_view, titled
from trainer.judging.take import Verdict
from trainer.screen.draw import Disc, Item, Panel, Polygon, Rect, Ring, Scene, Text, View
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.setting_rows import rows_of
from trainer.screen.scenes.settings import settings_scene
from trainer.screen.theme import (
    BLACK,
    BLUE,
    BLUISH_GREEN,
    ORANGE,
    PROJECTOR,
    REDDISH_PURPLE,
    ROOM,
    SKY_BLUE,
    VERMILLION,
    YELLOW,
    Colour,
    Theme,
    ThemeName,
    theme_of,
)
from trainer.screen.window import Window

try:
    import pygame

    from tests.screen.pixels import (
        COLOUR_VISION,
        FONTS,
        as_seen_with,
        box_of,
        composed,
        contrast,
        lab,
        linear,
        luminance,
        meanings,
        painted,
        seen,
    )
    from trainer.screen.painter import Painter
except ImportError:
    pytest.skip("pygame has no wheel for this Python", allow_module_level=True)

NAMES = tuple(all_views(1280, 720, ThemeName.ROOM))
THEMES = pytest.mark.parametrize("theme", list(ThemeName), ids=lambda theme: theme.value)
TEXT_LEAST, MARK_LEAST = 4.5, 3.0
# Of the pixels behind a thing, the share that may come closer to its colour: a letter's or a line's few
# pixels over another line that it crosses.
CROSSED = 0.10
# On a class's board the small marks of one turn lie on one another: a pile, whose ground is the wall that the
# marks of every other scene are measured against.
CLOUDS = "class"
PALETTE = {BLACK, ORANGE, SKY_BLUE, BLUISH_GREEN, YELLOW, BLUE, VERMILLION, REDDISH_PURPLE}


@pytest.fixture(scope="module")
def painter() -> Iterator[Painter]:
    patch = pytest.MonkeyPatch()
    patch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.quit()
    pygame.display.init()
    yield Painter(pygame.display.set_mode((1280, 720)), FONTS)
    pygame.display.quit()
    patch.undo()


@pytest.fixture(scope="module")
def views() -> dict[ThemeName, Mapping[str, View]]:
    return {theme: all_views(1280, 720, theme) for theme in ThemeName}


def low(contrasts: np.ndarray) -> float:
    return float(np.quantile(contrasts, CROSSED))


@THEMES
@pytest.mark.parametrize("name", NAMES)
def test_every_text_reaches_4_5_to_1_and_every_mark_3_to_1_on_what_lies_behind_it(
    name: str, theme: ThemeName, views: dict[ThemeName, Mapping[str, View]], painter: Painter
) -> None:
    """Preferences rows, key caps, notes and the part of the sheet that has passed are among it."""
    colours = meanings(theme_of(theme))
    texts, faults = 0, set[tuple[object, ...]]()
    for each in seen(views[theme][name].scene(), painter):
        if isinstance(each.item, Text):
            texts += 1
            if low(each.contrasts) < TEXT_LEAST:
                faults.add((each.item.text, round(low(each.contrasts), 2)))
        elif name.startswith(CLOUDS):
            continue
        elif each.item.colour in colours and not _only_scenery(each.item, each.faded, theme_of(theme)):
            half = float(np.median(each.contrasts))
            if half < MARK_LEAST:
                faults.add((colours[each.item.colour], type(each.item).__name__, round(half, 2)))
    assert texts
    assert faults == set()


def _only_scenery(item: Item, faded: bool, theme: Theme) -> bool:
    """Strings and the pocket's ends that have passed the now line are only scenery; they are also ahead.

    So are lines between bars: the bracket round marked bars stands on them.
    """
    bar_line = isinstance(item, Rect) and item.colour == theme.string and item.h > item.w
    return bar_line or (faded and item.colour in (theme.string, theme.pocket_edge))


@THEMES
@pytest.mark.parametrize("name", ["drill", "review", "settings"])
def test_what_is_measured_is_what_the_painter_paints(
    name: str, theme: ThemeName, views: dict[ThemeName, Mapping[str, View]], painter: Painter
) -> None:
    scene = views[theme][name].scene()
    real = painted(scene, 1280, 720).astype(float)
    off = np.abs(composed(scene, 1280, 720, painter) - real).max(axis=2)
    # Rounding; and at the edge of a mark on half a pixel, which the painter puts on whole ones.
    assert np.mean(off > 3) < 0.002


def test_the_measure_catches_words_that_are_too_faint(painter: Painter) -> None:
    grey = Text(10, 30, "faint words", 20, (0x76, 0x76, 0x76))
    for ground, fine in (((255, 255, 255), True), ((0xF0, 0xF0, 0xF0), False)):
        (each,) = seen(Scene((Panel(0, 0, 200, 40, ground, (grey,)),)), painter)
        assert (low(each.contrasts) >= TEXT_LEAST) is fine


# Shapes without colour


def grey_mask(items: tuple[Item, ...], size: int) -> np.ndarray:
    """How the luma of a picture with these items differs from its ground, 0 to 1."""
    surface = pygame.display.set_mode((size, size))
    ground = (0x80, 0x80, 0x80)
    Painter(surface, FONTS).paint(Scene((Panel(0, 0, size, size, ground, items),)))
    away = np.abs(luminance(pygame.surfarray.array3d(surface).astype(float)) - luminance(np.array(ground)))
    return np.asarray(away / max(away.max(), 1e-9))


@pytest.mark.parametrize("radius", [4.7, 6.0, 8.7, 13.0])
@pytest.mark.usefixtures("painter")
def test_verdicts_differ_in_shape_when_all_colour_is_gone(radius: float) -> None:
    """One colour for all, as review and sheet draw them at 1280x720 and 1920x1080: masks of pixels differ."""
    masks = {
        verdict: grey_mask(tuple(_black(item) for item in mark(verdict, 40, 40, radius, ROOM)), 80) > 0.5
        for verdict in Verdict
    }
    for one, other in itertools.combinations(Verdict, 2):
        both, either = masks[one] & masks[other], masks[one] | masks[other]
        assert both.sum() / either.sum() < 0.85, (one, other)


def _black(item: Item) -> Item:
    return dataclasses.replace(item, colour=(0, 0, 0))


@THEMES
@pytest.mark.usefixtures("painter")
def test_a_skip_kept_and_a_skip_touched_differ_in_grey(theme: ThemeName) -> None:
    masks = [
        grey_mask(mark(verdict, 40, 40, 13, theme_of(theme)), 80) > 0.3
        for verdict in (Verdict.KEPT_SILENT, Verdict.TOUCHED)
    ]
    assert (masks[0] & masks[1]).sum() / (masks[0] | masks[1]).sum() < 0.7


def is_bar(item: Item, colour: Colour) -> bool:
    return isinstance(item, Rect) and item.colour == colour and item.h > item.w


@THEMES
@pytest.mark.parametrize(
    "name", [name for name in NAMES if name.startswith(("settings", "library", "asking"))]
)
def test_the_row_with_the_focus_has_a_bar_that_is_seen_in_grey(
    name: str, theme: ThemeName, views: dict[ThemeName, Mapping[str, View]], painter: Painter
) -> None:
    """A bar in the focus colour, at least 3:1 by luminance alone against its row, and bold words."""
    scene = views[theme][name].scene()
    if name in ("library, empty", "asking, a pad"):
        return  # nothing to choose
    focus = theme_of(theme).focus
    bars = [each for each in seen(scene, painter) if is_bar(each.item, focus)]
    assert bars
    assert all(np.median(bar.contrasts) >= MARK_LEAST for bar in bars)


def test_every_place_of_the_settings_shows_its_focus() -> None:
    window = Window(width=1280, height=720)
    for focus in range(len(rows_of(settings_view(window)))):
        items = [i for panel in settings_scene(settings_view(window, focus)).panels for i in panel.items]
        bars = [i for i in items if isinstance(i, Rect) and i.colour == ROOM.focus and i.h > i.w]
        tabs = [i for i in items if isinstance(i, Rect) and i.colour == ROOM.focus and i.w > i.h]
        assert (len(bars), len(tabs)) == (1, 1)


# Colours


@pytest.mark.parametrize("theme", [ROOM, PROJECTOR], ids=("room", "projector"))
def test_colours_that_mean_something_are_okabe_and_itos(theme: Theme) -> None:
    """Okabe & Ito 2002, Color Universal Design: the eight colours by their hex values."""
    assert {
        (0, 0, 0), (0xE6, 0x9F, 0), (0x56, 0xB4, 0xE9), (0, 0x9E, 0x73),
        (0xF0, 0xE4, 0x42), (0, 0x72, 0xB2), (0xD5, 0x5E, 0), (0xCC, 0x79, 0xA7),
    } == PALETTE  # fmt: skip
    for name in ("in_time", "early", "late", "slip", "other", "now", "focus"):
        assert getattr(theme, name) in PALETTE


@pytest.mark.parametrize("vision", COLOUR_VISION)
def test_grey_stays_grey_in_the_simulation(vision: str) -> None:
    assert COLOUR_VISION[vision].sum(axis=1) == pytest.approx(1.0, abs=2e-6)


@pytest.mark.parametrize("vision", [*COLOUR_VISION, "usual"])
@pytest.mark.parametrize("theme", [ROOM, PROJECTOR], ids=("room", "projector"))
def test_in_time_early_and_late_are_told_apart_without_red_green_or_blue(theme: Theme, vision: str) -> None:
    """CIE 1976 colour difference of at least 20 between any two, 15 without blue (one in ten thousand).

    About 2.3 is just noticeable (Mahy 1994, from memory). Shape and place say the same: colour is the third.
    """

    def seen_as(colour: Colour) -> np.ndarray:
        light = as_seen_with(vision, colour) if vision in COLOUR_VISION else None
        return lab(light if light is not None else linear(np.array(colour, dtype=float)))

    for one, other in itertools.combinations((theme.in_time, theme.early, theme.late), 2):
        assert np.linalg.norm(seen_as(one) - seen_as(other)) >= (15 if vision == "tritanopia" else 20)


def test_lab_is_that_of_cie() -> None:
    """White is (100, 0, 0); sRGB red is (53.2, 80.1, 67.2) (Lindbloom's calculator, from memory)."""
    assert lab(linear(np.array([255.0, 255, 255]))) == pytest.approx([100, 0, 0], abs=0.05)
    assert lab(linear(np.array([255.0, 0, 0]))) == pytest.approx([53.2, 80.1, 67.2], abs=0.2)


def test_contrast_is_that_of_wcag() -> None:
    """Worked by hand from WCAG 2.2's formulas: #767676 on white is 4.542."""
    assert contrast(np.array([118.0] * 3), np.array([255.0] * 3)) == pytest.approx(4.542, abs=0.001)


# Size


def least_capital_px(width: int) -> float:
    """Height of 20 minutes of arc at 8 m, in pixels of a picture 2 m wide: h = 2 D tan(theta / 2)."""
    return 2 * 8.0 * math.tan(math.radians(20 / 60) / 2) / 2.0 * width


def capital_px(text: Text, painter: Painter) -> int:
    """Rows of pixels that a text's capitals and digits really cover, down to the baseline."""
    baseline = 2 * text.size
    alone = Text(20, baseline, text.text, text.size, (0, 0, 0), bold=text.bold)
    picture = painter.picture((alone,), text.size * (len(text.text) + 1), 3 * text.size)
    rows = np.flatnonzero((pygame.surfarray.array_alpha(picture) > 127).any(axis=0))
    return int(baseline - rows[0])


def test_the_marks_of_the_sheet_are_16_minutes_of_arc_at_8_m(painter: Painter) -> None:
    """ISO 9241-303 asks for at least 16 of characters; a mark that is taller hides where it lies."""
    least = least_capital_px(1280) * 16 / 20
    scene = all_views(1280, 720, ThemeName.ROOM)["drill"].scene()
    verdicts = (ROOM.in_time, ROOM.early, ROOM.late, ROOM.slip, ROOM.other)
    marks = [
        item for panel in scene.panels for item in panel.items
        if isinstance(item, Disc | Polygon | Ring) and item.colour in verdicts
    ]  # fmt: skip
    assert len(marks) > 2
    for item in marks:
        _, _, wide, high = box_of(item, painter)
        # The box leaves three pixels of air on each side, and a bar of a cross is as high as the cross.
        assert max(wide, high) - 6 >= least - 0.5, item


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (1920, 1080), (3840, 2160)])
def test_what_a_class_must_read_is_20_minutes_of_arc_at_8_m(
    width: int, height: int, painter: Painter
) -> None:
    """The count-in, the tempo, the pass, the title and how much was as asked. What is meant for the desk
    is smaller: lists, sentences, the words under the strokes (whose shapes say the same) and the help."""
    window = Window(width=width, height=height)
    both = titled("Both figures", *BOTH)
    drill = drill_view(window, both, -1.7)
    review = all_views(width, height, ThemeName.ROOM)["review"]
    wanted = {
        "count-in": (drill, str(drill.count)),
        "tempo": (drill, "80"),
        "pass": (drill, "1 of 4"),
        "title": (drill, "Both figures"),
        "as asked": (review, None),
    }
    for what, (view, words) in wanted.items():
        texts = [i for panel in view.scene().panels for i in panel.items if isinstance(i, Text)]
        found = [t for t in texts if t.text == words or (words is None and " of " in t.text and t.bold)]
        assert found, what
        largest = max(found, key=lambda t: t.size)
        assert capital_px(largest, painter) >= least_capital_px(width) - 0.5, what
