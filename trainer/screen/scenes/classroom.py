"""Show a class on one quiet board: a row for each name, the dots of its last turn, and whose turn it is."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trainer.practice.classroom import Classroom, Order, Pupil, Turn, board_order
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Hit, Item, Panel, Rect, Scene, Text
from trainer.screen.keymap import Help, helps_of
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
    row_background,
    scrolled,
    status_items,
)
from trainer.screen.window import Window

AXIS_S = 0.120  # to each side of the stroke; what lies further out is drawn at the edge
NAME_SHARE = 0.28  # of a column's width
LINES, STRIDE = 5, 2  # of marks one above the other; neighbours in time are not neighbours there
LINES_SHARE = 0.62  # of a row's height
WORDS_SHARE = 0.32


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassView:
    """A class as it stands.

    Attributes:
        room: names and turns.
        ranked: whether the board is sorted.
        writing: the name being written; None while none is.
        title, bpm, passes: what a turn plays.
        input_name, sound: as in the library.
        can_undo: whether something taken away can be brought back.
    """

    window: Window
    room: Classroom
    ranked: bool = False
    writing: str | None = None
    title: str = ""
    bpm: Fraction = Fraction(60)
    passes: int = 4
    input_name: str = ""
    sound: str = ""
    can_undo: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return classroom_scene(self)


def classroom_scene(view: ClassView) -> Scene:
    """Return the board's scene."""
    helps = _helps(view)
    frame = Frame.of(view.window, helps=helps)
    values = (Value("passes", str(view.passes), ""), Value("", bpm_words(view.bpm), "bpm"))
    header = header_panel(frame, view.title or "Class", values)
    board, rows = _board(frame, view)
    return page(frame, (header, board), rows, helps, status=_status(frame, view))


def _status(frame: Frame, view: ClassView) -> tuple[Item, ...]:
    """Return what stands under the board: whose turn it is, for the room to read, and the devices."""
    theme, size = frame.theme, frame.sizes.body
    devices = status_items(frame, "", 0.0, f"{view.input_name}    {view.sound}")
    room = round(0.62 * (frame.right - frame.left))
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    words = shortened(_turn_words(view), size, room, bold=True)
    return (*devices, Text(frame.left, baseline, words, size, theme.ink, bold=True))


def _turn_words(view: ClassView) -> str:
    if view.writing is not None or view.room.current is None:
        return "Write or paste names, one a line."
    return f"Now: {view.room.current.name}"


def _helps(view: ClassView) -> tuple[Help, ...]:
    if view.writing is not None:
        return helps_of("class, writing names")
    shown = board_order(view.room.pupils, ranked=view.ranked)
    at = shown.index(view.room.at) if shown else 0
    steps = {"before": max(at - 1, 0), "after": min(at + 1, max(len(shown) - 1, 0))}
    actions = {
        name: Action(act=Act.SELECT, value=shown[index] if shown else 0) for name, index in steps.items()
    }
    other = Order.RANDOM if view.room.order is Order.LISTED else Order.LISTED
    states = {"ranked": view.ranked, "undo": view.can_undo}
    return helps_of("class", states=states, actions=actions, words={"the other order": other.value})


def _board(frame: Frame, view: ClassView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    top, high = frame.body_top, frame.note_top - frame.body_top
    items: list[Item] = []
    hits: list[Hit] = []
    row_high = round(2.0 * sizes.body)
    lines = max(1, high // row_high)
    count = len(view.room.pupils) + (view.writing is not None)
    columns = 1 if count <= lines else 2
    width = (frame.right - frame.left - (columns - 1) * 2 * sizes.gap) // columns
    order = board_order(view.room.pupils, ranked=view.ranked)
    chosen = order.index(view.room.at) if order else 0
    if view.writing is not None:
        chosen = len(order)
    first = scrolled(count, lines * columns, chosen) if count > lines * columns else 0
    for index in range(first, min(count, first + lines * columns)):
        column, line = divmod(index - first, lines)
        x, y = frame.left + column * (width + 2 * sizes.gap), top + line * row_high
        if index == chosen:
            # Under the name alone: marks need the contrast of the plain ground.
            wide = width if index == len(order) else _name_room(view.room.pupils[order[index]], width)
            items.extend(row_background(frame, x - sizes.px(20), y, wide, row_high))
        if index == len(order):
            items.extend(_writing(frame, view.writing or "", x, y, row_high, width))
            continue
        at = order[index]
        items.extend(_row(frame, view.room.pupils[at], x, y, row_high, width, chosen=index == chosen))
        if view.writing is None:
            action = Action(act=Act.START) if index == chosen else Action(act=Act.SELECT, value=at)
            hits.append(Hit(x, y, width, row_high, action))
    if not count:
        words = "Nobody is here yet."
        items.append(Text(frame.left, top + row_high, words, sizes.body, theme.ink))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items)), tuple(hits)


