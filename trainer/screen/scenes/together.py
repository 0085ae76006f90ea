"""Show several players on one sheet: whose each pad is, a row of marks for each, what it came to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.practice.seats import Seats
from trainer.practice.turns import Turn
from trainer.screen.draw import Anchor, Disc, Item, Panel, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.class_board import (
    BY_WORD,
    FINE_LINE,
    HELD_BACK,
    ROW,
    WIDE_ROW,
    fine_size,
    names_size,
)
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.moving_sheet import sheet_panels
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
LEFT_OUT = "left out"


@dataclass(frozen=True, slots=True, kw_only=True)
class TogetherView:
    """Several players at once.

    Attributes:
        seats: who plays on what.
        touched: whose pad was touched just now, an index among those taken; None for nobody's.
        drill: the sheet with a row for each; None while it does not run.
        is_over: whether it has run.
        turns: what each came to, so far as that is worked out.
        title, bpm: of what is played.
    """

    window: Window
    seats: Seats
    touched: int | None = None
    title: str = ""
    bpm: Fraction = Fraction(60)
    drill: DrillView | None = None
    is_over: bool = False
    turns: tuple[Turn, ...] = ()

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return together_scene(self)


def together_scene(view: TogetherView) -> Scene:
    """Return the scene of several players."""
    helps, drill = _helps(view), view.drill
    if drill is None:
        frame = _frame(view, helps)
        values: tuple[Value, ...] = (Value("", bpm_words(view.bpm), "bpm"),)
        body: tuple[Panel, ...] = (_seats(frame, view, helps),)
        status = _asked(frame, view)
    else:
        frame = Frame.of(view.window, is_steady=True, helps=helps)
        values = (
            Value("pass", f"{drill.pass_index + 1} of {drill.passes}", ""),
            Value("", bpm_words(drill.bpm), "bpm"),
        )
        body = sheet_panels(frame, drill)
        alone = sum(seat.thumb is None for seat in view.seats.taken)
        words = "nail and thumb are told apart" if not alone else "with one pad alone the hand is not judged"
        status = status_items(frame, words, 0.0, drill.sound)
    return page(frame, (header_panel(frame, view.title, values), *body), (), helps, status=status)


def _frame(view: TogetherView, helps: tuple[Help, ...], scale: float | None = None) -> Frame:
    window = view.window
    if scale is not None:
        window = replace(window, text_scale=scale, banner=None)
    return Frame.of(window, header_units=HEADER_UNITS, helps=helps)


def _helps(view: TogetherView) -> tuple[Help, ...]:
    playing = view.drill is not None
    giving = not playing and not view.is_over
    states = {
        "playing": playing,
        "over": view.is_over,
        "can begin": giving and view.seats.can_begin,
        "asked": giving and bool(view.seats.asked),
        "can undo": giving and view.seats.before is not None,
        "held": view.is_over and any(not turn.counts for turn in view.turns),
    }
    return helps_of("together", states=states)


def _asked(frame: Frame, view: TogetherView) -> tuple[Item, ...]:
    """Return what is to be done now, for the room to read."""
    theme, seats = frame.theme, view.seats
    top, high = frame.note_top, frame.help_top - frame.note_top
    room = frame.right - frame.left
    if view.is_over:
        reasons = tuple(dict.fromkeys(turn.disturbed for turn in view.turns if not turn.counts))
        words = f"Held back: {reasons[0]}. Your word counts it, and it stays marked." if reasons else ""
    elif not seats.asked:
        words = "Everybody has a pad."
    elif seats.first is None:
        words = f"{seats.asked}: touch the pad for your nail, or press a letter"
    else:
        words = f"{seats.asked}: and for your thumb; the same once more if it is all you have"
    size = max(largest_fitting(frame, words, room, from_title=True), readable(frame.window.height))
    if text_width(words, size, bold=True) > room:
        size = readable(frame.window.height)
    pitch = round(1.15 * size)
    lines = wrapped(words, size, room, 2, bold=True)
    first = top + (high - pitch * len(lines)) // 2
    return tuple(
        Text(frame.left, middle_baseline(first + at * pitch, pitch, size), line, size, theme.ink, bold=True)
        for at, line in enumerate(lines)
    )


@dataclass(frozen=True, slots=True)
class _Row:
    """A player in the list: what stands beside the name, and the seat among those who have pads."""

    name: str
    pads: str
    taken: int | None
    is_asked: bool


def _rows(view: TogetherView) -> list[_Row]:
    seats = view.seats
    taken = {seat.name: at for at, seat in enumerate(seats.taken)}
    shown = [name for name in seats.names if name in taken] if view.is_over else list(seats.names)
    rows = []
    for name in shown:
        at = taken.get(name)
        pads = seats.taken[at].in_words if at is not None else LEFT_OUT if name in seats.away else ""
        if name == seats.asked and seats.first is not None:
            pads = f"nail: {seats.first.in_words}"
        rows.append(_Row(name, pads, at, name == seats.asked and not view.is_over))
    return rows


def _seats(frame: Frame, view: TogetherView, helps: tuple[Help, ...]) -> Panel:
    """Return the players in a list: a filled disc for a pad and its name, or what the turn came to."""
    theme, sizes = frame.theme, frame.sizes
    top, high = frame.body_top, frame.note_top - frame.body_top
    rows, fine = _rows(view), fine_size(frame)
    line = round(FINE_LINE * fine)
    size = names_size(lambda scale: _frame(view, helps, scale), view.window.text_scale, min(len(rows), 8))
    lines = max(1, (high - line) // int(ROW * size))
    row_high = max(
        int(ROW * size), min((high - line) // min(lines, max(len(rows), 1)), round(WIDE_ROW * size))
    )
    asked = next((at for at, row in enumerate(rows) if row.is_asked), len(rows) - 1)
    first = scrolled(len(rows), lines, asked) if len(rows) > lines else 0
    words = _caption(view, first, min(first + lines, len(rows)), len(rows))
    items: list[Item] = [Text(frame.left, middle_baseline(top, line, fine), words, fine, theme.muted)]
    name_x = frame.left + round(1.4 * size)
    names = max((text_width(row.name, size, bold=True) for row in rows), default=0)
    beside_x = min(name_x + names + 2 * sizes.gap, frame.left + (frame.right - frame.left) // 2)
    for index, row in enumerate(rows[first : first + lines]):
        y = top + line + index * row_high
        touched = row.taken is not None and row.taken == view.touched
        if touched or row.is_asked:
            wide = frame.right - frame.left + sizes.px(40)
            items.extend(row_background(frame, frame.left - sizes.px(20), y, wide, row_high))
        items.extend(_row(frame, view, row, y, row_high, size, name_x, beside_x, touched=touched))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items))


def _caption(view: TogetherView, first: int, last: int, count: int) -> str:
    words = "Strokes as asked" if view.is_over else "Each on a pad or two of their own"
    return f"{words}   names {first + 1} to {last} of {count}" if last - first < count else words


def _row(
    frame: Frame, view: TogetherView, row: _Row, y: int, high: int, size: int, name_x: int, beside_x: int,
    *, touched: bool,
) -> list[Item]:  # fmt: skip
    theme, fine, gap = frame.theme, fine_size(frame), frame.sizes.gap
    baseline, low = middle_baseline(y, high, size), middle_baseline(y, high, fine)
    x, r = frame.left + 0.5 * size, 0.36 * size
    sign: Item = Ring(x, y + high / 2, r, 0.3 * r, theme.muted)
    if row.taken is not None:
        sign = Disc(x, y + high / 2, r * (1.3 if touched else 1.0), theme.in_time)
    bold = row.is_asked or touched
    colour = theme.ink if row.taken is not None or row.is_asked else theme.muted
    name = shortened(row.name, size, beside_x - name_x - gap, bold=bold)
    items: list[Item] = [sign, Text(name_x, baseline, name, size, colour, bold=bold)]
    if not view.is_over:
        pads = shortened(row.pads, fine, frame.right - beside_x)
        return [*items, Text(beside_x, low, pads, fine, theme.ink if row.taken is not None else theme.muted)]
    turn = view.turns[row.taken] if row.taken is not None and row.taken < len(view.turns) else None
    if turn is None:
        return items
    share = turn.share if turn.counts else f"({turn.share})"
    share_x = beside_x + max(text_width(f"({each.share})", size, bold=True) for each in view.turns)
    items.append(Text(share_x, baseline, share, size, theme.ink, Anchor.RIGHT, True))
    mark = "" if not turn.disturbed else BY_WORD if turn.counts else HELD_BACK
    besides = ", ".join(words for words in (turn.besides, mark) if words)
    x_left = share_x + 2 * gap
    if besides and x_left < frame.right:
        items.append(Text(x_left, low, shortened(besides, fine, frame.right - x_left), fine, theme.muted))
    return items
