"""Show what a take came to: a row for each slot, a dot for each repetition, and what to do about it.

The rows share one axis of milliseconds: left is early, right is late, the soft band is the pocket. In a
row the repetitions go down from the first to the last; under them lies the mean with its interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.judging.pocket import Pocket
from trainer.judging.statistics import SlotSummary, TakeSummary
from trainer.judging.take import Verdict
from trainer.music.notation import stroke_words
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Item, Panel, Rect, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.answer import answer_panel
from trainer.screen.scenes.marks import LOOKS, mark
from trainer.screen.scenes.parts import Frame, Value, bpm_words, header_panel, middle_baseline, page
from trainer.screen.scenes.slot_words import is_marked, placement_words
from trainer.screen.scenes.tap_keys import large_items
from trainer.screen.theme import Sizes
from trainer.screen.window import Window

ADVICE_SHARE = 0.42  # of the room between answer and strip, in the usual type
AXES_MS = (50, 100, 150, 200, 300, 500)
MARKED = (Verdict.MISSED, Verdict.WRONG_HAND, Verdict.WRONG_STRING, Verdict.TOUCHED)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewView:
    """What a take came to.

    Attributes:
        pattern, bpm, passes: what was played; ``passes`` those begun.
        slots: one summary for each slot asked, in order.
        take: the whole take in a few numbers; strays are among its counts.
        pocket: which one.
        happened: what the take came to, in a sentence.
        step_words, step_why: the one next step, and why.
        again_words: playing the same again, with its tempo.
        nothing_heard: whether nothing was tapped, so that what is tapped on is shown instead of rows.
        standing: where the player sits, how steadily, and whether that moves, in one line.
        besides: sentences on chord changes and on bars without a click, when there were any.
        advice: at most three sentences, the most useful first.
        can_adopt_delay, can_adopt_swing: whether these are offered.
        undo: what would be taken back, in words; empty for nothing.
        microphone_open: whether it stays open for the next take, which is said.
        pads_help: what the pads do here, in a few words; empty for nothing.
        first_row: how far the rows are scrolled.
        not_graded: why the take does not count (a device was lost), or an empty text.
        input_name, uncertainty_s: as in :class:`DrillView`.
    """

    window: Window
    pattern: Pattern
    bpm: Fraction
    passes: int
    slots: tuple[SlotSummary, ...]
    take: TakeSummary
    pocket: Pocket = Pocket.MIDDLE
    happened: str = ""
    step_words: str = ""
    step_why: str = ""
    again_words: str = "again"
    nothing_heard: bool = False
    standing: str = ""
    besides: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    can_adopt_delay: bool = False
    can_adopt_swing: bool = False
    undo: str = ""
    microphone_open: bool = False
    pads_help: str = ""
    first_row: int = 0
    not_graded: str = ""
    input_name: str = ""
    uncertainty_s: float = 0.0
    simulated: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return review_scene(self)


def review_scene(view: ReviewView) -> Scene:
    """Return a review's scene."""
    # Laid out with every help it can have, so that the strip does not change as rows are scrolled.
    frame = Frame.of(view.window, note_lines=0, helps=_helps(view, scrolls=True, stride=1))
    clean = Value("", f"{view.take.clean} of {view.take.asked}", "as asked")
    at = Value("at", bpm_words(view.bpm), "bpm")
    values = (at,) if view.nothing_heard or not view.take.asked else (clean, at)
    if view.microphone_open:  # always to be seen, whatever else there is room for
        values = (Value("microphone", "open", ""), *values)
    header = header_panel(frame, view.pattern.title, values)
    answer, answer_hits = answer_panel(frame, view.happened, view.step_words, view.step_why)
    room = frame.note_top - answer.y - answer.h
    advice_size, advice_high = _advice_size(frame, view, room)
    # What there is to see comes before what there is to read besides.
    advice_high = max(0, min(advice_high, room - _least_table(frame.sizes)))
    table = _Table.of(frame, view, answer.y + answer.h, frame.note_top - advice_high)
    rows = _taps(frame, table.top, table.bottom) if view.nothing_heard else table.panel()
    advice = _advice(frame, view, frame.note_top - advice_high, advice_size, advice_high)
    scrolls, stride = table.shown < len(view.slots), max(1, table.shown - 1)
    helps = _helps(view, scrolls=scrolls, stride=stride)
    panels = (header, answer, rows, advice) if advice.h else (header, answer, rows)
    return page(frame, panels, answer_hits, helps, remark=view.pads_help)


