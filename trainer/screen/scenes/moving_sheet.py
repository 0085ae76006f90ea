"""Show the moving sheet: the now line with the hand on it, every tap where it fell.

The sheet moves by the beat, so a pattern looks alike at every tempo; a tap's distance from its stroke is to
scale within the beat, as is the pocket.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from trainer.judging.matching import is_unheard
from trainer.judging.pocket import Pocket
from trainer.judging.take import Outcome, Tap
from trainer.music.before import frets_before
from trainer.music.layout import Target
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.screen.draw import Anchor, Disc, Item, Panel, Rect, Ring, Strip, Text
from trainer.screen.hand_path import Slot, path_of, string_height, thumb_height
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.chord_row import ChordRow, chord_row_height
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.other_rows import PlayerRow, row_items, rows_height
from trainer.screen.scenes.parts import (
    Frame,
)
from trainer.screen.scenes.played import Axes, played_items
from trainer.screen.scenes.sheet import BeatPicture, lead_in, swinging
from trainer.screen.scenes.sheet_shape import BOTTOM_HEIGHT, TOP_HEIGHT, SheetShape, kinds_of
from trainer.screen.theme import Theme
from trainer.screen.window import Window

SLOT_UNITS = 168.0
NARROWEST_SLOT_UNITS = 96.0
FASTEST_UNITS_PER_S = 900.0  # beyond this the eye no longer follows a moving sheet
LEAST_BAND_S, BAND_STEP_S = 0.002, 0.004
NOW_AT = 0.30  # of the sheet's width
TOUCHED_STRING = 3  # which a hand meets that goes on down where it should have turned


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetView:
    """A sheet as it is at one moment, and what stands around it.

    Attributes:
        pattern: what is drilled.
        targets: laid out so far, rests included, in order; the scene picks what can be seen.
        timeline: turns the seconds of targets and taps into beats.
        outcomes: the latest settled ones, then the provisional ones.
        strays: taps that no stroke asked for.
        taps: all, or the latest, in order of time. Those not yet in an outcome or a stray are drawn
            without a verdict.
        song_s: now.
        bpm: the tempo now; ``next_bpm`` the tempo asked for that begins with a later pass, or None.
        pass_index, passes: from 0; 0 passes: until stopped.
        count: the beat of the count-in, from 1; 0 when it is over.
        count_in_beats: length of the count-in.
        pocket: which one.
        player: whose turn in a class it is; empty for nobody's.
        input_name: the input in use; ``uncertainty_s`` how well it knows a tap's time, either way.
        climb: how the climb to the goal tempo stands, in a few words; empty without one.
        sound: what can be heard, in a word or two.
        simulated: whether simulated hands are playing.
        paused: whether it waits to go on.
        reading: how it is being played as a whole, in a sentence; empty while all is as asked.
        exchanged: whether a key exchanges the pads of nail and thumb.
        done: whether the last pass is over.
        knows_left: whether strokes of the left hand are to be tapped.
        letters: the key that chords are named in by letters beside their numbers; empty for numbers alone.
        layers: what of the sheet is shown.
        others: up to eight players whose taps stand in rows of their own, one sheet for all.
        bar_numbers: that of each bar of the pattern; empty to count from 1.
        hand_beat: the beat of the path where the hand is, if it is not at the one that is now.
        hand_low: how far the hand has gone on from a skip's turn down to the strings, 0 to 1.
    """

    window: Window
    pattern: Pattern
    targets: tuple[Target, ...]
    timeline: Timeline
    outcomes: tuple[Outcome, ...] = ()
    strays: tuple[Tap, ...] = ()
    taps: tuple[Tap, ...] = ()
    song_s: float = 0.0
    bpm: Fraction = Fraction(60)
    next_bpm: Fraction | None = None
    pass_index: int = 0
    passes: int = 4
    count: int = 0
    count_in_beats: int = 4
    pocket: Pocket = Pocket.MIDDLE
    player: str = ""
    input_name: str = ""
    uncertainty_s: float = 0.0
    climb: str = ""
    sound: str = ""
    simulated: bool = False
    paused: bool = False
    reading: str = ""
    exchanged: bool = False
    done: bool = False
    knows_left: bool = True
    letters: str = ""
    layers: frozenset[SheetLayer] = frozenset(SheetLayer)
    others: tuple[PlayerRow, ...] = ()
    bar_numbers: tuple[int, ...] = ()
    hand_beat: float | None = None
    hand_low: float = 0.0


def drill_shape(frame: Frame, pattern: Pattern, bpm: Fraction, rows_height: int = 0) -> SheetShape:
    """Return the sheet's shape for a tempo: slots shrink when they would pass too fast to follow.

    Args:
        rows_height: pixels under the sheet that belong to other players.
    """
    slots_per_beat = pattern.slots_per_beat
    slots_per_s = float(bpm) / 60 * slots_per_beat
    units = min(SLOT_UNITS, max(NARROWEST_SLOT_UNITS, FASTEST_UNITS_PER_S / slots_per_s))
    return SheetShape.fitting(
        height=frame.note_top - frame.body_top - rows_height,
        slots_per_beat=slots_per_beat,
        slot_px=units * frame.sizes.unit,
        unit=frame.sizes.unit,
        word_size=frame.sizes.body,
        kinds=kinds_of(pattern),
        above=chord_row_height(frame) if pattern.chart is not None else 0,
    )


def sheet_panels(frame: Frame, view: SheetView) -> tuple[Panel, Panel]:
    """Return the moving sheet between a frame's header and its note row; a demonstration shows it too."""
    top, high = frame.body_top, frame.note_top - frame.body_top
    rows_high = rows_height(frame, view.others)
    shape = drill_shape(frame, view.pattern, view.bpm, rows_high)
    left = frame.left + round(1.4 * frame.sizes.body)
    width = frame.window.width - left
    now_x = left + round(NOW_AT * width)
    now_beat = view.timeline.beat(view.song_s)
    origin = round(now_x - now_beat * shape.beat_px)
    sheet = _Sheet(frame, view, shape, origin, top)
    first = math.floor((left - origin) / shape.beat_px)
    last = math.ceil((left + width - origin) / shape.beat_px)  # one more than is seen, to be ready
    strips = tuple(sheet.strip(beat) for beat in range(first, last + 1))
    items = (
        *sheet.bar_numbers(left, left + width),
        *_count(sheet, left, now_x),
        *(_played(sheet, left) if SheetLayer.TAPS in view.layers else ()),
        *_chords(sheet, left, now_x, left + width, now_beat),
        *_now(sheet, now_x, now_beat),
        *sheet.rows(left, left + width, now_x, rows_high),
    )
    moving = Panel(left, top, width, high, frame.theme.sheet, items, strips, dim_before=now_x)
    return _gutter(frame, shape, left, shown=SheetLayer.STRINGS in view.layers), moving


