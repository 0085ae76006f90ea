"""Ask one thing: a question in large type, what can be answered in rows, or a line to write on."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Disc, Hit, Item, Panel, Rect, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of, walked
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import Frame, header_panel, middle_baseline, page, row_background, scrolled
from trainer.screen.window import Window

FOOTNOTE_LINES = 2  # that a remark may be broken into


@dataclass(frozen=True, slots=True, kw_only=True)
class AskingView:
    """One question.

    Attributes:
        title: what all of it is about; ``question`` what is asked just now.
        options: the answers in order; ``focus`` counts the line to write on first, when there is one.
        in_use: place of the answer that holds now among the options; None for none.
        typed: what has been written so far; None where nothing can be written.
        prompt: what to do just now instead of choosing ("touch the pad for your nail"), or an empty text.
        remarks: sentences under the answers.
        leave_words: what the escape key does ("no questions", "back").
        can_go_back: whether there is a question before this one, or a pad to take back.
    """

    window: Window
    title: str
    question: str
    options: tuple[str, ...] = ()
    focus: int = 0
    in_use: int | None = None
    typed: str | None = None
    prompt: str = ""
    remarks: tuple[str, ...] = ()
    leave_words: str = "back"
    can_go_back: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return asking_scene(self)


def asking_scene(view: AskingView) -> Scene:
    """Return the scene of a question."""
    helps = _helps(view)
    frame = Frame.of(view.window, note_lines=0, helps=helps)
    header = header_panel(frame, view.title, ())
    high = _remarks_height(frame, view)
    body, rows = _body(frame, view, frame.note_top - high)
    remarks = _remarks(frame, view, frame.note_top - high, high)
    panels = (header, body, remarks) if high else (header, body)
    return page(frame, panels, rows, helps)


def row_count(view: AskingView) -> int:
    """Return how many rows can have the focus: the line to write on, and the answers."""
    return len(view.options) + (view.typed is not None)


def _helps(view: AskingView) -> tuple[Help, ...]:
    states, words = {"can go back": view.can_go_back}, {"back, no questions or end": view.leave_words}
    if view.prompt:
        return helps_of("question, teaching pads", states=states, words=words)
    actions = walked(view.focus, max(row_count(view) - 1, 0))
    return helps_of("question", states=states, actions=actions, words=words)


def _body(frame: Frame, view: AskingView, bottom: int) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    top, width = frame.body_top, frame.window.width
    size = sizes.title
    items: list[Item] = []
    y = top
    for line in wrapped(view.prompt or view.question, size, frame.right - frame.left, 2, bold=True):
        items.append(
            Text(frame.left, middle_baseline(y, round(1.5 * size), size), line, size, theme.ink, bold=True)
        )
        y += round(1.5 * size)
    hits: list[Hit] = []
    if not view.prompt:
        y += round(0.3 * size)
        _rows(frame, view, y, bottom, items, hits)
    return Panel(0, top, width, bottom - top, theme.wall, tuple(items)), tuple(hits)


def _rows(frame: Frame, view: AskingView, top: int, bottom: int, items: list[Item], hits: list[Hit]) -> None:
    sizes = frame.sizes
    count = row_count(view)
    high = max(round(1.5 * sizes.body), min(round(1.85 * sizes.body), (bottom - top) // max(count, 1)))
    shown = max(1, (bottom - top) // high)
    first = scrolled(count, shown, view.focus)
    x = frame.left - sizes.px(20)
    wide = frame.right + sizes.px(20) - x
    for at in range(first, min(first + shown, count)):
        y = top + (at - first) * high
        focus = at == view.focus
        if focus:
            items.extend(row_background(frame, x, y, wide, high))
        if view.typed is not None and at == 0:
            items.extend(_line(frame, view.typed, y, high, focus=focus))
        else:
            items.extend(_option(frame, view, at - (view.typed is not None), y, high, focus=focus))
        action = Action(act=Act.START) if focus else Action(act=Act.SELECT, value=at)
        hits.append(Hit(x, y, wide, high, action))


def _option(frame: Frame, view: AskingView, index: int, y: int, high: int, *, focus: bool) -> list[Item]:
    theme, body = frame.theme, frame.sizes.body
    r, middle = 0.30 * body, y + high / 2
    items: list[Item] = [Ring(frame.left + r, middle, r, 0.22 * r + 1, theme.ink)]
    if index == view.in_use:
        items.append(Disc(frame.left + r, middle, r, theme.ink))
    x = frame.left + round(1.1 * body)
    words = shortened(view.options[index], body, frame.right - x, bold=focus)
    return [*items, Text(x, middle_baseline(y, high, body), words, body, theme.ink, bold=focus)]


def _line(frame: Frame, typed: str, y: int, high: int, *, focus: bool) -> list[Item]:
    """Return the line to write on: what is written, and a bar where the next letter goes."""
    theme, sizes = frame.theme, frame.sizes
    body = sizes.body
    baseline = middle_baseline(y, high, body)
    x = frame.left + round(1.1 * body)
    words = shortened(typed, body, frame.right - x - body, bold=focus) if typed else ""
    end = x + text_width(words, body, bold=focus)
    items: list[Item] = [
        Rect(
            frame.left,
            baseline + round(0.3 * body),
            frame.right - frame.left,
            max(1, sizes.px(2)),
            theme.muted,
        )
    ]
    if focus:
        bar = max(2, sizes.px(3))
        items.append(Rect(end + bar, y + high // 6, bar, high - high // 3, theme.focus))
    if words:
        items.append(Text(x, baseline, words, body, theme.ink, bold=focus))
    else:
        items.append(Text(x + round(0.5 * body), baseline, "write a name", body, theme.muted))
    return items


def _remark_lines(frame: Frame, view: AskingView) -> tuple[str, ...]:
    room = frame.right - frame.left
    return tuple(
        line for remark in view.remarks for line in wrapped(remark, frame.sizes.small, room, FOOTNOTE_LINES)
    )


def _remarks_height(frame: Frame, view: AskingView) -> int:
    lines = len(_remark_lines(frame, view))
    return round((1.45 * lines + 1.0) * frame.sizes.small) if lines else 0


def _remarks(frame: Frame, view: AskingView, top: int, high: int) -> Panel:
    theme, size = frame.theme, frame.sizes.small
    line_high = round(1.45 * size)
    items: list[Item] = [Rect(0, top, frame.window.width, max(1, frame.sizes.px(1.5)), theme.hair)]
    for at, line in enumerate(_remark_lines(frame, view)):
        y = middle_baseline(top + round(0.5 * size) + at * line_high, line_high, size)
        items.append(Text(frame.left, y, line, size, theme.muted))
    return Panel(0, top, frame.window.width, high, theme.wall, tuple(items))
