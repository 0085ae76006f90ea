"""Find the delay: the ways to do it on the left; on the right the taps as they come, early to late."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.practice.delay_words import WHICH, in_ms
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Rect, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import wrapped
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    header_panel,
    middle_baseline,
    page,
    row_background,
    status_items,
)
from trainer.screen.window import Window

LIST_SHARE = 0.36  # of the window's width
AXES_MS = (100, 150, 200, 300, 500)


class Way(enum.Enum):
    """The ways to find the delay; the value is what the list shows."""

    TAP = "Tap along"
    MICROPHONE = "By microphone"
    HAND = "By hand"


class Step(enum.Enum):
    """How far a try has come."""

    READY = "ready"
    RUNNING = "running"
    WORKING = "working"  # on the recording
    ANSWERED = "answered"


_WHAT_TO_DO = {
    Way.TAP: "Press Enter, listen to the count, then tap with every click on what you play on.",
    Way.MICROPHONE: "Press Enter, then tap the pad about halfway between the clicks, so that both are heard.",
    Way.HAND: "Left and right make the delay smaller or larger: it is taken off each tap.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationView:
    """A calibration as it is now.

    Attributes:
        way: the one chosen; ``step`` how far its try has come.
        count: the beat of the count-in, from 1; 0 when it is over.
        placements_s: of the taps that count, in order: tap minus click, late positive.
        taps, wanted: how many count so far, and how many it takes.
        middle_s, quarter_s, three_quarters_s: the median of the taps, and where their middle half begins and
            ends; None before there are enough to say.
        sentences: what was found, or why nothing was.
        found_ms: the delay that can be taken; None when there is none.
        delay_ms: the delay in use.
        input_name, output_name: what it belongs to; ``uncertainty_s`` what a tap's time is good to.
        microphone: its name, empty when there is none; ``microphones`` how many there are.
        warning: a sentence about the output, or an empty text.
    """

    window: Window
    way: Way = Way.TAP
    step: Step = Step.READY
    count: int = 0
    placements_s: tuple[float, ...] = ()
    taps: int = 0
    wanted: int = 16
    middle_s: float | None = None
    quarter_s: float | None = None
    three_quarters_s: float | None = None
    sentences: tuple[str, ...] = ()
    found_ms: int | None = None
    delay_ms: int = 0
    input_name: str = ""
    uncertainty_s: float = 0.0
    output_name: str = ""
    microphone: str = ""
    microphones: int = 0
    warning: str = ""

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return calibration_scene(self)


def calibration_scene(view: CalibrationView) -> Scene:
    """Return the scene of a calibration."""
    helps = _helps(view)
    frame = Frame.of(view.window, is_steady=view.step is Step.RUNNING, helps=helps)
    values: tuple[Value, ...] = (Value("delay in use", str(view.delay_ms).replace("-", "−"), "ms"),)
    if view.way is not Way.HAND and view.step is not Step.READY:
        taps = f"{view.taps} of {view.wanted}" if view.taps <= view.wanted else str(view.taps)
        values = (Value("", taps, "taps"), *values)
    header = header_panel(frame, "Delay", values)
    ways, way_hits = _ways(frame, view)
    main = _main(frame, view)
    status = status_items(frame, view.input_name, view.uncertainty_s, view.output_name)
    return page(frame, (header, ways, main), way_hits, helps, status=status)


def _helps(view: CalibrationView) -> tuple[Help, ...]:
    if view.step in (Step.RUNNING, Step.WORKING):
        return helps_of("delay, measuring")
    ways = list(Way)
    found = view.found_ms is not None and view.way is not Way.HAND
    states = {
        "by hand": view.way is Way.HAND,
        "found": found,
        "can start": not found and view.way is not Way.HAND,
        "microphones": view.way is Way.MICROPHONE and view.microphones > 1,
    }
    words = {"start or again": "again" if view.step is Step.ANSWERED else "start"}
    return helps_of("delay", states=states, actions=walked(ways.index(view.way), len(ways) - 1), words=words)


def _list_width(frame: Frame) -> int:
    return round(LIST_SHARE * frame.window.width)


def _ways(frame: Frame, view: CalibrationView) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the ways to choose from."""
    theme, sizes = frame.theme, frame.sizes
    width, top = _list_width(frame), frame.body_top
    high = frame.note_top - top
    row_high = round(1.85 * sizes.body)
    x = frame.left - sizes.px(20)
    items: list[Item] = []
    hits: list[Hit] = []
    for at, way in enumerate(Way):
        y, chosen = top + at * row_high, way is view.way
        if chosen:
            items.extend(row_background(frame, x, y, width - x, row_high))
        baseline = middle_baseline(y, row_high, sizes.body)
        items.append(Text(frame.left, baseline, way.value, sizes.body, theme.ink, bold=chosen))
        starts = chosen and way is not Way.HAND and view.step in (Step.READY, Step.ANSWERED)
        action = Action(act=Act.START) if starts else Action(act=Act.SELECT, value=at)
        if view.step not in (Step.RUNNING, Step.WORKING):
            hits.append(Hit(x, y, width - x, row_high, action))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