def _gutter(frame: Frame, shape: SheetShape, width: int, *, shown: bool) -> Panel:
    """Return the strings' numbers, in rings as written music has them: so that no fret is meant."""
    theme, size = frame.theme, min(frame.sizes.body, round(0.68 * shape.spacing))
    radius = 0.66 * size
    x = width - round(radius + 0.3 * frame.sizes.body)
    items: list[Item] = []
    for string in (5, 4, 3, 2, 1) if shown else ():
        y = frame.body_top + shape.y(string_height(string))
        items.append(Ring(x, y, radius, max(1.0, 0.07 * size), theme.muted))
        items.append(Text(x, round(y + CAPITAL * size / 2), str(string), size, theme.muted, Anchor.CENTRE))
    return Panel(0, frame.body_top, width, frame.note_top - frame.body_top, theme.sheet, tuple(items))


class _Sheet(Axes):
    """A drill's sheet at one moment: where beats lie, and what they show."""

    def __init__(self, frame: Frame, view: SheetView, shape: SheetShape, origin: int, top: int) -> None:
        super().__init__(frame, shape, origin, top)
        self.view = view
        self._known: dict[int, Slot] = {}
        self._unsure_s = _unsure_s(view)

    def strip(self, beat: int) -> Strip:
        theme, shape = self.frame.theme, self.shape
        return Strip(
            self.origin + beat * shape.beat_px, self.top, shape.beat_px, shape.height, theme.sheet,
            BeatPicture(
                shape, theme, self.slots(beat), beat % self.view.pattern.meter.beats == 0, beat < 0,
                self._pocket(beat), self.view.layers,
            ),
        )  # fmt: skip

    def bar_numbers(self, left: int, right: int) -> Iterable[Item]:
        """Return the bars' numbers at their lines; not in the pictures, which bars alike have in common."""
        view, sizes, theme = self.view, self.frame.sizes, self.frame.theme
        numbers = view.bar_numbers or tuple(range(1, len(view.pattern.bars) + 1))
        bars, beats = len(numbers), view.pattern.meter.beats
        first, last = ((x - self.origin) / self.shape.beat_px for x in (left, right))
        end = view.passes * view.pattern.beats if view.passes else math.inf
        if bars == 1 and not view.bar_numbers:
            return
        y = round(self.y(TOP_HEIGHT - 0.25) + CAPITAL * sizes.small)
        for beat in range(max(0, math.floor(first / beats) * beats), math.ceil(min(last, end)), beats):
            x, number = round(self.x(beat)) + sizes.px(12), f"bar {numbers[beat // beats % bars]}"
            if left <= x and x + text_width(number, sizes.small) <= right:
                yield Text(x, y, number, sizes.small, theme.muted)

    def rows(self, left: int, right: int, now_x: int, height: int) -> Iterable[Item]:
        """Return the rows of other players, under the sheet."""
        view = self.view
        beats = ((x - self.origin) / self.shape.beat_px for x in (left, right))
        first, last = (math.floor(beat) for beat in beats)
        return row_items(
            self.frame,
            view.others,
            self._targets(first, last + 1),
            lambda song_s: self.x(view.timeline.beat(song_s)),
            left=left,
            right=right,
            now_x=now_x,
            top=self.top + self.shape.height,
            height=height,
        )

    def slots(self, beat: int) -> tuple[Slot, ...]:
        """Return the slots of a beat and of its neighbours, counted from the beat."""
        found = [
            # Rounded, so that the same beat of the next pass is the same picture.
            replace(s, beat=round(s.beat - beat, 5))
            for s in (self._slot_of(target) for target in self._targets(beat - 1, beat + 2))
        ]
        air = range(max(beat - 1, -self.view.count_in_beats), min(beat + 2, 0))
        swung = [Slot(s.beat - beat, s.motion, s.kind) for s in swinging(air)]
        lead = [replace(s, beat=round(s.beat - beat, 5)) for s in self._lead() if -1 <= s.beat - beat < 2]
        if lead:
            swung = [s for s in swung if s.beat < lead[0].beat - 1e-3]
        return (*swung, *lead, *found)

    def _lead(self) -> tuple[Slot, ...]:
        """Return the pickup of the first pass, which lies in the count-in; it sounds and is not judged."""
        return lead_in(self.view.pattern) if SheetLayer.PATH in self.view.layers else ()

    def _slot_of(self, target: Target) -> Slot:
        """Return a target as the path sees it; found once for the three beats that ask for it."""
        slot = self._known.get(target.index)
        if slot is None:
            came_from = frets_before(self.view.pattern)[target.bar][target.slot]
            beat = self.view.timeline.beat(target.song_s)
            asked = not is_unheard(target.stroke.kind, knows_left=self.view.knows_left)
            slot = Slot.of(target.stroke, target.motion, beat, came_from=came_from, asked=asked)
            self._known[target.index] = slot
        return slot

    def _targets(self, first: int, end: int) -> tuple[Target, ...]:
        targets = self.view.targets
        if not targets:
            return ()
        per_beat, base = self.view.pattern.slots_per_beat, targets[0].index
        return targets[max(first * per_beat - base, 0) : max(end * per_beat - base, 0)]

    def _pocket(self, beat: int) -> float:
        near = self._targets(beat, beat + 1) or self.view.targets[:1]
        if not near:
            return 0.0
        slot_s = near[0].slot_s
        half_s = self.view.pocket.half_width_s(slot_s) + self._unsure_s
        return round(half_s / slot_s / self.view.pattern.slots_per_beat, 5)