def _helps(view: ReviewView, *, scrolls: bool, stride: int) -> tuple[Help, ...]:
    pages = {
        "page up": Action(act=Act.SCROLL, value=-stride),
        "page down": Action(act=Act.SCROLL, value=stride),
    }
    states = {
        "steady": view.can_adopt_delay,
        "swung": view.can_adopt_swing,
        "undo": bool(view.undo),
        "scrolls": scrolls,
    }
    return helps_of(
        "review",
        states=states,
        actions=pages,
        words={"what was changed": view.undo, "again": view.again_words[:1].lower() + view.again_words[1:]},
    )


def _taps(frame: Frame, top: int, bottom: int) -> Panel:
    """Return what is tapped on, large, in place of rows with nothing in them."""
    sizes = frame.sizes
    taps, width = frame.window.taps, frame.window.width
    size = min(sizes.large, round(0.2 * (bottom - top)))
    _, wide, high = large_items(taps, frame.theme, sizes, 0, 0, size)
    y = top + max(sizes.gap, (bottom - top - high) // 2)
    items, _, _ = large_items(taps, frame.theme, sizes, (width - wide) // 2, y, size)
    return Panel(0, top, width, bottom - top, frame.theme.sheet, items)


def _advice_lines(frame: Frame, view: ReviewView, size: int) -> tuple[str, ...]:
    width = frame.right - frame.left - round(1.5 * size)
    if view.nothing_heard or view.not_graded:
        return ()
    sentences = view.advice[:3]
    standing = ("  " + view.standing,) if view.standing else ()
    # What was measured besides stands under it, quieter than the advice.
    besides = tuple("  " + line for sentence in view.besides for line in wrapped(sentence, size, width, 2))
    return (
        standing
        + besides
        + tuple(
            ("• " if at == 0 else "  ") + line
            for sentence in sentences
            for at, line in enumerate(wrapped(sentence, size, width, 2))
        )
    )


def _advice_size(frame: Frame, view: ReviewView, room: int) -> tuple[int, int]:
    """Return the size of the type and the height: smaller type where the rows would lose their place."""
    most = ADVICE_SHARE * room
    size, high = 0, 0
    for size in (frame.sizes.body, frame.sizes.small):
        lines = len(_advice_lines(frame, view, size))
        high = round((1.45 * lines + 1.1) * size) if lines else 0
        if high <= most:
            break
    return size, high


def _least_table(sizes: Sizes) -> int:
    """Return the height of the table with a single row."""
    return round(3.9 * sizes.small) + round(0.4 * sizes.small) + round(1.7 * sizes.body)


def _advice(frame: Frame, view: ReviewView, top: int, size: int, high: int) -> Panel:
    theme = frame.theme
    items: list[Item] = []
    if high:
        items.append(Rect(0, top, frame.window.width, max(1, frame.sizes.px(1.5)), theme.hair))
    line_high = round(1.45 * size)
    for at, line in enumerate(_advice_lines(frame, view, size)):
        if round(0.55 * size) + (at + 1) * line_high > high:
            break
        y = middle_baseline(top + round(0.55 * size) + at * line_high, line_high, size)
        if line.startswith("•"):
            items.append(Disc(frame.left + 0.3 * size, y - 0.34 * size, 0.16 * size, theme.focus))
        items.append(Text(frame.left + round(1.1 * size), y, line[2:], size, theme.ink))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items))


