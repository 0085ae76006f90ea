"""Show a demonstration: the big sheet, what is being shown, and clean and faulty passes side by side."""

from __future__ import annotations

import enum
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.judging.take import Outcome
from trainer.music.layout import Target
from trainer.music.notation import stroke_words
from trainer.practice.showing import EXPLAINED, Showing
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Disc, Hit, Item, Panel, Rect, Ring, Scene, Text
from trainer.screen.key_entries import Help
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width, wrapped
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.moving_sheet import sheet_panels
from trainer.screen.scenes.parts import Frame, Value, bpm_words, header_panel, middle_baseline, page
from trainer.screen.window import Window

COMPARE_SHARE = 0.27  # of the body's height
ROW_HIGH = 1.45  # of a row of the comparison at least, in sizes of its words
MOST_COMPARED_BEATS = 8  # more would be too small to see from afar


class Played(enum.Enum):
    """What is played just now; the value is what stands under the title."""

    CLEAN = "now: clean"
    FAULT = "now: with the fault"
    YOURS = "your turn: the hands are silent"


YOURS = "your taps"


@dataclass(frozen=True, slots=True, kw_only=True)
class DemonstrationView:
    """A demonstration as it is at one moment.

    Attributes:
        drill: the sheet, with the layers that are shown.
        title: of the whole pattern.
        showing, showings: what is shown, and what can be.
        playing: what is played just now, and by whom.
        stopped_on: the stroke that the sheet is stopped on; None while it moves.
        compared: a pass as the hands play it, clean and with the fault.
        yours: what the teacher has played of the latest pass; empty before anything is settled.
    """

    window: Window
    drill: DrillView
    title: str
    showing: Showing
    showings: tuple[Showing, ...]
    playing: Played = Played.CLEAN
    stopped_on: Target | None = None
    compared: Mapping[Showing, tuple[Outcome, ...]] = field(default_factory=dict)
    yours: tuple[Outcome, ...] = ()

    @property
    def taken_over(self) -> bool:
        """Whether the teacher plays."""
        return self.playing is Played.YOURS

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return demonstration_scene(self)


def demonstration_scene(view: DemonstrationView) -> Scene:
    """Return a demonstration's scene."""
    frame = Frame.of(view.window, is_steady=True)
    rows = 1 + (view.showing is not Showing.CLEAN) + view.taken_over
    least = round(rows * ROW_HIGH * frame.sizes.body + frame.sizes.gap)  # so that no label touches another
    compare_high = max(round(COMPARE_SHARE * (frame.note_top - frame.body_top)), least)
    above = replace(frame, note_top=frame.note_top - compare_high)
    header = _header(frame, view)
    compare = _compare(frame, view, above.note_top, compare_high)
    body = (header, *sheet_panels(above, view.drill), compare)
    status, status_hits = _note(frame, view), _layer_hits(frame)
    return page(frame, body, (), _helps(view), status=status, status_hits=status_hits)


def _header(frame: Frame, view: DemonstrationView) -> Panel:
    """Return the header: the figure and the fault, and under it what is played just now."""
    sizes, theme = frame.sizes, frame.theme
    tempo = header_panel(frame, "", (Value("", bpm_words(view.drill.bpm), "bpm"),))
    tempo_px = text_width("000.0", sizes.large, bold=True) + text_width("bpm", sizes.body) + 3 * sizes.gap
    room = frame.right - frame.left - tempo_px
    words = f"{view.title}: {view.showing.value}"
    size = next(
        (each for each in (sizes.large, sizes.title) if text_width(words, each, bold=True) <= room),
        sizes.body,
    )
    lines = wrapped(words, size, room, 2 if size == sizes.body else 1, bold=True)
    small = sizes.body
    high = 1.3 * size * len(lines) + 1.3 * small
    top = (frame.body_top - high) / 2
    items: list[Item] = []
    for line in lines:
        items.append(
            Text(frame.left, middle_baseline(top, 1.3 * size, size), line, size, theme.ink, bold=True)
        )
        top += 1.3 * size
    under = middle_baseline(top, 1.3 * small, small)
    items.append(Text(frame.left, under, shortened(_state(view), small, room), small, theme.muted))
    return replace(tempo, items=(*tempo.items, *items))


def _state(view: DemonstrationView) -> str:
    """Return what is played just now, or where the sheet stands."""
    playing = view.playing.value
    if view.stopped_on is None:
        return playing
    place = view.drill.bar_numbers or tuple(range(1, len(view.drill.pattern.bars) + 1))
    stroke = f"stopped on {stroke_words(view.stopped_on.stroke)} in bar {place[view.stopped_on.bar]}"
    return f"{stroke}; {playing.removeprefix('now: ')}"