def _main(frame: Frame, view: CalibrationView) -> Panel:
    """Return what is to be done or what was found, and the taps."""
    theme, sizes = frame.theme, frame.sizes
    x = _list_width(frame)
    top, width = frame.body_top, frame.window.width - x
    high = frame.note_top - top
    left, right = x + 2 * sizes.gap, frame.right
    items: list[Item] = []
    y = top + sizes.gap // 2
    for line in _said(frame, view, right - left):
        y += round(1.4 * line.size)
        if line.text and y + 0.3 * line.size <= top + high:
            colour = theme.muted if line.muted else theme.ink
            items.append(Text(left, y, line.text, line.size, colour, bold=line.size == sizes.large))
    if view.way is Way.TAP and view.step is not Step.READY:
        # The axis keeps its place while words come and go, as long as they leave it.
        axis_top = max(y + round(0.7 * sizes.body), top + round(5.2 * sizes.body))
        items.extend(_taps(frame, view, (left, right), (axis_top, top + high)))
    return Panel(x, top, width, high, theme.sheet, tuple(items))


@dataclass(frozen=True, slots=True)
class _Line:
    size: int
    text: str
    muted: bool = False


def _said(frame: Frame, view: CalibrationView, room: int) -> list[_Line]:
    """Return the lines at the top of the main panel."""
    sizes = frame.sizes
    if view.step is Step.RUNNING:
        if view.count:
            return [_Line(sizes.large, str(view.count)), _Line(sizes.body, "Listen to the count.")]
        verb = "Tap between the clicks." if view.way is Way.MICROPHONE else "Tap with every click."
        now = in_ms(view.middle_s) if view.middle_s is not None else ""
        return [_Line(sizes.large, now), _Line(sizes.body, verb)]
    if view.step is Step.WORKING:
        return [_Line(sizes.large, ""), _Line(sizes.body, "Listening to the recording.")]
    if view.step is Step.ANSWERED:
        found = [_Line(sizes.large, _ms(view.found_ms))] if view.found_ms is not None else []
        return [*found, *_broken(sizes.body, view.sentences, room)]
    return _ready(frame, view, room)


def _ready(frame: Frame, view: CalibrationView, room: int) -> list[_Line]:
    """Return what to do for the way chosen, the warning, and which way to choose."""
    sizes = frame.sizes
    sentence = _WHAT_TO_DO[view.way]
    if view.way is Way.MICROPHONE and view.microphone:
        sentence += f" Microphone: {view.microphone}."
    between = _Line(sizes.small // 3, "")
    return [
        *_broken(sizes.body, (sentence,), room),
        between,
        *_broken(sizes.small, WHICH, room, muted=True),
        between,
        *_broken(sizes.small, (view.warning,), room),
    ]


def _broken(size: int, sentences: tuple[str, ...], room: int, *, muted: bool = False) -> list[_Line]:
    return [_Line(size, line, muted) for sentence in sentences for line in wrapped(sentence, size, room, 4)]


def _ms(ms: int) -> str:
    return f"{ms} ms".replace("-", "−")


def _taps(frame: Frame, view: CalibrationView, across: tuple[int, int], down: tuple[int, int]) -> list[Item]:
    """Return the axis from early to late, a dot for each tap from the first down, and their middle."""
    theme, sizes = frame.theme, frame.sizes
    (left, right), (top, bottom) = across, down
    range_ms = _range_ms(view)
    label_high = round(1.5 * sizes.small)
    low, deep = bottom - sizes.gap // 2, max(bottom - top - label_high - sizes.gap // 2, 1)
    first = top + label_high
    edge = max(1, sizes.px(1.5))

    def at(seconds: float) -> float:
        share = max(-1.0, min(1.0, seconds * 1000 / range_ms))
        return (left + right) / 2 + share * (right - left) / 2

    items: list[Item] = []
    if view.quarter_s is not None and view.three_quarters_s is not None:
        begin, end = round(at(view.quarter_s)), round(at(view.three_quarters_s))
        items.append(Rect(begin, first, max(end - begin, edge), deep, theme.pocket))
        items.extend(Rect(x, first, edge, deep, theme.pocket_edge) for x in (begin, end))
    items.append(Rect(round(at(0.0)) - edge // 2, first, edge, deep, theme.string))
    for ms, anchor in ((-range_ms, Anchor.LEFT), (0, Anchor.CENTRE), (range_ms, Anchor.RIGHT)):
        words = in_ms(ms / 1000) if ms else "click"
        baseline = top + round(0.9 * sizes.small)
        items.append(Text(round(at(ms / 1000)), baseline, words, sizes.small, theme.muted, anchor))
    radius = 7.0 * sizes.unit
    count = max(view.wanted, len(view.placements_s))
    for number, placed in enumerate(view.placements_s):
        y = first + radius + (deep - 2 * radius) * (number + 0.5) / count
        items.append(Disc(at(placed), y, radius, theme.ink))
    if view.middle_s is not None:
        wide = sizes.px(5)
        items.append(Rect(round(at(view.middle_s) - wide / 2), first, wide, low - first, theme.focus))
    return items


def _range_ms(view: CalibrationView) -> int:
    """Return the axis's reach: the least of a few that holds all taps but stumbles."""
    sizes_ms = sorted(abs(p) * 1000 for p in view.placements_s)
    if not sizes_ms:
        return AXES_MS[1]
    largest = sizes_ms[int(0.9 * (len(sizes_ms) - 1))]
    return next((ms for ms in AXES_MS[1:] if ms >= 1.2 * largest), AXES_MS[-1])
