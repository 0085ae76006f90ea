"""Set a banjo up for a microphone: what there is to do on the left; on the right what to do now, pictured."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.tuning import OPEN_G, STRINGS, Tuning, pitch_name
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Polyline, Rect, Ring, Scene, Text
from trainer.screen.key_help import helps_of
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

LIST_SHARE = 0.30  # of the window's width
STEPS = ("Silence", "A sweep", "The strings", "Light touches")
TO_DO = (
    "Keep still for three seconds, and hold the strings so that they are silent.",
    "The loudspeaker plays a rising tone. With headphones on, nothing comes; that is right too.",
    "Pluck string {string}, open, three times, and let it ring for a second.",
    "Let the nail just brush the strings as lightly as when a skip goes wrong, six times.",
)
BEFORE = (
    "Half a minute: silence, a rising tone, three plucks of each string, some light touches on purpose.",
    "It learns what this room, this microphone and your banjo sound like, and says what it can tell here.",
    "The microphone is open only while this runs, in drills and reviews, which say so. No sound is kept.",
    "No real banjo has been tried with it yet, only sound made by programs. The command thumbfall record "
    "makes a recording that you can send; nothing is sent by itself.",
)
LEAST_DB, MOST_DB = -90.0, 0.0
WANTED_PLUCKS, WANTED_TOUCHES = 3, 6
DEEPEST_TOUCH_DB = 36.0  # under a pluck, at the foot of the picture


@dataclass(frozen=True, slots=True, kw_only=True)
class BanjoSetupView:
    """A set-up as it is now.

    Attributes:
        running: which of ``STEPS`` is being done, from 0; None before it begins and when it is over.
        has_sweep: whether there is a loudspeaker to play one.
        share: how much of the step is done, 0 to 1.
        levels_db: the latest levels of the sound, below full scale.
        tuning: the banjo's.
        string: which string is to be plucked.
        plucks: how many of each string were heard, strings 1 to 5.
        touches_db: levels of the touches heard, against a usual pluck.
        can: what can be told in this room; ``why_not`` why nothing can, ``remarks`` what else is to be known.
        is_found: whether there is something to be kept.
        known: what an earlier set-up has found; empty without one.
    """

    window: Window
    running: int | None = None
    has_sweep: bool = True
    share: float = 0.0
    levels_db: tuple[float, ...] = ()
    tuning: Tuning = OPEN_G
    string: int = 1
    plucks: tuple[int, ...] = (0,) * STRINGS
    touches_db: tuple[float, ...] = ()
    can: str = ""
    why_not: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    is_found: bool = False
    known: str = ""
    input_name: str = ""
    uncertainty_s: float = 0.0
    sound: str = ""

    @property
    def is_over(self) -> bool:
        """Whether an answer is shown."""
        return bool(self.can or self.why_not)

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        states = {
            "running": self.running is not None,
            "found": self.is_found,
            "can start": self.running is None and not self.is_found,
        }
        words = {"begin or again": "again" if self.is_over else "begin"}
        helps = helps_of("banjo", states=states, words=words)
        frame = Frame.of(self.window, is_steady=self.running is not None, helps=helps)
        values: tuple[Value, ...] = ()
        if self.running is not None:
            values = (Value("", f"{self.running + 1}", f"of {len(STEPS)}"),)
        header = header_panel(frame, "Your banjo, this room", values)
        status = status_items(frame, self.input_name, self.uncertainty_s, self.sound)
        body = (header, _steps(frame, self), _main(frame, self))
        return page(frame, body, _hits(frame, self), helps, status=status)


def _list_width(frame: Frame) -> int:
    return round(LIST_SHARE * frame.window.width)


def _hits(frame: Frame, view: BanjoSetupView) -> tuple[Hit, ...]:
    """Return where a click begins: anywhere on the right, before anything was found."""
    if view.running is not None or view.is_found:
        return ()
    x, top = _list_width(frame), frame.body_top
    return (Hit(x, top, frame.window.width - x, frame.note_top - top, Action(act=Act.START)),)


def _steps(frame: Frame, view: BanjoSetupView) -> Panel:
    """Return the four things to do, what is done with a disc before it, what is to come with a ring."""
    theme, sizes = frame.theme, frame.sizes
    width, top = _list_width(frame), frame.body_top
    row_high = round(1.85 * sizes.body)
    radius = 0.28 * sizes.body
    items: list[Item] = []
    for at, step in enumerate(STEPS):
        y = top + at * row_high
        is_now = at == view.running
        is_done = view.is_over or (view.running is not None and at < view.running)
        if is_now:
            items.extend(row_background(frame, frame.left - sizes.px(20), y, width - frame.left, row_high))
        x, middle = frame.left + radius + sizes.px(6), y + row_high / 2
        if is_done:
            items.append(Disc(x, middle, radius, theme.ink))
        else:
            items.append(
                Ring(x, middle, radius, max(1.5, 0.3 * radius), theme.focus if is_now else theme.muted)
            )
        words = f"{step}, left out" if at == 1 and not view.has_sweep else step
        text_x = frame.left + round(1.2 * sizes.body)
        colour = theme.ink if is_now or is_done else theme.muted
        items.append(
            Text(text_x, middle_baseline(y, row_high, sizes.body), words, sizes.body, colour, bold=is_now)
        )
    return Panel(0, top, width, frame.note_top - top, theme.wall, tuple(items))


def _main(frame: Frame, view: BanjoSetupView) -> Panel:
    theme, sizes = frame.theme, frame.sizes
    x, top = _list_width(frame), frame.body_top
    width, high = frame.window.width - x, frame.note_top - top
    left, right = x + 2 * sizes.gap, frame.right
    items: list[Item] = []
    y = top + sizes.gap // 2
    for text, size, is_muted in _lines(view, sizes.body, sizes.small):
        for line in wrapped(text, size, right - left, 5):
            y += round(1.4 * size)
            if y + 0.3 * size <= top + high:
                items.append(Text(left, y, line, size, theme.muted if is_muted else theme.ink))
        y += round(0.35 * size)
    picture = (left, y + sizes.gap, right - left, top + high - y - 2 * sizes.gap - sizes.small)
    shown = len(STEPS) - 1 if view.is_over and view.touches_db else view.running
    if shown is not None and picture[3] > 4 * sizes.body:
        items.extend(_PICTURES[shown](frame, view, picture))
    return Panel(x, top, width, high, theme.sheet, tuple(items))


def _lines(view: BanjoSetupView, body: int, small: int) -> list[tuple[str, int, bool]]:
    """Return what is said: text, size, whether it has less weight."""
    if view.running is not None:
        return [(TO_DO[view.running].format(string=view.string), body, False)]
    if view.is_over:
        said = [(f"This room will not do: {_small_first(each)}", body, False) for each in view.why_not]
        return [
            *([(view.can, body, False)] if view.can else []),
            *said,
            *((r, small, True) for r in view.remarks),
        ]
    known = [(f"Known so far: {_small_first(view.known)}", small, False)] if view.known else []
    return [(BEFORE[0], body, False), *((each, small, True) for each in BEFORE[1:]), *known]


def _small_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]


Box = tuple[int, int, int, int]
"""x, y, width, height."""


def _silence(frame: Frame, view: BanjoSetupView, box: Box) -> list[Item]:
    """Draw how loud it was in the last seconds; the softer, the lower the line."""
    theme, sizes = frame.theme, frame.sizes
    x, y, w, h = box
    label = sizes.small
    axis_x, axis_w = x + round(3.2 * label), w - round(3.2 * label)
    items: list[Item] = []
    for db in (0, -30, -60):
        line_y = y + round(h * (MOST_DB - db) / (MOST_DB - LEAST_DB))
        items.append(Rect(axis_x, line_y, axis_w, max(1, sizes.px(1.5)), theme.hair))
        words = f"−{-db} dB" if db else "0 dB"
        items.append(Text(axis_x - sizes.px(8), line_y + label // 3, words, label, theme.muted, Anchor.RIGHT))
    if len(view.levels_db) > 1:
        step = axis_w / 400
        first = axis_x + axis_w - step * (len(view.levels_db) - 1)
        points = tuple(
            (first + at * step, y + h * (MOST_DB - min(MOST_DB, max(LEAST_DB, db))) / (MOST_DB - LEAST_DB))
            for at, db in enumerate(view.levels_db)
        )
        items.append(Polyline(points, (float(sizes.px(3)),), theme.ink))
    return [*items, *_progress(frame, view.share, box)]


def _sweep(frame: Frame, view: BanjoSetupView, box: Box) -> list[Item]:
    """Draw the tone as it rises."""
    theme, sizes = frame.theme, frame.sizes
    x, y, w, h = box
    points = tuple((x + w * at / 40, y + h * (1 - (at / 40) ** 2)) for at in range(41))
    now = max(1, round(41 * min(1.0, view.share)))
    items: list[Item] = [Polyline(points, (float(sizes.px(3)),), theme.hair)]
    if now > 1:
        items.append(Polyline(points[:now], (float(sizes.px(6)),), theme.ink))
    items.append(Text(x, y + h + sizes.small, "low", sizes.small, theme.muted))
    items.append(Text(x + w, y + h + sizes.small, "high", sizes.small, theme.muted, Anchor.RIGHT))
    return items


def _strings(frame: Frame, view: BanjoSetupView, box: Box) -> list[Item]:
    """Draw the strings, string 1 on top, with a disc for each pluck heard and a ring for each to come."""
    theme, sizes = frame.theme, frame.sizes
    x, y, w, h = box
    row = h / STRINGS
    radius = min(0.22 * row, 0.6 * sizes.body)
    label_w = round(4.5 * sizes.body)
    items: list[Item] = []
    for string in range(1, STRINGS + 1):
        middle = y + (string - 0.5) * row
        is_asked = string == view.string
        thick = sizes.px(2.0 + 0.8 * (string if string < STRINGS else 0))
        begins = x + label_w + (round(0.25 * (w - label_w)) if string == STRINGS else 0)
        colour = theme.focus if is_asked else theme.string
        items.append(Rect(begins, round(middle - thick / 2), x + w - begins, thick, colour))
        name = pitch_name(view.tuning.note(string))
        words = f"{string}   {name}"
        baseline = round(middle + 0.35 * sizes.body)
        items.append(
            Text(x, baseline, words, sizes.body, theme.ink if is_asked else theme.muted, bold=is_asked)
        )
        for number in range(WANTED_PLUCKS):
            at_x = x + label_w + (w - label_w) * (0.45 + 0.2 * number)
            is_heard = number < view.plucks[string - 1]
            items.append(Disc(at_x, middle, radius, theme.ink if is_heard else theme.sheet))
            if not is_heard:
                ring = theme.focus if is_asked else theme.string
                items.append(Ring(at_x, middle, radius, max(1.5, 0.22 * radius), ring))
    return items


def _touches(frame: Frame, view: BanjoSetupView, box: Box) -> list[Item]:
    """Draw each touch heard as far down as it was softer than a pluck."""
    theme, sizes = frame.theme, frame.sizes
    x, y, w, h = box
    label_w = round(6.0 * sizes.small)
    radius = 0.4 * sizes.body
    items: list[Item] = []
    for db in (0, 12, 24, 36):
        line_y = y + round(h * db / DEEPEST_TOUCH_DB)
        items.append(Rect(x + label_w, line_y, w - label_w, max(1, sizes.px(1.5)), theme.hair))
        words = f"−{db} dB" if db else "a pluck"
        baseline = line_y + sizes.small // 3
        items.append(
            Text(x + label_w - sizes.px(10), baseline, words, sizes.small, theme.muted, Anchor.RIGHT)
        )
    for number in range(max(WANTED_TOUCHES, len(view.touches_db))):
        at_x = x + label_w + (w - label_w) * (number + 0.5) / max(WANTED_TOUCHES, len(view.touches_db))
        if number < len(view.touches_db):
            under = min(DEEPEST_TOUCH_DB, max(0.0, -view.touches_db[number]))
            items.append(Disc(at_x, y + h * under / DEEPEST_TOUCH_DB, radius, theme.ink))
        else:
            items.append(Ring(at_x, y + h, radius, max(1.5, 0.2 * radius), theme.string))
    return items


def _progress(frame: Frame, share: float, box: Box) -> list[Item]:
    """Draw how much of a step is done, as a line that fills under its picture."""
    x, y, w, h = box
    high = frame.sizes.px(6)
    top = y + h + frame.sizes.px(8)
    done = round(w * min(1.0, max(0.0, share)))
    return [Rect(x, top, w, high, frame.theme.hair), Rect(x, top, max(1, done), high, frame.theme.focus)]


_PICTURES = (_silence, _sweep, _strings, _touches)
