"""Show the player's own track: which file, where its beat lies, and the taps that find it."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Rect, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
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

STRIDE = 8  # bars
VALUE_SHARE = 0.30  # of the width, before the values


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRow:
    """One thing that can be chosen.

    Attributes:
        label, value: what stands on it.
        prompt: what can be written, where nothing is; empty where nothing can.
        steps: whether the arrows change it; ``strides`` whether it can be changed by more at once, too.
        usable: whether it means anything yet.
    """

    label: str
    value: str
    prompt: str = ""
    steps: bool = False
    strides: bool = False
    usable: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackView:
    """A track as it is now.

    Attributes:
        title: the file's name, or an empty text.
        rows: what can be chosen; ``focus`` which has the focus.
        typed: what is being written on that row; None while nothing is.
        enter_words: what the enter key does there.
        listening: the track is heard, and taps are taken for its beats.
        checking: the track is heard with the click.
        taps: taps so far.
        place_s: second of the track that is heard.
        sentences: what was found, or what to do.
        can_use: whether a beat was found that can be taken.
        input_name, uncertainty_s, sound: for the line below.
    """

    window: Window
    title: str
    rows: tuple[TrackRow, ...]
    focus: int = 0
    typed: str | None = None
    enter_words: str = ""
    listening: bool = False
    checking: bool = False
    taps: int = 0
    place_s: float = 0.0
    sentences: tuple[str, ...] = ()
    can_use: bool = False
    input_name: str = ""
    uncertainty_s: float = 0.0
    sound: str = ""

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return track_scene(self)


def track_scene(view: TrackView) -> Scene:
    """Return a track's scene."""
    helps = _helps(view)
    frame = Frame.of(view.window, is_steady=view.listening, helps=helps)
    values: tuple[Value, ...] = ()
    if view.listening or view.checking:
        values = (Value("", clock_words(view.place_s), ""),)
        if view.listening:
            values = (Value("", str(view.taps), "taps"), *values)
    header = header_panel(frame, view.title or "Your own track", values)
    body, hits = _body(frame, view)
    status = status_items(frame, view.input_name, view.uncertainty_s, view.sound)
    return page(frame, (header, body), hits, helps, status=status)


def clock_words(seconds: float) -> str:
    """Return a place in a track as it is read: minutes, seconds and tenths."""
    tenths = max(0, round(seconds * 10))
    return f"{tenths // 600}:{tenths // 10 % 60:02}.{tenths % 10}"


def _helps(view: TrackView) -> tuple[Help, ...]:
    if view.listening or view.checking:
        return helps_of("track, heard", states={"found": view.can_use})
    row = view.rows[view.focus]
    states = {
        "steps": row.steps and row.usable,
        "strides": row.strides and row.usable,
        "enter": bool(view.enter_words),
        "track": bool(view.title),
    }
    actions = walked(view.focus, len(view.rows) - 1)
    return helps_of(
        "track", states=states, actions=actions, words={"take it, start or listen": view.enter_words}
    )


def _body(frame: Frame, view: TrackView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    top, width = frame.body_top, frame.window.width
    bottom = frame.note_top
    lines = [
        line
        for sentence in view.sentences
        for line in wrapped(sentence, sizes.body, frame.right - frame.left, 3)
    ]
    line_high = round(1.4 * sizes.body)
    words_high = line_high * len(lines) + sizes.gap
    most = max(round(1.3 * sizes.body), (bottom - top - words_high) // len(view.rows))
    high = min(round(1.85 * sizes.body), most)
    x = frame.left - sizes.px(20)
    wide = frame.right + sizes.px(20) - x
    items: list[Item] = []
    hits: list[Hit] = []
    busy = view.listening or view.checking
    for at, row in enumerate(view.rows):
        y = top + at * high
        focus = at == view.focus and not busy
        if focus:
            items.extend(row_background(frame, x, y, wide, high))
        items.extend(_row(frame, view, row, y, high, focus=focus))
        if not busy:
            action = Action(act=Act.START) if focus and view.enter_words else Action(act=Act.SELECT, value=at)
            hits.append(Hit(x, y, wide, high, action))
    y = top + len(view.rows) * high + sizes.gap
    for line in lines:
        if y + line_high <= bottom:
            baseline = middle_baseline(y, line_high, sizes.body)
            items.append(Text(frame.left, baseline, line, sizes.body, theme.ink))
        y += line_high
    return Panel(0, top, width, bottom - top, theme.wall, tuple(items)), tuple(hits)


def _row(frame: Frame, view: TrackView, row: TrackRow, y: int, high: int, *, focus: bool) -> list[Item]:
    theme, body = frame.theme, frame.sizes.body
    baseline = middle_baseline(y, high, body)
    label_ink = theme.ink if row.usable else theme.muted
    at = frame.left + round(VALUE_SHARE * (frame.right - frame.left))
    label = shortened(row.label, body, at - frame.left - body // 2, bold=focus)
    items: list[Item] = [Text(frame.left, baseline, label, body, label_ink, bold=focus)]
    room = frame.right - at - body
    if focus and view.typed is not None:
        # The end of what is written is what is looked at.
        words = view.typed
        while words and text_width(words, body, bold=True) > room:
            words = words[1:]
        if words:
            items.append(Text(at, baseline, words, body, theme.ink, bold=True))
        bar = max(2, frame.sizes.px(3))
        end = at + (text_width(words, body, bold=True) if words else 0)
        items.append(Rect(end + bar, y + high // 6, bar, high - high // 3, theme.focus))
        if not words:
            items.append(Text(end + 4 * bar, baseline, shortened(row.prompt, body, room), body, theme.muted))
        return items
    words = row.value or row.prompt
    colour = theme.ink if row.value and row.usable else theme.muted
    return [*items, Text(at, baseline, shortened(words, body, room), body, colour)] if words else items
