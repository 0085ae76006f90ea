"""Say where things lie on a sheet: heights over the strings in pixels, sizes of words and numbers."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache

from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.screen.hand_path import STRING_5
from trainer.screen.lettering import CAPITAL, text_width

TOP_HEIGHT = 7.9  # spacings of air the sheet shows above string 1
BOTTOM_HEIGHT = -1.35
FRET_SHARE = 0.62  # of the way from string to string
SMALLEST_WORD_SHARE = 0.6  # words smaller than this share of the usual are left out
WORDS = {
    Kind.STRIKE: "strike",
    Kind.BRUSH: "brush",
    Kind.THUMB: "thumb",
    Kind.DROP_THUMB: "drop-thumb",
    Kind.SKIP: "skip",
    Kind.REST: "",
    Kind.HAMMER_ON: "hammer-on",
    Kind.PULL_OFF: "pull-off",
    Kind.SLIDE: "slide",
}


@dataclass(frozen=True, slots=True)
class SheetShape:
    """Where things lie on a sheet, in pixels from its upper left corner.

    Attributes:
        beat_px, slot_px: length of a beat and of a slot; ``beat_px`` is whole, so that beats join.
        spacing: between strings; ``top`` where height TOP_HEIGHT lies.
        height: of the whole sheet, words included.
        word_size: of the words under the strokes, 0 for none.
        above: pixels kept free on top, for chords.
        flatter: how much the air above string 5 is pressed together towards its top, 0 for not at all.
    """

    beat_px: int
    slot_px: float
    spacing: float
    height: int
    unit: float
    word_size: int
    above: int = 0
    flatter: float = 0.0

    @classmethod
    def fitting(
        cls,
        *,
        height: int,
        slots_per_beat: int,
        slot_px: float,
        unit: float,
        word_size: int,
        kinds: Collection[Kind] = tuple(Kind),
        above: int = 0,
        flatter: float = 0.0,
    ) -> SheetShape:
        """Return the shape that fills a height; ``kinds`` are those whose words must have room."""
        beat_px = max(round(slot_px * slots_per_beat), 8)
        slot = beat_px / slots_per_beat
        # The longest word decides, so that words neither come and go nor touch.
        longest = max(text_width(WORDS[kind], 100, bold=True) / 100 for kind in kinds)
        size = min(word_size, int(0.97 * slot / max(longest, 0.1)))
        words = size if size >= SMALLEST_WORD_SHARE * word_size else 0
        room = height - above - (1.9 * words if words else 0.3 * word_size)
        spacing = room / (_raised(TOP_HEIGHT, flatter) - BOTTOM_HEIGHT)
        return cls(beat_px, slot, spacing, height, unit, words, above, flatter)

    def y(self, height: float) -> float:
        """Return the pixel row of a height in spacings."""
        top = _raised(TOP_HEIGHT, self.flatter)
        return self.above + (top - _raised(height, self.flatter)) * self.spacing

    def px(self, units: float) -> int:
        """Return a length in whole pixels."""
        return max(1, round(units * self.unit))

    @property
    def fret_size(self) -> int:
        """Size of the frets' numbers: they fill what two strings leave between them."""
        return max(9, round(FRET_SHARE * self.spacing / CAPITAL))

    @property
    def words_y(self) -> int:
        """Baseline of the words under the strokes."""
        return self.height - round(0.75 * self.word_size)


def stroke_word(kind: Kind, *, asked: bool = True) -> str:
    """Return the word under a stroke; in brackets where it is not to be tapped."""
    return WORDS[kind] if asked or not WORDS[kind] else f"({WORDS[kind]})"


@lru_cache(maxsize=16)
def kinds_of(pattern: Pattern) -> tuple[Kind, ...]:
    """Return the kinds of stroke that a pattern has."""
    return tuple(sorted({stroke.kind for stroke in pattern.strokes}, key=lambda kind: kind.value))


def skip_radius(shape: SheetShape) -> float:
    """Return the outer radius of a skip's ring; it hangs clear of string 5 by more than half a spacing."""
    return 0.34 * shape.spacing


def _raised(height: float, flatter: float) -> float:
    """Return a height with the air above string 5 drawn lower, the more the higher; without a kink."""
    air = height - STRING_5
    return height if air <= 0 else height - flatter * air * air
