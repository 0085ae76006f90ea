"""Show what is chosen in the library: the hand of its first bars, and what there is to say about it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

import numpy as np

from trainer.music.layout import Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Hit, Item, Panel, Rect, Strip, Text
from trainer.screen.hand_path import HandPath, Slot, path_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import Frame, bpm_words, middle_baseline
from trainer.screen.scenes.sheet import BeatPicture
from trainer.screen.scenes.sheet_shape import SheetShape, kinds_of
from trainer.screen.theme import Sizes

PREVIEW_SLOTS = 8  # two bars of two beats: a whole figure, and still large
PREVIEW_BPM = 60  # only the beats are drawn, so any tempo will do
PICTURE_SHARE = 0.55  # of the panel's height; less under larger text, which needs the room more


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryRow:
    """One thing on a shelf.

    Attributes:
        step_words: its place in the course; empty outside of it.
        level: how much is asked, in a word; shown where it differs from the row above.
        clean: clean enough to go on.
        fastest_clean_bpm: the fastest tempo it was clean at; None for never.
        ready: nothing should come first.
        ready_words: "ready", or what should come first.
    """

    title: str
    step_words: str = ""
    level: str = ""
    clean: bool = False
    fastest_clean_bpm: Fraction | None = None
    ready: bool = True
    ready_words: str = ""


def preview_panel(
    frame: Frame, pattern: Pattern | None, choice_words: str, row: LibraryRow | None, top: int, x: int
) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the panel from ``x`` to the edge, and the place to click for another level or figure.

    Args:
        pattern: the chosen one as it would be drilled; ``choice_words`` its level or figure, ``row`` its row.
    """
    theme, sizes = frame.theme, frame.sizes
    high = frame.note_top - top
    width = frame.window.width - x
    if pattern is None:
        return Panel(x, top, width, high, theme.sheet), ()
    left, right = x + sizes.gap * 2, frame.right
    picture_high = round(PICTURE_SHARE * high / math.sqrt(frame.window.text_scale))
    strips = _picture(frame, pattern, left, right, top + sizes.gap // 2, picture_high)
    items: list[Item] = []
    hits: list[Hit] = []
    y = top + picture_high + round(1.6 * sizes.body) + sizes.gap // 2
    bottom = top + high - sizes.gap // 2
    title = shortened(pattern.title, sizes.body, right - left, bold=True)
    items.append(Text(left, y, title, sizes.body, theme.ink, bold=True))
    y += round(1.5 * sizes.body)
    if choice_words:
        words, hit = _choice(frame, choice_words, left, right, y)
        items.extend(words)
        hits.append(hit)
        y += round(1.7 * sizes.body)
    small_line = round(1.4 * sizes.small)
    for need_line in wrapped(_needs(row), sizes.small, right - left, 2):
        if y <= bottom:
            items.append(Text(left, y, need_line, sizes.small, theme.muted))
        y += small_line
    size, line, said = _teacher_lines(sizes, pattern.teacher, right - left, bottom - y, small_line)
    for words_line in said:
        items.append(Text(left, y, words_line, size, theme.ink))
        y += line
    # What the file says in figures comes last, so it is what gives way in a low window.
    if y <= bottom:
        about = shortened(_about(pattern), sizes.small, right - left)
        items.append(Text(left, y, about, sizes.small, theme.muted))
    return Panel(x, top, width, high, theme.sheet, tuple(items), strips), tuple(hits)


def _teacher_lines(
    sizes: Sizes, words: str, wide: int, room: int, below: int
) -> tuple[int, int, tuple[str, ...]]:
    """Return the size, the height of a line, and the lines of what the teacher says.

    Smaller type comes before a cut, then what else stands below them gives way.

    Args:
        room: from the first baseline to the lowest there may be.
        below: height of the line that should find room under them.
    """
    size, line, most = sizes.small, 1, 0
    for size, kept in ((sizes.body, below), (sizes.small, below), (sizes.small, 0)):
        line = round(1.4 * size)
        most = (room - kept) // line + 1
        if most > 0 and len(found := wrapped(words, size, wide, most + 1)) <= most:
            return size, line, found
    return size, line, wrapped(words, size, wide, most) if most > 0 else ()


def _choice(frame: Frame, choice: str, left: int, right: int, y: int) -> tuple[list[Item], Hit]:
    """Return the level or the figure, after the key that changes it; ``y`` is the words' baseline."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.body
    cap = round(1.35 * size)
    top = round(y - 0.36 * size - cap / 2)
    words_x = left + cap + sizes.px(12)
    words = shortened(choice, size, right - words_x)
    letter_x = left + (cap - text_width("C", sizes.small, bold=True)) // 2
    items: list[Item] = [
        Rect(left, top, cap, cap, theme.raised, sizes.px(7)),
        Text(letter_x, middle_baseline(top, cap, sizes.small), "C", sizes.small, theme.ink, bold=True),
        Text(words_x, y, words, size, theme.ink),
    ]
    wide = words_x + text_width(words, size) - left
    return items, Hit(left, top, wide, cap, Action(act=Act.CHOICE, value=1))


def _about(pattern: Pattern) -> str:
    bars = len(pattern.bars)
    tempi = f"{bpm_words(pattern.slow_bpm)} to {bpm_words(pattern.goal_bpm)} bpm"
    if pattern.playing_bpm is not None:
        tempi += f", played at {bpm_words(pattern.playing_bpm)}"
    return f"{pattern.level.value}, {bars} {'bar' if bars == 1 else 'bars'} of {pattern.meter.value}, {tempi}"


def _needs(row: LibraryRow | None) -> str:
    if row is None or row.ready or not row.ready_words:
        return ""
    return f"{row.ready_words[0].upper()}{row.ready_words[1:]}."


def _picture(frame: Frame, pattern: Pattern, left: int, right: int, top: int, high: int) -> tuple[Strip, ...]:
    beats = min(pattern.beats, max(PREVIEW_SLOTS // pattern.slots_per_beat, pattern.meter.beats))
    return still_picture(frame, pattern, beats, left, right, top, high).strips


@dataclass(frozen=True, slots=True, kw_only=True)
class StillPicture:
    """The first beats of a pattern, standing still.

    Attributes:
        strips: what is painted; ``shape`` where things lie in it, from ``top`` and from ``origin``, beat 0.
        path: the hand's line.
    """

    strips: tuple[Strip, ...]
    shape: SheetShape
    origin: int
    top: int
    path: HandPath

    def hand_at(self, beat: float) -> tuple[float, float]:
        """Return where the hand is at a beat."""
        height = float(self.path.heights(np.array([beat]))[0])
        return self.origin + beat * self.shape.beat_px, self.top + self.shape.y(height)


def still_picture(
    frame: Frame, pattern: Pattern, beats: int, left: int, right: int, top: int, high: int
) -> StillPicture:
    """Return the picture of some beats from the first on, between two edges."""
    spb = pattern.slots_per_beat
    # Half a slot of air before the first stroke, for its word.
    slot_px = (right - left) / (beats * spb + 0.5)
    shape = SheetShape.fitting(
        height=high,
        slots_per_beat=spb,
        slot_px=slot_px,
        unit=0.8 * frame.sizes.unit,
        word_size=frame.sizes.small,
        kinds=kinds_of(pattern),
    )
    targets = _targets(pattern)
    origin = left + round(slot_px / 2)
    # The strings run on to both sides of the panel: a beat before and beats after, without a hand.
    strips = tuple(
        Strip(
            origin + beat * shape.beat_px,
            top,
            shape.beat_px,
            high,
            frame.theme.sheet,
            BeatPicture(
                shape=shape,
                theme=frame.theme,
                slots=_slots(targets, beat, beats, spb),
                bar_line=0 <= beat <= beats and beat % pattern.meter.beats == 0,
                is_count_in=False,
                pocket=0.0,
            ),
        )
        for beat in range(-1, beats + 1)
    )
    whole = tuple(
        Slot(float(t.beat), t.motion, t.stroke.kind, t.stroke.strings, t.stroke.accented)
        for t in targets[: beats * spb]
    )
    return StillPicture(strips=strips, shape=shape, origin=origin, top=top, path=path_of(whole))


@lru_cache(maxsize=8)
def _targets(pattern: Pattern) -> tuple[Target, ...]:
    return lay_out(pattern, Timeline.steady(PREVIEW_BPM))


def _slots(targets: tuple[Target, ...], beat: int, end: int, spb: int) -> tuple[Slot, ...]:
    near = targets[max(beat - 1, 0) * spb : min(beat + 2, end) * spb]
    return tuple(
        Slot(round(float(t.beat) - beat, 5), t.motion, t.stroke.kind, t.stroke.strings, t.stroke.accented)
        for t in near
    )
