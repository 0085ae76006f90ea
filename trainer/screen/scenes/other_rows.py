"""Draw the taps of other players in rows under a sheet, one row for each, on the sheet's own time.

A class with several pads shares one sheet. In a row a small upright stands where each stroke should sound,
and the marks are those of the sheet: by shape and place, colour besides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from trainer.judging.take import Outcome, Tap, Verdict
from trainer.music.layout import Target
from trainer.screen.draw import Disc, Item, Rect, Text
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.parts import Frame, middle_baseline, readable

MOST_ROWS = 8
FEW_ROWS = 4  # have the body's type, more the least that is read from the back of the room
ROW_SHARE = 1.15  # height of a row in sizes of its type
FEW_ROW_SHARE = 1.5
NAME_SHARE = 0.75  # at most, of the way from the left edge to the now line


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerRow:
    """Another player's taps, as a row of marks under the sheet.

    Attributes:
        name: who.
        outcomes, strays, taps: as in :class:`DrillView`.
    """

    name: str
    outcomes: tuple[Outcome, ...] = ()
    strays: tuple[Tap, ...] = ()
    taps: tuple[Tap, ...] = ()


def rows_height(frame: Frame, rows: Sequence[PlayerRow]) -> int:
    """Return the height of all rows in pixels; 0 without any."""
    n = min(len(rows), MOST_ROWS)
    share = FEW_ROW_SHARE if n <= FEW_ROWS else ROW_SHARE
    return round(n * share * _names_size(frame, n))


def _names_size(frame: Frame, n: int) -> int:
    """Return the size of the names' type: it grows with the text setting, or stays where there are many."""
    least = readable(frame.window.height)
    return max(frame.sizes.body, least) if n <= FEW_ROWS else least


def row_items(
    frame: Frame,
    rows: Sequence[PlayerRow],
    targets: Sequence[Target],
    x_of: Callable[[float], float],
    *,
    left: int,
    right: int,
    now_x: int,
    top: int,
    height: int,
) -> Iterator[Item]:
    """Return the rows.

    Args:
        targets: those in view.
        x_of: the pixel of a second.
        left, right: the rows' ends; names stand at the left and hide what has passed under them.
    """
    shown = rows[:MOST_ROWS]
    if not shown:
        return
    theme, sizes = frame.theme, frame.sizes
    high = height / len(shown)
    size, least = _names_size(frame, len(shown)), readable(frame.window.height)
    # The names have one width, the longest's, so that the marks of all rows begin at one place.
    room = round(NAME_SHARE * (now_x - left))
    longest = max(text_width(row.name, 1000) for row in shown)
    size = max(min(size, 1000 * room // max(longest, 1)), min(size, least))
    names = [shortened(row.name, size, room) for row in shown]
    wide = max(text_width(name, size) for name in names) + round(0.8 * size)
    stroke_xs = [x_of(t.song_s) for t in targets if t.stroke.kind.sounds]
    for at, (row, name) in enumerate(zip(shown, names, strict=True)):
        y = top + at * high
        middle = y + high / 2
        yield Rect(left, round(y), right - left, max(1, sizes.px(1)), theme.hair)
        tick = max(2, round(0.5 * high))
        for x in stroke_xs:
            if left + wide <= x <= right:
                yield Rect(round(x), round(middle - tick / 2), max(1, sizes.px(2)), tick, theme.string)
        yield from _marks(frame, row, x_of, left + wide, right, middle, 0.26 * high)
        yield Rect(left, round(y) + max(1, sizes.px(1)), wide, round(high) - 1, theme.sheet)
        yield Text(left, middle_baseline(y, high, size), name, size, theme.ink)


def _marks(
    frame: Frame,
    row: PlayerRow,
    x_of: Callable[[float], float],
    left: float,
    right: float,
    y: float,
    radius: float,
) -> Iterator[Item]:
    decided: set[Tap] = set(row.strays)
    for outcome in row.outcomes:
        if outcome.tap is not None:
            decided.add(outcome.tap)
        x = x_of(_moment(outcome))
        if left <= x <= right and outcome.verdict is not Verdict.NOT_JUDGED:
            yield from mark(outcome.verdict, x, y, radius, frame.theme)
    for tap in row.taps:
        x = x_of(tap.song_s)
        if tap not in decided and left <= x <= right:
            yield Disc(x, y, 0.6 * radius, frame.theme.ink)
    for tap in row.strays:
        x = x_of(tap.song_s)
        if left <= x <= right:
            yield from mark(Verdict.STRAY, x, y, radius, frame.theme)


def _moment(outcome: Outcome) -> float:
    return outcome.target.song_s if outcome.tap is None else outcome.tap.song_s
