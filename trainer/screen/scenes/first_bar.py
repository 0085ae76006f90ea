"""Show the first minute: what this is, what is tapped on, and one bar to watch and then to tap.

One bar stands still while the hand goes through it, so that nothing has to be followed but the hand. What is
tapped leaves a dot under it, where it came; nothing is called right or wrong.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.screen.draw import Anchor, Disc, Item, Panel, Rect, Scene, Text
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import text_width, wrapped
from trainer.screen.scenes.library_preview import StillPicture, still_picture
from trainer.screen.scenes.parts import Frame, Value, bpm_words, header_panel, middle_baseline, page
from trainer.screen.scenes.tap_keys import large_items
from trainer.screen.window import Window

WHAT_THIS_IS = (
    "Thumbfall trains the picking hand of the banjo: the nail strikes as the hand falls, "
    "the thumb plays as it rises, in time with a click."
)
PICTURE_SHARE = 0.60  # of the window's width
LINE_EM = 1.4
RAILS = ((Hand.NAIL, "nail"), (Hand.THUMB, "thumb"))


class Stage(enum.Enum):
    """How far one has come."""

    READY = "ready"
    COUNT = "count"
    WATCH = "watch"
    TAP = "tap"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstBarView:
    """The first bar as it stands.

    Attributes:
        pattern: a single bar; ``bpm`` its tempo.
        beat: where the hand is in the bar; None while it does not move.
        count: the beat of the count-in; 0 outside.
        tapped: what was tapped: whose it was, and the beat of the bar; below 0 for just before it.
        other_input: a pad that could be tapped on instead; empty for none.
        remarks: sentences at the foot, before it begins.
    """

    window: Window
    stage: Stage
    pattern: Pattern
    bpm: float
    beat: float | None = None
    count: int = 0
    tapped: tuple[tuple[Hand | None, float], ...] = ()
    other_input: str = ""
    remarks: tuple[str, ...] = ()

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return first_bar_scene(self)


def first_bar_scene(view: FirstBarView) -> Scene:
    """Return the scene of the first bar."""
    states = {
        "ready": view.stage is Stage.READY,
        "done": view.stage is Stage.DONE,
        "other": bool(view.other_input),
    }
    helps = helps_of("first bar", states=states, words={"the other input": view.other_input})
    frame = Frame.of(view.window, note_lines=0, helps=helps)
    header = header_panel(frame, "Thumbfall", (Value("", bpm_words(view.bpm), "bpm"),))
    remarks = _remarks(frame, view)
    bottom = frame.note_top - remarks.h
    words = _words(frame, view, frame.body_top)
    top = words.y + words.h
    split = round(PICTURE_SHARE * frame.window.width)
    body = (header, words, _sheet(frame, view, top, bottom, split), _keys(frame, view, top, bottom, split))
    return page(frame, (*body, remarks) if remarks.h else body, (), helps)


def _words(frame: Frame, view: FirstBarView, top: int) -> Panel:
    """Return the sentence at the top: what this is, or what happens now."""
    theme, sizes = frame.theme, frame.sizes
    tapped_on = " and ".join(key.label or key.words for key in view.window.taps[:2])
    said = {
        Stage.READY: WHAT_THIS_IS,
        Stage.COUNT: f"Listen to the click: {view.count or 1}",
        Stage.WATCH: "Watch the hand. The keys light up as it strikes and as the thumb leaves.",
        Stage.TAP: f"Now you, on {tapped_on}." if tapped_on else "Now you.",
        Stage.DONE: _done_words(view),
    }[view.stage]
    size = sizes.body if view.stage is Stage.READY else sizes.title
    room = frame.right - frame.left
    if len(wrapped(said, size, room, 3)) > 2:
        size = sizes.body
    high = round(LINE_EM * size)
    # As high in every stage, so that the picture stays where it is.
    panel_high = round(2 * LINE_EM * sizes.title)
    items: list[Item] = []
    for at, line in enumerate(wrapped(said, size, room, 2)):
        items.append(Text(frame.left, middle_baseline(top + at * high, high, size), line, size, theme.ink))
    return Panel(0, top, frame.window.width, panel_high, theme.wall, tuple(items))


def _done_words(view: FirstBarView) -> str:
    if not view.tapped:
        return "Nothing was heard. Try the keys: they light up when they are."
    return "This is what you tapped. Left of its line is early, right of it is late."


def _sheet(frame: Frame, view: FirstBarView, top: int, bottom: int, right: int) -> Panel:
    """Return the bar with the hand in it, and under it two rails for what is tapped."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.small
    rail_high = round(2.0 * size)
    left = frame.left + text_width("thumb", size, bold=True) + sizes.gap
    picture_high = bottom - top - 2 * rail_high - sizes.gap
    edge = right - sizes.gap
    picture = still_picture(frame, view.pattern, view.pattern.beats, left, edge, top, picture_high)
    rails_top = top + picture_high + sizes.gap // 2
    items: list[Item] = []
    for at, (hand, words) in enumerate(RAILS):
        y = rails_top + at * rail_high
        items.extend(_rail(frame, view, picture, hand, words, y, rail_high, left, edge))
    if view.beat is not None:
        hand_x, hand_y = picture.hand_at(view.beat)
        line = max(2, sizes.px(4))
        items.append(Rect(round(hand_x - line / 2), top, line, bottom - top - sizes.gap // 2, theme.now))
        items.append(Disc(hand_x, hand_y, 1.3 * sizes.px(14), theme.sheet))
        items.append(Disc(hand_x, hand_y, sizes.px(14), theme.now))
    return Panel(0, top, right, bottom - top, theme.sheet, tuple(items), picture.strips)


def _rail(
    frame: Frame, view: FirstBarView, picture: StillPicture, hand: Hand, words: str,
    y: int, high: int, left: int, right: int,
) -> list[Item]:  # fmt: skip
    """Return one hand's rail: a line where each of its strokes is due, a dot for each tap."""
    theme, sizes = frame.theme, frame.sizes
    size, middle = sizes.small, y + high // 2
    items: list[Item] = [
        Text(frame.left, middle_baseline(y, high, size), words, size, theme.ink, bold=True),
        Rect(left, middle, right - left, max(1, sizes.px(1.5)), theme.hair),
    ]
    spb, wide = view.pattern.slots_per_beat, max(2, sizes.px(3))
    for at, stroke in enumerate(view.pattern.strokes):
        if stroke.hand is hand:
            due = round(picture.origin + at / spb * picture.shape.beat_px)
            items.append(Rect(due - wide // 2, y + high // 8, wide, high - high // 4, theme.ink))
    for whose, beat in view.tapped:
        if whose in (None, hand):
            x = picture.origin + beat * picture.shape.beat_px
            items.append(Disc(x, middle, 0.30 * high, theme.sheet))
            items.append(Disc(x, middle, 0.22 * high, theme.focus))
    return items


def _keys(frame: Frame, view: FirstBarView, top: int, bottom: int, left: int) -> Panel:
    """Return what is tapped on, large, and what begins it."""
    theme, sizes = frame.theme, frame.sizes
    width, high = frame.window.width - left, bottom - top
    size = min(sizes.large, round(0.17 * high))
    _, wide, tall = large_items(view.window.taps, theme, sizes, 0, 0, size)
    if wide > width - 2 * sizes.gap:
        size = round(size * (width - 2 * sizes.gap) / wide)
        _, wide, tall = large_items(view.window.taps, theme, sizes, 0, 0, size)
    y = top + max(sizes.gap, round(0.42 * high) - tall // 2)
    keys, _, _ = large_items(view.window.taps, theme, sizes, left + (width - wide) // 2, y, size)
    items: list[Item] = list(keys)
    small = sizes.body
    y += tall + sizes.gap
    for line in wrapped(_hint(view), small, width - 2 * sizes.gap, 3):
        if y + round(LINE_EM * small) > bottom:
            break
        baseline = middle_baseline(y, round(LINE_EM * small), small)
        items.append(Text(left + width // 2, baseline, line, small, theme.ink, Anchor.CENTRE))
        y += round(LINE_EM * small)
    return Panel(left, top, width, high, theme.wall, tuple(items))


def _hint(view: FirstBarView) -> str:
    if view.stage is Stage.READY:
        return "Try them. Then press Enter."
    if view.stage is Stage.DONE:
        return "Enter goes on to the figures."
    return ""


def _remarks(frame: Frame, view: FirstBarView) -> Panel:
    theme, sizes = frame.theme, frame.sizes
    size = sizes.small
    room = frame.right - frame.left
    said = view.remarks if view.stage is Stage.READY else ()
    lines = [line for remark in said for line in wrapped(remark, size, room, 2)]
    line_high = round(1.4 * size)
    high = round(0.8 * size) + line_high * len(lines) if lines else 0
    top = frame.note_top - high
    items: list[Item] = []
    if lines:
        items.append(Rect(0, top, frame.window.width, max(1, sizes.px(1.5)), theme.hair))
    for at, line in enumerate(lines):
        y = top + round(0.4 * size) + at * line_high
        items.append(Text(frame.left, middle_baseline(y, line_high, size), line, size, theme.muted))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items))
