"""Show what is chosen in the library: the hand of its first bars, and what there is to say about it."""

from __future__ import annotations

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
from trainer.screen.lettering import text_width, wrapped
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.parts import Frame, bpm_words, middle_baseline
from trainer.screen.scenes.sheet import BeatPicture
from trainer.screen.scenes.sheet_shape import SheetShape, kinds_of
from trainer.screen.theme import Colour

PREVIEW_SLOTS = 8  # two bars of two beats: a whole figure, and still large
PREVIEW_BPM = 60  # only the beats are drawn, so any tempo will do
# Of the panel's height, and whether the teacher speaks in small type: the first that leaves room for all.
PICTURE_SHARES = (
    (0.55, False),
    (0.48, False),
    (0.41, False),
    (0.41, True),
    (0.34, True),
    (0.27, True),
    (0.0, True),
)
LEAST_WORD_UNITS = 21  # 14 pixels in a window 720 high
LINE_EM = 1.4


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


@dataclass(frozen=True, slots=True, kw_only=True)
class TuneChoice:
    """What can be chosen of a break or a chart, beside itself.

    Attributes:
        label: what it is: the level, the figure.
        options: all of them, where they are few enough to stand side by side; else only the one in use.
        at: place of the one in use.
    """

    label: str
    options: tuple[str, ...]
    at: int = 0


def preview_panel(
    frame: Frame, pattern: Pattern | None, choice: TuneChoice | None, row: LibraryRow | None, top: int, x: int
) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the panel from ``x`` to the edge, and the places to click for another level or figure.

    Args:
        pattern: the chosen one as it would be drilled; ``choice`` its level or figure, ``row`` its row.
    """
    theme, sizes = frame.theme, frame.sizes
    high = frame.note_top - top
    width = frame.window.width - x
    if pattern is None:
        return Panel(x, top, width, high, theme.sheet), ()
    left, right = x + sizes.gap * 2, frame.right
    bottom = top + high - sizes.gap // 2
    for share, is_small in PICTURE_SHARES:
        picture_high = round(share * high)
        size = sizes.small if is_small else sizes.body
        below = _below(frame, pattern, choice, row, left, right, top + picture_high + sizes.gap // 2, size)
        if below.end <= bottom:
            break
    strips = _picture(frame, pattern, left, right, top + sizes.gap // 2, picture_high) if share else ()
    # Where even the smallest picture leaves too little room, what the file says in figures gives way.
    items = tuple(item for item in below.items if not isinstance(item, Text) or item.y <= bottom)
    return Panel(x, top, width, high, theme.sheet, items, strips), below.hits


@dataclass(frozen=True, slots=True)
class _Below:
    items: tuple[Item, ...]
    hits: tuple[Hit, ...]
    end: int


def _below(
    frame: Frame,
    pattern: Pattern,
    choice: TuneChoice | None,
    row: LibraryRow | None,
    left: int,
    right: int,
    top: int,
    size: int,
) -> _Below:
    """Return all that is said under the picture, from ``top`` on; the teacher in type of a size."""
    theme, sizes = frame.theme, frame.sizes
    room = right - left
    items: list[Item] = []
    hits: list[Hit] = []
    y = top

    def say(words: str, size: int, colour: Colour, *, bold: bool = False) -> None:
        nonlocal y
        for line in wrapped(words, size, room, 4, bold=bold):
            y += round(LINE_EM * size)
            items.append(Text(left, y, line, size, colour, bold=bold))

    say(pattern.title, sizes.body, theme.ink, bold=True)
    if choice is not None:
        y += round(0.4 * sizes.body)
        words, places, y = _choice(frame, choice, left, right, y)
        items.extend(words)
        hits.extend(places)
    needs = _needs(row)
    if needs:
        y += round(0.2 * sizes.body)
        say(needs, sizes.small, theme.muted)
    y += round(0.3 * sizes.body)
    say(pattern.teacher, size, theme.ink)
    y += round(0.2 * sizes.body)
    say(_about(pattern), sizes.small, theme.muted)
    return _Below(tuple(items), tuple(hits), y + round(0.3 * sizes.small))


def _choice(
    frame: Frame, choice: TuneChoice, left: int, right: int, top: int
) -> tuple[list[Item], list[Hit], int]:
    """Return the switch after its key: what is chosen stands on a raised ground; and where it ends."""
    theme, sizes = frame.theme, frame.sizes
    size, pad = sizes.body, round(0.45 * sizes.body)
    high = round(1.55 * size)
    items: list[Item] = list(cap_items("C", theme, sizes, left, top, high, sizes.small))
    x = left + cap_width("C", sizes.small) + round(0.5 * size)
    hits: list[Hit] = []
    if len(choice.options) == 1:
        lines = wrapped(f"{choice.label}: {choice.options[0]}", size, right - x, 3)
        pitch = round(LINE_EM * size)
        for at, line in enumerate(lines):
            items.append(Text(x, middle_baseline(top, high, size) + at * pitch, line, size, theme.ink))
        end = top + high + (len(lines) - 1) * pitch
        return items, [Hit(left, top, right - left, end - top, Action(act=Act.CHOICE, value=1))], end
    if x + sum(text_width(each, size, bold=True) + 3 * pad for each in choice.options) > right:
        size = sizes.small
    for at, option in enumerate(choice.options):
        wide = text_width(option, size, bold=True) + 2 * pad
        if at == choice.at:
            thick = sizes.px(5)
            items.append(Rect(x, top, wide, high, theme.raised, sizes.px(8)))
            items.append(Rect(x + pad, top + high - thick, wide - 2 * pad, thick, theme.focus, thick // 2))
        baseline = middle_baseline(top, high, size)
        colour = theme.ink if at == choice.at else theme.muted
        items.append(Text(x + pad, baseline, option, size, colour, bold=at == choice.at))
        hits.append(Hit(x, top, wide, high, Action(act=Act.CHOICE, value=at - choice.at)))
        x += wide + pad
    hits.append(Hit(left, top, cap_width("C", sizes.small), high, Action(act=Act.CHOICE, value=1)))
    return items, hits, top + high


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
    most = min(pattern.beats, max(PREVIEW_SLOTS // pattern.slots_per_beat, pattern.meter.beats))
    per_bar = pattern.meter.beats
    # Whole bars where they leave room for words that can be read, else as many beats as do.
    for beats in (*(n for n in range(most, 0, -1) if n % per_bar == 0), *range(min(most, per_bar), 0, -1)):
        picture = still_picture(frame, pattern, beats, left, right, top, high)
        if picture.shape.word_size >= frame.sizes.px(LEAST_WORD_UNITS):
            return picture.strips
    return picture.strips


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
