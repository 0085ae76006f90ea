"""Every scene, in its usual states and its fullest ones, in three window sizes."""

import dataclasses
import itertools
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.judging.helpers import pattern_of
from tests.screen.views import (
    BOTH,
    SIZES,
    all_views,
    drill_view,
    every_kind_of_view,
    fresh_views,
    library_view,
    review_view,
    settings_view,
    titled,
)
from trainer.judging.take import Tap, Verdict
from trainer.music.strokes import Hand
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Disc, Item, Panel, Ring, Scene, Text, View
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.scenes.library import library_scene
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.review import review_scene
from trainer.screen.scenes.setting_rows import groups_of, rows_of
from trainer.screen.scenes.settings import settings_scene
from trainer.screen.theme import ROOM, Sizes, ThemeName
from trainer.screen.window import Window

NAMES = tuple(all_views(1280, 720, ThemeName.ROOM))
WINDOW = Window(width=1920, height=1080)


@pytest.fixture(scope="module")
def views() -> dict[tuple[int, int], Mapping[str, View]]:
    return {size: all_views(*size, ThemeName.ROOM) for size in SIZES}


def test_every_scene_that_can_be_shown_is_among_the_views() -> None:
    """If this fails there is a new scene: add its views to tests/screen/views.py, and all is tested of it."""
    shown = {type(view) for view in all_views(1280, 720, ThemeName.ROOM).values()}
    assert shown == every_kind_of_view()


def texts_of(scene: Scene) -> list[tuple[Panel, Text]]:
    return [(panel, item) for panel in scene.panels for item in panel.items if isinstance(item, Text)]


@pytest.fixture(scope="module")
def measure() -> Callable[[Text], tuple[int, int]]:
    """Where a text's ink begins and how wide it is, by the painter's own font."""
    pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
    from trainer.screen.painter import Painter

    painter = Painter(pygame.Surface((1, 1)), Path(__file__).parents[2] / "assets" / "fonts")
    return lambda text: (painter.text_size(text)[0], painter.text_size(text)[2])


def faults_of_text(scene: Scene, measure: Callable[[Text], tuple[int, int]]) -> list[str]:
    """Say which texts leave their panel or touch another."""
    boxes: list[tuple[float, float, float, float, str]] = []
    faults = []
    for panel, text in texts_of(scene):
        if not text.text:
            continue
        x, w = measure(text)
        # From the ascender to the descender; the font's own box holds the line gap too.
        top = text.y - round(0.76 * text.size)
        left, right, bottom = x, x + w, top + round(0.98 * text.size)
        if left < panel.x or right > panel.x + panel.w or top < panel.y or bottom > panel.y + panel.h:
            faults.append(f"{text.text!r} leaves its panel")
        faults.extend(
            f"{text.text!r} touches {other!r}"
            for x0, y0, x1, y1, other in boxes
            if left < x1 and x0 < right and top < y1 and y0 < bottom
        )
        boxes.append((left, top, right, bottom, text.text))
    assert boxes
    return faults


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", NAMES)
def test_no_text_leaves_its_panel_or_touches_another(
    name: str,
    size: tuple[int, int],
    views: dict[tuple[int, int], Mapping[str, View]],
    measure: Callable[[Text], tuple[int, int]],
) -> None:
    assert faults_of_text(views[size][name].scene(), measure) == []


@pytest.mark.parametrize("scale", [1.25, 1.5])
@pytest.mark.parametrize("name", NAMES)
def test_no_text_leaves_its_panel_when_it_is_larger(
    name: str,
    scale: float,
    views: dict[tuple[int, int], Mapping[str, View]],
    measure: Callable[[Text], tuple[int, int]],
) -> None:
    view = views[1280, 720][name]
    larger = replace(view, window=replace(view.window, text_scale=scale))
    assert faults_of_text(larger.scene(), measure) == []


@pytest.mark.parametrize("scale", [1.0, 1.25, 1.5])
@pytest.mark.parametrize("name", NAMES)
def test_no_key_of_the_help_strip_is_left_out(
    name: str, scale: float, views: dict[tuple[int, int], Mapping[str, View]]
) -> None:
    """What the strip shows as a key can also be clicked there; larger text must not cost any."""
    view = views[1280, 720][name]
    usual, larger = (
        replace(view, window=replace(view.window, width=width, text_scale=text)).scene()
        for width, text in ((4000, 1.0), (1280, scale))
    )
    assert set(strip_labels(larger)) >= set(strip_labels(usual))


