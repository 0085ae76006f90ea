"""Draw keys of the keyboard, and the strip at the foot of every scene that says what they do.

No key is left out of the strip but the rare ones: entries close up, then go on in a second row, then lose
their words from the last on.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.draw import Anchor, Hit, Item, Panel, Rect, Text
from trainer.screen.key_entries import Cap, Help
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.tap_keys import small_items, small_width
from trainer.screen.theme import Colour, Sizes, Theme
from trainer.screen.window import TapKey

GAPS_EM = (1.3, 0.9, 0.6)  # between entries, in sizes of the small text; the widest that fits
MOST_ROWS = 2
ROW_EM = 1.9  # height of a row in the same measure
EDGE_EM = 0.7  # above and below all rows together
CAP_EM = 1.55  # height of a key, in sizes of its letters


def strip_rows(helps: tuple[Help, ...], taps: tuple[TapKey, ...], sizes: Sizes, room: int) -> int:
    """Return how many rows the entries take in a room of a width, after what is tapped on."""
    return len(_rows(helps, sizes, room - small_width(taps, sizes)))


def strip_height(sizes: Sizes, rows: int) -> int:
    """Return the height of a strip of some rows."""
    return round((ROW_EM * rows + EDGE_EM) * sizes.small)


def strip_panel(
    helps: tuple[Help, ...],
    taps: tuple[TapKey, ...],
    theme: Theme,
    sizes: Sizes,
    *,
    width: int,
    top: int,
    bottom: int,
    remark: str = "",
) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the strip and its places to click.

    Args:
        taps: what is tapped on, which comes first.
        width: of the window; ``top`` and ``bottom`` those of the strip.
        remark: stands at the end of the last row if there is room.
    """
    high = bottom - top
    left, right = sizes.margin + small_width(taps, sizes), width - sizes.margin
    rows = max(1, round((high / sizes.small - EDGE_EM) / ROW_EM))
    row_high = high // rows if rows == 1 else round(ROW_EM * sizes.small)
    first_top = top + (high - rows * row_high) // 2
    items: list[Item] = [Rect(0, top, width, max(1, sizes.px(1.5)), theme.hair)]
    items.extend(small_items(taps, theme, sizes, sizes.margin, first_top, row_high))
    hits: list[Hit] = []
    x = left
    for at, row in enumerate(_rows(helps, sizes, right - left, rows)):
        x = _row(row, theme, sizes, left, first_top + at * row_high, row_high, items, hits)
    if remark and x + text_width(remark, sizes.small) <= right:
        baseline = _baseline(first_top + (rows - 1) * row_high, row_high, sizes.small)
        items.append(Text(right, baseline, remark, sizes.small, theme.muted, Anchor.RIGHT))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


def entry_items(
    entry: Help, theme: Theme, sizes: Sizes, x: int, top: int, high: int
) -> tuple[tuple[Item, ...], tuple[Hit, ...]]:
    """Return keys and what they do, in a row from ``x`` on, and where each can be clicked."""
    size = sizes.small
    items: list[Item] = []
    hits: list[Hit] = []
    start = x
    labelled = [cap for cap in entry.caps if cap.label]
    for cap in labelled:
        wide = cap_width(cap.label, size)
        items.extend(cap_items(cap.label, theme, sizes, x, top, high, size))
        hits.append(Hit(x, top, wide, high, cap.action))
        x += wide + sizes.px(6)
    items.append(Text(x + sizes.px(4), _baseline(top, high, size), entry.words, size, theme.muted))
    if len(labelled) == 1:
        hits[-1] = Hit(start, top, entry_width(entry, sizes), high, labelled[0].action)
    return tuple(items), tuple(hits)


def entry_width(entry: Help, sizes: Sizes) -> int:
    """Return how wide keys with their words are drawn."""
    caps = sum(cap_width(cap.label, sizes.small) + sizes.px(6) for cap in entry.caps if cap.label)
    words = sizes.px(4) + text_width(entry.words, sizes.small) if entry.words else 0
    return caps + words


def cap_width(label: str, size: int) -> int:
    """Return how wide a key is drawn."""
    return max(round(CAP_EM * size), text_width(label, size, bold=True) + round(0.9 * size))


def cap_items(
    label: str,
    theme: Theme,
    sizes: Sizes,
    x: int,
    top: int,
    high: int,
    size: int,
    *,
    ground: Colour | None = None,
) -> tuple[Item, ...]:
    """Return a key of the keyboard in the middle of a row; it is ``cap_width`` wide.

    Args:
        ground: of the key; None for the usual one, which is that of a chosen row too.
    """
    cap_high, wide = round(CAP_EM * size), cap_width(label, size)
    return (
        Rect(x, top + (high - cap_high) // 2, wide, cap_high, ground or theme.raised, sizes.px(7)),
        Text(x + wide // 2, _baseline(top, high, size), label, size, theme.ink, Anchor.CENTRE, True),
    )


@dataclass(frozen=True, slots=True)
class _Row:
    entries: tuple[Help, ...]
    gap: int


def _rows(helps: tuple[Help, ...], sizes: Sizes, room: int, most: int = MOST_ROWS) -> tuple[_Row, ...]:
    """Return the entries by row: as few rows as will do, and in them the widest gap that fits."""
    shown = tuple(entry for entry in helps if _labelled(entry))
    gaps = tuple(round(gap * sizes.small) for gap in GAPS_EM)
    for rows in range(1, most + 1):
        for gap in gaps:
            filled = _filled(shown, sizes, room, gap)
            if len(filled) <= rows:
                return tuple(_Row(row, gap) for row in filled)
    # The keys stay to the last; what they do is in the list of keys.
    for kept in reversed(range(len(shown))):
        bare = tuple(entry if at < kept else Help(entry.caps, "") for at, entry in enumerate(shown))
        filled = _filled(bare, sizes, room, gaps[-1])
        if len(filled) <= most:
            return tuple(_Row(row, gaps[-1]) for row in filled)
    return tuple(_Row(row, gaps[-1]) for row in filled[:most])


def _filled(shown: tuple[Help, ...], sizes: Sizes, room: int, gap: int) -> list[tuple[Help, ...]]:
    rows: list[list[Help]] = []
    x = room + 1
    for entry in shown:
        wide = entry_width(entry, sizes)
        if x + wide > room:
            rows.append([])
            x = 0
        rows[-1].append(entry)
        x += wide + gap
    return [tuple(row) for row in rows] or [()]


def _row(
    row: _Row, theme: Theme, sizes: Sizes, x: int, top: int, high: int, items: list[Item], hits: list[Hit]
) -> int:
    """Draw one row of the strip; return where it ends."""
    for entry in row.entries:
        drawn, places = entry_items(entry, theme, sizes, x, top, high)
        items.extend(drawn)
        hits.extend(places)
        x += entry_width(entry, sizes) + row.gap
    return x


def _labelled(entry: Help) -> tuple[Cap, ...]:
    return () if entry.rare else tuple(cap for cap in entry.caps if cap.label)


def _baseline(top: float, high: float, size: int) -> int:
    return round(top + (high + CAPITAL * size) / 2)
