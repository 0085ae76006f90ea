"""Lay a class's board out so that it is read from the back of the room: sizes, columns, rows, signs and axis.

What a pupil must read is at least 1/36 of the height of the picture, whatever the text setting, and a larger
setting never makes it smaller. With few names the capitals alone are that high: some 13 minutes of arc at 8 m
from a picture 2 m wide, 20 from one 3 m wide (the sum in :attr:`trainer.screen.theme.Sizes.large`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from trainer.practice.classroom import Pupil
from trainer.practice.turns import Board, Turn
from trainer.screen.draw import Anchor, Item, Rect, Text
from trainer.screen.lettering import CAPITAL, shortened, text_width
from trainer.screen.scenes.marks import LOOKS, mark
from trainer.screen.scenes.parts import SCALES, Frame, middle_baseline, readable

ROW, WIDE_ROW = 1.3, 2.2  # height of a row in sizes of its type: at least, at most
FINE_SHARE = 0.78  # of the body's type, which would leave the names less room than they need
FINE_LINE = 1.45  # of the lines that explain, in sizes of their type
AXIS_S = 0.120  # to each side of the stroke; what lies further out is drawn at the edge
LEAST_AXIS = (12.0, 6.0)  # in sizes of the fine type, with one column and with two
LINES, STRIDE = 5, 2  # of marks one above the other; neighbours in time are not neighbours there
LINES_SHARE = 0.62  # of a row's height
MOST_EARLIER = 3  # turns shown before the last one
ASKED = "strokes as asked"
BY_WORD, HELD_BACK, AWAY = "by word", "held back", "left out today"


def fine_size(frame: Frame) -> int:
    """Return the size of the words that explain: the signs, the axis, which board it is."""
    return max(readable(frame.window.height), round(FINE_SHARE * frame.sizes.body))


def names_size(frame_at: Callable[[float], Frame], scale: float, count: int) -> int:
    """Return the size of the names' type.

    No larger than the larger settings can hold, for a larger one must not make it smaller.

    Args:
        frame_at: the frame at a text setting.
        count: of rows.
    """
    fitting = [_fitting(frame_at(other), count) for other in SCALES if other >= scale]
    return max(min(fitting), readable(frame_at(scale).window.height))


def rows_room(frame: Frame) -> int:
    """Return the height that rows have: what is left beside the lines that explain."""
    return frame.note_top - frame.body_top - 3 * round(FINE_LINE * fine_size(frame))


def _fitting(frame: Frame, count: int) -> int:
    wanted = readable(frame.window.height) / CAPITAL * frame.window.text_scale
    return int(min(wanted, rows_room(frame) / max(count, 1) / ROW))


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardShape:
    """Where the rows of a board lie, and how wide what stands in them is; lengths in pixels.

    Attributes:
        size: of the names' type; ``fine`` of all other words.
        top: of the first row; ``row_high`` of each.
        lines, columns: of rows that are shown.
        width: of a column.
        name, earlier, share, besides: the room for each; the axis has what is left.
        turns_before: so many turns before the last have room.
        is_brief: whether nothing but marks has room besides.
    """

    size: int
    fine: int
    top: int
    row_high: int
    lines: int
    columns: int
    width: int
    name: int
    earlier: int
    share: int
    besides: int
    turns_before: int
    is_brief: bool

    @property
    def axis(self) -> int:
        """The axis's room."""
        return self.width - self.name - self.earlier - self.share - self.besides