def strip_labels(scene: Scene) -> list[str]:
    """The keys that the help strip shows: the bold words in the last panel."""
    return [item.text for item in scene.panels[-1].items if isinstance(item, Text) and item.bold]


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", NAMES)
def test_panels_cover_the_window_and_do_not_overlap(
    name: str, size: tuple[int, int], views: dict[tuple[int, int], Mapping[str, View]]
) -> None:
    panels = [p for p in views[size][name].scene().panels if p.w * p.h]
    assert sum(p.w * p.h for p in panels) == size[0] * size[1]
    for at, a in enumerate(panels):
        for b in panels[at + 1 :]:
            assert a.x + a.w <= b.x or b.x + b.w <= a.x or a.y + a.h <= b.y or b.y + b.h <= a.y


def test_a_scene_is_a_function_of_its_view() -> None:
    others = fresh_views(1280, 720, ThemeName.PROJECTOR)
    for name, view in all_views(1280, 720, ThemeName.PROJECTOR).items():
        assert view.scene() == others[name].scene(), name


def test_scenes_theme_and_draw_list_need_no_pygame() -> None:
    code = (
        "import sys; sys.modules['pygame'] = None\n"
        "import trainer.screen.scenes.drill, trainer.screen.theme, trainer.screen.draw, trainer.screen.icon\n"
        "print('fine')"
    )
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False)
    assert done.stdout == "fine\n", done.stderr


# The drill


def test_the_same_beat_of_the_next_pass_is_the_same_picture() -> None:
    both = titled("Both figures", *BOTH)
    pictures = {
        song_s: {s.picture for s in drill_scene(drill_view(WINDOW, both, song_s)).panels[2].strips}
        for song_s in (3.9, 6.9)
    }
    # One pass of four beats at 80 lasts 3 s: the window shows the same beats of two passes.
    assert pictures[3.9] == pictures[6.9]


def test_strips_join_without_a_gap() -> None:
    strips = drill_scene(drill_view(WINDOW, titled("Both", *BOTH), 2.345)).panels[2].strips
    assert all(a.x + a.w == b.x for a, b in itertools.pairwise(strips))
    sheet = drill_scene(drill_view(WINDOW, titled("Both", *BOTH), 2.345)).panels[2]
    assert strips[0].x <= sheet.x
    assert strips[-1].x + strips[-1].w >= sheet.x + sheet.w


def late_marks(late_s: float) -> tuple[float, float]:
    """The pixel of a stroke and of a tap that much later, from two scenes of the same moment."""
    pattern = pattern_of("strike 3, rest, strike 3, rest")
    found = []
    for shift in (0.0, late_s):
        view = drill_view(WINDOW, pattern, 1.4, bpm=60)
        tap = Tap(song_s=1.0 + shift, hand=Hand.NAIL)
        scene = drill_scene(dataclasses.replace(view, taps=(tap,), outcomes=(), strays=()))
        found.append(next(i.x for i in scene.panels[2].items if isinstance(i, Disc) and i.colour == ROOM.ink))
    return found[0], found[1]


@pytest.mark.parametrize("late_s", [-0.05, 0.02, 0.1])
def test_a_tap_is_drawn_to_scale_left_when_early_and_right_when_late(late_s: float) -> None:
    """At 60 bpm a beat lasts a second, so the distance is the beat's length times the seconds."""
    stroke, tap = late_marks(late_s)
    view = drill_view(WINDOW, pattern_of("strike 3, rest, strike 3, rest"), 1.4, bpm=60)
    beat_px = drill_scene(view).panels[2].strips[0].w
    assert tap - stroke == pytest.approx(late_s * beat_px, abs=1e-6)


def test_the_count_in_shows_its_number_and_playing_does_not() -> None:
    both = titled("Both", *BOTH)
    huge = Sizes.of(WINDOW.width, WINDOW.height).huge
    counting, playing = (
        [t.text for _, t in texts_of(drill_scene(drill_view(WINDOW, both, song_s))) if t.size == huge]
        for song_s in (-1.7, 1.0)
    )
    assert drill_view(WINDOW, both, -1.7).count == 2
    assert (counting, playing) == (["2"], [])


def test_the_new_tempo_is_announced() -> None:
    both = titled("Both", *BOTH)
    scene = drill_scene(drill_view(WINDOW, both, 1.0, next_bpm=Fraction(95)))
    assert any("then 95" in text.text for _, text in texts_of(scene))


