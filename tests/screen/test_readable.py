"""What a pupil must read is read from the back of the room, at every text setting and window size.

Sources: ISO 9241-303, text of 20 minutes of arc (16 at least), h = 2 D tan(theta / 2): at 8 m a capital of
37 to 47 mm, 1/36 of a picture 1.3 to 1.7 m high. WCAG 2.2, 1.4.4: larger text loses nothing.
"""

import math
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.screen.room_views import NAMES, TODAY, a_class, class_view, disturbed
from tests.screen.views import BOTH, all_views, drill_view, titled
from trainer.app.preferences import TEXT_SCALES
from trainer.practice.classroom import Classroom
from trainer.practice.turns import Board
from trainer.screen.draw import Item, Polyline, Rect, Scene, Text
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.classroom import ClassView
from trainer.screen.scenes.other_rows import PlayerRow
from trainer.screen.scenes.parts import SCALES, readable
from trainer.screen.scenes.together import TogetherView
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

SIZES = pytest.mark.parametrize(
    ("width", "height"), [(1280, 720), (1920, 1080), (3840, 2160), (1280, 1024), (1014, 520)]
)
PATTERN = titled("Both figures", *BOTH)
EIGHT = a_class(PATTERN, NAMES[:8], 20)
LONG = a_class(PATTERN, tuple(f"{letter}anderbilt-Montgomery" for letter in "ABCDEFGH"), 20)


def at(view: ClassView | TogetherView, width: int, height: int, scale: float) -> Scene:
    window = replace(view.window, width=width, height=height, text_scale=scale)
    if isinstance(view, TogetherView) and view.drill is not None:
        view = replace(view, drill=replace(view.drill, window=window))
    return replace(view, window=window).scene()


def class_views() -> dict[str, ClassView | TogetherView]:
    window = Window(width=1280, height=720)
    found: dict[str, ClassView | TogetherView] = {
        name: view
        for name, view in all_views(1280, 720, ThemeName.ROOM).items()
        if isinstance(view, ClassView | TogetherView)
    }
    return {
        **found,
        "eight": class_view(window, PATTERN, EIGHT),
        "eight, disturbed": class_view(window, PATTERN, disturbed(PATTERN, EIGHT)),
        "eight, long names": class_view(window, PATTERN, LONG),
    }


VIEWS = class_views()


def for_pupils(scene: Scene) -> list[Text]:
    """All text but that of the strip and what stands small for the teacher: devices, and what waits.

    In a window higher than 16:9 the header, too, whose units are as small there as the width has it.
    """
    strip = scene.panels[-1]
    is_high = (strip.y + strip.h) * 16 > strip.w * 9
    items: list[Item] = [item for panel in scene.panels[is_high:-1] for item in panel.items]
    status = scene.panels[-2]
    teachers = {id(i) for i in status.items if isinstance(i, Text) and not i.bold}
    numbers = _bar_numbers(scene)
    return [i for i in items if isinstance(i, Text) and id(i) not in teachers | numbers]


def _bar_numbers(scene: Scene) -> set[int]:
    """The sheet's own small numbers, of bars and strings: it is the hand that a pupil follows there."""
    sheet = scene.panels[1:3] if len(scene.panels) > 4 else ()
    return {
        id(i)
        for panel in sheet
        for i in panel.items
        if isinstance(i, Text) and i.text.split()[-1:][0].isdecimal()
    }


def test_the_settings_of_text_are_those_the_board_reckons_with() -> None:
    assert tuple(TEXT_SCALES.values()) == SCALES


@SIZES
@pytest.mark.parametrize("name", VIEWS)
def test_nothing_that_pupils_read_is_smaller_than_a_thirty_sixth_of_the_picture(
    name: str, width: int, height: int
) -> None:
    if name == "together, playing" and height * 16 > width * 9:
        return  # its sheet has the width's units
    for scale in SCALES:
        for text in for_pupils(at(VIEWS[name], width, height, scale)):
            assert text.size >= height / 36, (text.text, text.size, scale)


