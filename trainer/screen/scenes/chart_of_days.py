"""Draw values over days as a picture that can be read across a room: few numbers, large, on round steps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

import numpy as np

from trainer.screen.draw import Anchor, Disc, Item, Polyline, Rect, Text
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.parts import Frame

MOST_STEPS = 5
ORDINAL_OF_1970 = 719163  # numpy counts days from there
LEAST_DAYS = 7  # a shorter time is shown in a week, so that two days are not a cliff
MOST_DOTS = 120  # more lie on one another
SMOOTHED_PARTS = 60
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class DayValue:
    """One day's value; ``day`` is the date's ordinal."""

    day: int
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChart:
    """What to draw.

    Attributes:
        values: by day, in order; at least one.
        today: the last day of the axis.
        lines: values with a word each, drawn across: a goal, a start.
        bars: bars from nought; otherwise a dot a day.
        best_so_far: joins the dots by the highest value up to each day; otherwise from dot to dot.
        unit: said after the topmost number.
    """

    values: tuple[DayValue, ...]
    today: int
    lines: tuple[tuple[float, str], ...] = ()
    bars: bool = False
    best_so_far: bool = False
    unit: str = ""


def round_step(span: float, most: int = MOST_STEPS) -> float:
    """Return the smallest of 1, 2 or 5 times a power of ten that parts a span into at most ``most`` steps."""
    rough = max(span, 1e-9) / most
    power = 10.0 ** math.floor(math.log10(rough))
    return next(factor * power for factor in (1.0, 2.0, 5.0, 10.0) if factor * power >= rough * (1 - 1e-9))


def value_range(chart: DayChart) -> tuple[float, float, float]:
    """Return the lowest and highest value of the axis and its step; bars and spreads begin at nought."""
    shown = [each.value for each in chart.values] + [line for line, _ in chart.lines]
    low = 0.0 if chart.bars or not chart.lines else min(shown)
    high = max(shown)
    step = max(round_step(high - low if high > low else max(high, 1.0)), 1.0)
    bottom = math.floor(low / step) * step
    top = math.ceil(high / step) * step
    return bottom, (top if top > bottom else bottom + step), step


def day_words(day: int, today: int) -> str:
    """Return a date in words: the year only when it is another than today's."""
    year, month, date = _calendar(day)
    words = f"{date} {MONTHS[month - 1]}"
    return words if year == _calendar(today)[0] else f"{words} {year}"


def _calendar(day: int) -> tuple[int, int, int]:
    """Return year, month and day of a proleptic ordinal (1 is 1 January of year 1)."""
    year, month, date = str(np.datetime64(day - ORDINAL_OF_1970, "D")).split("-")
    return int(year), int(month), int(date)


def chart_items(frame: Frame, chart: DayChart, x: int, y: int, w: int, h: int) -> tuple[Item, ...]:
    """Return a chart inside a rectangle of pixels, its numbers and dates included."""
    return tuple(_Drawing(frame, chart, x, y, w, h).items())


