"""Show a whole pattern or break on one page, to read it and to mark the bars that are to be looped.

The page scrolls when it is longer than the window. Marked bars have another ground and stand between
brackets, so that no colour is needed to see them.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trainer.music.excerpt import bar_words
from trainer.music.pattern import Pattern
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Rect, Scene, Strip, Text
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.page_form import WrittenTune
from trainer.screen.scenes.page_lines import LinePicture, PageShape, bars_in_line, lines_shape
from trainer.screen.scenes.page_words import Letters, facts
from trainer.screen.scenes.parts import Frame, Value, bpm_words, header_panel, middle_baseline, page, scrolled
from trainer.screen.window import Window

LEAST_SLOT_UNITS = 62.0
LEAST_LINE_UNITS = 236.0
MOST_LINE_UNITS = 420.0
MOST_TEACHER_LINES = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class PageView:
    """A pattern on one page.

    Attributes:
        tune: all of it as it is written, with its parts, repeats and endings.
        title: the tune's.
        first, last: the marked bars, from 0, as they are written; all when nothing is marked.
        shown: the bar that must be in view.
        bpm: the tempo of a loop.
        letters: what the chords are called in letters; None without chords.
        string_1_on_top: whether the picture stands upside down.
        is_printing: whether it is being written for a printer.
        can_open_folder: whether a page was printed, and its folder can be shown.
    """

    window: Window
    tune: WrittenTune
    title: str
    first: int
    last: int
    shown: int
    bpm: Fraction
    letters: Letters | None = None
    string_1_on_top: bool = False
    is_printing: bool = False
    can_open_folder: bool = False

    @property
    def pattern(self) -> Pattern:
        """The bars that are written, each once."""
        return self.tune.pattern

    @property
    def is_whole(self) -> bool:
        """Whether all bars are meant."""
        return self.first == 0 and self.last == len(self.pattern.bars) - 1

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return page_scene(self)


def page_scene(view: PageView) -> Scene:
    """Return the page's scene."""
    helps = helps_of("page", states={"printed": view.can_open_folder})
    frame = Frame.of(view.window, helps=helps)
    what = "all bars" if view.is_whole else bar_words(view.first, view.last)
    header = header_panel(frame, view.title, (Value("", what, ""), Value("", bpm_words(view.bpm), "bpm")))
    about = _about(frame, view)
    lines, hits = _lines(frame, view, about.y + about.h)
    return page(frame, (header, about, lines), hits, helps, status=_legend(frame, view))


def _about(frame: Frame, view: PageView) -> Panel:
    """Return what is to be known of the pattern, and its teacher's sentence."""
    theme, sizes = frame.theme, frame.sizes
    room = frame.right - frame.left
    about, teacher = facts(view.pattern, view.letters), view.pattern.teacher
    # A long sentence is whole in smaller type rather than cut.
    size = sizes.body if len(wrapped(teacher, sizes.body, room, 3)) < 3 else sizes.small
    rows = [
        *((line, sizes.small, theme.muted) for line in wrapped(about, sizes.small, room, 2)),
        *((line, size, theme.ink) for line in wrapped(teacher, size, room, MOST_TEACHER_LINES)),
    ]
    items: list[Item] = []
    y = 0.0
    for words, size, colour in rows:
        items.append(
            Text(frame.left, middle_baseline(frame.body_top + y, 1.5 * size, size), words, size, colour)
        )
        y += 1.5 * size
    high = round(y + 0.5 * sizes.body)
    return Panel(0, frame.body_top, frame.window.width, high, theme.wall, tuple(items))


def page_shape(frame: Frame, pattern: Pattern, room: int) -> PageShape:
    """Return how a pattern is broken into lines in ``room`` pixels of height."""
    width, unit = frame.right - frame.left, frame.sizes.unit
    n = bars_in_line(pattern, width, LEAST_SLOT_UNITS * unit)
    lines = -(-len(pattern.bars) // n)
    high = min(max(room / lines, LEAST_LINE_UNITS * unit), MOST_LINE_UNITS * unit)
    # Never higher than what there is: one line at least is seen whole.
    return lines_shape(pattern, n, width, max(1, min(int(high), room)), has_signs=True)


def _lines(frame: Frame, view: PageView, top: int) -> tuple[Panel, tuple[Hit, ...]]:
    theme, pattern = frame.theme, view.pattern
    room = frame.note_top - top
    shape = page_shape(frame, pattern, room)
    height = shape.lines * shape.line_height
    # The shown line in the middle where it can be, and whole lines from the top on.
    first = scrolled(shape.lines, max(1, room // shape.line_height), shape.line_of(view.shown))
    scroll = min(first * shape.line_height, max(height - room, 0))
    strips, hits = [], list[Hit]()
    marked = None if view.is_whole else (view.first, view.last)
    width = frame.right - frame.left
    for line in range(shape.lines):
        y = top - scroll + line * shape.line_height
        if y + shape.line_height <= top or y >= top + room:
            continue
        bars = shape.bars_of(line, len(pattern.bars))
        seen = marked if marked and marked[0] <= bars[-1] and marked[1] >= bars[0] else None
        picture = LinePicture(
            pattern,
            shape,
            theme,
            line,
            view.letters,
            seen,
            signs=view.tune.signs,
            string_1_on_top=view.string_1_on_top,
        )
        strips.append(Strip(frame.left, y, width, shape.line_height, theme.sheet, picture))
        for bar in bars:
            x, wide = frame.left + picture.bar_x(bar), pattern.meter.beats * shape.sheet.beat_px
            upper, lower = max(y, top), min(y + shape.line_height, top + room)
            hits.append(Hit(x, upper, wide, lower - upper, Action(act=Act.SELECT, value=bar)))
    items = _scroll_bar(frame, top, room, scroll, height) if height > room else ()
    panel = Panel(0, top, frame.window.width, room, theme.sheet, items, tuple(strips))
    return panel, tuple(hits)


def _scroll_bar(frame: Frame, top: int, room: int, scroll: int, height: int) -> tuple[Item, ...]:
    """Return what says how much of the page is seen."""
    theme, wide = frame.theme, frame.sizes.px(8)
    x = frame.window.width - frame.sizes.px(22)
    return (
        Rect(x, top, wide, room, theme.raised, wide // 2),
        Rect(x, top + room * scroll // height, wide, room * room // height, theme.muted, wide // 2),
    )


def _legend(frame: Frame, view: PageView) -> tuple[Item, ...]:
    """Return a line on how bars are marked with the mouse, or on what is being done."""
    theme, size = frame.theme, frame.sizes.small
    words = "Click a bar to mark it, and another one to mark all from there to here."
    if view.is_printing:
        words = "The page is being written; go on meanwhile."
    room = frame.right - frame.left
    if text_width(words, size) > room:
        words = shortened(words, size, room)
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    return (Text(frame.left, baseline, words, size, theme.muted),)
