"""Show a lesson: the step that is up in large type, all steps, and who has had a turn at it."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Hit, Item, Panel, Rect, Scene, Text
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
    scrolled,
)
from trainer.screen.window import Window

STEPS_SHARE = 0.5  # of the width
ROW_HIGH = 1.75  # in sizes of the body
NOBODY = "nobody named"


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step in the list: what is played, how, and who of how many has had a turn."""

    title: str
    words: str
    turns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayerTurn:
    """One who plays, and what the turns of the step that is up came to; empty words before the first."""

    name: str
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LessonView:
    """A lesson as it stands.

    Attributes:
        title: of the lesson.
        steps, at: all steps, and the place of the one that is up.
        words: what the teacher has to say to it; may be empty.
        clock: how long the step has been up, of how long it is to take, in words.
        players, chosen: who plays, and whose turn it is.
        is_held: whether a disturbed turn waits for the teacher's word.
        input_name, sound: what is tapped on and what can be heard.
    """

    window: Window
    title: str
    steps: tuple[StepRow, ...]
    at: int = 0
    words: str = ""
    clock: str = ""
    players: tuple[PlayerTurn, ...] = ()
    chosen: int = 0
    is_held: bool = False
    input_name: str = ""
    sound: str = ""

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return lesson_scene(self)


def lesson_scene(view: LessonView) -> Scene:
    """Return the scene of a lesson."""
    helps = _helps(view)
    # No row for a status: where text is large, names need the room.
    frame = Frame.of(view.window, note_lines=0, helps=helps)
    header = header_panel(frame, view.title, (Value("step", f"{view.at + 1} of {len(view.steps)}", ""),))
    now = _now(frame, view)
    top = now.y + now.h
    steps, step_hits = _steps(frame, view, top)
    players, player_hits = _players(frame, view, top)
    return page(frame, (header, now, steps, players), (*step_hits, *player_hits), helps)


def _helps(view: LessonView) -> tuple[Help, ...]:
    return helps_of(
        "lesson", states={"held": view.is_held}, actions=walked(view.chosen, max(len(view.players) - 1, 0))
    )


def _now(frame: Frame, view: LessonView) -> Panel:
    """Return the step that is up: what is played, its tempo and its clock, and what is said to it."""
    theme, sizes = frame.theme, frame.sizes
    step = view.steps[view.at]
    width = frame.right - frame.left
    items: list[Item] = []
    y = frame.body_top + round(0.3 * sizes.body)
    clock_px = text_width(view.clock, sizes.title, bold=True) + sizes.gap
    room = width - clock_px
    size = sizes.title if text_width(step.title, sizes.title, bold=True) <= room else sizes.body
    high = round(1.45 * sizes.title)
    baseline = middle_baseline(y, high, sizes.title)
    title = shortened(step.title, size, room, bold=True)
    items.append(Text(frame.left, baseline, title, size, theme.ink, bold=True))
    items.append(Text(frame.right, baseline, view.clock, sizes.title, theme.ink, Anchor.RIGHT, True))
    y += high
    line = round(1.45 * sizes.body)
    facts = ", ".join(each for each in (step.words, view.input_name, view.sound) if each)
    lines = [facts, *(wrapped(view.words, sizes.body, width, 2) if view.words else ())]
    for at, words in enumerate(lines):
        ink = theme.muted if at == 0 else theme.ink
        fitted = shortened(words, sizes.body, width)
        items.append(Text(frame.left, middle_baseline(y, line, sizes.body), fitted, sizes.body, ink))
        y += line
    y += round(0.4 * sizes.body)
    items.append(Rect(frame.left, y, width, max(1, sizes.px(1.5)), theme.hair))
    return Panel(
        0, frame.body_top, frame.window.width, y + sizes.px(8) - frame.body_top, theme.wall, tuple(items)
    )


def _steps(frame: Frame, view: LessonView, top: int) -> tuple[Panel, tuple[Hit, ...]]:
    width = round(STEPS_SHARE * frame.window.width)
    rows = tuple(
        (f"{at + 1}", step.title, f"{step.turns} played" if step.turns else "")
        for at, step in enumerate(view.steps)
    )
    return _list(frame, rows, view.at, (frame.left, width - frame.sizes.gap, 0, width), top, Act.STEP)


def _players(frame: Frame, view: LessonView, top: int) -> tuple[Panel, tuple[Hit, ...]]:
    left = round(STEPS_SHARE * frame.window.width)
    rows = tuple(("", player.name or NOBODY, player.words) for player in view.players)
    edges = (left + frame.sizes.gap, frame.right, left, frame.window.width - left)
    return _list(frame, rows, view.chosen, edges, top, Act.SELECT)


def _to(act: Act, at: int, chosen: int) -> Action:
    """Return what leads to a row: a step is so many further or back, a player a place in the list."""
    return Action(act=act, value=at - chosen if act is Act.STEP else at)


def _list(
    frame: Frame,
    rows: tuple[tuple[str, str, str], ...],
    chosen: int,
    edges: tuple[int, int, int, int],
    top: int,
    act: Act,
) -> tuple[Panel, tuple[Hit, ...]]:
    """Return rows of a number, a name and words at the right.

    Args:
        edges: where the text begins and ends, and the panel's left and width.
    """
    theme, sizes = frame.theme, frame.sizes
    left, right, panel_x, panel_w = edges
    high = frame.note_top - top
    row_high = round(ROW_HIGH * sizes.body)
    shown = max(1, high // row_high)
    first = scrolled(len(rows), shown, chosen)
    number_px = text_width("00", sizes.body) + sizes.px(12) if any(number for number, _, _ in rows) else 0
    items: list[Item] = []
    hits: list[Hit] = []
    for at, (number, name, words) in enumerate(rows[first : first + shown]):
        y = top + at * row_high
        is_chosen = first + at == chosen
        if is_chosen:
            items.extend(row_background(frame, left - sizes.px(18), y, right - left + sizes.px(18), row_high))
        baseline = middle_baseline(y, row_high, sizes.body)
        if number:
            items.append(Text(left, baseline, number, sizes.body, theme.muted))
        words_px = text_width(words, sizes.body) + sizes.gap if words else 0
        room = right - left - number_px - words_px
        fitted = shortened(name, sizes.body, room, bold=is_chosen)
        items.append(Text(left + number_px, baseline, fitted, sizes.body, theme.ink, bold=is_chosen))
        if words:
            items.append(Text(right - sizes.px(8), baseline, words, sizes.body, theme.muted, Anchor.RIGHT))
        hits.append(Hit(left, y, right - left, row_high, _to(act, first + at, chosen)))
    return Panel(panel_x, top, panel_w, high, theme.wall, tuple(items)), tuple(hits)
