"""Show how far a player has come: one large picture, and the takes behind it."""

from __future__ import annotations

import enum
from dataclasses import dataclass
from fractions import Fraction

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened
from trainer.screen.scenes.chart_of_days import DayChart, DayValue, chart_items
from trainer.screen.scenes.parts import (
    Frame,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
    row_background,
    scrolled,
)
from trainer.screen.window import Window

LIST_SHARE = 0.36  # of the window's width


class ProgressPicture(enum.Enum):
    """Which picture; the value is its heading."""

    TEMPO = "fastest clean tempo"
    SPREAD = "spread"
    MINUTES = "minutes a day"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayedRow:
    """A pattern in the list: its title, and what there is to say of it in a few words."""

    title: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressView:
    """The pictures of one player.

    Attributes:
        player: a name, or empty when nobody said who plays.
        rows: the patterns played, the latest first; ``selected`` is a place in them.
        picture: which one is shown; ``values`` are its points in order of days: beats a minute, milliseconds
            or minutes.
        slow, goal: the pattern's own tempi; None where it is not in the library any more.
        at_bpm: the tempo at which the spread is shown.
        today: ordinal of the date.
    """

    window: Window
    player: str = ""
    rows: tuple[PlayedRow, ...] = ()
    selected: int = 0
    picture: ProgressPicture = ProgressPicture.TEMPO
    values: tuple[DayValue, ...] = ()
    slow: float | None = None
    goal: float | None = None
    at_bpm: Fraction | None = None
    today: int = 1

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return progress_scene(self)


def progress_scene(view: ProgressView) -> Scene:
    """Return the pictures' scene."""
    helps = _helps(view)
    frame = Frame.of(view.window, helps=helps)
    title = f"Progress: {view.player}" if view.player else "Progress"
    header = header_panel(frame, title, ())
    listed, rows = _list(frame, view)
    picture, tabs = _picture(frame, view)
    return page(frame, (header, listed, picture), (*rows, *tabs), helps, status=_remark(frame, view))


def _helps(view: ProgressView) -> tuple[Help, ...]:
    last = max(len(view.rows) - 1, 0)
    states = {"spread": view.picture is ProgressPicture.SPREAD}
    return helps_of("progress", states=states, actions=walked(view.selected, last))