@SIZES
@pytest.mark.parametrize("name", VIEWS)
def test_a_larger_text_setting_makes_no_text_smaller(name: str, width: int, height: int) -> None:
    sizes: dict[str, int] = {}
    for scale in SCALES:
        scene = at(VIEWS[name], width, height, scale)
        found: dict[str, int] = {}
        for text in for_pupils(scene):
            found[text.text] = min(text.size, found.get(text.text, text.size))
        for words, size in found.items():
            assert size >= sizes.get(words, 0), (words, scale)
        sizes |= found


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize(("width", "height"), [(1280, 720), (1920, 1080)])
def test_eight_pupils_are_all_seen_uncut_with_their_results(width: int, height: int, scale: float) -> None:
    scene = at(VIEWS["eight"], width, height, scale)
    texts = {i.text: i for panel in scene.panels for i in panel.items if isinstance(i, Text)}
    for pupil in EIGHT.pupils:
        assert pupil.name in texts
        # Even the capitals alone are that high.
        assert CAPITAL * texts[pupil.name].size >= 0.9 * height / 36
        assert pupil.turns[-1].share in texts
    assert not [text for text in texts if "…" in text]
    for words in ("120 ms early", "120 ms late", "in time", "early", "late", "strokes as asked"):
        assert words in texts
    assert any(text.startswith("Today, 25 Nov") and "level: skips" in text for text in texts)


@pytest.mark.parametrize("scale", SCALES)
@SIZES
@pytest.mark.parametrize("name", ["eight", "eight, disturbed", "eight, long names", "class, many"])
def test_no_name_or_result_is_cut_beside_blank_space(
    name: str, width: int, height: int, scale: float
) -> None:
    """Where something is cut nothing is left empty: the axis has the least that it needs."""
    scene = at(VIEWS[name], width, height, scale)
    board = scene.panels[1]
    cut = [i for i in board.items if isinstance(i, Text) and i.text.endswith("…")]
    if cut:
        lines = [i.w for i in board.items if isinstance(i, Rect) and i.h <= 4 and i.w > 20]
        size = max(i.size for i in cut)
        assert lines
        assert max(lines) <= 14 * size


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("n", range(2, 9))
@pytest.mark.parametrize(("width", "height"), [(1280, 720), (1920, 1080)])
def test_the_rows_under_the_sheet_leave_the_strings_room(
    width: int, height: int, n: int, scale: float
) -> None:
    window = Window(width=width, height=height, text_scale=scale)
    rows = tuple(PlayerRow(name=name) for name in NAMES[:n])
    drill = drill_view(window, PATTERN, 5.2, others=rows)
    scene = TogetherView(window=window, seats=VIEWS["together, playing"].seats, drill=drill).scene()  # type: ignore[union-attr]
    sheet = scene.panels[2]
    names = [i for i in sheet.items if isinstance(i, Text) and i.text in NAMES]
    assert [i.text for i in names] == list(NAMES[:n])
    assert min(i.size for i in names) >= readable(height)
    assert names[0].y - sheet.y >= 0.5 * sheet.h
    picture = next(strip.picture for strip in sheet.strips)
    assert any(isinstance(item, Polyline) for item in picture.items())


@pytest.mark.parametrize("width", [400, 800, 1280])
def test_a_pupils_name_is_large_on_the_sheet_and_the_last_to_be_cut(width: int) -> None:
    view = drill_view(Window(width=width, height=720), PATTERN, 5.2, player="Mirabelle")
    header = view.scene().panels[0]
    texts = [i for i in header.items if isinstance(i, Text)]
    name = next(i for i in texts if i.text.startswith("Mirabelle"))
    assert name.text == "Mirabelle" or width == 400
    assert all(name.size >= i.size for i in texts if i.text in PATTERN.title)


def test_a_board_says_what_it_holds_and_an_older_one_says_its_day() -> None:
    board = Board(pattern=PATTERN.name, bpm=Fraction(60), day=TODAY - 400)
    view = class_view(
        Window(width=1280, height=720), PATTERN, EIGHT, board=board, looking_back=True, number=1, boards=4
    )
    words = [i.text for panel in view.scene().panels for i in panel.items if isinstance(i, Text)]
    assert any("21 Oct 2025" in text and "board 1 of 4" in text for text in words)
    assert "28 of 28" not in words  # the turns of today are not on it
    assert "60" in words
    empty = class_view(Window(width=1280, height=720), PATTERN, Classroom())
    assert any("Nobody is here" in i.text for i in empty.scene().panels[1].items if isinstance(i, Text))


def test_two_columns_come_only_where_one_would_be_too_small() -> None:
    for count, columns in ((8, 1), (24, 2)):
        room = Classroom().with_names(f"N{n}" for n in range(count))
        view = class_view(Window(width=1920, height=1080), PATTERN, room)
        xs = {i.x for i in view.scene().panels[1].items if isinstance(i, Text) and i.text.startswith("N")}
        assert len(xs) == columns


def test_wide_names_use_the_room_there_is() -> None:
    view = class_view(Window(width=1280, height=720), PATTERN, LONG)
    names = [i for i in view.scene().panels[1].items if isinstance(i, Text) and "anderbilt" in i.text]
    assert len(names) == 8
    assert all(math.isclose(i.size, names[0].size) for i in names)
    assert all(text_width(i.text, i.size) < 1280 for i in names)
