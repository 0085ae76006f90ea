"""Show a folder to choose a sound file from: what was used last, folders, and the files in it."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Hit, Item, Panel, Polygon, Rect, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import (
    Frame,
    header_panel,
    middle_baseline,
    page,
    row_background,
    scrolled,
)
from trainer.screen.window import Window

EMPTY = "There is no sound file here: WAV, FLAC, Ogg or MP3. A file can also be dropped on the window."


class FileKind(enum.Enum):
    """What a row stands for; the value is the word beside it."""

    RECENT = "used before"
    UP = ""
    FOLDER = "folder"
    SOUND = "sound"


@dataclass(frozen=True, slots=True, kw_only=True)
class FileRow:
    """One thing that can be chosen."""

    name: str
    kind: FileKind


@dataclass(frozen=True, slots=True, kw_only=True)
class FilesView:
    """A folder as it is now.

    Attributes:
        folder: its path.
        rows: what can be chosen; ``focus`` which is marked.
        typed: the letters that led to it.
        problem: why another folder cannot be shown; empty when it can.
    """

    window: Window
    folder: str
    rows: tuple[FileRow, ...]
    focus: int = 0
    typed: str = ""
    problem: str = ""

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return files_scene(self)


def files_scene(view: FilesView) -> Scene:
    """Return a folder's scene."""
    frame = Frame.of(view.window, helps=_helps(view, 1))
    sizes = frame.sizes
    row_high = round(1.75 * sizes.body)
    top = frame.body_top + row_high
    shown = max(1, (frame.note_top - top) // row_high)
    helps = _helps(view, shown)
    header = header_panel(frame, "Choose a track", ())
    place = _place(frame, view, frame.body_top, row_high)
    table, hits = _table(frame, view, top, row_high, shown)
    return page(frame, (header, place, table), hits, helps, status=_status(frame, view))


def _helps(view: FilesView, shown: int) -> tuple[Help, ...]:
    actions = walked(view.focus, len(view.rows) - 1, page=shown) if view.rows else {}
    return helps_of("files", actions=actions)


def _place(frame: Frame, view: FilesView, top: int, high: int) -> Panel:
    """Return the folder's path; of a long one the end, which says most."""
    size, room = frame.sizes.body, frame.right - frame.left
    words = view.folder
    while len(words) > 2 and text_width(words, size) > room:
        words = "…" + words[2:]
    text = Text(frame.left, middle_baseline(top, high, size), words, size, frame.theme.muted)
    return Panel(0, top, frame.window.width, high, frame.theme.wall, (text,))


def _table(
    frame: Frame, view: FilesView, top: int, row_high: int, shown: int
) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    size = sizes.body
    x, wide = frame.left - sizes.px(20), frame.right - frame.left + sizes.px(20)
    first = scrolled(len(view.rows), shown, view.focus)
    items: list[Item] = []
    hits: list[Hit] = []
    kinds = max(text_width(kind.value, sizes.small) for kind in FileKind)
    for at, row in enumerate(view.rows[first : first + shown]):
        y, here = top + at * row_high, first + at == view.focus
        if here:
            items.extend(row_background(frame, x, y, wide, row_high))
        baseline = middle_baseline(y, row_high, size)
        items.extend(_sign(frame, row.kind, frame.left, y + row_high / 2))
        left = frame.left + round(1.5 * size)
        room = frame.right - left - kinds - 2 * sizes.gap
        items.append(
            Text(left, baseline, shortened(row.name, size, room, bold=here), size, theme.ink, bold=here)
        )
        if row.kind.value:
            right = frame.right - sizes.gap
            items.append(Text(right, baseline, row.kind.value, sizes.small, theme.muted, Anchor.RIGHT))
        action = Action(act=Act.START) if here else Action(act=Act.SELECT, value=first + at)
        hits.append(Hit(x, y, wide, row_high, action))
    if len(view.rows) > shown:
        items.extend(_scroll_bar(frame, top, shown * row_high, first, shown, len(view.rows)))
    panel = Panel(0, top, frame.window.width, frame.note_top - top, theme.wall, tuple(items))
    return panel, tuple(hits)


def _sign(frame: Frame, kind: FileKind, x: float, y: float) -> list[Item]:
    """Return a small sign before a name: a folder's tab, a note of sound, or a way up."""
    theme, s = frame.theme, 0.36 * frame.sizes.body
    if kind is FileKind.UP:
        return [Polygon(((x, y + 0.6 * s), (x + s, y - 0.8 * s), (x + 2 * s, y + 0.6 * s)), theme.muted)]
    if kind is FileKind.FOLDER:
        tab = Rect(round(x), round(y - s), round(0.9 * s), round(0.6 * s), theme.muted)
        return [tab, Rect(round(x), round(y - 0.6 * s), round(2 * s), round(1.5 * s), theme.muted)]
    bars = ((0.0, 0.5), (0.7, 1.0), (1.4, 0.35))
    return [
        Rect(round(x + at * s), round(y - high * s), max(2, round(0.4 * s)), round(2 * high * s), theme.ink)
        for at, high in bars
    ]


def _scroll_bar(frame: Frame, top: int, high: int, first: int, shown: int, count: int) -> tuple[Item, ...]:
    """Return what says how much of the folder is seen."""
    theme, wide = frame.theme, frame.sizes.px(8)
    x = frame.window.width - frame.sizes.px(22)
    return (
        Rect(x, top, wide, high, theme.raised, wide // 2),
        Rect(x, top + high * first // count, wide, max(wide, high * shown // count), theme.muted, wide // 2),
    )


def _status(frame: Frame, view: FilesView) -> tuple[Item, ...]:
    size = frame.sizes.small
    words = view.problem or (f"Names that begin with {view.typed}" if view.typed else "")
    if not words:
        no_sound = all(row.kind in (FileKind.UP, FileKind.FOLDER) for row in view.rows)
        words = EMPTY if no_sound else "Type the first letters of a name to go to it."
    line = wrapped(words, size, frame.right - frame.left, 1)[0]
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    return (Text(frame.left, baseline, line, size, frame.theme.muted),)