def _list(frame: Frame, view: ProgressView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    width = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = round(3.1 * sizes.body)
    shown = max(1, high // row_high)
    first = scrolled(len(view.rows), shown, view.selected)
    items: list[Item] = []
    hits: list[Hit] = []
    for at, row in enumerate(view.rows[first : first + shown]):
        index, y = first + at, top + at * row_high
        x = frame.left - sizes.px(20)
        chosen = index == view.selected
        if chosen:
            items.extend(row_background(frame, x, y, width - x - sizes.gap // 2, row_high))
        items.extend(_list_row(frame, row, y, row_high, width - sizes.gap, chosen=chosen))
        action = Action(act=Act.START) if chosen else Action(act=Act.SELECT, value=index)
        hits.append(Hit(x, y, width - x, row_high, action))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


def _list_row(frame: Frame, row: PlayedRow, y: int, high: int, right: int, *, chosen: bool) -> list[Item]:
    theme, sizes = frame.theme, frame.sizes
    room = right - frame.left
    upper = middle_baseline(y, round(0.58 * high), sizes.body)
    lower = middle_baseline(y + round(0.46 * high), round(0.5 * high), sizes.small)
    title = shortened(row.title, sizes.body, room, bold=chosen)
    return [
        Text(frame.left, upper, title, sizes.body, theme.ink, bold=chosen),
        Text(frame.left, lower, shortened(row.words, sizes.small, room), sizes.small, theme.muted),
    ]


def _picture(frame: Frame, view: ProgressView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    left = round(LIST_SHARE * frame.window.width)
    top, high = frame.body_top, frame.note_top - frame.body_top
    x, width = left + sizes.gap, frame.right - left - sizes.gap
    items: list[Item] = []
    heading_high = round(1.9 * sizes.title)
    heading = shortened(picture_heading(view), sizes.title, width, bold=True)
    baseline = middle_baseline(top, heading_high, sizes.title)
    items.append(Text(x, baseline, heading, sizes.title, theme.ink, bold=True))
    chart = chart_of(view)
    if chart is None:
        words = _nothing_yet(view)
        items.append(Text(x, top + 2 * heading_high, words, sizes.body, theme.muted))
    else:
        items.extend(chart_items(frame, chart, x, top + heading_high, width, high - heading_high))
    half = width // 2
    tabs = (
        Hit(x, top, half, high, Action(act=Act.SHOW, value=-1)),
        Hit(x + half, top, width - half, high, Action(act=Act.SHOW, value=1)),
    )
    return Panel(left, top, frame.window.width - left, high, theme.wall, tuple(items)), tabs


def picture_heading(view: ProgressView) -> str:
    """Return what the picture says, in a line that can be read across a room."""
    values = [each.value for each in view.values]
    if view.picture is ProgressPicture.TEMPO:
        return f"clean at {bpm_words(max(values))} bpm" if values else ProgressPicture.TEMPO.value
    if view.picture is ProgressPicture.SPREAD:
        at = f" at {bpm_words(view.at_bpm)} bpm" if view.at_bpm is not None else ""
        return f"spread {values[-1]:.0f} ms{at}" if values else f"spread{at}"
    week = sum(each.value for each in view.values if each.day > view.today - 7)
    if 0 < week < 1:
        return "less than a minute in seven days"
    return f"{week:.0f} {'minute' if round(week) == 1 else 'minutes'} in seven days"


def _nothing_yet(view: ProgressView) -> str:
    if view.picture is ProgressPicture.TEMPO:
        return "No tempo has been held clean yet."
    if view.picture is ProgressPicture.SPREAD:
        return "Nothing was played at this tempo yet."
    return "Nothing was played yet."


def chart_of(view: ProgressView) -> DayChart | None:
    """Return the chart of a view; None while there is nothing to draw."""
    if not view.values:
        return None
    if view.picture is ProgressPicture.TEMPO:
        lines = [(view.goal, f"goal {bpm_words(view.goal)}")] if view.goal is not None else []
        lines += [(view.slow, f"slow {bpm_words(view.slow)}")] if view.slow is not None else []
        return DayChart(
            values=view.values, today=view.today, lines=tuple(lines), best_so_far=True, unit="bpm"
        )
    if view.picture is ProgressPicture.SPREAD:
        return DayChart(values=view.values, today=view.today, unit="ms")
    return DayChart(values=_of_weeks(view.values, view.today), today=view.today, bars=True, unit="minutes")


WEEK = 7
MOST_DAY_BARS = 70


def _of_weeks(values: tuple[DayValue, ...], today: int) -> tuple[DayValue, ...]:
    """Return the minutes by day, or of weeks as an average a day when the days would be too thin to see."""
    if today - values[0].day < MOST_DAY_BARS:
        return values
    weeks: dict[int, float] = {}
    for each in values:
        week = (today - each.day) // WEEK
        weeks[week] = weeks.get(week, 0.0) + each.value / WEEK
    # A week stands at its middle day, as wide as its neighbours leave it.
    return tuple(
        DayValue(today - week * WEEK - WEEK // 2, weeks[week]) for week in sorted(weeks, reverse=True)
    )


def _remark(frame: Frame, view: ProgressView) -> tuple[Item, ...]:
    theme, size = frame.theme, frame.sizes.small
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    words = {
        ProgressPicture.TEMPO: "Each dot: the fastest tempo held clean that day. The line: the best so far.",
        ProgressPicture.SPREAD: "How far the taps of a day lie apart at this tempo; smaller is steadier.",
        ProgressPicture.MINUTES: "Time with the click running, all figures; over months a week's average.",
    }[view.picture]
    words = shortened(words, size, frame.right - frame.left)
    return (Text(frame.left, baseline, words, size, theme.muted),)
