"""Make what scenes share: the frame of a window, and the page with what is said and the help strip."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.pattern import Pattern
from trainer.music.tempo import figures_a_minute
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Anchor, Disc, Hit, Item, KeyUse, Panel, Polygon, Rect, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.lettering import CAPITAL, shortened, text_width, wrapped
from trainer.screen.scenes.help_strip import strip_height, strip_panel, strip_rows
from trainer.screen.theme import Sizes, Theme, theme_of
from trainer.screen.window import Banner, BannerKind, Window

MOST_NOTE_LINES = 3  # in the usual type
LEAST_TITLE = 4.0  # sizes of the body's type that a title needs beside a name
SCALES = (1.0, 1.25, 1.5)  # the text settings
READABLE_PART = 36  # of the height of the picture: one part of so many


@dataclass(frozen=True, slots=True)
class Frame:
    """A window's theme, sizes and rows: the header, the body, the note row and the help strip."""

    window: Window
    theme: Theme
    sizes: Sizes
    body_top: int
    note_top: int
    help_top: int

    @classmethod
    def of(
        cls,
        window: Window,
        *,
        header_units: float = 150.0,
        note_lines: int = 1,
        is_steady: bool = False,
        helps: tuple[Help, ...] = (),
    ) -> Frame:
        """Return the frame of a window.

        Args:
            header_units: height of the header, in pixels of a window 1080 high.
            note_lines: kept free above the help strip, more when what is said needs them.
            is_steady: whether the rows keep their places whatever is said, as they must while one plays.
            helps: the strip gets as many rows as these need; without them one, and two for larger text.
        """
        sizes = Sizes.of(window.width, window.height, window.text_scale)
        room = window.width - 2 * sizes.margin
        rows = strip_rows(helps, window.taps, sizes, room) if helps else 1 + (window.text_scale > 1)
        help_top = window.height - strip_height(sizes, rows)
        line_high = 1.5 * sizes.body
        banner = window.banner
        if banner is not None and not is_steady:
            note_lines = max(note_lines, len(banner_lines(window.width, sizes, banner)))
            if note_lines > MOST_NOTE_LINES:
                # Smaller type, so that the note does not push all else away.
                line_high = 1.5 * sizes.small
                note_lines = len(banner_lines(window.width, sizes, banner, sizes.small))
        note_high = round(note_lines * line_high + (1.0 * sizes.body if note_lines else 0))
        return cls(
            window=window,
            theme=theme_of(window.theme),
            sizes=sizes,
            body_top=round(sizes.px(header_units) * (1 + (window.text_scale - 1) * 0.8)),
            note_top=help_top - note_high,
            help_top=help_top,
        )

    @property
    def left(self) -> int:
        """Where text begins."""
        return self.sizes.margin

    @property
    def right(self) -> int:
        """Where text ends."""
        return self.window.width - self.sizes.margin


def readable(height: int) -> int:
    """Return the least size of type that is read from the back of the room, in a picture of a height."""
    return math.ceil(height / READABLE_PART)


def largest_fitting(
    frame: Frame, words: str, room: int, *, from_title: bool = False, bold: bool = True
) -> int:
    """Return the size of the type for some words: the largest that fits, of this and smaller text settings.

    So a larger setting never makes them smaller. Where nothing fits it is the smallest of this setting.

    Args:
        from_title: begins with the title's size and ends with the body's, instead of large and title.
    """
    window = frame.window
    scales = [scale for scale in SCALES if scale <= window.text_scale]
    sizes = [Sizes.of(window.width, window.height, scale) for scale in scales]
    found = [(each.title, each.body) if from_title else (each.large, each.title) for each in sizes]
    fitting = [size for pair in found for size in pair if text_width(words, size, bold=bold) <= room]
    return max(fitting, default=found[-1][1] if found else frame.sizes.body)


def middle_baseline(top: float, height: float, size: int) -> int:
    """Return the baseline that centres capitals in a row."""
    return round(top + (height + CAPITAL * size) / 2)


def banner_lines(
    frame_width: int, sizes: Sizes, banner: Banner | None, size: int | None = None
) -> tuple[str, ...]:
    """Return a banner's words broken to the window's width, in the body's size or another."""
    if banner is None:
        return ()
    size = size or sizes.body
    room = _banner_room(frame_width, sizes)
    return tuple(line for text in banner.lines for line in wrapped(text, size, room, 3))


def _banner_room(width: int, sizes: Sizes) -> int:
    return width - 2 * sizes.margin - round(3.2 * sizes.body)