@dataclass(frozen=True, slots=True)
class _Table:
    """The rows and where they lie."""

    frame: Frame
    view: ReviewView
    top: int
    bottom: int
    legend: int
    row_high: int
    shown: int
    first: int
    axis_left: int
    axis_right: int
    range_ms: int

    @classmethod
    def of(cls, frame: Frame, view: ReviewView, top: int, bottom: int) -> _Table:
        sizes = frame.sizes
        legend = round(3.9 * sizes.small)
        count = max(len(view.slots), 1)
        room = bottom - top - legend - round(0.4 * sizes.small)
        row_high = min(max(room // count, round(1.7 * sizes.body)), sizes.px(104))
        shown = max(1, room // row_high)
        first = min(max(view.first_row, 0), max(len(view.slots) - shown, 0))
        words = [stroke_words(slot.stroke) for slot in view.slots] or [""]
        name_width = min(max(text_width(w, sizes.body) for w in words), round(0.26 * frame.window.width))
        axis_left = frame.left + name_width + sizes.px(120)
        axis_right = (
            frame.right - text_width("000 ms early ± 000", sizes.body) - _counts_width(sizes) - 2 * sizes.gap
        )
        return cls(
            frame, view, top, bottom, legend, row_high, shown, first, axis_left, axis_right, _range_ms(view)
        )

    def x(self, placement_s: float) -> float:
        """Return the pixel of a placement; one beyond the axis stands at its end."""
        share = max(-1.0, min(1.0, placement_s * 1000 / self.range_ms))
        return (self.axis_left + self.axis_right) / 2 + share * (self.axis_right - self.axis_left) / 2

    @property
    def rows_top(self) -> int:
        return self.top + self.legend

    @property
    def half_s(self) -> float:
        """Half-width of the pocket in seconds, the input's uncertainty included as in judging."""
        view = self.view
        slot_s = 60 / (float(view.bpm) * view.pattern.slots_per_beat)
        return view.pocket.half_width_s(slot_s) + view.uncertainty_s

    def panel(self) -> Panel:
        frame, theme = self.frame, self.frame.theme
        if self.bottom - self.top < _least_table(frame.sizes):
            # No row has room: the answer and a note take the whole window.
            return Panel(0, self.top, frame.window.width, max(0, self.bottom - self.top), theme.wall)
        items: list[Item] = [*self._legend(), *self._axis()]
        for at, slot in enumerate(self.view.slots[self.first : self.first + self.shown]):
            y = self.rows_top + at * self.row_high
            before = self.view.slots[self.first + at - 1] if at else None
            items.extend(self._row(slot, y, new_bar=before is None or before.bar != slot.bar))
        return Panel(0, self.top, frame.window.width, self.bottom - self.top, theme.wall, tuple(items))

    def _legend(self) -> list[Item]:
        """Return how often each verdict was given: the marks' names, learnt in passing."""
        frame, sizes, theme = self.frame, self.frame.sizes, self.frame.theme
        counts = dict(self.view.take.counts)
        size, x = sizes.small, self.frame.left
        baseline = middle_baseline(self.top, round(1.6 * size), size)
        items: list[Item] = []
        for verdict, look in LOOKS.items():
            if not look.in_legend or not counts.get(verdict):
                continue
            words = f"{counts[verdict]} {verdict.value}"
            wide = round(1.5 * size) + text_width(words, size)
            if x + wide > frame.right:
                break
            items.extend(mark(verdict, x + 0.5 * size, baseline - 0.35 * size, 0.34 * size, theme))
            items.append(Text(x + round(1.3 * size), baseline, words, size, theme.ink))
            x += wide + round(1.2 * size)
        return items

    def _axis(self) -> list[Item]:
        sizes, theme = self.frame.sizes, self.frame.theme
        bottom = self.rows_top + min(self.shown, max(len(self.view.slots), 1)) * self.row_high
        left, right = round(self.x(-self.half_s)), round(self.x(self.half_s))
        edge = max(1, sizes.px(1.5))
        zero = round(self.x(0.0))
        high = bottom - self.rows_top
        items: list[Item] = [
            Rect(left, self.rows_top, right - left, high, theme.pocket),
            Rect(left, self.rows_top, edge, high, theme.pocket_edge),
            Rect(right - edge, self.rows_top, edge, high, theme.pocket_edge),
            Rect(zero - edge // 2, self.rows_top, edge, high, theme.string),
        ]
        baseline = self.rows_top - round(0.5 * sizes.small)
        for ms, words in (
            (-self.range_ms, f"{self.range_ms} ms early"),
            (0, "0"),
            (self.range_ms, f"{self.range_ms} ms late"),
        ):
            anchor = (Anchor.LEFT, Anchor.CENTRE, Anchor.RIGHT)[(ms > 0) - (ms < 0) + 1]
            items.append(Text(round(self.x(ms / 1000)), baseline, words, sizes.small, theme.muted, anchor))
        return items

    def _row(self, slot: SlotSummary, y: int, *, new_bar: bool) -> list[Item]:
        frame, sizes, theme = self.frame, self.frame.sizes, self.frame.theme
        body = sizes.body
        baseline = middle_baseline(y, self.row_high, body)
        items: list[Item] = []
        if new_bar and y > self.rows_top:
            line = max(1, sizes.px(1.5))
            items.append(Rect(frame.left, y, frame.right - frame.left, line, theme.hair))
        if new_bar and len(self.view.pattern.bars) > 1:
            words = f"{slot.bar + 1}"
            items.append(Text(frame.left, baseline, words, sizes.small, theme.muted))
        name = shortened(stroke_words(slot.stroke), body, self.axis_left - frame.left - sizes.px(76))
        items.append(Text(frame.left + sizes.px(56), baseline, name, body, theme.ink))
        items.extend(self._dots(slot, y))
        items.extend(self._mean(slot, y))
        items.extend(self._words(slot, y, baseline))
        return items

    def _dots(self, slot: SlotSummary, y: int) -> list[Item]:
        theme = self.frame.theme
        radius = min(7.0 * self.frame.sizes.unit, 0.13 * self.row_high)
        items: list[Item] = []
        if slot.stroke.kind is Kind.SKIP:
            silent = dict(slot.counts).get(Verdict.KEPT_SILENT, 0)
            if silent:
                # Below the touches, where other rows have their mean.
                low = y + 0.70 * self.row_high
                items.extend(mark(Verdict.KEPT_SILENT, self.x(0.0), low, 0.17 * self.row_high, theme))
        n = len(slot.placements_s)
        for at, (placement, verdict) in enumerate(zip(slot.placements_s, slot.verdicts, strict=True)):
            share = 0.5 if n == 1 else at / (n - 1)
            deep = 0.24 if slot.stroke.kind is Kind.SKIP else 0.44
            dot_y = y + (0.16 + deep * share) * self.row_high
            if verdict in (Verdict.WRONG_HAND, Verdict.WRONG_STRING):
                # Their colour needs the wall behind it: on the pocket's it has less than 3:1.
                rim = replace(theme, other=theme.wall)
                items.extend(mark(verdict, self.x(placement), dot_y, 1.5 * radius, rim))
            items.extend(mark(verdict, self.x(placement), dot_y, radius, theme))
        return items

    def _mean(self, slot: SlotSummary, y: int) -> list[Item]:
        if slot.mean_s is None or (slot.stroke.kind is Kind.SKIP and not is_marked(slot)):
            return []
        sizes, ink = self.frame.sizes, self.frame.theme.ink
        middle = y + 0.80 * self.row_high
        thick, wide, high = sizes.px(4), sizes.px(5), round(0.26 * self.row_high)
        x = self.x(slot.mean_s)
        items: list[Item] = [Rect(round(x - wide / 2), round(middle - high / 2), wide, high, ink)]
        if slot.half_interval_s is not None:
            left = round(self.x(slot.mean_s - slot.half_interval_s))
            right = round(self.x(slot.mean_s + slot.half_interval_s))
            items.append(Rect(left, round(middle - thick / 2), max(right - left, 1), thick, ink))
        return items

    def _words(self, slot: SlotSummary, y: int, baseline: int) -> list[Item]:
        frame, sizes, theme = self.frame, self.frame.sizes, self.frame.theme
        x = self.axis_right + sizes.gap
        items: list[Item] = [Text(x, baseline, placement_words(slot), sizes.body, theme.ink)]
        counts = dict(slot.counts)
        x = frame.right - _counts_width(sizes)
        middle = y + self.row_high / 2
        for verdict in MARKED:
            if counts.get(verdict) and verdict is not Verdict.TOUCHED:
                items.extend(mark(verdict, x + 0.5 * sizes.small, middle, 0.36 * sizes.small, theme))
                small_baseline = middle_baseline(y, self.row_high, sizes.small)
                x += round(1.2 * sizes.small)
                items.append(Text(x, small_baseline, str(counts[verdict]), sizes.small, theme.ink))
                x += text_width(str(counts[verdict]), sizes.small) + round(0.6 * sizes.small)
        return items


def _counts_width(sizes: Sizes) -> int:
    return round(6.4 * sizes.small)


def _range_ms(view: ReviewView) -> int:
    """Return the axis's reach: the least of a few that holds nearly all placements."""
    placements = sorted(abs(p) * 1000 for slot in view.slots for p in slot.placements_s)
    largest = placements[math.ceil(0.97 * len(placements)) - 1] if placements else 0.0
    slot_s = 60 / (float(view.bpm) * view.pattern.slots_per_beat)
    least = max(largest, view.pocket.half_width_s(slot_s) * 1600)
    return next((ms for ms in AXES_MS if ms >= least), AXES_MS[-1])
