"""Lay results out on paper: rows on one axis from early to late, a mark for each tap, under headings.

Black on white, upright, as many pages as the rows need. A row's marks go down from the first tap to the last;
the bar under them is their mean with its interval; the soft band is the pocket.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from trainer.judging.statistics import Placement
from trainer.judging.take import Verdict
from trainer.screen.draw import Anchor, Item, Rect, Text
from trainer.screen.lettering import CAPITAL, missing_letters, shortened, text_width, wrapped
from trainer.screen.printed import FOOT_MM, MARGIN_MM, PAPER, Paper, PrintedPage, px
from trainer.screen.scenes.marks import LOOKS, mark
from trainer.screen.theme import BLACK

TITLE_MM, WORDS_MM, HEADING_MM, ROW_MM, SMALL_MM = 7.0, 3.7, 4.6, 3.9, 3.1  # sizes of the type
ROW_HIGH_MM = 13.0
LEAST_ROW_MM, CLOSE_ROW_MM = 6.5, 9.0  # of a page that holds much, and where it takes more than one
SECTION_GAP_MM = 4.0
NAME_SHARE, FACTS_SHARE = 0.24, 0.27  # of the width
REACHES_MS = (50, 100, 150, 200, 300, 500)  # of the axis, either way
MOST_MARKS = 160  # of a row, spread evenly over what was played: more would only hide each other
MARK_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """One row.

    Attributes:
        name: who or what.
        facts: at most three short lines beside the marks, the first the most important.
        placements_s, verdicts: the taps in the order played, late positive.
        placement: their mean and how sure it is; None where nothing was played.
        pocket_s: half-width of the pocket; 0 for none.
    """

    name: str
    facts: tuple[str, ...] = ()
    placements_s: tuple[float, ...] = ()
    verdicts: tuple[Verdict, ...] = ()
    placement: Placement | None = None
    pocket_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultSection:
    """Rows under a heading, with a line of words under it."""

    heading: str
    rows: tuple[ResultRow, ...]
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Results:
    """All that stands on the page or pages.

    Attributes:
        title: in large type.
        words: what stands under it, a line each.
        sections: in order.
    """

    title: str
    words: tuple[str, ...] = ()
    sections: tuple[ResultSection, ...] = ()


def result_pages(
    results: Results, paper: Paper = Paper.A4, *, is_close: bool = False
) -> tuple[PrintedPage, ...]:
    """Return the pages of results, mostly one.

    Args:
        is_close: whether rows may be lower, so that all stand on one page if they can still be read there.
    """
    width, height = (px(mm) for mm in paper.size_mm)
    layout = _Layout(left=px(MARGIN_MM), right=width - px(MARGIN_MM), reach_ms=_reach_ms(results))
    bottom = height - px(MARGIN_MM) - px(3 * FOOT_MM)
    if is_close:
        layout = replace(layout, row_high=_close_rows(results, layout, bottom))
    pages: list[list[Item]] = [list(_head(results, layout))]
    y = _head_high(results, layout)
    for section in results.sections:
        first = layout.section_high + layout.row_high
        if y + first > bottom and pages[-1]:
            pages.append([])
            y = px(MARGIN_MM)
        pages[-1] += layout.heading(section, y)
        y += layout.section_high
        for row in section.rows:
            if y + layout.row_high > bottom:
                pages.append([])
                y = px(MARGIN_MM)
                pages[-1] += layout.heading(section, y)
                y += layout.section_high
            pages[-1] += layout.row(row, y)
            y += layout.row_high
        y += px(SECTION_GAP_MM)
    seen = {verdict for section in results.sections for row in section.rows for verdict in row.verdicts}
    for number, items in enumerate(pages):
        items += _foot(results, layout, seen, height - px(MARGIN_MM), (number, len(pages)))
    return tuple(PrintedPage(width=width, height=height, items=tuple(items)) for items in pages)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layout:
    """Where things stand on the page, in its pixels."""

    left: int
    right: int
    reach_ms: int
    row_high: int = px(ROW_HIGH_MM)

    @property
    def section_high(self) -> int:
        return px(2.1 * HEADING_MM + 1.7 * SMALL_MM)

    @property
    def axis(self) -> tuple[int, int]:
        room = self.right - self.left
        return self.left + round(NAME_SHARE * room), self.right - round(FACTS_SHARE * room)

    def x(self, placement_s: float) -> float:
        """Return where a placement lies; one beyond the axis stands at its end."""
        first, last = self.axis
        share = max(-1.0, min(1.0, 1000 * placement_s / self.reach_ms))
        return (first + last) / 2 + share * (last - first) / 2

    def heading(self, section: ResultSection, y: int) -> Iterator[Item]:
        """Give a section's heading, and the words of the axis."""
        size, small = px(HEADING_MM), px(SMALL_MM)
        baseline = round(y + 1.2 * size)
        words = shortened(_plain(section.heading), size, self.right - self.left, bold=True)
        yield Text(self.left, baseline, words, size, BLACK, bold=True)
        x = self.left + text_width(words, size, bold=True) + px(4.0)
        if section.words and x < self.right:
            beside = shortened(_plain(section.words), small, self.right - x)
            yield Text(x, baseline, beside, small, PAPER.muted)
        under = round(y + 2.1 * size + 0.8 * small)
        first, last = self.axis
        yield Text(first, under, f"{self.reach_ms} ms early", small, PAPER.muted, Anchor.LEFT)
        yield Text((first + last) // 2, under, "0", small, PAPER.muted, Anchor.CENTRE)
        yield Text(last, under, f"{self.reach_ms} ms late", small, PAPER.muted, Anchor.RIGHT)

    def row(self, row: ResultRow, y: int) -> Iterator[Item]:
        """Give one row: its name, its marks, its facts."""
        first, last = self.axis
        size, small, thin = px(ROW_MM), px(SMALL_MM), px(0.2)
        yield Rect(self.left, y, self.right - self.left, thin, PAPER.hair)
        room = first - self.left - px(2.0)
        lines = wrapped(_plain(row.name), size, room, 2, bold=True)
        if len(lines) * 1.3 * size > self.row_high:
            lines = (shortened(_plain(row.name), size, room, bold=True),)
        yield from _column(self.left, y, self.row_high, lines, size, bold=True)
        if row.pocket_s:
            left, right = round(self.x(-row.pocket_s)), round(self.x(row.pocket_s))
            yield Rect(left, y + thin, right - left, self.row_high - thin, PAPER.pocket)
        zero = round(self.x(0.0))
        yield Rect(zero, y + thin, thin, self.row_high - thin, PAPER.string)
        yield from self._marks(row, y)
        yield from self._mean(row, y)
        most = max(1, int(self.row_high / (1.3 * small)))
        facts = (
            row.facts
            if len(row.facts) <= most
            else (*row.facts[: most - 1], ", ".join(row.facts[most - 1 :]))
        )
        lines = tuple(shortened(_plain(each), small, self.right - last - px(3.0)) for each in facts)
        yield from _column(last + px(3.0), y, self.row_high, lines, small)

    def _marks(self, row: ResultRow, y: int) -> Iterator[Item]:
        n = len(row.placements_s)
        step = max(1, math.ceil(n / MOST_MARKS))
        for at in range(0, n, step):
            share = at / (n - 1) if n > 1 else 0.5
            deep = y + (0.14 + 0.56 * share) * self.row_high
            radius = px(MARK_MM) * (0.8 if n > 40 else 1.0)
            yield from mark(row.verdicts[at], self.x(row.placements_s[at]), deep, radius, PAPER)

    def _mean(self, row: ResultRow, y: int) -> Iterator[Item]:
        placement = row.placement
        if placement is None or placement.mean_s is None:
            return
        middle, thick, high = y + 0.86 * self.row_high, px(0.5), px(2.2)
        x = self.x(placement.mean_s)
        yield Rect(round(x - thick / 2), round(middle - high / 2), thick, high, BLACK)
        if placement.half_interval_s is not None:
            left = round(self.x(placement.mean_s - placement.half_interval_s))
            right = round(self.x(placement.mean_s + placement.half_interval_s))
            yield Rect(left, round(middle - px(0.3) / 2), max(right - left, 1), px(0.3), BLACK)


def _close_rows(results: Results, layout: _Layout, bottom: int) -> int:
    """Return the height of rows that stand on one page, between the least that can be read and the usual."""
    rows = sum(len(section.rows) for section in results.sections)
    apart = len(results.sections) * (layout.section_high + px(SECTION_GAP_MM))
    room = bottom - _head_high(results, layout) - apart
    fits = room // rows if rows else layout.row_high
    return min(fits, layout.row_high) if fits >= px(LEAST_ROW_MM) else px(CLOSE_ROW_MM)


def _column(
    x: int, y: int, high: int, lines: Sequence[str], size: int, *, bold: bool = False
) -> Iterator[Text]:
    """Give lines of type, centred in a row."""
    pitch = 1.3 * size
    top = y + (high - pitch * len(lines)) / 2
    for at, line in enumerate(lines):
        yield Text(x, round(top + (at + 0.5) * pitch + CAPITAL * size / 2), line, size, BLACK, bold=bold)


def _head_lines(results: Results, layout: _Layout) -> Iterator[tuple[str, int, bool]]:
    room = layout.right - layout.left
    for line in wrapped(_plain(results.title), px(TITLE_MM), room, 2, bold=True):
        yield line, px(TITLE_MM), True
    for words in results.words:
        for line in wrapped(_plain(words), px(WORDS_MM), room, 3):
            yield line, px(WORDS_MM), False


def _head(results: Results, layout: _Layout) -> Iterator[Item]:
    y = float(px(MARGIN_MM))
    for line, size, bold in _head_lines(results, layout):
        yield Text(layout.left, round(y + CAPITAL * size), line, size, BLACK, bold=bold)
        y += 1.45 * size


def _head_high(results: Results, layout: _Layout) -> int:
    return round(px(MARGIN_MM) + sum(1.45 * size for _, size, _ in _head_lines(results, layout)) + px(3.0))


def _foot(
    results: Results, layout: _Layout, seen: set[Verdict], y: int, page: tuple[int, int]
) -> Iterator[Item]:
    """Give the key to the marks that are on the pages, and the pages' numbers."""
    size, x = px(FOOT_MM), layout.left
    above = y - round(1.8 * size)
    for verdict in LOOKS:
        if verdict not in seen:
            continue
        yield from mark(verdict, x + 0.5 * size, above - 0.35 * size, 0.34 * size, PAPER)
        yield Text(x + round(1.3 * size), above, verdict.value, size, PAPER.muted)
        x += round(2.6 * size) + text_width(verdict.value, size)
    words = "bar below: the mean, and how sure it is (95 %)"
    if seen and x + text_width(words, size) <= layout.right:
        yield Text(layout.right, above, words, size, PAPER.muted, Anchor.RIGHT)
    yield Text(layout.right, y, "Thumbfall", size, PAPER.muted, Anchor.RIGHT)
    number, count = page
    if count > 1:
        title = shortened(_plain(results.title), size, (layout.right - layout.left) // 2)
        yield Text(layout.left, y, f"{title}, page {number + 1} of {count}", size, PAPER.muted)


def _reach_ms(results: Results) -> int:
    """Return the axis's reach: the least of a few that holds nearly all placements."""
    rows = [row for section in results.sections for row in section.rows]
    placed = sorted(1000 * abs(at) for row in rows for at in row.placements_s)
    largest = placed[math.ceil(0.97 * len(placed)) - 1] if placed else 0.0
    least = max(largest, *(1600 * row.pocket_s for row in rows), 0.0) if rows else 0.0
    return next((ms for ms in REACHES_MS if ms >= least), REACHES_MS[-1])


def _plain(text: str) -> str:
    """Return a text with a dot for each letter that the page's type lacks, so that none is blank."""
    lacking = set(missing_letters(text))
    return "".join("·" if each in lacking else each for each in text)