def _fitted_lines(width: int, height: int, sizes: Sizes, banner: Banner) -> tuple[int, int, tuple[str, ...]]:
    """Return the size of the type, the height of a line, and the lines that fit a row of a height.

    They are smaller if need be, then closer: a row for one line of the usual type holds two of those.
    """
    size, line_high, most = sizes.body, 0, 1
    lines: tuple[str, ...] = ()
    for size, pitch, edge in ((sizes.body, 1.5, 0.5), (sizes.small, 1.5, 0.5), (sizes.small, 1.35, 0.2)):
        lines = banner_lines(width, sizes, banner, size)
        line_high = round(pitch * size)
        most = max(1, int((height - edge * sizes.body) / line_high))
        if len(lines) <= most:
            return size, line_high, lines
    rest = shortened(" ".join(lines[most - 1 :]), size, _banner_room(width, sizes))
    return size, line_high, (*lines[: most - 1], rest)


def page(
    frame: Frame,
    body: tuple[Panel, ...],
    hits: tuple[Hit, ...],
    helps: tuple[Help, ...],
    *,
    status: tuple[Item, ...] = (),
    status_hits: tuple[Hit, ...] = (),
    remark: str = "",
) -> Scene:
    """Return a whole scene: its own panels, under them what is said or else its status, and the help strip.

    Every scene is made by this, so that what is said is seen on each.

    Args:
        body, hits: the header and all between it and the note row, and where it can be clicked.
        status, status_hits: what the note row holds while nothing is said.
        remark: stands at the end of the help strip.
    """
    note, note_hits = _note_panel(frame, status)
    strip, strip_hits = strip_panel(
        helps,
        frame.window.taps,
        frame.theme,
        frame.sizes,
        width=frame.window.width,
        top=frame.help_top,
        bottom=frame.window.height,
        remark=remark,
    )
    keys = tuple(KeyUse(key, cap.action) for entry in helps for cap in entry.caps for key in cap.keys)
    over = note_hits or status_hits
    panels = (*body, note, strip) if note.h else (*body, strip)
    return Scene(panels, (*hits, *strip_hits, *over), keys, helps)


def _note_panel(frame: Frame, items: tuple[Item, ...]) -> tuple[Panel, tuple[Hit, ...]]:
    """Return the row above the help strip: what is said, or what else stands there."""
    theme, sizes, banner = frame.theme, frame.sizes, frame.window.banner
    x, y, w, h = 0, frame.note_top, frame.window.width, frame.help_top - frame.note_top
    if banner is None:
        return Panel(x, y, w, h, theme.wall, items), ()
    size, high, lines = _fitted_lines(w, h, sizes, banner)
    text_x = frame.left + round(2.1 * sizes.body)
    top = y + (h - high * len(lines)) / 2
    drawn: list[Item] = [Rect(0, y, w, h, theme.raised)]
    drawn.extend(_banner_sign(frame, banner.kind, frame.left + 0.6 * sizes.body, top + high / 2))
    for at, line in enumerate(lines):
        drawn.append(Text(text_x, middle_baseline(top + at * high, high, size), line, size, theme.ink))
    if banner.kind is BannerKind.PROBLEM:
        return Panel(x, y, w, h, theme.raised, tuple(drawn)), ()  # it stays for as long as it holds
    return Panel(x, y, w, h, theme.raised, tuple(drawn)), (Hit(x, y, w, h, Action(act=Act.DISMISS)),)


def _banner_sign(frame: Frame, kind: BannerKind, x: float, y: float) -> list[Item]:
    """Return a small sign before the words: a ring for a note, a filled shape for a problem."""
    theme, r = frame.theme, 0.42 * frame.sizes.body
    if kind is BannerKind.PROBLEM:
        return [Polygon(((x, y - r), (x + r, y + 0.8 * r), (x - r, y + 0.8 * r)), theme.late)]
    if kind is BannerKind.CAUTION:
        return [Ring(x, y, r, 0.3 * r, theme.focus), Disc(x, y, 0.3 * r, theme.focus)]
    return [Disc(x, y, 0.5 * r, theme.focus)]


@dataclass(frozen=True, slots=True)
class Value:
    """Something large to read from afar, with a small word before or after it."""

    before: str
    value: str
    after: str


