"""Show a class on one quiet board: a row for each name, the dots of its last turn, and whose turn it is.

A board belongs to one figure at one level, one tempo and one day, and says so; older ones can be looked up.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trainer.practice.classroom import Classroom, Order, board_order
from trainer.practice.turns import Board, Turn
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Hit, Item, Panel, Rect, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.chart_of_days import day_words
from trainer.screen.scenes.class_board import (
    FINE_LINE,
    BoardRow,
    BoardShape,
    axis_items,
    board_shape,
    fine_size,
    names_size,
    row_items,
    signs_items,
)
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    largest_fitting,
    middle_baseline,
    page,
    readable,
    row_background,
    scrolled,
    status_items,
)
from trainer.screen.window import Window

HEADER_UNITS = 130.0


class Extra(enum.Enum):
    """What can be chosen besides the names, below them; the value is its action's ``value`` below nought."""

    TOGETHER = -1
    WORD = -2  # count the turn that waits


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassView:
    """A class as it stands.

    Attributes:
        room: names and turns.
        board: the one that is shown; None while there is nothing to play.
        looking_back: whether that is another than the one on which turns go now.
        number, boards: which of how many it is, from 1, the oldest first.
        today: ordinal of the date.
        extra: what is chosen besides the names; None while a name is.
        held: who waits for the teacher's word, and the turn; None for nobody.
        ranked: whether the board is sorted.
        writing: the name being written; None while none is.
        title, level, bpm, passes: what is shown, and how often a turn plays it.
        input_name, sound: as in the library.
        can_undo: whether something taken away can be brought back.
        list_name: of the class, where there are several; empty for the one that has none.
        has_lists: whether there is another class to go to.
    """

    window: Window
    room: Classroom
    board: Board | None = None
    looking_back: bool = False
    number: int = 1
    boards: int = 1
    today: int = 1
    extra: Extra | None = None
    held: tuple[str, Turn] | None = None
    ranked: bool = False
    writing: str | None = None
    title: str = ""
    level: str = ""
    bpm: Fraction = Fraction(60)
    passes: int = 4
    input_name: str = ""
    sound: str = ""
    can_undo: bool = False
    list_name: str = ""
    has_lists: bool = False

    @property
    def order(self) -> tuple[int, ...]:
        """The places of the pupils as the board lists them."""
        pupils = self.room.pupils
        if self.board is None:
            return tuple(range(len(pupils)))
        return board_order(pupils, self.board, ranked=self.ranked)

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return classroom_scene(self)


def classroom_scene(view: ClassView) -> Scene:
    """Return the board's scene."""
    helps = _helps(view)
    frame = _frame(view, helps)
    values = (Value("passes", str(view.passes), ""), Value("", bpm_words(view.bpm), "bpm"))
    title = ": ".join(each for each in (view.list_name, view.title) if each) or "Class"
    header = header_panel(frame, title, values[view.looking_back :])
    board, rows = _board(frame, view, helps)
    return page(frame, (header, board), rows, helps, status=_status(frame, view))


def _frame(view: ClassView, helps: tuple[Help, ...], scale: float | None = None) -> Frame:
    """Return the frame, or what it is at a text setting while nothing is said."""
    window = view.window
    if scale is not None:
        window = replace(window, text_scale=scale, banner=None)
    return _frame_of(window, helps)


@lru_cache(maxsize=16)
def _frame_of(window: Window, helps: tuple[Help, ...]) -> Frame:
    return Frame.of(window, header_units=HEADER_UNITS, helps=helps)


