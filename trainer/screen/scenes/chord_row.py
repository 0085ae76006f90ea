"""Draw the chords over a moving sheet: where each begins, which it is now, and which comes next.

To the right of the now line the chords move with the sheet, each at its beat. To the left of it the chord
that is heard now stands still, large and quiet, and a bar before it changes the next one is said beside it,
with the beats that are left. Nothing flashes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from trainer.music.chart import Beats, Chart, Chord
from trainer.music.keys import chord_letters
from trainer.screen.draw import Item, Rect, Text
from trainer.screen.lettering import CAPITAL, text_width
from trainer.screen.scenes.parts import Frame
from trainer.screen.theme import Colour

NOW_SHARE = 1.35  # how much larger the chord now is than those to come
ROW_SHARE = 1.9  # of the height of its capitals
MOST_OF_BODY = 0.16
LETTER_SHARE = 0.72  # of the number's size
PLATE_EDGE = 0.3  # left and right of what stands on a plate
HIDDEN = 0.02  # beats: a chord's name moves in once its beat is this far right of the now line


def chord_row_height(frame: Frame) -> int:
    """Return the height of the row in pixels: for the large type, less where the sheet would have no room."""
    usual = ROW_SHARE * CAPITAL * NOW_SHARE * frame.sizes.large
    return round(min(usual, MOST_OF_BODY * (frame.note_top - frame.body_top)))


@dataclass(frozen=True, slots=True, kw_only=True)
class ChordRow:
    """The chords at one moment.

    Attributes:
        chart: the chords under one pass; it goes round.
        bar_beats: beats in a bar: how long before a change the next chord is said.
        end_beat: the beat at which the drill ends; None when it goes on until stopped.
        now_beat: from 0; the count-in is negative.
        left, now_x, right: pixels; ``origin`` where beat 0 lies and ``beat_px`` the length of a beat.
        top, height: of the row.
        letters: the key that chords are named in by letters beside their numbers; empty for numbers alone.
    """

    frame: Frame
    chart: Chart
    bar_beats: int
    end_beat: int | None
    now_beat: float
    left: int
    now_x: int
    right: int
    origin: int
    beat_px: int
    top: int
    height: int
    letters: str = ""

    def items(self) -> tuple[Item, ...]:
        """Return what the row is made of."""
        return (*self._coming(), *self._now())

    def starts(self, first: float, last: float) -> Iterator[Beats]:
        """Return the beats, from one to another, at which a chord begins that was not heard before it."""
        length = self.chart.beats
        end = last if self.end_beat is None else min(last, self.end_beat - 1)
        for turn in range(max(0, math.floor(first / length)), max(0, math.floor(end / length)) + 1):
            for at, start in enumerate(self.chart.starts):
                beat = turn * length + start
                goes_on = at == 0 and turn > 0 and self.chart.spans[0].chord == self.chart.spans[-1].chord
                if first <= beat <= end and not goes_on:
                    yield beat

    @property
    def _size(self) -> int:
        return round(self.height / (ROW_SHARE * CAPITAL * NOW_SHARE))

    def _baseline(self, size: int) -> int:
        return round(self.top + (self.height + CAPITAL * size) / 2)

    def _coming(self) -> Iterator[Item]:
        size, theme = self._size, self.frame.theme
        for beat in self.starts(self.now_beat + HIDDEN, (self.right - self.origin) / self.beat_px):
            chord = self.chart.chord_at(beat)
            x = self.origin + round(beat * self.beat_px)
            if x + self._plate_width(chord, size) <= self.right:
                yield from self._plate(x, chord, size, theme.ink)

    def _now(self) -> Iterator[Item]:
        sizes, theme = self.frame.sizes, self.frame.theme
        x = self.now_x - round(0.5 * sizes.body)
        if self.now_beat >= 0 and (self.end_beat is None or self.now_beat < self.end_beat):
            size = round(NOW_SHARE * self._size)
            chord = self.chart.chord_at(self.now_beat)
            x -= self._plate_width(chord, size)
            yield from self._plate(x, chord, size, theme.muted)
            x -= round(0.8 * sizes.body)
        near = self.starts(self.now_beat + HIDDEN, self.now_beat + self.bar_beats)
        coming = next(iter(near), None)
        if coming is None or x <= self.left:
            return
        left_over = max(1, math.ceil(coming - self.now_beat - HIDDEN))
        yield from self._next(self.chart.chord_at(coming), left_over, x)

    def _plate(self, x: int, chord: Chord, size: int, ink: Colour) -> Iterator[Item]:
        """Draw a chord from x on, on a plate: no other number on the sheet stands on one."""
        theme, baseline = self.frame.theme, self._baseline(size)
        over, edge = round(0.28 * size), round(PLATE_EDGE * size)
        wide = self._plate_width(chord, size)
        high = round(CAPITAL * size) + 2 * over
        yield Rect(x, baseline - round(CAPITAL * size) - over, wide, high, theme.raised, over)
        yield Text(x + edge, baseline, chord.words, size, ink, bold=True)
        if self._letter(chord):
            left = x + edge + text_width(chord.words, size, bold=True) + round(0.2 * size)
            yield Text(left, baseline, self._letter(chord), round(LETTER_SHARE * size), theme.muted)

    def _plate_width(self, chord: Chord, size: int) -> int:
        letter = text_width(self._letter(chord), round(LETTER_SHARE * size)) if self._letter(chord) else 0
        gap = round(0.2 * size) if letter else 0
        return text_width(chord.words, size, bold=True) + gap + letter + 2 * round(PLATE_EDGE * size)

    def _letter(self, chord: Chord) -> str:
        return chord_letters(chord, self.letters) if self.letters and not chord.silent else ""

    def _next(self, chord: Chord, beats: int, right: int) -> Iterator[Item]:
        """Return the next chord and the beats until then, as large as there is room for."""
        theme, size = self.frame.theme, self._size
        tail = f" in {beats}"
        while size > self.frame.sizes.small * 0.8 and self._next_width(chord, tail, size) > right - self.left:
            size -= 1
        if self._next_width(chord, tail, size) > right - self.left:
            return
        words = round(0.66 * size)
        baseline = self._baseline(size)
        x = right - self._next_width(chord, tail, size)
        yield Text(x, baseline, "next ", words, theme.muted)
        x += text_width("next ", words)
        yield from self._plate(x, chord, size, theme.ink)
        yield Text(x + self._plate_width(chord, size), baseline, tail, words, theme.muted)

    def _next_width(self, chord: Chord, tail: str, size: int) -> int:
        words = round(0.66 * size)
        return text_width("next ", words) + self._plate_width(chord, size) + text_width(tail, words)
