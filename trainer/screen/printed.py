"""Lay a pattern out on paper: one page when it can be read on one, black on white.

Each bar that is written stands once, with parts, repeats and endings; the signs are explained at the foot of
the first page. The scale is chosen so that all lines fit the page, with the words under their strokes. Where
that would make words or lines smaller than what can be read from a music stand, the rest goes on to further
pages, all of the same scale.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass, replace

from trainer.music.pattern import Pattern
from trainer.screen.draw import Anchor, Item, Text
from trainer.screen.lettering import CAPITAL, missing_letters, wrapped
from trainer.screen.scenes.moved import moved
from trainer.screen.scenes.page_form import WrittenTune, written
from trainer.screen.scenes.page_key import key_items
from trainer.screen.scenes.page_lines import MOST_BARS_IN_LINE, LinePicture, PageShape, lines_shape
from trainer.screen.scenes.page_words import Letters, facts
from trainer.screen.theme import BLACK, PROJECTOR

DPI = 300
MM_PER_INCH = 25.4
MARGIN_MM = 15.0
LEAST_SLOT_MM = 4.5  # the numbers of two frets beside each other still stand apart
LEAST_LINE_MM = 27.0
LEAST_WORDS_MM = 1.9  # size of the words under the strokes; 5.4 points
USUAL_WORDS_MM = 3.0
LONG_LINE_MM = 38.0  # where more pages are needed anyway
USUAL_SLOT_MM = 11.0
USUAL_LINE_MM = 46.0
MOST_LINE_MM = 62.0
FULL_LINES = 1.15  # lines that are all full are worth somewhat smaller ones; common practice, no source
TITLE_MM, SENTENCE_MM, FACTS_MM, FOOT_MM, KEY_MM = 8.5, 4.4, 3.7, 3.2, 2.7  # sizes of the type
PAPER = replace(
    PROJECTOR, muted=(0x33, 0x33, 0x33), string=(0x66, 0x66, 0x66), hair=(0x99, 0x99, 0x99), now=BLACK,
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
    pattern: Pattern,
    *,
    letters: Letters | None = None,
    paper: Paper = Paper.A4,
    string_1_on_top: bool = False,
) -> tuple[PrintedPage, ...]:
    """Return the pages of a pattern, mostly one.

    Args:
        letters: what the chords are called in letters; None writes numbers alone.
        string_1_on_top: whether the strings stand with string 1 on top, and the hand under them.
    """
    tune = written(pattern)
    width, height = (px(mm) for mm in paper.size_mm)
    left, room = px(MARGIN_MM), width - 2 * px(MARGIN_MM)
    foot = height - px(MARGIN_MM)
    head, first_top = _head(pattern, letters, left, room)
    key, key_height = key_items(tune.pattern, tune.signs, PAPER, size=px(KEY_MM), width=room)
    bottom = foot - px(2 * FOOT_MM)
    shape = best_shape(tune.pattern, room, (bottom - key_height - first_top, bottom - px(MARGIN_MM)))
    tops = _tops(shape, first_top, (bottom - key_height, bottom))
    pages = []
    for number, lines in enumerate(tops):
        items = list(head if number == 0 else ())
        for line, top in lines:
            drawn = _line(tune, shape, line, letters, string_1_on_top=string_1_on_top)
            items += [moved(item, left, top) for item in drawn.items()]
        if number == 0:
            items += [moved(item, left, bottom - key_height) for item in key]
        items += _foot(pattern, number, len(tops), left, left + room, foot)
        pages.append(PrintedPage(width=width, height=height, items=tuple(items)))
    return tuple(pages)


def _line(
    tune: WrittenTune, shape: PageShape, line: int, letters: Letters | None, *, string_1_on_top: bool
) -> LinePicture:
    return LinePicture(
        tune.pattern,
        shape,
        PAPER,
        line,
        letters,
        signs=tune.signs,
        string_1_on_top=string_1_on_top,
        zeros=True,
    )


def best_shape(pattern: Pattern, width: int, heights: tuple[int, int]) -> PageShape:
    """Return the largest lines of which all stand on one page, else those of as many pages as it takes.

    A slot, a line and its words count as large as the smallest of them is, each against what is usual.

    Args:
        heights: what the first page has for lines, and what each further one has.
    """
    found: tuple[float, PageShape] | None = None
    for n in range(1, min(MOST_BARS_IN_LINE, len(pattern.bars)) + 1):
        slot_px = width / (n * pattern.slots_per_bar)
        lines = -(-len(pattern.bars) // n)
        line_px = min(heights[0] / lines, px(MOST_LINE_MM))
        if line_px < px(LEAST_LINE_MM) or not _is_legible(pattern, n, width, int(line_px)):
            continue
        shape = _lines(pattern, n, width, int(line_px))
        words = shape.sheet.word_size / px(USUAL_WORDS_MM)
        scale = min(slot_px / px(USUAL_SLOT_MM), line_px / px(USUAL_LINE_MM), words, 1.0)
        scale *= 1.0 if len(pattern.bars) % n else FULL_LINES
        if found is None or scale > found[0]:
            found = scale, shape
    return found[1] if found is not None else _long_shape(pattern, width, heights)


def _long_shape(pattern: Pattern, width: int, heights: tuple[int, int]) -> PageShape:
    """Return as many bars to a line as can be read, and lines that fill pages."""
    high = px(LONG_LINE_MM)
    most = min(MOST_BARS_IN_LINE, len(pattern.bars))
    counts = [n for n in range(1, most + 1) if _is_legible(pattern, n, width, high)]
    # Bars of very many slots have no room for words; a line of one of them is all that can be done.
    n = counts[-1] if counts else 1
    even = [count for count in counts if len(pattern.bars) % count == 0 and 2 * count > n]
    n = even[-1] if even else n
    first = max(1, heights[0] // high)
    return _lines(pattern, n, width, min(high, heights[0] // first))


def _is_legible(pattern: Pattern, bars_per_line: int, width: int, line_px: int) -> bool:
    """Return whether the words under the strokes can be read, and frets stand apart."""
    if width / (bars_per_line * pattern.slots_per_bar) < px(LEAST_SLOT_MM):
        return False
    return _lines(pattern, bars_per_line, width, line_px).sheet.word_size >= px(LEAST_WORDS_MM)


def _lines(pattern: Pattern, bars_per_line: int, width: int, line_px: int) -> PageShape:
    return lines_shape(pattern, bars_per_line, width, line_px, least_words=px(LEAST_WORDS_MM))


def _tops(shape: PageShape, first_top: int, bottoms: tuple[int, int]) -> list[list[tuple[int, int]]]:
    """Return for each page its lines and where they begin.

    Args:
        bottoms: where lines must end on the first page, over the key, and on the others.
    """
    pages: list[list[tuple[int, int]]] = [[]]
    top, bottom = first_top, bottoms[0]
    for line in range(shape.lines):
        if top + shape.line_height > bottom and pages[-1]:
            pages.append([])
            top, bottom = px(MARGIN_MM), bottoms[1]
        pages[-1].append((line, top))
        top += shape.line_height
    return pages


def readable_title(pattern: Pattern) -> tuple[str, str]:
    """Return a title in letters that the page's type has, and a sentence about those that it lacks."""
    lacking = missing_letters(pattern.title)
    if not lacking:
        return pattern.title, ""
    kept = " ".join("".join(each if each not in lacking else " " for each in pattern.title).split())
    kept = kept.strip(" -–—·,;:")
    if not any(each.isalnum() for each in kept):
        kept = pattern.name if not missing_letters(pattern.name) else "A tune"
    return kept, f"The title has {len(lacking)} letters that this page's type lacks; the file holds it whole."