class _Drawing:
    """One chart in one rectangle: where days and values lie."""

    def __init__(self, frame: Frame, chart: DayChart, x: int, y: int, w: int, h: int) -> None:
        self.frame = frame
        self.chart = chart
        self.bottom, self.top, self.step = value_range(chart)
        size = self.size = frame.sizes.body
        numbers = [f"{value:g}" for value in (self.bottom, self.top)]
        self.left = x + max(text_width(number, size) for number in numbers) + frame.sizes.gap
        self.right = x + w - round(0.6 * size)
        self.high = y + round(1.6 * size)
        self.low = y + h - round(2.2 * size)
        first = min(chart.values[0].day, chart.today - LEAST_DAYS + 1)
        self.first, self.days = first, max(chart.today - first, 1)

    def x(self, day: float) -> float:
        return self.left + (day - self.first + 0.5) / (self.days + 1) * (self.right - self.left)

    def y(self, value: float) -> float:
        return self.low - (value - self.bottom) / (self.top - self.bottom) * (self.low - self.high)

    def items(self) -> list[Item]:
        chart = self.chart
        drawn = [*self._scale(), *self._dates(), *self._lines()]
        return [*drawn, *(self._bars() if chart.bars else self._dots())]

    def _scale(self) -> list[Item]:
        theme, sizes = self.frame.theme, self.frame.sizes
        thin = max(1, sizes.px(1.5))
        items: list[Item] = []
        for number in range(round((self.top - self.bottom) / self.step) + 1):
            value = self.bottom + number * self.step
            y = self.y(value)
            items.append(Rect(self.left, round(y), self.right - self.left, thin, theme.hair))
            words = f"{value:g}"
            baseline = round(y + CAPITAL * self.size / 2)
            items.append(
                Text(self.left - sizes.gap // 2, baseline, words, self.size, theme.muted, Anchor.RIGHT)
            )
        unit_y = round(self.high - 0.7 * self.size)
        items.append(Text(self.left, unit_y, self.chart.unit, self.frame.sizes.small, theme.muted))
        return items

    def _dates(self) -> list[Item]:
        theme, chart = self.frame.theme, self.chart
        y = self.low + round(1.5 * self.size)
        first, last = day_words(self.first, chart.today), "today"
        items: list[Item] = [
            Text(self.left, y, first, self.size, theme.muted),
            Text(self.right, y, last, self.size, theme.muted, Anchor.RIGHT),
        ]
        middle = self.first + self.days // 2
        words = day_words(middle, chart.today)
        room = self.right - self.left - text_width(first, self.size) - text_width(last, self.size)
        if text_width(words, self.size) + 4 * self.size < room:
            items.append(Text(round(self.x(middle)), y, words, self.size, theme.muted, Anchor.CENTRE))
        return items

    def _lines(self) -> list[Item]:
        """Return the lines across, dashed so that no grid line is taken for one."""
        theme, sizes = self.frame.theme, self.frame.sizes
        items: list[Item] = []
        dash, thick = sizes.px(18), max(1, sizes.px(3))
        for value, words in self.chart.lines:
            y = round(self.y(value))
            items.extend(
                Rect(x, y, min(dash, self.right - x), thick, theme.muted)
                for x in range(self.left, self.right, 2 * dash)
            )
            baseline = y - round(0.35 * self.size)
            items.append(Text(self.right, baseline, words, self.size, theme.ink, Anchor.RIGHT))
        return items

    def _dots(self) -> list[Item]:
        theme, unit = self.frame.theme, self.frame.sizes.unit
        values = [each.value for each in self.chart.values]
        dense = len(values) > MOST_DOTS
        joined = values
        if self.chart.best_so_far:
            joined = list(accumulate(values, max))
        elif dense:
            joined = _smoothed(values)
        points = _thinned(
            [(self.x(each.day), self.y(value)) for each, value in zip(self.chart.values, joined, strict=True)]
        )
        if self.chart.best_so_far:
            points = _stairs([*points, (self.x(self.chart.today), points[-1][1])])
        line = [Polyline(tuple(points), (4.0 * unit,), theme.focus)] if len(points) > 1 else []
        dots = {(round(self.x(e.day)), round(self.y(e.value))) for e in self.chart.values}
        if dense:
            # So many dots are a cloud: it stays behind, and the line says where it goes.
            return [*(Disc(x, y, 4.0 * unit, theme.hair) for x, y in sorted(dots)), *line]
        return [*line, *(Disc(x, y, 9.0 * unit, theme.ink) for x, y in sorted(dots))]

    def _bars(self) -> list[Item]:
        theme = self.frame.theme
        wide = max(1, round(0.72 * (self.right - self.left) / (self.days + 1)))
        return [
            Rect(
                round(self.x(each.day) - wide / 2), round(self.y(each.value)), wide,
                max(1, round(self.low) - round(self.y(each.value))), theme.focus,
            )
            for each in self.chart.values
        ]  # fmt: skip


def _smoothed(values: Sequence[float]) -> list[float]:
    """Return the mean of each value and its neighbours, a sixtieth of the whole to each side."""
    reach = max(1, len(values) // SMOOTHED_PARTS)
    sums = [0.0, *accumulate(values)]
    ends = [(max(0, at - reach), min(len(values), at + reach + 1)) for at in range(len(values))]
    return [(sums[end] - sums[begin]) / (end - begin) for begin, end in ends]


def _thinned(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return one point a pixel: more cannot be seen, and years of days would be slow to draw."""
    kept: dict[int, tuple[float, float]] = {}
    for x, y in points:
        kept[round(x)] = (x, y)
    return list(kept.values())


def _stairs(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return points joined level and then up: a tempo is held until a better one comes."""
    stairs = [points[0]]
    for x, y in points[1:]:
        if y != stairs[-1][1]:
            stairs.append((x, stairs[-1][1]))
        stairs.append((x, y))
    return stairs
