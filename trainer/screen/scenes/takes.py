"""Show the takes of one pattern in a list, the newest first."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened
from trainer.screen.scenes.parts import Frame, header_panel, middle_baseline, page, row_background, scrolled
from trainer.screen.window import Window

PAGE = 10  # rows that page up and down go


@dataclass(frozen=True, slots=True, kw_only=True)
class TakeLine:
    """A take in a list.

    Attributes:
        when: date and time of day, in words.
        tempo: its tempo or tempi.
        result: strokes as asked, in words.
        spread: in words, empty when it cannot be said.
        counts: False for one that was not graded.
    """

    when: str
    tempo: str
    result: str
    spread: str
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TakesView:
    """The takes of one pattern, the newest first."""

    window: Window
    title: str
    lines: tuple[TakeLine, ...] = ()
    selected: int = 0
    more: bool = False
    can_undo: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return takes_scene(self)


def takes_scene(view: TakesView) -> Scene:
    """Return the scene of a pattern's takes."""
    helps = _takes_helps(view)
    frame = Frame.of(view.window, helps=helps)
    header = header_panel(frame, view.title, ())
    table, rows = _takes_table(frame, view)
    return page(frame, (header, table), rows, helps)


def _takes_helps(view: TakesView) -> tuple[Help, ...]:
    last = max(len(view.lines) - 1, 0)
    states = {"undo": view.can_undo}
    return helps_of("takes", states=states, actions=walked(view.selected, last, page=PAGE))


def _takes_table(frame: Frame, view: TakesView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = round(1.9 * sizes.body)
    shown = max(1, high // row_high)
    first = scrolled(len(view.lines), shown, view.selected)
    width = frame.right - frame.left
    # When, tempo, result, spread: shares of the width where each begins.
    begins = [frame.left + round(share * width) for share in (0.0, 0.36, 0.56, 0.80)]
    items: list[Item] = []
    hits: list[Hit] = []
    if not view.lines:
        items.append(Text(frame.left, top + row_high, "No take is kept.", sizes.body, theme.muted))
    for at, line in enumerate(view.lines[first : first + shown]):
        index, y = first + at, top + at * row_high
        chosen = index == view.selected
        if chosen:
            items.extend(row_background(frame, frame.left - sizes.px(20), y, width + sizes.px(20), row_high))
        baseline = middle_baseline(y, row_high, sizes.body)
        colour = theme.ink if line.counts else theme.muted
        ends = [*begins[1:], frame.right]
        for x, end, words in zip(
            begins, ends, (line.when, line.tempo, line.result, line.spread), strict=True
        ):
            cell = shortened(words, sizes.body, end - x - sizes.gap // 2)
            items.append(Text(x, baseline, cell, sizes.body, colour))
        action = Action(act=Act.START) if chosen else Action(act=Act.SELECT, value=index)
        hits.append(Hit(frame.left, y, width, row_high, action))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items)), tuple(hits)
