"""Lay a whole pattern out in lines of bars, for the window and for paper.

A line holds as many bars as can be read; in each bar the hand's path runs over the five strings with their
frets, the chords stand above their beats by number, the letters smaller beneath them. Lengths are pixels.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from trainer.music.before import frets_before
from trainer.music.keys import chord_letters
from trainer.music.layout import Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.screen.draw import Anchor, Disc, Item, Rect, Text
from trainer.screen.hand_path import Slot, string_height
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.moved import moved, upside_down
from trainer.screen.scenes.page_form import NO_SIGNS, BarSigns
from trainer.screen.scenes.page_words import Letters
from trainer.screen.scenes.sheet import BeatPicture
from trainer.screen.scenes.sheet_shape import BOTTOM_HEIGHT, TOP_HEIGHT, SheetShape, kinds_of
from trainer.screen.theme import Colour, Theme

MOST_BARS_IN_LINE = 8
ANY_TEMPO = Fraction(60)  # the page shows beats; any tempo lays them out alike
FLATTER = 0.1
USUAL_SLOT = 110.0  # pixels of a slot from which on lines are as thick as in a drill
USUAL_SPACING = 46.0
CHORDS_SHARE = 0.2  # of a line's height
WORDS_SHARE = 0.095
LEAST_SIGN_PX = 24  # room for a repeat's sign beside the strings' numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class PageShape:
    """How a pattern is broken into lines.

    Attributes:
        bars_per_line, lines: how many.
        number_width: pixels left of each line, for the strings' numbers and a repeat's sign.
        number_size: size of the strings' numbers; the other numbers go by it.
        sheet: shape of a line.
    """

    bars_per_line: int
    lines: int
    number_width: int
    number_size: int
    sheet: SheetShape

    @property
    def line_height(self) -> int:
        """Height of one line."""
        return self.sheet.height

    def line_of(self, bar: int) -> int:
        """Return the line, from 0, that a bar stands in."""
        return bar // self.bars_per_line

    def bars_of(self, line: int, bars: int) -> range:
        """Return the bars of a line, of so many in all."""
        return range(line * self.bars_per_line, min((line + 1) * self.bars_per_line, bars))


def lines_shape(
    pattern: Pattern,
    bars_per_line: int,
    width: int,
    line_height: int,
    *,
    least_words: int = 0,
    has_signs: bool = False,
) -> PageShape:
    """Return the shape for so many bars in a line of a width and a height.

    Args:
        least_words: how small the words under the strokes may become before they are left out, in pixels; 0
            leaves them out where they have no room at their usual size.
        has_signs: whether a repeat may begin in front of a line, as on paper it always may.
    """
    usual = max(9, round(WORDS_SHARE * line_height))
    sizes = [usual]
    while least_words and sizes[-1] > least_words:
        sizes.append(max(least_words, round(0.85 * sizes[-1])))
    start = 2.3 if least_words or has_signs else 1.5
    shapes = [
        _lines_shape(
            pattern,
            bars_per_line,
            width,
            line_height,
            words,
            max(round(start * words), round(1.2 * words) + LEAST_SIGN_PX * has_signs),
        )
        for words in sizes
    ]
    return next((shape for shape in shapes if shape.sheet.word_size), shapes[0])


def _lines_shape(
    pattern: Pattern, bars_per_line: int, width: int, line_height: int, words: int, number_width: int
) -> PageShape:
    slots = bars_per_line * pattern.slots_per_bar
    slot_px = (width - number_width) / slots
    above = round(CHORDS_SHARE * line_height) if pattern.chart is not None else round(0.07 * line_height)
    fit = {
        "height": line_height,
        "slots_per_beat": pattern.slots_per_beat,
        # Rounded down to whole beats, so that a line never grows out of its width.
        "slot_px": int(slot_px * pattern.slots_per_beat) / pattern.slots_per_beat,
        "word_size": words,
        "above": above,
    }
    rough = _fitting(pattern, fit, 1.0)
    unit = min(slot_px / USUAL_SLOT, rough.spacing / USUAL_SPACING)
    return PageShape(
        bars_per_line=bars_per_line,
        lines=-(-len(pattern.bars) // bars_per_line),
        number_width=number_width,
        number_size=round(0.93 * words),
        sheet=_fitting(pattern, fit, unit),
    )


def _fitting(pattern: Pattern, fit: dict[str, float], unit: float) -> SheetShape:
    return SheetShape.fitting(
        height=int(fit["height"]),
        slots_per_beat=int(fit["slots_per_beat"]),
        slot_px=fit["slot_px"],
        unit=unit,
        word_size=int(fit["word_size"]),
        kinds=kinds_of(pattern),
        above=int(fit["above"]),
        flatter=FLATTER,
    )


def bars_in_line(pattern: Pattern, width: int, least_slot_px: float, most: int = 4) -> int:
    """Return how many bars a line holds: as many as can be read, and lines about equally full."""
    room = max(1, int(width / (pattern.slots_per_bar * least_slot_px)))
    bars = len(pattern.bars)
    lines = -(-bars // min(room, most, bars))
    return -(-bars // lines)


@dataclass(frozen=True, slots=True)
class LinePicture:
    """One line of bars.

    Attributes:
        pattern, shape, theme: what is drawn, how large and in which colours.
        line: which, from 0.
        letters: what the chords are called in letters; None writes numbers alone.
        marked: the first and last marked bar of the pattern; None for none.
        signs: parts, repeats and endings at each bar; empty for none.
        string_1_on_top: whether the picture stands upside down: string 1, then the others, then the hand.
        zeros: whether every string that sounds has its fret, an open one 0.
    """

    pattern: Pattern
    shape: PageShape
    theme: Theme
    line: int
    letters: Letters | None = None
    marked: tuple[int, int] | None = None
    signs: tuple[BarSigns, ...] = ()
    string_1_on_top: bool = False
    zeros: bool = False

    def items(self) -> tuple[Item, ...]:
        """Return what the line is made of, from its own upper left corner."""
        bars = self.shape.bars_of(self.line, len(self.pattern.bars))
        return (
            *self._grounds(bars),
            *self._turned(self._string_numbers()),
            *(item for bar in bars for item in self._turned(self._bar(bar))),
            *self._turned(self._bar_lines(bars)),
            *self._turned(self._bar_numbers(bars)),
            *self._turned(self._form(bars)),
            *self._chords(bars),
            *self._brackets(bars),
        )

    def _turned(self, items: Iterable[Item]) -> list[Item]:
        """Return things with string 1 on top, where that is asked for; words stay under all."""
        if not self.string_1_on_top:
            return list(items)
        sheet = self.shape.sheet
        bottom = sheet.y(BOTTOM_HEIGHT)
        return [upside_down(item, sheet.y(TOP_HEIGHT) + bottom, bottom) for item in items]

    def bar_x(self, bar: int) -> int:
        """Return where a bar of this line begins."""
        at = bar - self.line * self.shape.bars_per_line
        return self.shape.number_width + at * self._bar_px

    @property
    def _bar_px(self) -> int:
        return self.pattern.meter.beats * self.shape.sheet.beat_px

    def _is_marked(self, bar: int) -> bool:
        return self.marked is not None and self.marked[0] <= bar <= self.marked[1]

    def _grounds(self, bars: range) -> list[Item]:
        return [
            Rect(self.bar_x(bar), 0, self._bar_px, self.shape.line_height, self.theme.raised)
            for bar in bars
            if self._is_marked(bar)
        ]

    def _string_numbers(self) -> list[Item]:
        sheet = self.shape.sheet
        size = min(self.shape.number_size, round(0.85 * sheet.spacing))
        right = round(1.2 * self.shape.number_size)
        return [
            Text(
                right, round(sheet.y(string_height(string)) + CAPITAL * size / 2), str(string), size,
                self.theme.muted, Anchor.RIGHT,
            )
            for string in (5, 4, 3, 2, 1)
        ]  # fmt: skip

    def _bar(self, bar: int) -> list[Item]:
        beats, spb = self.pattern.meter.beats, self.pattern.slots_per_beat
        before = self.pattern.beats + bar * beats
        near = _three_passes(self.pattern)[(before - 1) * spb : (before + beats + 1) * spb]
        sheet = self.theme.raised if self._is_marked(bar) else self.theme.sheet
        picture = BeatPicture(
            shape=self.shape.sheet,
            theme=replace(self.theme, sheet=sheet),
            slots=tuple(self._slot(t, before) for t in near),
            bar_line=False,
            is_count_in=False,
            pocket=0.0,
            beats=beats,
            alone=True,
            zeros=self.zeros,
            mirrored=self.string_1_on_top,
        )
        return [moved(item, self.bar_x(bar), 0) for item in picture.items()]

    def _slot(self, target: Target, before: int) -> Slot:
        came_from = frets_before(self.pattern)[target.bar][target.slot]
        return Slot.of(
            target.stroke, target.motion, float(target.beat) - before, came_from=came_from, zeros=self.zeros
        )

    def _bar_lines(self, bars: range) -> list[Item]:
        sheet, items = self.shape.sheet, list[Item]()
        wide = max(1, round(3 * sheet.unit))
        top, bottom = round(sheet.y(4.0)), round(sheet.y(0.0))
        for bar in bars:
            x = self.bar_x(bar)
            items.append(Rect(x, top, wide, bottom - top, self.theme.string))
            if self._signs(bar).ends_repeat:
                items += self._repeat(x + self._bar_px, self._ground(bar), begins=False)
            if self._signs(bar).begins_repeat:
                items += self._repeat(x, self._ground(bar - 1 if bar > bars[0] else None), begins=True)
        if not self._signs(bars[-1]).ends_repeat:
            is_end = bars[-1] == len(self.pattern.bars) - 1
            end = self.bar_x(bars[-1]) + self._bar_px
            heavy = 3 * wide if is_end else wide
            items.append(Rect(end - heavy, top, heavy, bottom - top, self.theme.string))
        return items

    def _signs(self, bar: int) -> BarSigns:
        return self.signs[bar] if self.signs else NO_SIGNS

    def _ground(self, bar: int | None) -> Colour:
        return self.theme.raised if bar is not None and self._is_marked(bar) else self.theme.sheet

    def _repeat(self, x: int, ground: Colour, *, begins: bool) -> list[Item]:
        """Return a repeat's bar line with its two dots, all of it left of x: what follows begins at x."""
        sheet = self.shape.sheet
        thin, heavy = max(2, round(3 * sheet.unit)), max(4, round(9 * sheet.unit))
        top, high = round(sheet.y(4.0)), round(sheet.y(0.0)) - round(sheet.y(4.0))
        dot, gap = 0.15 * sheet.spacing, 2 * thin
        dots = round(2 * dot) + 2 * gap
        wide = heavy + gap + thin + dots
        left = x - wide
        parts = ((0, heavy), (heavy + gap, thin)) if begins else ((dots, thin), (dots + thin + gap, heavy))
        at = heavy + gap + thin + gap + dot if begins else gap + dot
        # The path and the strings stop in front of the sign, so that its dots can be seen.
        items: list[Item] = [Rect(left, top, wide, high, ground)]
        items += [Rect(left + offset, top, each, high, self.theme.ink) for offset, each in parts]
        items += [Disc(left + at, sheet.y(height), dot, self.theme.ink) for height in (1.5, 2.5)]
        return items

    def _bar_numbers(self, bars: range) -> list[Item]:
        if len(self.pattern.bars) == 1:
            return []
        size = round(0.84 * self.shape.number_size)
        y = self.shape.sheet.above + round(0.2 * size) + round(CAPITAL * size)
        return [
            Text(self.bar_x(bar) + round(0.25 * size), y, str(bar + 1), size, self.theme.muted)
            for bar in bars
        ]

    def _form(self, bars: range) -> list[Item]:
        """Return the names of parts and the lines of endings, between the chords and the hand."""
        sheet, items = self.shape.sheet, list[Item]()
        size, thin = self.shape.number_size, max(1, round(3 * sheet.unit))
        y = sheet.above + round(0.2 * size)
        for bar in bars:
            signs, x = self._signs(bar), self.bar_x(bar)
            if signs.part:
                number = text_width(str(bar + 1), round(0.84 * size))
                left, top = x + number + round(0.9 * size), y
                wide = text_width(signs.part, size, bold=True)
                if self.pattern.chart is not None and not self.string_1_on_top and x > wide + 0.6 * size:
                    # Before the bar's chord, where no path runs.
                    left, top = x - wide - round(0.6 * size), round(0.2 * sheet.above)
                baseline = top + round(CAPITAL * size)
                frame = Rect(left - round(0.3 * size), top - round(0.2 * size), wide + round(0.6 * size),
                             round((CAPITAL + 0.4) * size), self.theme.ink)  # fmt: skip
                inner = Rect(frame.x + thin, frame.y + thin, frame.w - 2 * thin, frame.h - 2 * thin,
                             self.theme.sheet)  # fmt: skip
                items += [frame, inner, Text(left, baseline, signs.part, size, self.theme.ink, bold=True)]
            if signs.ending:
                # A hair's breadth is left between the lines of two endings.
                right = x + self._bar_px - (round(0.3 * size) if signs.ends_ending else 0)
                items.append(Rect(x, y - round(0.2 * size), right - x, thin, self.theme.ink))
                if signs.begins_ending:
                    items.append(Rect(x, y - round(0.2 * size), thin, round(1.2 * size), self.theme.ink))
                    at = x + text_width(str(bar + 1), round(0.84 * size)) + round(0.8 * size)
                    baseline = y + round(0.25 * size + CAPITAL * size)
                    items.append(Text(at, baseline, signs.ending, size, self.theme.ink, bold=True))
        return items

    def _chords(self, bars: range) -> list[Item]:
        chart, sheet, items = self.pattern.chart, self.shape.sheet, list[Item]()
        if chart is None:
            return items
        beats = self.pattern.meter.beats
        size = round(0.56 * sheet.above / CAPITAL * (0.72 if self.letters is not None else 1.0))
        small = round(0.6 * size)
        baseline = round(0.16 * sheet.above + CAPITAL * size)
        first, end = bars[0] * beats, (bars[-1] + 1) * beats
        for start, span in zip(chart.starts, chart.spans, strict=True):
            # A chord that goes on is named again where a line begins.
            beat = max(start, first)
            if not start < end or start + span.beats <= first:
                continue
            x = self.shape.number_width + round((beat - first) * sheet.beat_px) + round(0.12 * size)
            ink = self.theme.ink if start >= first else self.theme.muted
            items.append(Text(x, baseline, span.chord.words, size, ink, bold=True))
            if self.letters is not None:
                y = baseline + round(0.28 * small + CAPITAL * small)
                name = chord_letters(span.chord, self.letters.shapes)
                items.append(Text(x, y, name, small, self.theme.muted))
        return items

    def _brackets(self, bars: range) -> list[Item]:
        """Return the brackets round what is marked, where they stand in this line."""
        if self.marked is None:
            return []
        items: list[Item] = []
        thick = max(2, round(0.02 * self.shape.line_height))
        reach, high = 4 * thick, self.shape.line_height
        sheet = self.shape.sheet
        # A first stroke stands on the bar line, and its word on both sides of it: the bracket gives way.
        over, under = sheet.words_y - sheet.word_size, sheet.words_y + round(0.35 * sheet.word_size)
        for bar, x, way in (
            (self.marked[0], self.bar_x(self.marked[0]) - thick, 1),
            (self.marked[1], self.bar_x(self.marked[1]) + self._bar_px - thick, -1),
        ):
            if bar not in bars:
                continue
            items += [
                Rect(x, 0, thick, over, self.theme.focus),
                Rect(x, under, thick, high - under, self.theme.focus),
            ]
            foot = x if way > 0 else x + thick - reach
            items += [Rect(foot, y, reach, thick, self.theme.focus) for y in (0, high - thick)]
        return items


@lru_cache(maxsize=4)
def _three_passes(pattern: Pattern) -> tuple[Target, ...]:
    """Return a pass with one before and one after it: the hand comes from somewhere and goes on."""
    return lay_out(pattern, Timeline.steady(ANY_TEMPO), passes=3)