def board_shape(frame: Frame, size: int, rows: Sequence[BoardRow], count: int) -> BoardShape:
    """Return how a board is laid out.

    Args:
        size: of the names' type.
        count: of rows, with the name that is being written.
    """
    fine, sizes = min(fine_size(frame), size), frame.sizes
    room = rows_room(frame)
    lines = max(1, room // int(ROW * size))
    columns = 1 if count <= lines else 2
    lines = min(lines, math.ceil(max(count, 1) / columns)) if count <= columns * lines else lines
    row_high = max(int(ROW * size), min(room // lines, round(WIDE_ROW * size)))
    width = (frame.right - frame.left - (columns - 1) * 2 * sizes.gap) // columns
    least_axis = round(LEAST_AXIS[columns - 1] * fine)
    gap = sizes.gap

    def widest(words: Iterable[str], type_size: int, *, bold: bool = False) -> int:
        return max((text_width(each, type_size, bold=bold) + gap for each in words if each), default=0)

    share = widest((row.share for row in rows), size, bold=True)
    left = max(width - least_axis - share, 0)
    name = min(widest((row.name for row in rows), size, bold=True), left)
    left -= name
    # Of what stands besides the turn before comes first, then how this one was played, then older turns.
    before = [widest((_earlier(row.turns, n) for row in rows), fine) for n in range(MOST_EARLIER + 1)]
    marks = widest((row.besides(brief=True) for row in rows), fine)
    besides = widest((row.besides(brief=False) for row in rows), fine)
    is_brief = besides + before[1] > left
    besides = min(marks if is_brief else besides, left)
    turns_before = max(n for n in range(MOST_EARLIER + 1) if n == 0 or before[n] <= left - besides)
    return BoardShape(
        size=size,
        fine=fine,
        top=frame.body_top + 2 * round(FINE_LINE * fine_size(frame)),
        row_high=row_high,
        lines=lines,
        columns=columns,
        width=width,
        name=name,
        earlier=before[turns_before],
        share=share,
        besides=besides,
        turns_before=turns_before,
        is_brief=is_brief,
    )


@dataclass(frozen=True, slots=True)
class BoardRow:
    """A pupil on a board.

    Attributes:
        name: who.
        turns: those that count, the latest last.
        is_held: whether one waits for the teacher's word; ``is_away`` whether the pupil is left out.
    """

    name: str
    turns: tuple[Turn, ...]
    is_held: bool
    is_away: bool

    @classmethod
    def of(cls, pupil: Pupil, board: Board | None) -> BoardRow:
        """Return a pupil's row."""
        if board is None:
            return cls(pupil.name, (), is_held=False, is_away=False)
        turns = pupil.on(board)
        return cls(
            pupil.name,
            tuple(turn for turn in turns if turn.counts),
            is_held=bool(turns) and not turns[-1].counts,
            is_away=pupil.away is not None and pupil.away == board.day,
        )

    @property
    def share(self) -> str:
        """The strokes as asked of the last turn; empty without one."""
        return self.turns[-1].share if self.turns else ""

    def besides(self, *, brief: bool) -> str:
        """Return what there is to say besides: how it was played, whether it is marked or waits, who is away.

        Args:
            brief: leaves out how it was played.
        """
        last = self.turns[-1] if self.turns else None
        words = [BY_WORD] if last is not None and last.disturbed else []
        if last is not None and last.besides and not brief:
            words.append(last.besides)
        words += [HELD_BACK] * self.is_held + [AWAY] * self.is_away
        return ", ".join(words)


def _earlier(turns: Sequence[Turn], most: int) -> str:
    """Return the turns before the last, the latest of them last: counts where as many strokes were asked."""
    before = turns[:-1]
    shown = before[-most:] if most else ()
    if not shown:
        return ""
    alike = {turn.asked for turn in turns} == {turns[-1].asked}
    words = [str(turn.clean) if alike else _percent(turn) for turn in shown]
    return ("… " if len(before) > len(shown) else "") + " → ".join(words) + " →"


def _percent(turn: Turn) -> str:
    return f"{round(100 * turn.clean / turn.asked)} %" if turn.asked else "none"


def row_items(frame: Frame, shape: BoardShape, row: BoardRow, x: int, y: int, *, chosen: bool) -> list[Item]:
    """Return a pupil's row: the name, the dots of the last turn that counts, and its words."""
    theme, size, fine, gap = frame.theme, shape.size, shape.fine, frame.sizes.gap
    high = shape.row_high
    baseline, low = middle_baseline(y, high, size), middle_baseline(y, high, fine)
    besides, earlier = row.besides(brief=shape.is_brief), _earlier(row.turns, shape.turns_before)
    room = (shape.name if row.share or besides else shape.width) - gap
    colour = theme.muted if row.is_away and not chosen else theme.ink
    items: list[Item] = [
        Text(x, baseline, shortened(row.name, size, room, bold=chosen), size, colour, bold=chosen)
    ]
    right = x + shape.width
    if besides:
        said = shortened(besides, fine, shape.besides - gap)
        items.append(Text(right - shape.besides + gap, low, said, fine, theme.muted))
    right -= shape.besides
    if row.share:
        items.append(Text(right, baseline, row.share, size, theme.ink, Anchor.RIGHT, True))
    right -= shape.share
    if earlier:
        items.append(Text(right + gap // 2, low, earlier, fine, theme.muted, Anchor.RIGHT))
    if row.turns:
        items.extend(
            _dots(frame, row.turns[-1], x + shape.name, shape.axis, y + high / 2, LINES_SHARE * high)
        )
    return items


def axis_items(frame: Frame, shape: BoardShape, x: int, y: int) -> list[Item]:
    """Return the words over an axis: how far to either side it reaches, and the stroke in its middle."""
    fine, theme = shape.fine, frame.theme
    baseline = middle_baseline(y, round(FINE_LINE * fine), fine)
    left, wide = x + shape.name, shape.axis
    reach = f"{round(AXIS_S * 1000)} ms"
    early, late, middle = f"{reach} early", f"{reach} late", "0"
    if text_width(early, fine) + text_width(late, fine) + 2 * fine > wide:
        early, late = "early", "late"
    items: list[Item] = [
        Text(left, baseline, early, fine, theme.ink),
        Text(left + wide // 2, baseline, middle, fine, theme.ink, Anchor.CENTRE),
        Text(left + wide - frame.sizes.gap, baseline, late, fine, theme.ink, Anchor.RIGHT),
    ]
    if text_width(ASKED, fine) <= shape.earlier + shape.share:
        right = x + shape.width - shape.besides
        items.append(Text(right, baseline, ASKED, fine, theme.muted, Anchor.RIGHT))
    return items


def signs_items(frame: Frame, turns: Sequence[Turn], y: int) -> list[Item]:
    """Return the key to the signs on the board, in the order of the review's legend."""
    theme, fine = frame.theme, fine_size(frame)
    seen = {verdict for turn in turns for verdict in turn.verdicts}
    baseline = middle_baseline(y, round(FINE_LINE * fine), fine)
    items: list[Item] = []
    x = frame.left
    for verdict in LOOKS:
        words = verdict.value
        wide = round(1.3 * fine) + text_width(words, fine)
        if verdict not in seen or x + wide > frame.right:
            continue
        items.extend(mark(verdict, x + 0.5 * fine, baseline - 0.35 * fine, 0.30 * fine, theme))
        items.append(Text(x + round(1.2 * fine), baseline, words, fine, theme.ink))
        x += wide + round(1.2 * fine)
    if any(turn.disturbed and turn.by_word for turn in turns):
        words = f"{BY_WORD}: disturbed, counted by the teacher"
        if x + text_width(words, fine) <= frame.right:
            items.append(Text(x, baseline, words, fine, theme.muted))
    return items


def _dots(frame: Frame, turn: Turn, left: int, width: int, y: float, high: float) -> list[Item]:
    """Return a turn's taps on an axis from early to late, in the middle the stroke itself."""
    theme, sizes = frame.theme, frame.sizes
    radius = max(5.0 * sizes.unit * frame.window.text_scale, 0.11 * high)
    gap = sizes.gap
    middle, reach = left + width / 2, width / 2 - gap - radius
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
