"""Lay a pattern out on paper: one page when it can be read on one, black on white.

The scale is chosen so that all lines fit the page. Where that would make a slot or a line smaller than what
can be read from a music stand, the rest goes on to further pages.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace

from trainer.music.pattern import Pattern
from trainer.screen.draw import Anchor, Item, Text
from trainer.screen.lettering import CAPITAL, wrapped
from trainer.screen.scenes.page_lines import (
    MOST_BARS_IN_LINE,
    Letters,
    LinePicture,
    PageShape,
    facts,
    lines_shape,
    moved,
)
from trainer.screen.theme import BLACK, PROJECTOR

DPI = 300
MM_PER_INCH = 25.4
MARGIN_MM = 15.0
LEAST_SLOT_MM = 4.5  # the numbers of two frets beside each other still stand apart
LEAST_LINE_MM = 24.0
USUAL_SLOT_MM = 11.0
USUAL_LINE_MM = 46.0
MOST_LINE_MM = 62.0
FULL_LINES = 1.35  # lines that are all full are worth somewhat smaller ones; common practice, no source
TITLE_MM, SENTENCE_MM, FACTS_MM, FOOT_MM = 8.5, 4.4, 3.7, 3.2  # sizes of the type
PAPER = replace(
    PROJECTOR, quiet=(0x33, 0x33, 0x33), string=(0x66, 0x66, 0x66), hair=(0x99, 0x99, 0x99), now=BLACK,
    focus=BLACK,
)  # fmt: skip


class Paper(enum.Enum):
    """The sizes of paper; the value is the name on the command line."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height, upright: ISO 216 and ANSI/ASME Y14.1."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintedPage:
    """One page, in pixels of ``DPI``."""

    width: int
    height: int
    items: tuple[Item, ...]


def px(mm: float) -> int:
    """Return a length on paper in pixels."""
    return round(mm / MM_PER_INCH * DPI)


def printed_pages(
    pattern: Pattern, *, letters: Letters | None = None, paper: Paper = Paper.A4
) -> tuple[PrintedPage, ...]:
    """Return the pages of a pattern, mostly one.

    Args:
        letters: what the chords are called in letters; None writes numbers alone.
    """
    width, height = (px(mm) for mm in paper.size_mm)
    left, room = px(MARGIN_MM), width - 2 * px(MARGIN_MM)
    foot = height - px(MARGIN_MM)
    head, first_top = _head(pattern, letters, left, room)
    bottom = foot - px(2 * FOOT_MM)
    shape = best_shape(pattern, room, bottom - first_top)
    tops = _tops(shape, first_top, bottom)
    pages = []
    for number, lines in enumerate(tops):
        items = list(head if number == 0 else ())
        for line, top in lines:
            drawn = LinePicture(pattern, shape, PAPER, line, letters).items()
            items += [moved(item, left, top) for item in drawn]
        items += _foot(pattern, number, len(tops), left, left + room, foot)
        pages.append(PrintedPage(width=width, height=height, items=tuple(items)))
    return tuple(pages)


def best_shape(pattern: Pattern, width: int, height: int) -> PageShape:
    """Return the lines that are largest when all of them stand in a height, or the smallest that can be read.

    A slot and a line count as large as the smaller of both is, each against what is usual.
    """
    found: tuple[float, PageShape] | None = None
    for n in range(1, min(MOST_BARS_IN_LINE, len(pattern.bars)) + 1):
        slot_px = width / (n * pattern.slots_per_bar)
        lines = -(-len(pattern.bars) // n)
        line_px = min(height / lines, px(MOST_LINE_MM))
        if slot_px < px(LEAST_SLOT_MM) or line_px < px(LEAST_LINE_MM):
            continue
        scale = min(slot_px / px(USUAL_SLOT_MM), line_px / px(USUAL_LINE_MM), 1.0)
        scale *= 1.0 if len(pattern.bars) % n else FULL_LINES
        if found is None or scale > found[0]:
            found = scale, lines_shape(pattern, n, width, int(line_px))
    if found is not None:
        return found[1]
    most = max(1, int(width / (px(LEAST_SLOT_MM) * pattern.slots_per_bar)))
    return lines_shape(pattern, min(most, MOST_BARS_IN_LINE, len(pattern.bars)), width, px(LEAST_LINE_MM))


def _tops(shape: PageShape, first_top: int, bottom: int) -> list[list[tuple[int, int]]]:
    """Return for each page its lines and where they begin."""
    pages: list[list[tuple[int, int]]] = [[]]
    top = first_top
    for line in range(shape.lines):
        if top + shape.line_height > bottom and pages[-1]:
            pages.append([])
            top = px(MARGIN_MM)
        pages[-1].append((line, top))
        top += shape.line_height
    return pages


def _head(pattern: Pattern, letters: Letters | None, left: int, room: int) -> tuple[tuple[Item, ...], int]:
    """Return the first page's head, and where the lines begin under it."""
    rows = [
        *((line, px(TITLE_MM), True) for line in wrapped(pattern.title, px(TITLE_MM), room, 2, bold=True)),
        *((line, px(FACTS_MM), False) for line in wrapped(facts(pattern, letters), px(FACTS_MM), room, 2)),
        *((line, px(SENTENCE_MM), False) for line in wrapped(pattern.teacher, px(SENTENCE_MM), room, 3)),
    ]
    items: list[Item] = []
    y = float(px(MARGIN_MM))
    for words, size, bold in rows:
        baseline = round(y + CAPITAL * size)
        items.append(Text(left, baseline, words, size, BLACK, bold=bold))
        y += (1.5 if bold else 1.35) * size
    return tuple(items), round(y + px(4.0))


def _foot(pattern: Pattern, number: int, count: int, left: int, right: int, y: int) -> list[Item]:
    size = px(FOOT_MM)
    items: list[Item] = [Text(right, y, "Thumbfall", size, PAPER.quiet, Anchor.RIGHT)]
    if count > 1:
        items.append(Text(left, y, f"{pattern.title}, page {number + 1} of {count}", size, PAPER.quiet))
    return items
