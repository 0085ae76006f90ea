"""Show the keys of the scene below, all of them, and the signs of the sheet."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.judging.take import Verdict
from trainer.screen.draw import Hit, Item, Panel, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.help_strip import cap_items, cap_width
from trainer.screen.scenes.marks import LOOKS, mark
from trainer.screen.scenes.moved import moved
from trainer.screen.scenes.page_key import Drawn, hand_signs
from trainer.screen.scenes.parts import Frame, header_panel, middle_baseline, page, scroll_bar
from trainer.screen.theme import Sizes, Theme
from trainer.screen.window import Window

ROW_EM = 1.95
SIGNS_SHARE = 0.42  # of the window's width
SIGN_EM = 2.6  # room for a sign, in sizes of the type


@dataclass(frozen=True, slots=True, kw_only=True)
class HelpView:
    """The keys of a scene.

    Attributes:
        helps: the entries of the scene below, as they hold there just now.
        taps: what is tapped on, first of all: label and words of each key or pad.
        first_row: how far the keys are scrolled.
    """

    window: Window
    helps: tuple[Help, ...]
    taps: tuple[tuple[str, str], ...] = ()
    first_row: int = 0

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return help_scene(self)


def help_scene(view: HelpView) -> Scene:
    """Return the scene of the keys and signs."""
    own = helps_of("help", states={"scrolls": True})
    frame = Frame.of(view.window, note_lines=0, helps=own)
    split = round((1 - SIGNS_SHARE) * frame.window.width)
    keys, hits, scrolls = _keys(frame, view, split)
    helps = own if scrolls else helps_of("help")
    header = header_panel(frame, "The keys here, and the signs of the sheet", ())
    return page(frame, (header, keys, _signs(frame, split)), hits, helps)


def _entries(view: HelpView) -> tuple[Help, ...]:
    seen: list[Help] = []
    for entry in view.helps:
        caps = tuple(cap for cap in entry.caps if cap.label)
        if caps and entry.words:
            seen.append(Help(caps, entry.words))
    return tuple(seen)


def _keys(frame: Frame, view: HelpView, width: int) -> tuple[Panel, tuple[Hit, ...], bool]:
    """Return the list of keys, where it can be clicked, and whether it is longer than its room."""
    theme, sizes = frame.theme, frame.sizes
    size = sizes.small
    top, high = frame.body_top, frame.note_top - frame.body_top
    row_high = round(ROW_EM * size)
    entries = _entries(view)
    rows = len(view.taps) + len(entries)
    shown = max(1, high // row_high)
    first = min(max(view.first_row, 0), max(rows - shown, 0))
    wide = max([_caps_width(e, sizes) for e in entries] + [cap_width(label, size) for label, _ in view.taps])
    words_x = frame.left + wide + round(0.8 * size)
    items: list[Item] = []
    hits: list[Hit] = []
    for at in range(first, min(first + shown, rows)):
        y = top + (at - first) * row_high
        baseline = middle_baseline(y, row_high, size)
        x = frame.left
        if at < len(view.taps):
            label, words = view.taps[at]
            items.extend(cap_items(label, theme, sizes, x, y, row_high, size))
            items.append(Text(words_x, baseline, words, size, theme.ink, bold=True))
            continue
        entry = entries[at - len(view.taps)]
        for cap in entry.caps:
            items.extend(cap_items(cap.label, theme, sizes, x, y, row_high, size))
            hits.append(Hit(x, y, cap_width(cap.label, size), row_high, cap.action))
            x += cap_width(cap.label, size) + sizes.px(6)
        words = shortened(entry.words, size, width - words_x - sizes.gap)
        items.append(Text(words_x, baseline, words, size, theme.ink))
        if len(entry.caps) == 1:
            hits[-1] = Hit(frame.left, y, width - frame.left - sizes.gap, row_high, entry.caps[0].action)
    if rows > shown:
        items.extend(scroll_bar(frame, width - sizes.px(6), top, high, first, shown, rows))
    return Panel(0, top, width, high, theme.wall, tuple(items)), tuple(hits), rows > shown


def _caps_width(entry: Help, sizes: Sizes) -> int:
    return sum(cap_width(cap.label, sizes.small) + sizes.px(6) for cap in entry.caps)


def _signs(frame: Frame, left: int) -> Panel:
    """Return what the strokes look like, and the marks of what became of them."""
    theme, sizes = frame.theme, frame.sizes
    top, high = frame.body_top, frame.note_top - frame.body_top
    x = left + sizes.gap
    signs: list[tuple[Drawn, str]] = [*hand_signs(), *((_marked(v), look.words) for v, look in LOOKS.items())]
    pitch = min(round(ROW_EM * sizes.small), high // len(signs))
    # All of them are in view, if need be in smaller type.
    size = min(sizes.small, round(pitch / 1.25))
    while size > 8 and max(text_width(words, size) for _, words in signs) > _room(frame, x, size):
        size -= 1
    items: list[Item] = []
    for at, (sign, words) in enumerate(signs):
        y = top + at * pitch
        middle = round(x + 0.5 * SIGN_EM * size), round(y + pitch / 2)
        items += [moved(item, *middle) for item in sign(float(size), theme)]
        baseline = middle_baseline(y, pitch, size)
        items.append(Text(frame.right - _room(frame, x, size), baseline, words, size, theme.ink))
    return Panel(left, top, frame.window.width - left, high, theme.sheet, tuple(items))


def _room(frame: Frame, x: int, size: int) -> int:
    """Return the width left for words after a sign."""
    return frame.right - x - round((SIGN_EM + 0.5) * size)


def _marked(verdict: Verdict) -> Drawn:
    def draw(size: float, theme: Theme) -> list[Item]:
        return list(mark(verdict, 0.0, 0.0, 0.38 * size, theme))

    return draw
