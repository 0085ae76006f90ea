"""Show what is needed less often than the figures themselves: one row for each, with its key."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Scene, Text
from trainer.screen.key_help import helps_of, walked
from trainer.screen.keymap import MENU
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.parts import (
    Frame,
    header_panel,
    middle_baseline,
    page,
    row_background,
    scroll_bar,
    scrolled,
)
from trainer.screen.window import Window

ROW_EM = 1.9


@dataclass(frozen=True, slots=True, kw_only=True)
class MenuView:
    """The menu.

    Attributes:
        focus: the place of the row with the focus.
    """

    window: Window
    focus: int = 0

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return menu_scene(self)


def menu_scene(view: MenuView) -> Scene:
    """Return the scene of the menu."""
    taken = {"the one with the focus": MENU[view.focus].caps[0].action}
    helps = helps_of("menu", actions={**walked(view.focus, len(MENU) - 1), **taken})
    frame = Frame.of(view.window, note_lines=0, helps=helps)
    header = header_panel(frame, "More", ())
    body, hits = _rows(frame, view)
    return page(frame, (header, body), hits, helps)


def _rows(frame: Frame, view: MenuView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    size = sizes.body
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = min(round(ROW_EM * size), max(round(1.5 * size), high // len(MENU)))
    shown = max(1, high // row_high)
    first = scrolled(len(MENU), shown, view.focus)
    x = frame.left - sizes.px(20)
    wide = frame.right + sizes.px(20) - x
    words_x = frame.left + max(cap_width(entry.caps[0].label, sizes.small) for entry in MENU) + sizes.gap
    items: list[Item] = []
    hits: list[Hit] = []
    for at, entry in enumerate(MENU[first : first + shown], first):
        y = top + (at - first) * row_high
        focus = at == view.focus
        if focus:
            items.extend(row_background(frame, x, y, wide, row_high))
        ground = theme.wall if focus else None
        label = entry.caps[0].label
        items.extend(cap_items(label, theme, sizes, frame.left, y, row_high, sizes.small, ground=ground))
        words = f"{entry.words[:1].upper()}{entry.words[1:]}"
        items.append(Text(words_x, middle_baseline(y, row_high, size), words, size, theme.ink, bold=focus))
        action = entry.caps[0].action if focus else Action(act=Act.SELECT, value=at)
        hits.append(Hit(x, y, wide, row_high, action))
    items.extend(scroll_bar(frame, frame.window.width - sizes.px(10), top, high, first, shown, len(MENU)))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items)), tuple(hits)
