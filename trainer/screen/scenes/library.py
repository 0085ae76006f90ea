"""Show the library: three shelves, what stands on the one that is open, and the hand of what is chosen."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.pattern import Pattern
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Polygon, Rect, Ring, Scene, Text
from trainer.screen.keymap import Help, helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.library_preview import LibraryRow, preview_panel
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
    row_background,
    scrolled,
    status_items,
    tempo_unit,
)
from trainer.screen.window import Window

LIST_SHARE = 0.50  # of the window's width
SHELF_ROW = 2.3  # height of the row of shelves, in sizes of the body's text
LIST_ROW = 1.85
PAGE_ROWS = 8


class Shelf(enum.Enum):
    """The shelves of the library; the value is the name shown."""

    FIGURES = "Figures"
    BREAKS = "Breaks"
    CHARTS = "Charts for backup"


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryView:
    """What there is to play, a shelf at a time.

    Attributes:
        shelf: which is shown.
        rows: what stands on it, in order.
        selected: place of the chosen one in ``rows``; ignored when there are none.
        preview: the chosen one as it would be drilled; None for none.
        choice_words: a break's level, or the figure laid over a chart, as it is now; empty for a figure.
        empty_words: how to add a file, for a shelf with nothing on it.
        bpm, passes: what a drill of the chosen one would start with; 0 passes: until stopped.
        player: who plays, empty for nobody named.
        suggestion: what the session says just now; ``break_due`` when that is to take a break.
        input_name: the input in use, in words.
        sound: what can be heard, in a word or two ("sound on", "no sound device").
        pads_help: what the pads do here, in a few words; empty for nothing.
        problems: one sentence for each user file that cannot be read.
    """

    window: Window
    rows: tuple[LibraryRow, ...] = ()
    shelf: Shelf = Shelf.FIGURES
    selected: int = 0
    preview: Pattern | None = None
    choice_words: str = ""
    empty_words: str = "There is nothing here yet; thumbfall patterns names the folder for your own files."
    bpm: Fraction = Fraction(60)
    passes: int = 4
    player: str = ""
    suggestion: str = ""
    break_due: bool = False
    pads_help: str = ""
    input_name: str = ""
    sound: str = ""
    problems: tuple[str, ...] = ()

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return library_scene(self)


def library_scene(view: LibraryView) -> Scene:
    """Return the library's scene."""
    helps = _helps(view)
    frame = Frame.of(view.window, helps=helps)
    passes = str(view.passes) if view.passes else "no end"
    values = (Value("passes", passes, ""), Value("", bpm_words(view.bpm), tempo_unit(view.preview, view.bpm)))
    header = header_panel(frame, f"Thumbfall, {view.player}" if view.player else "Thumbfall", values)
    shelves, shelf_hits = _shelves(frame, view)
    top = frame.body_top + shelves.h
    width = round(LIST_SHARE * frame.window.width)
    rows, row_hits = _rows(frame, view, top, width)
    row = view.rows[view.selected] if view.selected < len(view.rows) else None
    preview, choice_hits = preview_panel(frame, view.preview, view.choice_words, row, top, width)
    body = (header, shelves, rows, preview)
    hits = (*shelf_hits, *row_hits, *choice_hits)
    return page(frame, body, hits, helps, status=_note(frame, view), remark=view.pads_help)


def _helps(view: LibraryView) -> tuple[Help, ...]:
    last = max(len(view.rows) - 1, 0)
    states = {"breaks": view.shelf is Shelf.BREAKS, "charts": view.shelf is Shelf.CHARTS}
    states["suggested"] = bool(view.suggestion) and not view.break_due
    return helps_of("library", states=states, actions=walked(view.selected, last, page=PAGE_ROWS))


