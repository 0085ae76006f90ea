"""Draw the answer after a drill: what happened, large, and under it the one next step on Enter, and why."""

from __future__ import annotations

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Text
from trainer.screen.lettering import text_width, wrapped
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.parts import Frame, middle_baseline, row_background

HAPPENED_EM = 1.45
STEP_EM = 2.0
WHY_EM = 1.5
MOST_LINES = 2


def answer_panel(frame: Frame, happened: str, step: str, why: str) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the answer under the header, as high as its words need, and the step's place to click."""
    theme, sizes = frame.theme, frame.sizes
    left, right, top = frame.left, frame.right, frame.body_top
    room = right - left
    size = (
        sizes.title if len(wrapped(happened, sizes.title, room, 3, bold=True)) <= MOST_LINES else sizes.body
    )
    items: list[Item] = []
    y = top
    line_high = round(HAPPENED_EM * size)
    for line in wrapped(happened, size, room, MOST_LINES, bold=True):
        items.append(Text(left, middle_baseline(y, line_high, size), line, size, theme.ink, bold=True))
        y += line_high
    body, small = sizes.body, sizes.small
    row_high = round(STEP_EM * body)
    y += sizes.px(8)
    x = left + cap_width("Enter", body) + round(0.6 * body)
    words_end = x + text_width(step, body, bold=True)
    beside = words_end + 2 * sizes.gap + text_width(why, small) <= right
    background_right = words_end + sizes.gap
    items.extend(
        row_background(frame, left - sizes.px(20), y, background_right - left + sizes.px(20), row_high)
    )
    items.extend(cap_items("Enter", theme, sizes, left, y, row_high, body, ground=theme.wall))
    (words,) = wrapped(step, body, right - x, 1, bold=True) or ("",)
    items.append(Text(x, middle_baseline(y, row_high, body), words, body, theme.ink, bold=True))
    hit = Hit(left, y, background_right - left, row_high, Action(act=Act.START))
    if beside:
        items.append(
            Text(words_end + 2 * sizes.gap, middle_baseline(y, row_high, small), why, small, theme.muted)
        )
        y += row_high
    else:
        y += row_high
        why_high = round(WHY_EM * small)
        for line in wrapped(why, small, room, MOST_LINES):
            items.append(Text(left, middle_baseline(y, why_high, small), line, small, theme.muted))
            y += why_high
    y += sizes.px(14)
    return Panel(0, top, frame.window.width, y - top, theme.wall, tuple(items)), (hit,)