def header_panel(frame: Frame, title: str, values: tuple[Value, ...], who: str = "") -> Panel:
    """Return the header: a title on the left and values on the right, the last at the edge.

    Args:
        who: stands before the title, as large as can be, and is the last to be cut.
    """
    theme, sizes = frame.theme, frame.sizes
    items: list[Item] = []
    baseline = middle_baseline(0, frame.body_top, sizes.large)
    space = sizes.px(14)
    right = frame.right
    for value in reversed(values):
        if value.after:
            items.append(Text(right, baseline, value.after, sizes.body, theme.muted, Anchor.RIGHT))
            right -= text_width(value.after, sizes.body) + space
        items.append(Text(right, baseline, value.value, sizes.large, theme.ink, Anchor.RIGHT, True))
        right -= text_width(value.value, sizes.large, bold=True)
        if value.before:
            right -= space
            items.append(Text(right, baseline, value.before, sizes.body, theme.muted, Anchor.RIGHT))
            right -= text_width(value.before, sizes.body)
        right -= 2 * sizes.gap
    left = frame.left
    if who:
        size = largest_fitting(frame, who, right - left)
        name = shortened(who, size, right - left, bold=True)
        items.append(Text(left, baseline, name, size, theme.ink, bold=True))
        left += text_width(name, size, bold=True) + sizes.gap
        if right - left < LEAST_TITLE * sizes.body:
            return Panel(0, 0, frame.window.width, frame.body_top, theme.wall, tuple(items))
        size = largest_fitting(frame, title, right - left, from_title=True, bold=False)
        lines = wrapped(title, size, right - left, 2)
        pitch = round(1.1 * size)
        first = baseline if len(lines) == 1 else middle_baseline(0, frame.body_top, size) - pitch // 2
        items.extend(Text(left, first + at * pitch, line, size, theme.muted) for at, line in enumerate(lines))
        return Panel(0, 0, frame.window.width, frame.body_top, theme.wall, tuple(items))
    # To be read from the back row, as the values are, unless it is too long for that.
    room = right - left
    size = largest_fitting(frame, title, room)
    lines = wrapped(title, size, room, 2, bold=True)
    if len(lines) > 1:
        # In two lines, if need be of smaller type.
        for size in (sizes.title, sizes.body):
            lines = wrapped(title, size, room, 2, bold=True)
            if not lines[-1].endswith("…") and 2.4 * size <= frame.body_top:
                break
    high = round(1.2 * size)
    first = baseline if len(lines) == 1 else middle_baseline((frame.body_top - 2 * high) / 2, high, size)
    for at, line in enumerate(lines):
        items.append(Text(left, first + at * high, line, size, theme.ink, bold=True))
    return Panel(0, 0, frame.window.width, frame.body_top, theme.wall, tuple(items))


def status_items(frame: Frame, input_name: str, uncertainty_s: float, sound: str) -> tuple[Item, ...]:
    """Return what stands in the note row while there is no banner: the input in use, and the sound."""
    theme, size = frame.theme, frame.sizes.small
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    if uncertainty_s > 0:
        # Rounded up: a tap is never shown as more certain than it is.
        input_name += f"  ±{max(1, math.ceil(uncertainty_s * 1000 - 1e-6))} ms"
    room = frame.right - frame.left - text_width(sound, size) - frame.sizes.gap
    lines = wrapped(input_name, size, room, 2)
    line_high = round(1.35 * size)
    first = baseline - (len(lines) - 1) * line_high // 2
    return (
        *(Text(frame.left, first + at * line_high, line, size, theme.muted) for at, line in enumerate(lines)),
        Text(frame.right, baseline, sound, size, theme.muted, Anchor.RIGHT),
    )


def steady_sentence(frame: Frame, sentence: str) -> tuple[Item, ...]:
    """Return a sentence in place of the status, for as long as it holds: small, and no key takes it away."""
    theme, size = frame.theme, frame.sizes.small
    lines = wrapped(sentence, size, frame.right - frame.left, 2)
    high = round(1.35 * size)
    top = frame.note_top + (frame.help_top - frame.note_top - high * len(lines)) / 2
    return tuple(
        Text(frame.left, middle_baseline(top + at * high, high, size), line, size, theme.ink)
        for at, line in enumerate(lines)
    )


def scrolled(count: int, shown: int, focus: int) -> int:
    """Return the first of ``shown`` rows so that the focus is in view, in the middle where it can be."""
    return min(max(focus - shown // 2, 0), max(count - shown, 0))


def scroll_bar(
    frame: Frame, right: int, top: int, high: int, first: int, shown: int, count: int
) -> tuple[Item, ...]:
    """Return the bar at the right edge of a list that says which part is in view."""
    if count <= shown:
        return ()
    theme, wide = frame.theme, max(3, frame.sizes.px(7))
    x = right - wide
    length = max(3 * wide, round(high * shown / count))
    y = top + round((high - length) * first / (count - shown))
    return (
        Rect(x, top, wide, high, theme.raised, wide // 2),
        Rect(x, y, wide, length, theme.muted, wide // 2),
    )


def row_background(frame: Frame, x: int, y: int, w: int, h: int) -> tuple[Item, ...]:
    """Return what marks the chosen row: a raised ground, and a bar so that colour is not needed."""
    theme, sizes = frame.theme, frame.sizes
    bar = sizes.px(6)
    return (
        Rect(x, y, w, h, theme.raised, sizes.px(8)),
        Rect(x, y + h // 6, bar, h - h // 3, theme.focus, bar // 2),
    )


def tempo_unit(pattern: Pattern | None, bpm: Fraction) -> str:
    """Return what stands after a tempo: its unit, and the figures a minute that it makes."""
    if pattern is None:
        return "bpm"
    figures = figures_a_minute(pattern.meter, pattern.slots_per_beat, bpm)
    return f"bpm, {bpm_words(figures)} figures"


def bpm_words(bpm: object) -> str:
    """Return a tempo with at most one decimal."""
    return f"{float(bpm):.1f}".removesuffix(".0")  # type: ignore[arg-type]