def _shelves(frame: Frame, view: LibraryView) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the row of shelves, with what the session says at its end."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.body
    top, high = frame.body_top, round(SHELF_ROW * size)
    baseline = middle_baseline(top, high, size)
    items: list[Item] = []
    hits: list[Hit] = []
    x = frame.left
    names = list(Shelf)
    for at, shelf in enumerate(names):
        is_open = shelf is view.shelf
        wide = text_width(shelf.value, size, bold=True)
        items.append(
            Text(x, baseline, shelf.value, size, theme.ink if is_open else theme.muted, bold=is_open)
        )
        if is_open:
            # A line under the open one, so that neither weight nor colour is needed.
            line = sizes.px(5)
            items.append(Rect(x, baseline + round(0.36 * size), wide, line, theme.focus, line // 2))
        action = Action(act=Act.SHELF, value=at - names.index(view.shelf))
        hits.append(Hit(x - sizes.gap // 2, top, wide + sizes.gap, high, action))
        x += wide + round(1.6 * size)
    said, said_hits = _said(frame, view, x, top, high)
    items.extend(said)
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items)), (*hits, *said_hits)


def _said(frame: Frame, view: LibraryView, x: int, top: int, high: int) -> tuple[list[Item], list[Hit]]:
    """Return what the session says, to the right of ``x``: in one line, or in two smaller ones."""
    if not view.suggestion:
        return [], []
    theme, sizes = frame.theme, frame.sizes
    sign = round(1.2 * sizes.body) if view.break_due else 0
    room = frame.right - x - sign
    size = sizes.body
    lines: tuple[str, ...] = (view.suggestion,)
    if text_width(view.suggestion, size) > room:
        size = sizes.small
        lines = wrapped(view.suggestion, size, room, 2)
    line_high = min(round(1.25 * size), high // len(lines))
    first = top + (high - line_high * len(lines)) / 2
    items: list[Item] = [
        Text(
            frame.right,
            middle_baseline(first + at * line_high, line_high, size),
            line,
            size,
            theme.ink,
            Anchor.RIGHT,
        )
        for at, line in enumerate(lines)
    ]
    wide = max(text_width(line, size) for line in lines) + sign
    if view.break_due:
        r = 0.36 * sizes.body
        centre = frame.right - wide + r
        items += [
            Ring(centre, top + high / 2, r, 0.3 * r, theme.focus),
            Disc(centre, top + high / 2, 0.3 * r, theme.focus),
        ]
        return items, []
    return items, [Hit(frame.right - wide, top, wide, high, Action(act=Act.NEXT_SUGGESTED))]


def _rows(frame: Frame, view: LibraryView, top: int, width: int) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    high = frame.note_top - top
    row_high = round(LIST_ROW * sizes.body)
    shown = max(1, high // row_high)
    items: list[Item] = []
    hits: list[Hit] = []
    if not view.rows:
        line_high = round(1.5 * sizes.body)
        room = width - frame.left - sizes.gap
        lines = wrapped(view.empty_words, sizes.body, room, max(1, high // line_high - 1))
        for at, line in enumerate(lines):
            items.append(Text(frame.left, top + (at + 1) * line_high, line, sizes.body, theme.ink))
    first = scrolled(len(view.rows), shown, view.selected)
    for at, row in enumerate(view.rows[first : first + shown]):
        index, y = first + at, top + at * row_high
        chosen = index == view.selected
        x = frame.left - sizes.px(20)
        if chosen:
            items.extend(row_background(frame, x, y, width - x - sizes.gap // 2, row_high))
        # The level is said where it changes, so that titles have the room.
        above = view.rows[index - 1].level if at else ""
        level = row.level if row.level != above else ""
        items.extend(_row_items(frame, row, level, y, row_high, width - sizes.gap, bold=chosen))
        action = Action(act=Act.START) if chosen else Action(act=Act.SELECT, value=index)
        hits.append(Hit(x, y, width - x, row_high, action))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


def _row_items(
    frame: Frame, row: LibraryRow, level: str, y: int, high: int, right: int, *, bold: bool
) -> list[Item]:
    theme, sizes = frame.theme, frame.sizes
    body, small = sizes.body, sizes.small
    baseline = middle_baseline(y, high, body)
    items: list[Item] = []
    title_x = frame.left
    if row.step_words:
        step_right = frame.left + text_width("00", body) + sizes.px(8)
        items.append(Text(step_right, baseline, row.step_words, body, theme.muted, Anchor.RIGHT))
        title_x = step_right + sizes.px(24)
    x = title_end = right - sizes.px(12)
    for words, widest in ((_state_words(row), "clean at 000.0"), (level, level)):
        if words:
            items.append(Text(x, baseline, words, small, theme.muted, Anchor.RIGHT))
        if widest:
            x -= max(text_width(widest, small), text_width(words, small)) + sizes.px(22)
        title_end = x if words else title_end
    # A disc for clean enough, an empty ring for clean somewhere below: the shape says it, not the colour.
    radius = 0.26 * body
    if row.clean:
        items.append(Disc(title_x + radius, y + high / 2, radius, theme.in_time))
    elif row.fastest_clean_bpm is not None:
        items.append(Ring(title_x + radius, y + high / 2, radius, 0.3 * radius, theme.ink))
    title_x += round(3.7 * radius)
    title = shortened(row.title, body, title_end - title_x, bold=bold)
    items.append(Text(title_x, baseline, title, body, theme.ink, bold=bold))
    return items


def _state_words(row: LibraryRow) -> str:
    if row.fastest_clean_bpm is not None:
        return f"clean at {bpm_words(row.fastest_clean_bpm)}"
    return "ready" if row.ready else ""


def _note(frame: Frame, view: LibraryView) -> tuple[Item, ...]:
    if not view.problems:
        return status_items(frame, view.input_name, 0.0, view.sound)
    theme, size = frame.theme, frame.sizes.small
    top, high = frame.note_top, frame.help_top - frame.note_top
    r = 0.42 * size
    y = top + high / 2
    sign = Polygon(
        ((frame.left + r, y - r), (frame.left + 2 * r, y + 0.8 * r), (frame.left, y + 0.8 * r)), theme.late
    )
    more = len(view.problems) - 1
    more_words = f"and {more} more" if more else ""
    x = frame.left + round(3.5 * r)
    room = frame.right - x - (text_width(more_words, size) + frame.sizes.gap if more else 0)
    words = shortened(view.problems[0], size, room)
    baseline = middle_baseline(top, high, size)
    return (
        sign,
        Text(x, baseline, words, size, theme.ink),
        Text(frame.right, baseline, more_words, size, theme.muted, Anchor.RIGHT),
    )
