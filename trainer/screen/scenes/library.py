"""Show the course: the patterns in order, and the hand of the one that is chosen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from trainer.music.layout import Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.screen.draw import Anchor, Disc, Hit, Item, Panel, Polygon, Scene, Strip, Text
from trainer.screen.hand_path import Slot
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.parts import (
    Cap,
    Frame,
    Help,
    Value,
    bpm_words,
    full_screen_help,
    header_panel,
    help_panel,
    middle_baseline,
    note_panel,
    row_background,
    scrolled,
    status_items,
    tempo_caps,
)
from trainer.screen.scenes.sheet import BeatPicture, SheetShape, kinds_of
from trainer.screen.theme import Sizes
from trainer.screen.views import Act, Action, LibraryView

LIST_SHARE = 0.50  # of the window's width
PREVIEW_SLOTS = 8  # two bars of two beats: a whole figure, and still large
PREVIEW_BPM = 60  # only the beats are drawn, so any tempo will do


def library_scene(view: LibraryView) -> Scene:
    """Return the library's scene."""
    lines = len(view.banner.lines) if view.banner is not None else 1
    frame = Frame.of(view.window, note_lines=lines)
    passes = str(view.passes) if view.passes else "no end"
    values = (Value("passes", passes, ""), Value("", bpm_words(view.bpm), "bpm"))
    header = header_panel(frame, "Thumbfall", values)
    course, rows = _course(frame, view)
    preview = _preview(frame, view)
    note, note_hits = note_panel(frame, view.banner, _note(frame, view))
    strip, hits, keys = help_panel(frame, _helps(view))
    return Scene((header, course, preview, note, strip), (*rows, *hits, *note_hits), keys)


def _helps(view: LibraryView) -> tuple[Help, ...]:
    last = max(len(view.patterns) - 1, 0)

    def to(place: int) -> Action:
        return Action(act=Act.SELECT, value=min(max(place, 0), last))

    return (
        Help((Cap("Enter", Action(act=Act.START), ("return", "enter")),), "start"),
        Help(
            (Cap("↑", to(view.selected - 1), ("up",)), Cap("↓", to(view.selected + 1), ("down",))), "choose"
        ),
        tempo_caps(),
        Help(
            (
                Cap("−", Action(act=Act.PASSES, value=-1), ("-", "[-]")),
                Cap("+", Action(act=Act.PASSES, value=1), ("=", "+", "[+]")),
            ),
            "passes",
        ),
        Help((Cap("D", Action(act=Act.DEMO), ("d",)),), "watch"),
        Help((Cap("S", Action(act=Act.OPEN_SETTINGS), ("s",)),), "settings"),
        full_screen_help(),
        Help((Cap("Esc", Action(act=Act.QUIT), ("escape",)),), "leave"),
        Help(
            (
                Cap("", to(view.selected - 8), ("page up",)),
                Cap("", to(view.selected + 8), ("page down",)),
                Cap("", to(0), ("home",)),
                Cap("", to(last), ("end",)),
            ),
            "",
        ),
    )


def _list_width(frame: Frame) -> int:
    return round(LIST_SHARE * frame.window.width)