def _unsure_s(view: SheetView) -> float:
    """Return what the pocket is widened by, as a verdict is: how well the input knows a tap's time.

    The middle of what is in view, rounded up to 2, 6, 10 ms and so on: a band that changed with each tap
    would have to be painted anew each time. A key is known to 4 ms before the first tap and to somewhat less
    after it, and both are 6.
    """
    usual = statistics.median([tap.uncertainty_s for tap in view.taps] or [view.uncertainty_s])
    steps = max(0, math.ceil((usual - LEAST_BAND_S) / BAND_STEP_S - 1e-6))
    return LEAST_BAND_S + steps * BAND_STEP_S if usual > 0 else 0.0


def _played(sheet: _Sheet, left: int) -> list[Item]:
    view = sheet.view
    return played_items(
        sheet,
        view.timeline,
        song_s=view.song_s,
        left=left,
        outcomes=view.outcomes,
        taps=view.taps,
        strays=view.strays,
    )


def _now(sheet: _Sheet, now_x: int, now_beat: float) -> tuple[Item, ...]:
    """Return the now line and the hand on it."""
    theme, unit = sheet.frame.theme, sheet.frame.sizes.unit
    wide = max(2, round(3 * unit))
    top, bottom = round(sheet.y(TOP_HEIGHT - 0.25)), round(sheet.y(BOTTOM_HEIGHT + 0.15))
    line = Rect(now_x - wide // 2, top, wide, bottom - top, theme.now)
    hand_beat = sheet.view.hand_beat if sheet.view.hand_beat is not None else now_beat
    beat = math.floor(hand_beat)
    slots = sheet.slots(beat)
    if not slots or SheetLayer.PATH not in sheet.view.layers:
        return (line,)
    path = path_of(slots)
    height = float(path.heights(np.array([hand_beat - beat]))[0])
    height -= sheet.view.hand_low * max(0.0, height - string_height(TOUCHED_STRING))
    y = sheet.y(height)
    hand = (Disc(now_x, y, 21 * unit, theme.sheet), Disc(now_x, y, 17 * unit, theme.now))
    thumb = thumb_height(path, hand_beat - beat)
    if thumb is None:
        return (line, *hand)
    return (line, *_reaching(now_x, sheet.y(thumb), y, unit, theme), *hand)


def _reaching(x: int, thumb_y: float, hand_y: float, unit: float, theme: Theme) -> tuple[Item, ...]:
    """Return the thumb off the hand: on its way to its string, or on it."""
    thick, rim = max(3, round(11 * unit)), max(1, round(3 * unit))
    top, bottom = sorted((round(thumb_y), round(hand_y)))
    return (
        Rect(x - thick // 2 - rim, top, thick + 2 * rim, bottom - top, theme.sheet),
        Disc(x, thumb_y, 14 * unit, theme.sheet),
        Rect(x - thick // 2, top, thick, bottom - top, theme.now),
        Disc(x, thumb_y, 11 * unit, theme.now),
    )


def _chords(sheet: _Sheet, left: int, now_x: int, right: int, now_beat: float) -> tuple[Item, ...]:
    """Return the row of chords over the sheet."""
    view, chart = sheet.view, sheet.view.pattern.chart
    if chart is None or SheetLayer.CHORDS not in view.layers:
        return ()
    row = ChordRow(
        frame=sheet.frame,
        chart=chart,
        bar_beats=view.pattern.meter.beats,
        end_beat=view.passes * view.pattern.beats if view.passes else None,
        now_beat=now_beat,
        left=left,
        now_x=now_x,
        right=right,
        origin=sheet.origin,
        beat_px=sheet.shape.beat_px,
        top=sheet.top,
        height=sheet.shape.above,
        letters=view.letters,
    )
    return row.items()


def _count(sheet: _Sheet, left: int, now_x: int) -> tuple[Item, ...]:
    """Return the count-in's number: large, where nothing has been played yet, and quiet."""
    view, sizes, theme = sheet.view, sheet.frame.sizes, sheet.frame.theme
    if view.count <= 0:
        return ()
    y = round(sheet.y(2.0) + CAPITAL * sizes.huge / 2)
    x, under = (left + now_x) // 2, round(y + 0.25 * sizes.huge + CAPITAL * sizes.body)
    number = Text(x, y, str(view.count), sizes.huge, theme.muted, Anchor.CENTRE)
    if under + 0.3 * sizes.body > sheet.y(BOTTOM_HEIGHT):
        return (number,)
    return (number, Text(x, under, "count-in", sizes.body, theme.muted, Anchor.CENTRE))