def _helps(view: DemonstrationView) -> tuple[Help, ...]:
    return helps_of("demonstration", states={"stopped": view.stopped_on is not None})


def _note(frame: Frame, view: DemonstrationView) -> tuple[Item, ...]:
    """Return the line under the comparison: what the class should see, and which layers there are."""
    theme, size = frame.theme, frame.sizes.small
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    items: list[Item] = []
    x = frame.right
    for at, layer in reversed(list(enumerate(SheetLayer))):
        shown = layer in view.drill.layers
        words = f"{at + 1} {layer.value}"
        x -= text_width(words, size)
        items.append(Text(x, baseline, words, size, theme.ink if shown else theme.muted))
        if not shown:
            # Struck through, so that its colour is not needed.
            thick = max(1, frame.sizes.px(2))
            items.append(Rect(x, baseline - size // 3, text_width(words, size), thick, theme.muted))
        x -= frame.sizes.gap
    words = "tap to take over" if view.showing is Showing.CLEAN else EXPLAINED[view.showing]
    if view.taken_over:
        words = "R lets the hands begin anew."
    room = max(0, x - frame.left)
    items.append(Text(frame.left, baseline, shortened(words, size, room), size, theme.ink))
    return tuple(items)


def _layer_hits(frame: Frame) -> tuple[Hit, ...]:
    hits = []
    x, size = frame.right, frame.sizes.small
    for at, layer in reversed(list(enumerate(SheetLayer))):
        wide = text_width(f"{at + 1} {layer.value}", size)
        x -= wide
        action = Action(act=Act.LAYER, value=at)
        hits.append(Hit(x, frame.note_top, wide, frame.help_top - frame.note_top, action))
        x -= frame.sizes.gap
    return tuple(hits)


def _compare(frame: Frame, view: DemonstrationView, top: int, high: int) -> Panel:
    """Return a clean pass and one with the fault, and the teacher's, above each other on one axis of time."""
    theme, sizes = frame.theme, frame.sizes
    width = frame.window.width
    items: list[Item] = [Rect(0, top, width, max(1, sizes.px(2)), theme.hair)]
    rows = [(Showing.CLEAN.value, view.compared.get(Showing.CLEAN, ()), view.playing is Played.CLEAN)]
    if view.showing is not Showing.CLEAN:
        faulty = view.compared.get(view.showing, ())
        rows.append((view.showing.value, faulty, view.playing is Played.FAULT))
    if view.taken_over:
        rows.append((YOURS, view.yours, True))
    labels = max(text_width(words, sizes.body, bold=True) for words, _, _ in rows)
    left = frame.left + labels + 2 * sizes.gap
    row_high = (high - sizes.gap) / len(rows)
    for at, (words, outcomes, heard) in enumerate(rows):
        y = top + sizes.gap / 2 + (at + 0.5) * row_high
        baseline = round(y + 0.35 * sizes.body)
        items.append(
            Text(frame.left, baseline, words, sizes.body, theme.ink if heard else theme.muted, bold=heard)
        )
        items.extend(_row(frame, view, outcomes, left, y, row_high))
    return Panel(0, top, width, high, theme.wall, tuple(items))


def _row(
    frame: Frame, view: DemonstrationView, outcomes: Sequence[Outcome], left: float, y: float, high: float
) -> list[Item]:
    """Return one pass: a tick where each stroke belongs, its mark where the tap fell."""
    theme, sizes = frame.theme, frame.sizes
    pattern = view.drill.pattern
    beats = min(pattern.beats, MOST_COMPARED_BEATS)
    radius = min(13.0 * sizes.unit, high / 4)
    beat_px = (frame.right - left - 4 * radius) / beats
    begin = left + 2 * radius
    thick = max(1, sizes.px(2))
    items: list[Item] = [
        Rect(round(begin), round(y), round(beats * beat_px), thick, theme.hair),
        *(
            Rect(
                round(begin + beat * beat_px), round(y - 1.6 * radius), thick, round(3.2 * radius), theme.hair
            )
            for beat in range(beats + 1)
        ),
    ]
    for outcome in outcomes:
        target = outcome.target
        beat = float(target.beat) - target.pass_index * pattern.beats
        if beat >= beats:
            break
        x = begin + beat * beat_px
        items.append(Ring(x, y, 0.55 * radius, max(1.0, 0.16 * radius), theme.muted))
        if outcome.placement_s is not None and outcome.tap is not None:
            # To scale within the beat, as on the sheet.
            x += outcome.placement_s / (target.slot_s * pattern.slots_per_beat) * beat_px
        items.append(Disc(x, y, 1.3 * radius, theme.wall))
        items.extend(mark(outcome.verdict, x, y, radius, theme))
    return items