def _course(frame: Frame, view: LibraryView) -> tuple[Panel, tuple[Hit, ...]]:
    theme, sizes = frame.theme, frame.sizes
    width = _list_width(frame)
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = round(1.85 * sizes.body)
    shown = max(1, high // row_high)
    items: list[Item] = []
    hits: list[Hit] = []
    if not view.patterns:
        words = "There is no pattern to choose from."
        items.append(Text(frame.left, top + 2 * row_high, words, sizes.body, theme.ink))
    first = scrolled(len(view.patterns), shown, view.selected)
    for at, pattern in enumerate(view.patterns[first : first + shown]):
        place, y = first + at, top + at * row_high
        chosen = place == view.selected
        x = frame.left - sizes.px(20)
        if chosen:
            items.extend(row_background(frame, x, y, width - x - sizes.gap // 2, row_high))
        # The level is said where it changes, so that titles have the room.
        above = view.patterns[place - 1].level if at else None
        level = pattern.level.value if pattern.level is not above else ""
        row = _Row(pattern=pattern, level=level, clean=pattern.name in view.clean, chosen=chosen)
        items.extend(_row_items(frame, row, y, row_high, width - sizes.gap))
        action = Action(act=Act.START) if chosen else Action(act=Act.SELECT, value=place)
        hits.append(Hit(x, y, width - x, row_high, action))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    pattern: Pattern
    level: str
    clean: bool
    chosen: bool


def _row_items(frame: Frame, row: _Row, y: int, high: int, right: int) -> list[Item]:
    pattern = row.pattern
    theme, sizes = frame.theme, frame.sizes
    body, small = sizes.body, sizes.small
    baseline = middle_baseline(y, high, body)
    step_right = frame.left + text_width("00", body) + sizes.px(8)
    items: list[Item] = [Text(step_right, baseline, str(pattern.step), body, theme.quiet, Anchor.RIGHT)]
    tempi = f"{bpm_words(pattern.slow_bpm)}–{bpm_words(pattern.goal_bpm)}"
    x = right - sizes.px(12)
    columns = [(tempi, "000–000"), (pattern.meter.value, "0/0")]
    if row.level:
        columns.append((row.level, row.level))
    for words, widest in columns:
        items.append(Text(x, baseline, words, small, theme.quiet, Anchor.RIGHT))
        x -= _column(sizes, words, widest)
    title_x = step_right + sizes.px(24)
    if row.clean:
        radius = 0.26 * body
        items.append(Disc(title_x + radius, y + high / 2, radius, theme.in_time))
        title_x += round(3.2 * radius)
    title = shortened(pattern.title, body, x - title_x, bold=row.chosen)
    items.append(Text(title_x, baseline, title, body, theme.ink, bold=row.chosen))
    return items


def _column(sizes: Sizes, words: str, widest: str) -> int:
    return max(text_width(widest, sizes.small), text_width(words, sizes.small)) + sizes.px(22)


def _note(frame: Frame, view: LibraryView) -> tuple[Item, ...]:
    if not view.problems:
        return status_items(frame, view.input_name, 0.0, view.sound)
    theme, size = frame.theme, frame.sizes.small
    top, high = frame.note_top, frame.help_top - frame.note_top
    r = 0.42 * size
    y = top + high / 2
    sign = Polygon(
        ((frame.left + r, y - r), (frame.left + 2 * r, y + 0.8 * r), (frame.left, y + 0.8 * r)), theme.late
    )
    more = len(view.problems) - 1
    more_words = f"and {more} more" if more else ""
    x = frame.left + round(3.5 * r)
    room = frame.right - x - (text_width(more_words, size) + frame.sizes.gap if more else 0)
    words = shortened(view.problems[0], size, room)
    baseline = middle_baseline(top, high, size)
    return (
        sign,
        Text(x, baseline, words, size, theme.ink),
        Text(frame.right, baseline, more_words, size, theme.quiet, Anchor.RIGHT),
    )


def _preview(frame: Frame, view: LibraryView) -> Panel:
    theme, sizes = frame.theme, frame.sizes
    x = _list_width(frame)
    top, high = frame.body_top, frame.note_top - frame.body_top
    width = frame.window.width - x
    if not view.patterns:
        return Panel(x, top, width, high, theme.sheet)
    pattern = view.patterns[min(view.selected, len(view.patterns) - 1)]
    left, right = x + sizes.gap * 2, frame.right
    picture_high = round(0.58 * high)
    strips = _picture(frame, pattern, left, right, top + sizes.gap // 2, picture_high)
    items: list[Item] = []
    y = top + picture_high + round(1.6 * sizes.body) + sizes.gap // 2
    bottom = top + high - sizes.gap // 2
    items.append(
        Text(
            left,
            y,
            shortened(pattern.title, sizes.body, right - left, bold=True),
            sizes.body,
            theme.ink,
            bold=True,
        )
    )
    y += round(1.5 * sizes.body)
    line = round(1.4 * sizes.body)
    needs = _needs(view, pattern)
    need_lines = wrapped(needs, sizes.small, right - left, 2) if needs else ()
    small_line = round(1.4 * sizes.small)
    small_lines = (_about(pattern), *need_lines)
    spare = bottom - y - small_line * len(small_lines)
    for words in wrapped(pattern.teacher, sizes.body, right - left, max(1, spare // line)):
        items.append(Text(left, y, words, sizes.body, theme.ink))
        y += line
    # What is needed first comes last, so it is what gives way in a low window.
    for words in small_lines[: max(0, (bottom - y) // small_line + 1)]:
        items.append(Text(left, y, words, sizes.small, theme.quiet))
        y += small_line
    return Panel(x, top, width, high, theme.sheet, tuple(items), strips)


def _about(pattern: Pattern) -> str:
    bars = len(pattern.bars)
    tempi = f"{bpm_words(pattern.slow_bpm)} to {bpm_words(pattern.goal_bpm)} bpm"
    return f"{pattern.level.value}, {bars} {'bar' if bars == 1 else 'bars'} of {pattern.meter.value}, {tempi}"


def _needs(view: LibraryView, pattern: Pattern) -> str:
    titles = {p.name: p.title for p in view.patterns}
    missing = [need for need in pattern.needs if need not in view.clean]
    if not missing:
        return ""
    return "First: " + "; ".join(titles.get(need, need) for need in missing) + "."


def _picture(frame: Frame, pattern: Pattern, left: int, right: int, top: int, high: int) -> tuple[Strip, ...]:
    spb = pattern.slots_per_beat
    beats = min(pattern.beats, max(PREVIEW_SLOTS // spb, pattern.meter.beats))
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
    return tuple(
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
                quiet=False,
                pocket=0.0,
            ),
        )
        for beat in range(-1, beats + 1)
    )


@lru_cache(maxsize=8)
def _targets(pattern: Pattern) -> tuple[Target, ...]:
    return lay_out(pattern, Timeline.steady(PREVIEW_BPM))


def _slots(targets: tuple[Target, ...], beat: int, end: int, spb: int) -> tuple[Slot, ...]:
    near = targets[max(beat - 1, 0) * spb : min(beat + 2, end) * spb]
    return tuple(
        Slot(round(float(t.beat) - beat, 5), t.motion, t.stroke.kind, t.stroke.strings, t.stroke.accented)
        for t in near
    )
