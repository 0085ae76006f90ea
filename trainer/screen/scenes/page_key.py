"""Explain the signs of a printed page in a few lines at its foot: each that the page has, and its words."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.screen.draw import Disc, Item, Point, Polyline, Rect, Ring, Text
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.moved import moved
from trainer.screen.scenes.page_form import BarSigns
from trainer.screen.theme import Theme

ICON_EM = 2.2  # room for a sign, in sizes of the type
GAP_EM = 1.6
LINE_EM = 1.7

Drawn = Callable[[float, Theme], list[Item]]
"""Draws a sign about its own middle, for a size of type."""


def key_entries(pattern: Pattern, signs: Sequence[BarSigns]) -> list[tuple[Drawn, str]]:
    """Return the signs that a page has, and what each means."""
    strokes = pattern.strokes
    kinds = {stroke.kind for stroke in strokes}
    rising = any(stroke.hand is Hand.THUMB for stroke in strokes)
    found: list[tuple[Drawn, str]] = [(_path, "the hand, down and up")]
    if rising:
        found.append((_branch, "the thumb leaves its string"))
    found.append((_ringing, "the string rings"))
    if Kind.SKIP in kinds:
        found.append((_ring, "skip: down in time, touching nothing"))
    if any(stroke.strings and not stroke.muted for stroke in strokes):
        found.append((_figure("2"), "fret; 0 is the open string"))
    if Kind.HAMMER_ON in kinds:
        found.append((_corner(1), "hammer-on"))
    if Kind.PULL_OFF in kinds:
        found.append((_corner(-1), "pull-off"))
    if Kind.SLIDE in kinds or any(stroke.slid_from is not None for stroke in strokes):
        found += [(_slope(-1), "slide up"), (_slope(1), "slide down")]
    if any(stroke.slid_from is not None for stroke in strokes):
        found.append((_figure("2–4"), "slide quickly from 2 into 4"))
    if any(stroke.triplet for stroke in strokes):
        found.append((_figure("0–2–0"), "three notes in a beat, two by the left hand"))
    if any(stroke.muted for stroke in strokes):
        found.append((_cross, "damped: a knock"))
    if any(stroke.accented for stroke in strokes):
        found.append((_accent, "louder"))
    if any(sign.ends_repeat for sign in signs):
        found.append((_repeat, "play again from the other dots"))
    if any(sign.ending for sign in signs):
        found.append((_figure("1."), "ending of the first time; 2. of the second"))
    return found


def hand_signs() -> list[tuple[Drawn, str]]:
    """Return the signs of the moving sheet that every figure may have, and what each means."""
    return [
        (_path, "the hand, down and up"),
        (_ringing, "the nail sounds this string"),
        (_branch, "the thumb leaves its string"),
        (_ring, "skip: down in time, touching nothing"),
        (_pocket, "a tap inside the band is in time"),
    ]


def key_items(
    pattern: Pattern, signs: Sequence[BarSigns], theme: Theme, *, size: int, width: int
) -> tuple[tuple[Item, ...], int]:
    """Return the key from its own upper left corner, and its height; entries flow over a width.

    Args:
        size: of the type, in pixels.
    """
    items: list[Item] = []
    x, line = 0, 0
    gap, step = round(GAP_EM * size), round(LINE_EM * size)
    for draw, words in key_entries(pattern, signs):
        drawn = draw(float(size), theme)
        figures = [text_width(item.text, size, bold=True) for item in drawn if isinstance(item, Text)]
        icon = max([round(ICON_EM * size), *figures])
        wide = icon + round(0.4 * size) + text_width(words, size)
        if x and x + wide > width:
            x, line = 0, line + 1
        baseline = line * step + round(CAPITAL * size) + round(0.5 * size)
        middle = (x + icon / 2, baseline - CAPITAL * size / 2)
        items += [moved(item, round(middle[0]), round(middle[1])) for item in drawn]
        items.append(Text(x + icon + round(0.4 * size), baseline, words, size, theme.muted))
        x += wide + gap
    return tuple(items), (line + 1) * step + round(0.3 * size)


def _line(points: Sequence[Point], size: float, theme: Theme, thick: float = 0.13) -> Polyline:
    return Polyline(tuple((x * size, y * size) for x, y in points), (thick * size,), theme.ink)


def _path(size: float, theme: Theme) -> list[Item]:
    wave = ((-1.0, -0.4), (-0.8, -0.35), (-0.55, 0.2), (-0.4, 0.4), (-0.25, 0.2), (0.0, -0.35), (0.15, -0.4),
            (0.3, -0.35), (0.55, 0.2), (0.7, 0.4), (0.85, 0.2), (1.0, -0.2))  # fmt: skip
    return [_line(wave, size, theme)]


def _pocket(size: float, theme: Theme) -> list[Item]:
    left, top, wide, high = round(-0.4 * size), round(-0.6 * size), round(0.8 * size), round(1.2 * size)
    edge = max(1, round(0.08 * size))
    return [
        Rect(left, top, wide, high, theme.pocket),
        Rect(left, top, edge, high, theme.pocket_edge),
        Rect(left + wide - edge, top, edge, high, theme.pocket_edge),
    ]


def _branch(size: float, theme: Theme) -> list[Item]:
    string = Rect(round(-size), round(0.35 * size), round(2 * size), max(1, round(0.06 * size)), theme.string)
    points = tuple((x * size, y * size) for x, y in ((-0.4, 0.38), (-0.1, 0.2), (0.2, -0.1), (0.6, -0.45)))
    return [string, Polyline(points, (0.34 * size, 0.22 * size, 0.15 * size, 0.11 * size), theme.ink)]


def _ringing(size: float, theme: Theme) -> list[Item]:
    steps = 8
    points = tuple(((-0.9 + 1.8 * k / steps) * size, 0.0) for k in range(steps + 1))
    widths = tuple(max(0.3 * size * (1 - k / steps) ** 1.4, 1.0) for k in range(steps + 1))
    return [Polyline(points, widths, theme.ink)]


def _ring(size: float, theme: Theme) -> list[Item]:
    return [Ring(0.0, 0.0, 0.42 * size, 0.13 * size, theme.ink)]


def _corner(way: int) -> Drawn:
    def draw(size: float, theme: Theme) -> list[Item]:
        return [_line(((-0.4, -0.2 * way), (0.0, 0.2 * way), (0.4, -0.2 * way)), size, theme)]

    return draw


def _slope(way: int) -> Drawn:
    def draw(size: float, theme: Theme) -> list[Item]:
        return [_line(((-0.6, -0.25 * way), (0.6, 0.25 * way)), size, theme)]

    return draw


def _cross(size: float, theme: Theme) -> list[Item]:
    return [_line(((-0.3, -0.3), (0.3, 0.3)), size, theme), _line(((-0.3, 0.3), (0.3, -0.3)), size, theme)]


def _accent(size: float, theme: Theme) -> list[Item]:
    return [_line(((-0.42, -0.24), (0.42, 0.0), (-0.42, 0.24)), size, theme, 0.11)]


def _repeat(size: float, theme: Theme) -> list[Item]:
    high, top = round(1.0 * size), round(-0.5 * size)
    return [
        Disc(-0.35 * size, -0.16 * size, 0.09 * size, theme.ink),
        Disc(-0.35 * size, 0.16 * size, 0.09 * size, theme.ink),
        Rect(round(-0.1 * size), top, max(1, round(0.07 * size)), high, theme.ink),
        Rect(round(0.1 * size), top, max(2, round(0.2 * size)), high, theme.ink),
    ]


def _figure(words: str) -> Drawn:
    def draw(size: float, theme: Theme) -> list[Item]:
        wide = text_width(words, round(size), bold=True)
        return [Text(-wide // 2, round(CAPITAL * size / 2), words, round(size), theme.ink, bold=True)]

    return draw


def drill_signs(pattern: Pattern, *, knows_left: bool) -> list[tuple[Drawn, str]]:
    """Return the signs of a drill's sheet as far as a pattern has them, the most needed first.

    Args:
        knows_left: whether strokes of the left hand are to be tapped.
    """
    kinds = {stroke.kind for stroke in pattern.strokes}
    found: list[tuple[Drawn, str]] = []
    if kinds & {Kind.STRIKE, Kind.BRUSH}:
        found.append((_trough, "nail, as the hand falls"))
    if kinds & {Kind.THUMB, Kind.DROP_THUMB}:
        found.append((_branch, "thumb, as it rises"))
    if Kind.SKIP in kinds:
        found.append((_ring, "skip: tap nothing"))
    unasked = pattern.pickup or (pattern.has_left_hand and not knows_left)
    if unasked:
        found.append((_figure("( )"), "played for you"))
    return found


def signs_line(
    entries: Sequence[tuple[Drawn, str]], theme: Theme, *, size: int, width: int
) -> tuple[Item, ...]:
    """Return signs in one line from its left end, about a middle at 0; what has no room is left out."""
    items: list[Item] = []
    x = 0
    for draw, words in entries:
        icon = round(ICON_EM * size)
        wide = icon + round(0.4 * size) + text_width(words, size)
        if x + wide > width:
            break
        items += [moved(item, round(x + icon / 2), 0) for item in draw(float(size), theme)]
        left = x + icon + round(0.4 * size)
        items.append(Text(left, round(CAPITAL * size / 2), words, size, theme.ink))
        x += wide + round(GAP_EM * size)
    return tuple(items)


def _trough(size: float, theme: Theme) -> list[Item]:
    string = Rect(round(-size), round(0.38 * size), round(2 * size), max(1, round(0.06 * size)), theme.string)
    points = ((-0.8, -0.5), (-0.5, -0.3), (-0.2, 0.25), (0.0, 0.4), (0.25, 0.25), (0.55, -0.3), (0.8, -0.5))
    widths = (0.11, 0.13, 0.22, 0.34, 0.22, 0.13, 0.11)
    line = tuple((x * size, y * size) for x, y in points)
    return [string, Polyline(line, tuple(wide * size for wide in widths), theme.ink)]
