"""Show the library: three shelves, what stands on the one that is open, and the hand of what is chosen."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.pattern import Pattern
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Polygon, Rect, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.library_list import list_panel
from trainer.screen.scenes.library_preview import LibraryRow, TuneChoice, preview_panel
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
    status_items,
    tempo_unit,
)
from trainer.screen.window import Window

LIST_SHARE = 0.48  # of the window's width
SHELF_ROW = 2.3  # height of the row of shelves, in sizes of the body's text
PAGE_ROWS = 8
TRACK_SHARE = 0.5  # of the note row, at most, for the player's own track


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
        choice: the levels of a break, or the figure laid over a chart; None for a figure.
        finding: what has been typed to find a title; None while nobody types.
        ladder: the ladder's name; empty for none.
        empty_words: how to add a file, for a shelf with nothing on it.
        bpm, passes: what a drill of the chosen one would start with; 0 passes: until stopped.
        player: who plays, empty for nobody named.
        suggestion: what the session says just now; ``break_due`` when that is to take a break.
        input_name: the input in use, in words.
        sound: what can be heard, in a word or two ("sound on", "no sound device").
        track: the player's own track with the tempo that is heard, which drills then have; empty for none.
        pads_help: what the pads do here, in a few words; empty for nothing.
        problems: one sentence for each user file that cannot be read.
    """

    window: Window
    rows: tuple[LibraryRow, ...] = ()
    shelf: Shelf = Shelf.FIGURES
    selected: int = 0
    preview: Pattern | None = None
    choice: TuneChoice | None = None
    finding: str | None = None
    ladder: str = ""
    empty_words: str = "There is nothing here yet; thumbfall patterns names the folder for your own files."
    bpm: Fraction = Fraction(60)
    passes: int = 4
    player: str = ""
    suggestion: str = ""
    break_due: bool = False
    pads_help: str = ""
    input_name: str = ""
    sound: str = ""
    track: str = ""
    problems: tuple[str, ...] = ()

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return library_scene(self)


def library_scene(view: LibraryView) -> Scene:
    """Return the library's scene."""
    helps = _helps(view)
    frame = Frame.of(view.window, helps=helps)
    header = _header(frame, view)
    shelves, shelf_hits = _shelves(frame, view)
    top = frame.body_top + shelves.h
    width = round(LIST_SHARE * frame.window.width)
    if view.rows:
        rows, row_hits = list_panel(frame, view.rows, view.selected, view.finding, top, width)
    else:
        rows, row_hits = _empty(frame, view, top, width), ()
    row = view.rows[view.selected] if view.selected < len(view.rows) else None
    preview, choice_hits = preview_panel(frame, view.preview, view.choice, row, top, width)
    body = (header, shelves, rows, preview)
    hits = (*shelf_hits, *row_hits, *choice_hits)
    return page(frame, body, hits, helps, status=_note(frame, view), remark=view.pads_help)


def _header(frame: Frame, view: LibraryView) -> Panel:
    """Return the header: passes, and the tempo with its ladder beside it, in as many words as have room."""
    title = f"Thumbfall, {view.player}" if view.player else "Thumbfall"
    passes = Value("passes", str(view.passes) if view.passes else "no end", "")
    ladder = f"ladder {view.ladder}" if view.ladder else ""
    figures = tempo_unit(view.preview, view.bpm)
    units = (", ".join(filter(None, (figures, ladder))), ", ".join(filter(None, ("bpm", ladder))), "bpm")
    sizes = frame.sizes
    room = frame.right - frame.left - text_width(title, sizes.title, bold=True) - 5 * sizes.gap
    room -= text_width(f"{passes.value}{bpm_words(view.bpm)}", sizes.large, bold=True)
    room -= text_width("passes", sizes.body)
    unit = next((each for each in units if text_width(each, sizes.body) <= room), "bpm")
    return header_panel(frame, title, (passes, Value("", bpm_words(view.bpm), unit)))


def _helps(view: LibraryView) -> tuple[Help, ...]:
    last = max(len(view.rows) - 1, 0)
    states = {"breaks": view.shelf is Shelf.BREAKS, "charts": view.shelf is Shelf.CHARTS}
    states["suggested"] = bool(view.suggestion) and not view.break_due
    scene = "library" if view.finding is None else "library, finding"
    return helps_of(scene, states=states, actions=walked(view.selected, last, page=PAGE_ROWS))


def _shelves(frame: Frame, view: LibraryView) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the row of shelves, with what the session says at its end."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.body
    top, high = frame.body_top, round(SHELF_ROW * size)
    baseline = middle_baseline(top, high, size)
    items: list[Item] = []
    hits: list[Hit] = []
    x = frame.left
    small = sizes.small
    items.extend(cap_items("Tab", theme, sizes, x, top, high, small))
    x += cap_width("Tab", small) + round(0.7 * size)
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


def _empty(frame: Frame, view: LibraryView, top: int, width: int) -> Panel:
    """Return what stands on a shelf with nothing on it: how to put something there."""
    theme, sizes = frame.theme, frame.sizes
    high = frame.note_top - top
    line_high = round(1.5 * sizes.body)
    room = width - frame.left - sizes.gap
    lines = wrapped(view.empty_words, sizes.body, room, max(1, high // line_high - 1))
    items = tuple(
        Text(frame.left, top + (at + 1) * line_high, line, sizes.body, theme.ink)
        for at, line in enumerate(lines)
    )
    return Panel(0, top, width, high, theme.wall, items)


def _note(frame: Frame, view: LibraryView) -> tuple[Item, ...]:
    if not view.problems:
        room = round(TRACK_SHARE * (frame.right - frame.left))
        track = f"{shortened(view.track, frame.sizes.small, room)}    " if view.track else ""
        return status_items(frame, view.input_name, 0.0, f"{track}{view.sound}")
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
