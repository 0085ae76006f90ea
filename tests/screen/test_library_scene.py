"""The library: its shelves, what a row says of a player, and what the session says between drills."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.screen.pages import words_on
from tests.screen.views import LEVELS, all_views, library_view, titled
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Disc, Rect, Ring, Scene, Text
from trainer.screen.scenes.library import LibraryView, Shelf, library_scene
from trainer.screen.scenes.library_preview import LibraryRow
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

WINDOW = Window(width=1280, height=720)
SHELF = Action(act=Act.SHELF, value=1)


def where(scene: Scene, words: str) -> tuple[int, int]:
    found = next(
        item
        for panel in scene.panels
        for item in panel.items
        if isinstance(item, Text) and item.text.startswith(words)
    )
    return found.x + 3, found.y - 3


@pytest.mark.parametrize("shelf", Shelf)
def test_shelves_are_reached_by_key_and_by_mouse(shelf: Shelf) -> None:
    scene = library_scene(library_view(WINDOW, shelf=shelf))
    assert scene.actions_for_key("tab") == (SHELF,)
    for at, other in enumerate(Shelf):
        expected = Action(act=Act.SHELF, value=at - list(Shelf).index(shelf))
        assert scene.action_at(*where(scene, other.value)) == expected


def test_a_row_says_where_it_was_clean_or_that_it_is_ready() -> None:
    rows = (
        LibraryRow(title="Never played", ready_words="ready"),
        LibraryRow(title="Clean slowly", fastest_clean_bpm=Fraction(62), ready_words="ready"),
        LibraryRow(title="Clean enough", fastest_clean_bpm=Fraction(195, 2), clean=True),
        LibraryRow(title="For later", ready=False, ready_words="first: Never played, clean at 80"),
    )
    scene = library_scene(library_view(WINDOW, 0, rows=rows))
    words = words_on(scene)
    assert words.count("ready") == 1
    assert {"clean at 62", "clean at 97.5"} <= set(words)


def test_clean_and_half_way_differ_in_shape() -> None:
    def marks(**row: object) -> list[type]:
        rows = (LibraryRow(title="One", **row),)  # type: ignore[arg-type]
        items = library_scene(library_view(WINDOW, 0, rows=rows)).panels[2].items
        return [type(item) for item in items if isinstance(item, Disc | Ring)]

    assert marks() == []
    assert marks(fastest_clean_bpm=Fraction(60)) == [Ring]
    assert marks(fastest_clean_bpm=Fraction(60), clean=True) == [Disc]


@pytest.mark.parametrize("scale", [1.0, 1.5])
def test_what_comes_first_is_said_beside_the_hand_of_the_chosen_one(scale: float) -> None:
    window = replace(WINDOW, text_scale=scale)
    view = library_view(window, 4)
    assert not view.rows[4].ready
    assert any(
        w.startswith("First: Drop-thumb on string 2, clean at 80") for w in words_on(library_scene(view))
    )
    assert not any(w.startswith("First:") for w in words_on(library_scene(library_view(window, 3))))


def test_what_is_not_ready_starts_all_the_same() -> None:
    scene = library_scene(library_view(WINDOW, 4))
    assert scene.actions_for_key("return") == (Action(act=Act.START),)


def test_the_three_levels_of_a_break_stand_side_by_side_and_each_can_be_chosen() -> None:
    scene = library_scene(all_views(1280, 720, ThemeName.ROOM)["library, breaks"])  # type: ignore[arg-type]
    assert scene.actions_for_key("c") == (Action(act=Act.CHOICE, value=1),)
    for at, level in enumerate(("plain", "ornaments", "skips")):
        x, y = where(scene, level)
        assert scene.action_at(x, y - 4) == Action(act=Act.CHOICE, value=at - 1)
    assert "C" in words_on(scene)


def test_the_figure_of_a_chart_is_chosen_by_key_and_by_mouse() -> None:
    scene = library_scene(all_views(1280, 720, ThemeName.ROOM)["library, charts"])  # type: ignore[arg-type]
    choose = Action(act=Act.CHOICE, value=1)
    assert scene.actions_for_key("c") == (choose,)
    assert scene.action_at(*where(scene, "figure:")) == choose


@pytest.mark.parametrize("name", [name for name in all_views(1280, 720, ThemeName.ROOM) if "library" in name])
def test_the_strip_has_eight_keys_at_most_beside_those_that_are_tapped(name: str) -> None:
    scene = all_views(1280, 720, ThemeName.ROOM)[name].scene()
    shown = [cap.label for entry in scene.helps if not entry.rare for cap in entry.caps if cap.label]
    assert len(shown) <= 8


def test_groups_are_named_with_what_is_clean_of_them_and_a_bar_says_what_is_in_view() -> None:
    rows = (
        LibraryRow(title="One", level="plain", clean=True, fastest_clean_bpm=Fraction(90)),
        LibraryRow(title="Two", level="plain"),
        *(LibraryRow(title=f"Skips {n}", level="skips") for n in range(40)),
    )
    scene = library_scene(library_view(WINDOW, 0, rows=rows))
    words = words_on(scene)
    assert {"Plain", "1 of 2 clean", "Skips", "0 of 40 clean", "clean at 90"} <= set(words)

    def thumb_top(selected: int) -> int:
        panel = library_scene(replace(library_view(WINDOW, 0, rows=rows), selected=selected)).panels[2]
        bars = [item for item in panel.items if isinstance(item, Rect) and item.x + item.w > panel.w - 20]
        return min(bars, key=lambda bar: bar.h).y

    assert thumb_top(0) < thumb_top(20) < thumb_top(41)


@pytest.mark.parametrize("scale", [1.0, 1.5])
@pytest.mark.parametrize(("width", "height"), [(1024, 600), (1280, 720), (1920, 1080)])
def test_no_title_and_no_sentence_of_the_library_is_cut(width: int, height: int, scale: float) -> None:
    window = Window(width=width, height=height, text_scale=scale)
    for at in range(4):
        for word in words_on(library_scene(library_view(window, at))):
            assert not word.endswith("…"), word


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (1920, 1080)])
def test_the_words_under_the_preview_are_fourteen_pixels_high_in_a_window_of_720(
    width: int, height: int
) -> None:
    scene = library_scene(library_view(Window(width=width, height=height)))
    pictures = [strip.picture for panel in scene.panels for strip in panel.strips]
    sizes = {item.size for picture in pictures for item in picture.items() if isinstance(item, Text)}
    assert min(sizes) >= 14 * height / 720


def test_what_is_typed_of_a_title_stands_where_it_is_found() -> None:
    scene = library_scene(library_view(WINDOW, 3, finding="dro"))
    assert "title: dro" in words_on(scene)
    assert {use.key for use in scene.keys} >= {"return", "escape", "backspace", "up", "down"}


def test_the_ladder_stands_beside_the_tempo() -> None:
    words = words_on(library_scene(library_view(WINDOW, ladder="homing in")))
    assert any("bpm" in word and word.endswith("ladder homing in") for word in words)


def test_a_figure_has_no_level_to_choose() -> None:
    assert library_scene(library_view(WINDOW)).actions_for_key("c") == ()


def test_an_empty_shelf_says_how_to_add_a_file_and_can_be_left() -> None:
    empty = LibraryView(window=WINDOW, shelf=Shelf.BREAKS, empty_words="Put a break's file into that folder.")
    scene = library_scene(empty)
    assert "Put a break's file into that folder." in words_on(scene)
    assert scene.actions_for_key("tab") == (SHELF,)
    assert scene.actions_for_key("down") == (Action(act=Act.SELECT, value=0),)


def test_what_the_session_suggests_is_chosen_by_key_and_by_mouse() -> None:
    said = "3 minutes here: next Both figures, one to refresh (N)"
    scene = library_scene(library_view(WINDOW, suggestion=said))
    choose = Action(act=Act.NEXT_SUGGESTED)
    assert scene.actions_for_key("n") == (choose,)
    x, y = where(scene, said)
    assert scene.action_at(x - 20, y) == choose


def test_a_break_that_is_due_is_said_and_suggests_nothing_to_play() -> None:
    said = "25 minutes of playing: rest for 5 minutes"
    scene = library_scene(library_view(WINDOW, suggestion=said, break_due=True))
    assert said in words_on(scene)
    assert scene.actions_for_key("n") == ()
    assert scene.actions_for_key("return") == (Action(act=Act.START),)


def test_who_plays_stands_in_the_title() -> None:
    assert "Thumbfall, Ada" in words_on(library_scene(library_view(WINDOW, player="Ada")))
    assert "Thumbfall" in words_on(library_scene(library_view(WINDOW)))


def test_every_other_room_can_be_opened_from_here() -> None:
    scene = library_scene(library_view(WINDOW))
    opened = {key: scene.actions_for_key(key)[0].act for key in "dopkws"}
    assert opened == {
        "d": Act.OPEN_DEMONSTRATION,
        "o": Act.OPEN_PAGE,
        "p": Act.OPEN_PROGRESS,
        "k": Act.OPEN_CLASS,
        "w": Act.OPEN_NAMING,
        "s": Act.OPEN_SETTINGS,
    }


def test_a_tempo_is_told_in_figures_too_and_the_preview_says_how_fast_it_is_played() -> None:
    """A dance of 110 figures a minute clicks 220 beats of 2/4 (common practice, no source)."""
    pattern = replace(titled("Fast", "strike 3, rest, brush, thumb"), playing_bpm=Fraction(220))
    words = words_on(replace(library_view(WINDOW, preview=pattern), bpm=Fraction(220)).scene())
    assert {"220", "bpm, 110 figures"} <= set(words)
    assert any(text.endswith("40 to 120 bpm, played at 220") for text in words)


@pytest.mark.parametrize(("width", "height"), [(1014, 520), (1280, 688), (1280, 720), (1920, 1080)])
def test_what_the_teacher_says_of_a_break_is_not_cut(width: int, height: int) -> None:
    """With two lines before it of what should come first, as many breaks have them."""
    said = "Hum the melody first, then let the hand bring it out of the figure it plays anyway."
    needs = "first: The basic figure across the strings, clean at 100; The shape of the 6-, clean at 80"
    view = library_view(Window(width=width, height=height), 0, shelf=Shelf.BREAKS)
    rows = (LibraryRow(title="One", ready=False, ready_words=needs),)
    assert view.preview is not None
    preview = replace(view.preview, teacher=said)
    words = words_on(library_scene(replace(view, rows=rows, preview=preview, choice=LEVELS)))
    assert said in " ".join(words)


def test_a_long_name_of_an_input_takes_two_lines_and_is_not_cut() -> None:
    said = "MIDI is off: this system offers no MIDI service (neither is there); use the computer's keys"
    window = Window(width=1280, height=720, text_scale=1.5)
    words = words_on(library_scene(replace(library_view(window, 0), input_name=said)))
    assert said in " ".join(words)


def test_a_title_has_the_room_that_nothing_else_takes() -> None:
    title = "Strikes across the strings"
    window = Window(width=1280, height=720, text_scale=1.5)
    rows = (LibraryRow(title="First"), LibraryRow(title=title, ready=False, ready_words="first: First"))
    assert title in words_on(library_scene(library_view(window, 0, rows=rows)))
