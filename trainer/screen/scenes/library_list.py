"""Draw a shelf of the library: a line over each group that says what is clean of it, and its rows.

Titles are never cut: a long one takes a second line. The group that one is in stays named at the top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Rect, Ring, Text
from trainer.screen.lettering import text_width, wrapped
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.library_preview import LibraryRow
from trainer.screen.scenes.parts import Frame, bpm_words, middle_baseline, row_background, scroll_bar

HEAD_EM = 1.75  # height of a group's line, in sizes of the body's text
ROW_EM = 1.7
MORE_EM = 1.15  # of each further line of a title
FIND_WORDS = "find a title"


@dataclass(frozen=True, slots=True)
class _Line:
    """A group's line, or a row of the shelf by its place."""

    high: int
    group: str
    place: int | None = None
    title: tuple[str, ...] = ()


def list_panel(
    frame: Frame, rows: Sequence[LibraryRow], selected: int, found: str | None, top: int, width: int
) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the list from the left edge to ``width``, and where it can be clicked.

    Args:
        found: what has been typed to find a title; None while nobody types.
    """
    theme, sizes = frame.theme, frame.sizes
    bottom = frame.note_top
    head_high = round(HEAD_EM * sizes.body)
    right = width - sizes.gap - sizes.px(16)
    lines = _lines(frame, rows, right)
    room = bottom - top - head_high
    first = _first(lines, selected, room)
    items: list[Item] = []
    hits: list[Hit] = []
    y = top + head_high
    shown = 0
    for at, line in enumerate(lines[first:], first):
        if y + line.high > bottom:
            break
        shown += 1
        if line.place is None:
            # The first group in view stands at the top already.
            if at > first:
                items.extend(_head(frame, rows, line.group, y, line.high, right))
                y += line.high
            continue
        drawn, hit = _row(frame, rows, line, y, right, chosen=line.place == selected)
        items.extend(drawn)
        hits.append(hit)
        y += line.high
    group = lines[first].group if lines else ""
    items.extend(_head(frame, rows, group, top, head_high, right - _find_width(frame, found)))
    find, find_hit = _find(frame, found, top, head_high, right)
    items.extend(find)
    items.extend(scroll_bar(frame, width - sizes.px(10), top + head_high, room, first, shown, len(lines)))
    return Panel(0, top, width, bottom - top, theme.wall, tuple(items)), (*hits, find_hit)


def _lines(frame: Frame, rows: Sequence[LibraryRow], right: int) -> tuple[_Line, ...]:
    sizes = frame.sizes
    found: list[_Line] = []
    group = None
    for place, row in enumerate(rows):
        if row.level != group:
            group = row.level
            if group:
                found.append(_Line(round(HEAD_EM * sizes.body), group))
        room = _title_right(frame, row, right) - _title_left(frame, row)
        title = wrapped(row.title, sizes.body, room, 3, bold=True)
        high = round((ROW_EM + MORE_EM * (len(title) - 1)) * sizes.body)
        found.append(_Line(high, row.level, place, title))
    return tuple(found)


def _first(lines: Sequence[_Line], selected: int, room: int) -> int:
    """Return the first line in view, so that the chosen row is in the middle where it can be."""
    at = next((at for at, line in enumerate(lines) if line.place == selected), 0)
    above = 0
    first = at
    while first > 0 and above + lines[first - 1].high <= (room - lines[at].high) / 2:
        first -= 1
        above += lines[first].high
    # No blank at the end while there is more above.
    left = room - sum(line.high for line in lines[first:])
    while first > 0 and left >= lines[first - 1].high:
        first -= 1
        left -= lines[first].high
    return first


def _head(
    frame: Frame, rows: Sequence[LibraryRow], group: str, y: int, high: int, right: int
) -> tuple[Item, ...]:
    """Return a group's line: its name, and how many of it are clean."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.small
    mine = [row for row in rows if row.level == group]
    clean = sum(1 for row in mine if row.clean)
    name = group.capitalize() if group else ""
    words = f"{clean} of {len(mine)} clean" if mine else ""
    baseline = middle_baseline(y, high, size)
    name_wide = text_width(name, size, bold=True)
    x = frame.left + name_wide + (sizes.gap if name else 0)
    items: list[Item] = [Text(frame.left, baseline, name, size, theme.ink, bold=True)] if name else []
    if words and x + text_width(words, size) <= right:
        items.append(Text(x, baseline, words, size, theme.muted))
    return tuple(items)