def _writing(frame: Frame, text: str, x: int, y: int, high: int, width: int) -> tuple[Item, ...]:
    size = frame.sizes.body
    words = shortened(text, size, width, bold=True)
    caret_x = x + text_width(words, size, bold=True) + frame.sizes.px(4)
    return (
        Text(x, middle_baseline(y, high, size), words, size, frame.theme.ink, bold=True),
        Rect(
            caret_x,
            round(y + high / 2 - 0.55 * size),
            frame.sizes.px(3),
            round(1.1 * size),
            frame.theme.focus,
        ),
    )


def _name_room(pupil: Pupil, width: int) -> int:
    """Return how wide a name may be: as wide as the row until something stands beside it."""
    return round(NAME_SHARE * width) if pupil.turns else width


def _row(frame: Frame, pupil: Pupil, x: int, y: int, high: int, width: int, *, chosen: bool) -> list[Item]:
    theme, sizes = frame.theme, frame.sizes
    body, small = sizes.body, sizes.small
    baseline = middle_baseline(y, high, body)
    # Larger text takes its room from the axis, which stays readable.
    name_wide, words_wide = round(NAME_SHARE * width), round(WORDS_SHARE * frame.window.text_scale * width)
    room = _name_room(pupil, width) - sizes.gap
    size = body if text_width(pupil.name, body, bold=chosen) <= room else small
    name = shortened(pupil.name, size, room, bold=chosen)
    items: list[Item] = [Text(x, baseline, name, size, theme.ink, bold=chosen)]
    if not pupil.turns:
        return items
    turn = pupil.turns[-1]
    axis_left = x + name_wide
    axis_wide = width - name_wide - words_wide
    items.extend(_dots(frame, turn, axis_left, axis_wide, y + high / 2, LINES_SHARE * high))
    count = f"  turn {len(pupil.turns)}" if len(pupil.turns) > 1 else ""
    words = shortened(turn.in_words + count, small, words_wide - sizes.gap)
    right = x + width
    items.append(Text(right, middle_baseline(y, high, small), words, small, theme.muted, Anchor.RIGHT))
    return items


def _dots(frame: Frame, turn: Turn, left: int, width: int, y: float, high: float) -> list[Item]:
    """Return a turn's taps on an axis from early to late, in the middle the stroke itself."""
    theme, sizes = frame.theme, frame.sizes
    radius = 5.0 * sizes.unit * frame.window.text_scale
    middle, reach = left + width / 2, width / 2 - 2 * radius
    thick = max(1, sizes.px(2))
    items: list[Item] = [
        Rect(round(middle - reach), round(y), round(2 * reach), max(1, thick // 2), theme.hair),
        Rect(round(middle), round(y - 0.6 * high), max(1, thick // 2), round(1.2 * high), theme.muted),
    ]
    placed = list(enumerate(zip(turn.placements_s, turn.verdicts, strict=True)))
    # What was not in time comes last, on top.
    for at, (placement_s, verdict) in sorted(placed, key=lambda each: not each[1][1].is_clean):
        share = min(max(placement_s / AXIS_S, -1.0), 1.0)
        # On lines in turn, so that marks at one place do not hide one another.
        line = (at * STRIDE % LINES) / (LINES - 1) - 0.5
        items.extend(mark(verdict, middle + share * reach, y + line * high, radius, theme))
    return items
