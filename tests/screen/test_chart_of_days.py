"""Charts over days: round steps, true places, and dates as a calendar has them."""

import datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.screen.draw import Disc, Polyline, Rect, Text
from trainer.screen.scenes.chart_of_days import (
    MOST_DOTS,
    MOST_STEPS,
    DayChart,
    DayValue,
    chart_items,
    day_words,
    round_step,
    value_range,
)
from trainer.screen.scenes.parts import Frame
from trainer.screen.window import Window

TODAY = datetime.date(2026, 11, 25).toordinal()
FRAME = Frame.of(Window(width=1920, height=1080))
BOX = (100, 200, 1200, 700)


@given(st.integers(min_value=1, max_value=datetime.date(9000, 1, 1).toordinal()))
def test_dates_are_those_of_the_calendar(day: int) -> None:
    """Against Python's datetime, a general library."""
    date = datetime.date.fromordinal(day)
    assert day_words(day, day) == f"{date.day} {date:%b}"
    assert day_words(day, day + 400).endswith(f" {date.year}")


@given(st.floats(min_value=1e-6, max_value=1e9))
def test_steps_are_one_two_or_five_and_few(span: float) -> None:
    step = round_step(span)
    mantissa = step / 10.0 ** np.floor(np.log10(step) + 1e-9)
    assert min(abs(mantissa - wanted) for wanted in (1.0, 2.0, 5.0, 10.0)) < 1e-6
    assert span / step <= MOST_STEPS + 1e-6


@given(st.lists(st.floats(min_value=0.0, max_value=500.0), min_size=1, max_size=50), st.booleans())
def test_every_value_lies_inside_the_axis(values: list[float], bars: bool) -> None:
    chart = DayChart(
        values=tuple(DayValue(TODAY - 60 + at, value) for at, value in enumerate(values)),
        today=TODAY, lines=() if bars else ((40.0, "slow"), (110.0, "goal")), bars=bars,
    )  # fmt: skip
    bottom, top, step = value_range(chart)
    assert bottom <= min(values)
    assert top >= max(values)
    assert step > 0
    if bars:
        assert bottom == 0


def dots(chart: DayChart) -> list[Disc]:
    return [item for item in chart_items(FRAME, chart, *BOX) if isinstance(item, Disc)]


def test_dots_lie_where_linear_axes_put_them() -> None:
    """Against numpy's least squares: x over days and y over values are straight lines, y downwards."""
    values = tuple(DayValue(TODAY - 30 + at, 50.0 + at) for at in (0, 7, 11, 30))
    found = dots(DayChart(values=values, today=TODAY))
    assert len(found) == 4
    days = [each.day for each in values]
    for places, given_, up in (
        ([d.x for d in found], days, 1),
        ([d.y for d in found], [v.value for v in values], -1),
    ):
        slope, start = np.polyfit(given_, places, 1)
        assert np.allclose(np.polyval([slope, start], given_), places, atol=1.0)
        assert np.sign(slope) == up
    x, y, w, h = BOX
    assert all(x <= d.x <= x + w and y <= d.y <= y + h for d in found)


def test_the_best_so_far_never_falls() -> None:
    values = tuple(DayValue(TODAY - 9 + at, value) for at, value in enumerate((60.0, 70.0, 50.0, 90.0, 80.0)))
    items = chart_items(FRAME, DayChart(values=values, today=TODAY, best_so_far=True), *BOX)
    (line,) = [item for item in items if isinstance(item, Polyline)]
    heights = [y for _, y in line.points]
    assert heights == sorted(heights, reverse=True)


def test_many_days_become_a_cloud_and_a_line_through_it() -> None:
    rng = np.random.default_rng(2)
    values = tuple(
        DayValue(TODAY - 3000 + at, 30.0 - at * 0.005 + float(rng.normal(0, 2))) for at in range(3000)
    )
    items = chart_items(FRAME, DayChart(values=values, today=TODAY), *BOX)
    (line,) = [item for item in items if isinstance(item, Polyline)]
    # The line is a mean of about a hundred values: it rises and falls by a tenth of what the dots do.
    steps = np.abs(np.diff([y for _, y in line.points]))
    scatter = np.std([item.y for item in items if isinstance(item, Disc)])
    assert np.median(steps) < 0.1 * scatter
    assert len(values) > MOST_DOTS
    assert len(line.points) <= BOX[2]


def test_bars_stand_on_nought() -> None:
    values = (DayValue(TODAY - 1, 10.0), DayValue(TODAY, 20.0))
    items = chart_items(FRAME, DayChart(values=values, today=TODAY, bars=True), *BOX)
    bars = [item for item in items if isinstance(item, Rect) and item.colour == FRAME.theme.focus]
    assert len(bars) == 2
    assert bars[0].y + bars[0].h == bars[1].y + bars[1].h
    assert bars[1].h == pytest.approx(2 * bars[0].h, abs=2)


def test_a_goal_is_named_on_its_line() -> None:
    chart = DayChart(values=(DayValue(TODAY, 60.0),), today=TODAY, lines=((110.0, "goal 110"),))
    words = [item.text for item in chart_items(FRAME, chart, *BOX) if isinstance(item, Text)]
    assert "goal 110" in words
    assert "today" in words
