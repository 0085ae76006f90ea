"""Show several players on one sheet: who touches which pad, a row of marks for each, what it came to."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.practice.seats import Seats
from trainer.screen.draw import Anchor, Disc, Item, Panel, Ring, Scene, Text
from trainer.screen.keymap import Help, helps_of
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.moving_sheet import sheet_panels
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
    status_items,
)
from trainer.screen.window import Window


@dataclass(frozen=True, slots=True, kw_only=True)
class TogetherView:
    """Several players at once.

    Attributes:
        seats: who plays on what.
        drill: the sheet with a row for each; None while pads are given out.
        results: what each came to, in words; empty until it is over.
        title: the pattern's.
    """

    window: Window
    seats: Seats
    title: str = ""
    drill: DrillView | None = None
    results: tuple[str, ...] = ()

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return together_scene(self)


def together_scene(view: TogetherView) -> Scene:
    """Return the scene of several players."""
    helps = _helps(view)
    drill = view.drill
    is_playing = drill is not None and not view.results
    frame = Frame.of(view.window, is_steady=is_playing, helps=helps)
    values: tuple[Value, ...] = ()
    if drill is not None:
        values = (
            Value("pass", f"{drill.pass_index + 1} of {drill.passes}", ""),
            Value("", bpm_words(drill.bpm), "bpm"),
        )
    header = header_panel(frame, view.title, values)
    if drill is not None and not view.results:
        body: tuple[Panel, ...] = sheet_panels(frame, drill)
        status = status_items(frame, "one pad each: timing is judged, the hand is not", 0.0, drill.sound)
    else:
        body, status = (_seats(frame, view),), ()
    return page(frame, (header, *body), (), helps, status=status)


def _helps(view: TogetherView) -> tuple[Help, ...]:
    begun = bool(view.results) or view.drill is not None
    states = {
        "begun": begun,
        "can begin": not begun and view.seats.can_begin,
        "can undo": not begun and bool(view.seats.sources),
    }
    return helps_of("together", states=states)


def _seats(frame: Frame, view: TogetherView) -> Panel:
    """Return the players in a list: a filled disc for a pad, and the one asked for in large words."""
    theme, sizes, seats = frame.theme, frame.sizes, view.seats
    top, high = frame.body_top, frame.note_top - frame.body_top
    items: list[Item] = []
    asked = f"{seats.asked}: touch your pad, or press a key" if seats.asked else "Everybody has a pad."
    if not view.results:
        room = frame.right - frame.left
        large = sizes.title if text_width(asked, sizes.title, bold=True) <= room else sizes.body
        words = shortened(asked, large, room, bold=True)
        items.append(Text(frame.left, top + sizes.title, words, large, theme.ink, bold=True))
    row_high = min(round(2.0 * sizes.body), (high - 2 * sizes.title) // max(1, len(seats.names)))
    size = min(sizes.body, round(0.7 * row_high))
    for at, name in enumerate(seats.names):
        y = top + round(1.8 * sizes.title) + at * row_high
        baseline = middle_baseline(y, row_high, size)
        x, r = frame.left + size / 2, 0.36 * size
        taken = at < len(seats.sources)
        items.append(
            Disc(x, y + row_high / 2, r, theme.in_time)
            if taken
            else Ring(x, y + row_high / 2, r, 0.3 * r, theme.muted)
        )
        colour = theme.ink if taken or name == seats.asked else theme.muted
        named = shortened(name, size, round(0.4 * frame.window.width))
        items.append(
            Text(round(frame.left + 1.4 * size), baseline, named, size, colour, bold=name == seats.asked)
        )
        if at < len(view.results):
            items.append(Text(frame.right, baseline, view.results[at], size, theme.ink, Anchor.RIGHT))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items))