def _without_colour(item: Item) -> tuple[object, ...]:
    return tuple(getattr(item, name) for name in type(item).__slots__ if name != "colour")


def test_marks_differ_in_shape_not_only_in_colour() -> None:
    """The same mark in one colour: no two verdicts may look alike."""
    shapes = set()
    for verdict in Verdict:
        items = mark(verdict, 0.0, 0.0, 10.0, ROOM)
        shapes.add(tuple((type(item).__name__, *_without_colour(item)) for item in items))
    assert len(shapes) == len(Verdict)


# Keys and places to click


@pytest.mark.parametrize("name", NAMES)
def test_every_key_and_every_hit_lies_in_the_window_and_asks_for_something(name: str) -> None:
    scene = all_views(1280, 720, ThemeName.ROOM)[name].scene()
    keys = [use.key for use in scene.keys]
    assert len(keys) == len(set(keys))
    assert "escape" in keys
    assert "f11" in keys
    for hit in scene.hits:
        assert hit.x >= 0
        assert hit.x + hit.w <= 1280
        assert hit.y >= 0
        assert hit.y + hit.h <= 720


def test_a_click_on_a_row_chooses_it_and_on_the_chosen_one_starts() -> None:
    scene = library_scene(library_view(WINDOW, 3))
    rows = [hit for hit in scene.hits if hit.action.act in (Act.SELECT, Act.START) and hit.x < 100][:13]
    by_click = [scene.action_at(hit.x + 5, hit.y + 5) for hit in rows]
    assert by_click[3] == Action(act=Act.START)
    assert by_click[4] == Action(act=Act.SELECT, value=4)


def test_the_chosen_pattern_is_always_in_view() -> None:
    for selected in (0, 1, 12, 31, 32):
        view = library_view(WINDOW, selected)
        texts = [t for _, t in texts_of(library_scene(view))]
        assert any(t.bold and t.text.startswith(view.rows[selected].title[:8]) for t in texts)


def test_arrow_keys_stop_at_the_ends_of_the_course() -> None:
    top = library_scene(library_view(WINDOW, 0))
    bottom = library_scene(library_view(WINDOW, 32))
    assert top.actions_for_key("up") == (Action(act=Act.SELECT, value=0),)
    assert bottom.actions_for_key("down") == (Action(act=Act.SELECT, value=32),)


def test_a_click_on_the_banner_dismisses_it() -> None:
    scene = all_views(1920, 1080, ThemeName.ROOM)["library, first start"].scene()
    note = scene.panels[-2]
    assert scene.action_at(note.x + note.w // 2, note.y + note.h // 2) == Action(act=Act.DISMISS)


def test_every_settings_row_can_be_reached_and_is_in_view_when_chosen() -> None:
    rows = rows_of(settings_view(WINDOW))
    for focus, row in enumerate(rows):
        small = Window(width=1280, height=720)
        scene = settings_scene(settings_view(small, focus))
        assert scene.actions_for_key("return") == (row.enter,)
        shown = next(group.name for group in groups_of(settings_view(small, focus)) if group.holds(focus))
        assert any(t.bold and t.text == shown for _, t in texts_of(scene))
        assert any(t.bold and t.text[:6] == row.value[:6] for _, t in texts_of(scene))


# The review


def test_a_skip_kept_silent_has_its_own_words_and_ring() -> None:
    view = review_view(WINDOW, titled("Both", *BOTH), 8)
    scene = review_scene(view)
    skip = next(slot for slot in view.slots if slot.stroke.kind.value == "skip")
    kept = dict(skip.counts)[Verdict.KEPT_SILENT]
    assert any(text.text == f"silent {kept} of 8" for _, text in texts_of(scene))
    rings = [item for panel in scene.panels for item in panel.items if isinstance(item, Ring)]
    assert any(ring.colour == ROOM.in_time for ring in rings)


def test_a_slot_that_nobody_played_says_so_and_shows_no_mean() -> None:
    view = review_view(WINDOW, titled("Both", *BOTH), 1)
    words = [text.text for _, text in texts_of(review_scene(view))]
    for slot in view.slots:
        if slot.stroke.kind.sounds and slot.mean_s is None:
            assert "not played" in words
    assert all("nan" not in word for word in words)


def test_at_most_three_sentences_of_advice_are_shown() -> None:
    one = review_scene(
        review_view(WINDOW, titled("Both", *BOTH), 2, advice=("One.", "Two.", "Three.", "Four."))
    )
    words = [text.text for _, text in texts_of(one)]
    assert "Three." in words
    assert "Four." not in words
