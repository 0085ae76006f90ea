"""The scene of a track: all of it inside the window, and the same by keys and by clicks."""

from dataclasses import replace

import pytest

from trainer.screen.actions import Act
from trainer.screen.draw import Anchor, Scene, Text
from trainer.screen.lettering import text_width
from trainer.screen.scenes.track import TrackRow, TrackView, clock_words
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

ROWS = (
    TrackRow(label="File", value="porch-night.mp3  3:07.4", prompt="write or paste its path"),
    TrackRow(label="Beats a minute", value="97.312", prompt="type it, or tap"),
    TrackRow(label="Tap along", value=""),
    TrackRow(label="Begin with bar", value="17 of 148", steps=True, strides=True),
    TrackRow(label="Volume", value="7", steps=True),
)
LONG = "/home/somebody/Music/" + "a very long folder name/" * 8 + "porch-night.mp3"
FOUND = (
    "97.31 beats a minute, give or take 0.05; beat 1 at 3.254 s, give or take 4 ms "
    "(24 taps, 1 left out, 12 ms around an even beat).",
    "At the end of the track the beat may be off by 99 ms; more taps make it less.",
)
SIZES = [(1280, 720, 1.0), (1280, 720, 1.5), (1920, 1080, 1.0), (3840, 2160, 1.5)]


def views(width: int, height: int, scale: float) -> dict[str, TrackView]:
    window = Window(width=width, height=height, theme=ThemeName.ROOM, text_scale=scale)
    plain = TrackView(
        window=window, title="porch-night.mp3", rows=ROWS, input_name="Computer keys", sound="sound on"
    )
    unusable = tuple(replace(row, value="", usable=row.label == "File") for row in ROWS)
    return {
        "no track": replace(plain, title="", rows=unusable, typed=""),
        "writing": replace(plain, typed=LONG, enter_words="take it", sentences=("It cannot be read.",)),
        "on a bar": replace(plain, focus=3),
        "on the volume": replace(plain, focus=4),
        "tapping": replace(plain, listening=True, taps=24, place_s=81.3, sentences=FOUND, can_use=True),
        "checking": replace(plain, checking=True, place_s=7.0),
        "a long name": replace(plain, title=LONG),
    }


NAMES = tuple(views(1280, 720, 1.0))


@pytest.mark.parametrize(("width", "height", "scale"), SIZES)
@pytest.mark.parametrize("name", NAMES)
def test_every_word_stands_inside_the_window_and_its_own_panel(
    name: str, width: int, height: int, scale: float
) -> None:
    scene = views(width, height, scale)[name].scene()
    for panel in scene.panels:
        for item in panel.items:
            if isinstance(item, Text):
                wide = text_width(item.text, item.size, bold=item.bold)
                left = {Anchor.LEFT: item.x, Anchor.RIGHT: item.x - wide}.get(item.anchor, item.x - wide / 2)
                assert left >= 0
                assert left + wide <= width
                assert panel.y <= item.y - 0.7 * item.size
                assert item.y <= panel.y + panel.h


def by_keys(scene: Scene) -> set[tuple[Act, int]]:
    rare = {cap.asks for entry in scene.helps if entry.rare for cap in entry.caps}  # listed, not in the strip
    return {
        (use.action.act, use.action.value)
        for use in scene.keys
        if use.action.act is not Act.SELECT and use.action not in rare
    }


def by_clicks(scene: Scene) -> set[tuple[Act, int]]:
    actions = [scene.action_at(hit.x + hit.w // 2, hit.y + hit.h // 2) for hit in scene.hits]
    return {(a.act, a.value) for a in actions if a is not None and a.act is not Act.SELECT}


@pytest.mark.parametrize("scale", [1.0, 1.5])
@pytest.mark.parametrize("name", NAMES)
def test_keys_and_mouse_can_do_the_same(name: str, scale: float) -> None:
    scene = views(1280, 720, scale)[name].scene()
    assert by_keys(scene) == by_clicks(scene)


def test_what_can_be_done_fits_what_is_done() -> None:
    found = {name: by_keys(view.scene()) for name, view in views(1280, 720, 1.0).items()}
    assert (Act.USE, 0) in found["tapping"]
    assert (Act.BACK, 0) not in found["tapping"]
    assert (Act.TRACK_STEP, 8) in found["on a bar"]
    assert (Act.TRACK_STEP, 8) not in found["on the volume"]
    assert (Act.REMOVE, 0) not in found["no track"]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.0, "0:00.0"), (7.04, "0:07.0"), (59.96, "1:00.0"), (187.4, "3:07.4"), (-1.0, "0:00.0")],
)
def test_a_place_is_read_in_minutes_seconds_and_tenths(seconds: float, words: str) -> None:
    assert clock_words(seconds) == words
