"""Draw the sheet one beat at a time: strings, the hand's path, what sounds, the pocket, the words.

A beat's picture is a value that knows all it needs, counted from the beat itself; the same beat of the next
pass is an equal value, so the painter paints it once. Sound is drawn as the string itself: from the touch
on it swells and thins out. Nothing stands on a string that the hand does not touch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from trainer.music.before import frets_before
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind, Motion, Stroke
from trainer.screen.draw import Anchor, Disc, Item, Point, Polyline, Rect, Ring, Text
from trainer.screen.hand_path import (
    SKIP_TURN,
    HandPath,
    Slot,
    hermite,
    path_of,
    string_height,
    touch_beat,
)
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.sheet_shape import (
    BOTTOM_HEIGHT,
    TOP_HEIGHT,
    SheetShape,
    skip_radius,
    stroke_word,
)
from trainer.screen.theme import Colour, Theme, mixed

ALL_LAYERS = frozenset(SheetLayer)
# How thick the strings are drawn; the lower-sounding ones are thicker on the instrument too.
STRING_THICKNESS = {1: 2.0, 2: 2.4, 3: 3.0, 4: 4.0, 5: 2.0}


@dataclass(frozen=True, slots=True)
class BeatPicture:
    """One beat of the sheet, or a row of beats by itself.

    Attributes:
        slots: those of this beat and of the beats beside it, ``beat`` counted from this beat's start.
        bar_line: whether a bar begins here.
        is_count_in: whether this is the count-in, where the hand swings but nothing is asked.
        pocket: half-width of the pocket in beats; 0 draws none.
        layers: what is shown.
        beats: how many; more than one are drawn without their ticks.
        alone: whether nothing of the beats beside it is drawn, because no picture is joined to it.
        zeros: whether a brush's open strings have their 0.
        mirrored: whether the picture will be turned upside down (page_lines), so that slopes are drawn so.
    """

    shape: SheetShape
    theme: Theme
    slots: tuple[Slot, ...]
    bar_line: bool
    is_count_in: bool
    pocket: float
    layers: frozenset[SheetLayer] = ALL_LAYERS
    beats: int = 1
    alone: bool = False
    zeros: bool = False
    mirrored: bool = False

    def items(self) -> tuple[Item, ...]:
        """Return what the beat is made of."""
        path = path_of(self.slots) if self.slots else HandPath(knots=(), branches=())
        strings, hand = SheetLayer.STRINGS in self.layers, SheetLayer.PATH in self.layers
        own = self._own
        return (
            *(self._pockets() if SheetLayer.TAPS in self.layers else ()),
            *self._beat_marks(),
            *(self._strings() if strings else ()),
            *(item for slot in own if strings for item in self._ringing(slot, path)),
            *(self._hand(path) if hand else ()),
            *(self._branches(path) if hand else ()),
            *(item for slot in own if hand for item in self._skip(slot)),
            *(item for slot in own if strings for item in self._left_hand(slot)),
            *(item for slot in own if strings for item in self._other_signs(slot, path)),
            *(item for slot in own if strings for item in self._frets(slot, path)),
            *self._words(),
        )

    @property
    def _own(self) -> tuple[Slot, ...]:
        if not self.alone:
            return self.slots
        return tuple(slot for slot in self.slots if 0 <= slot.beat < self.beats)

    @property
    def _width(self) -> int:
        return self.beats * self.shape.beat_px

    def _x(self, beat: float) -> float:
        return beat * self.shape.beat_px

    def _line(self, units: float) -> float:
        return max(1.0, units * self.shape.unit)

    def _pockets(self) -> list[Item]:
        shape, items = self.shape, list[Item]()
        if self.pocket <= 0:
            return items
        half = max(self._x(self.pocket), 3 * shape.unit)
        for slot in self._own:
            if not slot.strings or not slot.asked:
                continue
            heights = [string_height(s) for s in slot.strings]
            top, bottom = shape.y(max(heights) + 0.45), shape.y(min(heights) - 0.45)
            left, right = round(self._x(slot.beat) - half), round(self._x(slot.beat) + half)
            if right < 0 or left > self._width:
                continue
            high, edge = round(bottom - top), max(1, round(1.5 * shape.unit))
            items.append(Rect(left, round(top), right - left, high, self.theme.pocket))
            items.append(Rect(left, round(top), edge, high, self.theme.pocket_edge))
            items.append(Rect(right - edge, round(top), edge, high, self.theme.pocket_edge))
        return items

    def _beat_marks(self) -> list[Item]:
        """Return a tick for the beat, or a fine upright for a bar; both stand inside this picture."""
        shape = self.shape
        bottom = round(shape.y(BOTTOM_HEIGHT + 0.15))
        wide = max(1, round((3 if self.bar_line else 2) * shape.unit))
        tick = Rect(0, bottom - shape.px(14), wide, shape.px(14), self.theme.string)
        if self.beats > 1:
            return []
        if not self.bar_line:
            return [tick]
        top = round(shape.y(TOP_HEIGHT - 0.25))
        return [Rect(0, top, wide, bottom - top, self.theme.hair)]

    def _strings(self) -> list[Item]:
        items: list[Item] = []
        for string, units in STRING_THICKNESS.items():
            thick = max(1, round(units * self.shape.unit))
            y = round(self.shape.y(string_height(string)) - thick / 2)
            items.append(Rect(0, y, self._width, thick, self.theme.string))
        return items

    def _ringing(self, slot: Slot, path: HandPath) -> list[Item]:
        """Return the strings that a stroke sets ringing, swelling at the touch and thinning out."""
        shape, items = self.shape, list[Item]()
        length = 0.78 * shape.slot_px
        full = self._line(15 if slot.accented else 10)
        left_hand = slot.kind.hand is Hand.LEFT
        for string in slot.strings:
            x, y = self._x(touch_beat(path, slot, string)), shape.y(string_height(string))
            if x > self._width + full or x + length < -full:
                continue
            steps = 8
            points = tuple((x + length * k / steps, y) for k in range(steps + 1))
            widths = tuple(max(full * (1 - k / steps) ** 1.4, 0.5) for k in range(steps + 1))
            lighter = 0.15 * left_hand if slot.asked else 0.5
            colour = mixed(self.theme.ink, self.theme.sheet, lighter)
            items.append(Polyline(points, widths, colour))
        return items

    def _hand(self, path: HandPath) -> list[Item]:
        if not path.knots:
            return []
        shape = self.shape
        step = max(2.0, 2.5 * shape.unit)
        over = 0.0 if self.alone else 8 * shape.unit / shape.beat_px
        first = max(-over, path.knots[0].beat)
        last = min(self.beats + over, path.knots[-1].beat)
        if last <= first:
            return []
        count = max(2, math.ceil((last - first) * shape.beat_px / step))
        beats = np.linspace(first, last, count)
        heights = path.heights(beats)
        widths = self._pressure(beats)
        colour = mixed(self.theme.ink, self.theme.sheet, 0.45) if self.is_count_in else self.theme.ink
        return [self._curve(beats, heights, widths, colour)]

    def _pressure(self, beats: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the line's width: thin through the air, full where the nail meets a string."""
        thin, full = self._line(4.0), self._line(9.0)
        widths = np.full(beats.shape, thin)
        reach = 0.30 * self.shape.slot_px / self.shape.beat_px
        for slot in self.slots:
            if slot.kind.hand is not Hand.NAIL:
                continue
            extra = (full - thin) * (1.6 if slot.accented else 1.0)
            widths += extra * np.exp(-(((beats - slot.beat) / reach) ** 2) * 2.5)
        return widths

    def _branches(self, path: HandPath) -> list[Item]:
        shape, items = self.shape, list[Item]()
        for branch in path.branches:
            if self._x(branch.end.beat) < -20 * shape.unit or self._x(branch.start.beat) > self._width + 20:
                continue
            if self.alone and not 0 <= branch.start.beat < self.beats:
                continue
            beats = np.linspace(branch.start.beat, branch.end.beat, 22)
            heights = hermite((branch.start, branch.end), beats)
            full, thin = self._line(15 if branch.accented else 11), self._line(4.0)
            share = np.linspace(0.0, 1.0, len(beats))
            widths = thin + (full - thin) * (1 - share) ** 2
            items.append(self._curve(beats, heights, widths, self.theme.ink))
        return items

    def _curve(
        self,
        beats: NDArray[np.float64],
        heights: NDArray[np.float64],
        widths: NDArray[np.float64],
        colour: Colour,
    ) -> Polyline:
        at = zip(beats.tolist(), heights.tolist(), strict=True)
        return Polyline(
            tuple((self._x(beat), self.shape.y(height)) for beat, height in at),
            tuple(widths.tolist()),
            colour,
        )

    def _is_near(self, x: float) -> bool:
        return -60 * self.shape.unit < x < self._width + 60 * self.shape.unit

    def _skip(self, slot: Slot) -> list[Item]:
        """Return a skip's open ring."""
        shape, x = self.shape, self._x(slot.beat)
        if slot.kind is not Kind.SKIP or not self._is_near(x):
            return []
        radius, y = skip_radius(shape), shape.y(SKIP_TURN)
        return [Disc(x, y, radius, self.theme.sheet), Ring(x, y, radius, self._line(4.0), self.theme.ink)]

    def _left_hand(self, slot: Slot) -> list[Item]:
        """Return a finger's sign over the string: pressing down, lifting off, or moving along."""
        x = self._x(slot.beat)
        if slot.kind.hand is not Hand.LEFT or not self._is_near(x):
            return []
        y = self.shape.y(string_height(slot.strings[0]))
        s, width = 0.42 * self.shape.spacing, (self._line(4.5),)
        gap = 0.18 * self.shape.spacing
        ink = self.theme.ink
        if slot.kind is Kind.SLIDE:
            # It slopes as the pitch does, so that up and down are told apart.
            rises = slot.came_from is None or not slot.frets or slot.frets[0] >= slot.came_from
            return [self._slope(x - 1.6 * s, x, y - gap - s, y - gap, rises=rises)]
        far = y - gap - (s if slot.kind is Kind.HAMMER_ON else 0)
        near = y - gap - (0 if slot.kind is Kind.HAMMER_ON else s)
        points: tuple[Point, ...] = ((x - s, far), (x, near), (x + s, far))
        return [Polyline(points, width, ink)]

    def _slope(self, left: float, right: float, top: float, bottom: float, *, rises: bool) -> Polyline:
        if self.mirrored:
            rises = not rises
        ends = (bottom, top) if rises else (top, bottom)
        return Polyline(((left, ends[0]), (right, ends[1])), (self._line(4.5),), self.theme.ink)

    def _other_signs(self, slot: Slot, path: HandPath) -> list[Item]:
        """Return a cross for a string that is damped, and a slope for a note that is slid into."""
        shape, items, x = self.shape, list[Item](), self._x(slot.beat)
        if not self._is_near(x):
            return items
        s, ink, width = 0.24 * shape.spacing, self.theme.ink, (self._line(4.0),)
        for string in slot.strings if slot.muted else ():
            at, y = self._x(touch_beat(path, slot, string)), shape.y(string_height(string))
            items.append(Disc(at, y, 1.5 * s, self.theme.sheet))
            items.append(Polyline(((at - s, y - s), (at + s, y + s)), width, ink))
            items.append(Polyline(((at - s, y + s), (at + s, y - s)), width, ink))
        if slot.slid_from is not None and slot.frets:
            y, s = shape.y(string_height(slot.strings[0])), 0.42 * shape.spacing
            rises = slot.frets[0] > slot.slid_from
            items.append(self._slope(x - 1.5 * s, x - 0.4 * s, y - 1.2 * s, y - 0.3 * s, rises=rises))
        return items

    def _frets(self, slot: Slot, path: HandPath) -> list[Item]:
        """Return the numbers of the frets, each under its string, where no path runs.

        A brush runs on to the right below its strings, so there the numbers stand on the left; open strings
        of a brush have none.
        """
        shape, items = self.shape, list[Item]()
        if not self._is_near(self._x(slot.beat)):
            return items
        size, brush = shape.fret_size, slot.kind is Kind.BRUSH
        for string, fret in zip(slot.strings, slot.frets, strict=False):
            if brush and not fret and not self.zeros:
                continue
            words = self._fret_words(slot, fret)
            wide, gap = text_width(words, size, bold=True), max(1, round(0.12 * size))
            touch = round(self._x(touch_beat(path, slot, string)))
            left = touch - gap - wide if brush else touch + gap
            top = round(shape.y(string_height(string)) + self._line(4.0) + 0.1 * size)
            high = round(CAPITAL * size)
            items.append(Rect(left - gap // 2, top, wide + gap, high + gap // 2, self.theme.sheet))
            items.append(Text(left, top + high, words, size, self.theme.ink, bold=True))
        return items

    def _fret_words(self, slot: Slot, fret: int) -> str:
        """Return a fret as it is written, with those that the left hand comes from or goes on to at once."""
        frets = (fret, *slot.triplet) if slot.slid_from is None else (slot.slid_from, fret)
        return "–".join(str(each) for each in frets)

    def _words(self) -> list[Item]:
        shape = self.shape
        if not shape.word_size:
            return []
        items: list[Item] = []
        for slot in self._own:
            word = stroke_word(slot.kind, asked=slot.asked)
            if slot.accented:
                items.append(self._accent(self._x(slot.beat)))
            x = round(self._x(slot.beat))
            half = text_width(word, shape.word_size, bold=slot.accented) // 2
            if word and x + half >= 0 and x - half <= self._width:
                ink = self.theme.ink if slot.asked else self.theme.muted
                items.append(Text(x, shape.words_y, word, shape.word_size, ink, Anchor.CENTRE, slot.accented))
        return items

    def _accent(self, x: float) -> Polyline:
        """Return an accent over the word of a stroke."""
        size = self.shape.word_size
        y = self.shape.words_y - 1.12 * size
        if self.mirrored:
            y = self.shape.y(TOP_HEIGHT) + self.shape.y(BOTTOM_HEIGHT) - y  # it will be turned back
        wide, high = 0.42 * size, 0.22 * size
        points = ((x - wide, y - high), (x + wide, y), (x - wide, y + high))
        return Polyline(points, (max(1.0, 0.11 * size),), self.theme.ink)


def swinging(beats: range) -> tuple[Slot, ...]:
    """Return the slots of a hand that swings with the beat and touches nothing."""
    return tuple(
        Slot(float(beat) + half, Motion.UP if half else Motion.DOWN, Kind.REST)
        for beat in beats
        for half in (0.0, 0.5)
    )


@lru_cache(maxsize=4)
def lead_in(pattern: Pattern) -> tuple[Slot, ...]:
    """Return the slots before beat 0 that a pickup leads in with, from the beat it begins in on.

    None of them is asked: they lie in the count-in, and the program plays them.
    """
    per_beat, before = pattern.slots_per_beat, frets_before(pattern)
    slots = math.ceil(Fraction(pattern.pickup, per_beat)) * per_beat
    bar, bar_before = pattern.bars[-1], before[-1]
    found = []
    for back in range(slots, 0, -1):
        stroke, motion = bar[-back], pattern.motion[-back]
        if back > pattern.pickup:
            stroke = Stroke(kind=Kind.REST)
        found.append(Slot.of(stroke, motion, -back / per_beat, came_from=bar_before[-back], asked=False))
    return tuple(found)