def _head(pattern: Pattern, letters: Letters | None, left: int, room: int) -> tuple[tuple[Item, ...], int]:
    """Return the first page's head, and where the lines begin under it."""
    title, lacking = readable_title(pattern)
    rows = [
        *((line, px(TITLE_MM), True) for line in wrapped(title, px(TITLE_MM), room, 2, bold=True)),
        *((line, px(FACTS_MM), False) for line in wrapped(lacking, px(FACTS_MM), room, 2)),
        *((line, px(FACTS_MM), False) for line in wrapped(facts(pattern, letters), px(FACTS_MM), room, 2)),
        *(
            (line, px(SENTENCE_MM), False)
            for line in wrapped(_with_dots(pattern.teacher), px(SENTENCE_MM), room, 3)
        ),
    ]
    items: list[Item] = []
    y = float(px(MARGIN_MM))
    for words, size, bold in rows:
        baseline = round(y + CAPITAL * size)
        items.append(Text(left, baseline, words, size, BLACK, bold=bold))
        y += (1.5 if bold else 1.35) * size
    return tuple(items), round(y + px(4.0))


def _with_dots(text: str) -> str:
    """Return a text with a dot for each letter that the page's type lacks, so that none is blank."""
    lacking = set(missing_letters(text))
    return "".join("·" if each in lacking else each for each in text)


def _foot(pattern: Pattern, number: int, count: int, left: int, right: int, y: int) -> list[Item]:
    size = px(FOOT_MM)
    items: list[Item] = [Text(right, y, "Thumbfall", size, PAPER.muted, Anchor.RIGHT)]
    if count > 1:
        items.append(
            Text(left, y, f"{readable_title(pattern)[0]}, page {number + 1} of {count}", size, PAPER.muted)
        )
    return items