def _status(frame: Frame, view: ClassView) -> tuple[Item, ...]:
    """Return what stands under the board: whose turn it is, for the room to read, and what waits."""
    theme, sizes = frame.theme, frame.sizes
    top, high = frame.note_top, frame.help_top - frame.note_top
    now, beside = _turn_words(view), _beside_words(view)
    room = frame.right - frame.left
    size = largest_fitting(frame, now, room // 2 if beside else room, from_title=True)
    size = max(size, readable(frame.window.height))
    words = shortened(now, size, room, bold=True)
    items: list[Item] = [
        Text(frame.left, middle_baseline(top, high, size), words, size, theme.ink, bold=True)
    ]
    x = frame.left + text_width(words, size, bold=True) + 2 * sizes.gap
    if beside:
        lines = wrapped(beside, sizes.small, max(frame.right - x, 1), 2)
        pitch = round(1.3 * sizes.small)
        first = top + (high - pitch * len(lines)) // 2
        for at, line in enumerate(lines):
            y = middle_baseline(first + at * pitch, pitch, sizes.small)
            items.append(Text(frame.right, y, line, sizes.small, theme.ink, Anchor.RIGHT))
        return tuple(items)
    devices = f"{view.input_name}    {view.sound}"
    if x + text_width(devices, sizes.small) <= frame.right:
        items.extend(item for item in status_items(frame, "", 0.0, devices) if item.text)  # type: ignore[union-attr]
    return tuple(items)


def _turn_words(view: ClassView) -> str:
    if view.writing is not None or view.room.current is None:
        return "Write or paste names, one a line."
    if view.looking_back:
        return "Looking back"
    if view.extra is Extra.TOGETHER:
        return "Now: all at once"
    if view.extra is Extra.WORD and view.held is not None:
        return f"Now: count {view.held[0]}'s turn"
    return f"Now: {view.room.current.name}"


def _beside_words(view: ClassView) -> str:
    if view.writing is not None:
        return ""
    if view.looking_back:
        return "Enter takes this figure and tempo up again, Esc goes back to the board of now."
    if view.extra is Extra.TOGETHER:
        return "Two to eight play at once, each on a pad or key of their own."
    if view.held is not None:
        name, turn = view.held
        return f"{name}'s turn is held back: {turn.disturbed}. Your word counts it, and it stays marked."
    return ""


def _helps(view: ClassView) -> tuple[Help, ...]:
    if view.writing is not None:
        return helps_of("class, writing names")
    other = Order.RANDOM if view.room.order is Order.LISTED else Order.LISTED
    current = view.room.current
    is_away = current is not None and current.away == view.today
    states = {
        "ranked": view.ranked,
        "undo": view.can_undo,
        "held": view.held is not None,
        "away": is_away,
        "here": current is not None and not is_away,
        "boards": view.boards > 1 or view.looking_back,
        "lists": view.has_lists,
    }
    words = {"the other order": other.value, "start": _start_words(view)}
    return helps_of("class", states=states, actions=_walk(view), words=words)


def _start_words(view: ClassView) -> str:
    if view.looking_back:
        return "take it up again"
    if view.extra is Extra.TOGETHER:
        return "all at once"
    return "count it" if view.extra is Extra.WORD else "turn"


def _walk(view: ClassView) -> dict[str, Action]:
    """Return what the keys for before and after choose: round through the names and what is below them."""
    stops: list[int] = list(view.order)
    if not stops:
        return {}
    if not view.looking_back:
        stops.append(Extra.TOGETHER.value)
        if view.held is not None:
            stops.append(Extra.WORD.value)
    chosen = view.extra.value if view.extra is not None else view.room.at
    at = stops.index(chosen) if chosen in stops else 0
    steps = {"before": (at - 1) % len(stops), "after": (at + 1) % len(stops)}
    return {name: Action(act=Act.SELECT, value=stops[index]) for name, index in steps.items()}


def _board(frame: Frame, view: ClassView, helps: tuple[Help, ...]) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes, pupils = frame.theme, frame.sizes, view.room.pupils
    top, high = frame.body_top, frame.note_top - frame.body_top
    order = view.order
    count = len(pupils) + (view.writing is not None)
    size = names_size(lambda scale: _frame(view, helps, scale), view.window.text_scale, max(count, 1))
    board = [BoardRow.of(pupil, view.board) for pupil in pupils]
    shape = board_shape(frame, size, board, count)
    chosen = len(order) if view.writing is not None else order.index(view.room.at) if order else 0
    shown = shape.lines * shape.columns
    first = scrolled(count, shown, chosen) if count > shown else 0
    last = min(count, first + shown)
    items: list[Item] = [*_caption(frame, view, first, last, count)]
    hits: list[Hit] = []
    line = round(FINE_LINE * fine_size(frame))
    turns = [row.turns[-1] for row in board if row.turns]
    for column in range(shape.columns if turns else 0):
        items.extend(axis_items(frame, shape, _column_x(frame, shape, column), top + line))
    items.extend(signs_items(frame, turns, frame.note_top - line))
    for index in range(first, last):
        column, row = divmod(index - first, shape.lines)
        x, y = _column_x(frame, shape, column), shape.top + row * shape.row_high
        if index == len(order):
            items.extend(_writing(frame, shape, view.writing or "", x, y))
            continue
        at = order[index]
        is_chosen = index == chosen and view.extra is None
        if is_chosen:
            # Under the name alone: marks need the contrast of the plain ground.
            wide = shape.name if turns else shape.width
            items.extend(row_background(frame, x - sizes.px(20), y, wide, shape.row_high))
        items.extend(row_items(frame, shape, board[at], x, y, chosen=is_chosen))
        if view.writing is None:
            action = Action(act=Act.START) if is_chosen else Action(act=Act.SELECT, value=at)
            hits.append(Hit(x, y, shape.width, shape.row_high, action))
    if not count:
        items.append(Text(frame.left, shape.top + shape.row_high, "Nobody is here yet.", size, theme.ink))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items)), tuple(hits)


def _column_x(frame: Frame, shape: BoardShape, column: int) -> int:
    return frame.left + column * (shape.width + 2 * frame.sizes.gap)


def _caption(frame: Frame, view: ClassView, first: int, last: int, count: int) -> list[Item]:
    """Return which board this is: its day and level, its number among all; and which names are shown."""
    theme, fine = frame.theme, fine_size(frame)
    baseline = middle_baseline(frame.body_top, round(FINE_LINE * fine), fine)
    day = view.board.day if view.board is not None else None
    words = []
    if view.board is not None:
        today = day is not None and day == view.today
        words.append(
            "on a day that was not noted" if day is None
            else f"{'today, ' if today else ''}{day_words(day, view.today)}"
        )  # fmt: skip
        if view.level:
            words.append(f"level: {view.level}")
    if view.boards > 1:
        words.append(f"board {view.number} of {view.boards}")
    if last - first < count:
        words.append(f"names {first + 1} to {last} of {count}")
    said = "   ".join(words)
    said = shortened(said[:1].upper() + said[1:], fine, frame.right - frame.left) if said else ""
    return [Text(frame.left, baseline, said, fine, theme.muted)] if said else []


def _writing(frame: Frame, shape: BoardShape, text: str, x: int, y: int) -> tuple[Item, ...]:
    size, high, sizes = shape.size, shape.row_high, frame.sizes
    words = shortened(text, size, shape.width, bold=True)
    caret_x = x + text_width(words, size, bold=True) + sizes.px(4)
    return (
        *row_background(frame, x - sizes.px(20), y, shape.width, high),
        Text(x, middle_baseline(y, high, size), words, size, frame.theme.ink, bold=True),
        Rect(caret_x, round(y + high / 2 - 0.55 * size), sizes.px(3), round(1.1 * size), frame.theme.focus),
    )