def _find_width(frame: Frame, found: str | None) -> int:
    size = frame.sizes.small
    words = f"title: {found} " if found is not None else FIND_WORDS
    return cap_width("G", size) + text_width(words, size) + round(1.4 * size)


def _find(frame: Frame, found: str | None, y: int, high: int, right: int) -> tuple[list[Item], Hit]:
    """Return the key that finds a title, or what has been typed of one."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.small
    wide = _find_width(frame, found)
    x = right - wide
    hit = Hit(x, y, wide, high, Action(act=Act.FIND))
    items = list(cap_items("G", theme, sizes, x, y, high, size))
    x += cap_width("G", size) + round(0.5 * size)
    baseline = middle_baseline(y, high, size)
    if found is None:
        return [*items, Text(x, baseline, FIND_WORDS, size, theme.muted)], hit
    words = f"title: {found}"
    end = x + text_width(words, size, bold=True)
    bar = max(2, sizes.px(3))
    items.append(Text(x, baseline, words, size, theme.ink, bold=True))
    items.append(Rect(end + bar, y + high // 5, bar, high - 2 * (high // 5), theme.focus))
    return items, hit


def _title_left(frame: Frame, row: LibraryRow) -> int:
    body = frame.sizes.body
    x = frame.left
    if row.step_words:
        x += text_width("00", body) + frame.sizes.px(8) + frame.sizes.px(24)
    return x + round(3.7 * 0.26 * body)


def _title_right(frame: Frame, row: LibraryRow, right: int) -> int:
    words = _state_words(row)
    edge = right - frame.sizes.px(12)
    return edge - text_width(words, frame.sizes.small) - frame.sizes.px(22) if words else edge


def _row(
    frame: Frame, rows: Sequence[LibraryRow], line: _Line, y: int, right: int, *, chosen: bool
) -> tuple[list[Item], Hit]:
    theme, sizes = frame.theme, frame.sizes
    body, small = sizes.body, sizes.small
    assert line.place is not None
    row = rows[line.place]
    first_high = round(ROW_EM * body)
    x = frame.left - sizes.px(20)
    items: list[Item] = list(row_background(frame, x, y, right - x, line.high)) if chosen else []
    baseline = middle_baseline(y, first_high, body)
    if row.step_words:
        step_right = frame.left + text_width("00", body) + sizes.px(8)
        items.append(Text(step_right, baseline, row.step_words, body, theme.muted, Anchor.RIGHT))
    title_x = _title_left(frame, row)
    # A disc for clean enough, an empty ring for clean somewhere below: the shape says it, not the colour.
    radius = 0.26 * body
    centre = title_x - 2.7 * radius, y + first_high / 2
    if row.clean:
        items.append(Disc(*centre, radius, theme.in_time))
    elif row.fastest_clean_bpm is not None:
        items.append(Ring(*centre, radius, 0.3 * radius, theme.ink))
    for at, words in enumerate(line.title):
        items.append(
            Text(title_x, baseline + round(at * MORE_EM * body), words, body, theme.ink, bold=chosen)
        )
    state = _state_words(row)
    if state:
        items.append(Text(right - sizes.px(12), baseline, state, small, theme.muted, Anchor.RIGHT))
    action = Action(act=Act.START) if chosen else Action(act=Act.SELECT, value=line.place)
    return items, Hit(x, y, right - x, line.high, action)


def _state_words(row: LibraryRow) -> str:
    if row.fastest_clean_bpm is not None:
        return f"clean at {bpm_words(row.fastest_clean_bpm)}"
    return "ready" if row.ready else ""
