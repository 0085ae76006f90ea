"""Draw what is tapped on: the keys or pads of nail and thumb, each lit for a moment when it is touched."""

from __future__ import annotations

from trainer.screen.draw import Anchor, Item, Rect, Text
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.theme import Sizes, Theme
from trainer.screen.window import TapKey

CAP_EM = 1.55  # of the letters, as in the strip
LARGE_EM = 2.6
WORD_GAP_EM = 0.35
KEY_GAP_EM = 0.9


def small_width(keys: tuple[TapKey, ...], sizes: Sizes) -> int:
    """Return how wide the row of small ones is drawn; 0 for none."""
    size = sizes.small
    if not keys:
        return 0
    gaps = round(KEY_GAP_EM * size) * len(keys)
    words = sum(round(WORD_GAP_EM * size) + text_width(key.words, size, bold=True) for key in keys)
    return sum(_cap_width(key, size) for key in keys) + words + gaps


def small_items(
    keys: tuple[TapKey, ...], theme: Theme, sizes: Sizes, x: int, top: int, high: int
) -> tuple[Item, ...]:
    """Return them in a row of the help strip, from ``x`` on."""
    size = sizes.small
    items: list[Item] = []
    for key in keys:
        wide, cap_high = _cap_width(key, size), round(CAP_EM * size)
        cap_top = top + (high - cap_high) // 2
        items.extend(_cap(key, theme, sizes, x, cap_top, wide, cap_high, size))
        x += wide + round(WORD_GAP_EM * size)
        items.append(Text(x, _baseline(top, high, size), key.words, size, theme.ink, bold=True))
        x += text_width(key.words, size, bold=True) + round(KEY_GAP_EM * size)
    return tuple(items)


def large_items(
    keys: tuple[TapKey, ...], theme: Theme, sizes: Sizes, x: int, top: int, size: int
) -> tuple[tuple[Item, ...], int, int]:
    """Return them large, side by side from ``x`` on, with their width and their height.

    Args:
        size: of the letters on the keys; what each is for stands under it.
    """
    items: list[Item] = []
    high = round(LARGE_EM * size)
    words_size = max(sizes.body, round(0.62 * size))
    start = x
    for key in keys:
        wide = max(high, text_width(key.label, size, bold=True) + size)
        column = max(wide, text_width(key.words, words_size, bold=True))
        items.extend(_cap(key, theme, sizes, x + (column - wide) // 2, top, wide, high, size))
        baseline = top + high + round(1.25 * words_size)
        middle = x + column // 2
        items.append(Text(middle, baseline, key.words, words_size, theme.ink, Anchor.CENTRE, bold=True))
        x += column + round(0.9 * size)
    width = x - round(0.9 * size) - start if keys else 0
    return tuple(items), width, high + round(1.6 * words_size)


def _cap(
    key: TapKey, theme: Theme, sizes: Sizes, x: int, top: int, wide: int, high: int, size: int
) -> tuple[Item, ...]:
    """Return one key: a rim that says "this is what you touch", filled while it is touched."""
    rim, radius = max(2, sizes.px(3)), max(3, high // 6)
    inside = theme.focus if key.lit else theme.raised
    return (
        Rect(x, top, wide, high, theme.focus, radius),
        Rect(x + rim, top + rim, wide - 2 * rim, high - 2 * rim, inside, max(1, radius - rim)),
        Text(
            x + wide // 2,
            _baseline(top, high, size),
            key.label,
            size,
            theme.wall if key.lit else theme.ink,
            Anchor.CENTRE,
            True,
        ),
    )


def _cap_width(key: TapKey, size: int) -> int:
    return max(round(CAP_EM * size), text_width(key.label, size, bold=True) + round(0.9 * size))


def _baseline(top: float, high: float, size: int) -> int:
    return round(top + (high + CAPITAL * size) / 2)
