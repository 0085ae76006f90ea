"""Show a demonstration: the big sheet, what is being shown, and clean and faulty passes side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from trainer.judging.take import Outcome
from trainer.music.layout import Target
from trainer.music.notation import stroke_words
from trainer.practice.showing import EXPLAINED, Showing
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Disc, Hit, Item, Panel, Rect, Ring, Scene, Text
from trainer.screen.keymap import Help, helps_of
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.scenes.marks import mark
from trainer.screen.scenes.moving_sheet import sheet_panels
from trainer.screen.scenes.parts import Frame, Value, bpm_words, header_panel, middle_baseline, page
from trainer.screen.window import Window

COMPARE_SHARE = 0.27  # of the body's height
MOST_COMPARED_BEATS = 8  # more would be too small to see from afar


@dataclass(frozen=True, slots=True, kw_only=True)
class DemonstrationView:
    """A demonstration as it is at one moment.

    Attributes:
        drill: the sheet, with the layers that are shown.
        showing, showings: what is shown, and what can be.
        is_faulty: whether the fault is being played just now, not the clean stretch before it.
        taken_over: whether the teacher plays.
        stopped_on: the stroke that the sheet is stopped on; None while it moves.
        compared: the outcomes of the last whole pass without the fault (False) and with it (True).
    """

    window: Window
    drill: DrillView
    showing: Showing
    showings: tuple[Showing, ...]
    is_faulty: bool = False
    taken_over: bool = False
    stopped_on: Target | None = None
    compared: Mapping[bool, tuple[Outcome, ...]] = field(default_factory=dict)

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return demonstration_scene(self)


def demonstration_scene(view: DemonstrationView) -> Scene:
    """Return a demonstration's scene."""
    frame = Frame.of(view.window, is_steady=True)
    compare_high = round(COMPARE_SHARE * (frame.note_top - frame.body_top))
    above = replace(frame, note_top=frame.note_top - compare_high)
    header = _header(frame, view)
    compare = _compare(frame, view, above.note_top, compare_high)
    body = (header, *sheet_panels(above, view.drill), compare)
    status, status_hits = _note(frame, view), _layer_hits(frame)
    return page(frame, body, (), _helps(view), status=status, status_hits=status_hits)


def _header(frame: Frame, view: DemonstrationView) -> Panel:
    """Return the header: what is played is what the back row must read."""
    tempo = header_panel(frame, "", (Value("", bpm_words(view.drill.bpm), "bpm"),))
    size = frame.sizes.large
    room = frame.right - frame.left - text_width("000 bpm", size, bold=True)
    words = shortened(_heading(view), size, room, bold=True)
    heading = Text(
        frame.left, middle_baseline(0, frame.body_top, size), words, size, frame.theme.ink, bold=True
    )
    return replace(tempo, items=(*tempo.items, heading))


def _heading(view: DemonstrationView) -> str:
    """Return what is played just now, in the words that a class reads."""
    if view.taken_over:
        return "your turn"
    if view.stopped_on is not None:
        return stroke_words(view.stopped_on.stroke)
    return (view.showing if view.is_faulty else Showing.CLEAN).value


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
        words = "The hands are silent. R lets them begin anew."
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
    """Return the last clean pass and the last with the fault, one above the other on one axis of time."""
    theme, sizes = frame.theme, frame.sizes
    width = frame.window.width
    items: list[Item] = [Rect(0, top, width, max(1, sizes.px(2)), theme.hair)]
    rows = [(False, Showing.CLEAN.value)]
    if view.showing is not Showing.CLEAN:
        rows.append((True, view.showing.value))
    labels = max(text_width(words, sizes.body) for _, words in rows)
    left = frame.left + labels + 2 * sizes.gap
    row_high = (high - sizes.gap) / len(rows)
    for at, (faulty, words) in enumerate(rows):
        y = top + sizes.gap / 2 + (at + 0.5) * row_high
        baseline = round(y + 0.35 * sizes.body)
        heard = faulty == view.is_faulty
        items.append(
            Text(frame.left, baseline, words, sizes.body, theme.ink if heard else theme.muted, bold=heard)
        )
        items.extend(_row(frame, view, view.compared.get(faulty, ()), left, y))
    return Panel(0, top, width, high, theme.wall, tuple(items))


def _row(
    frame: Frame, view: DemonstrationView, outcomes: Sequence[Outcome], left: float, y: float
) -> list[Item]:
    """Return one pass: a tick where each stroke belongs, its mark where the tap fell."""
    theme, sizes = frame.theme, frame.sizes
    pattern = view.drill.pattern
    beats = min(pattern.beats, MOST_COMPARED_BEATS)
    radius = 13.0 * sizes.unit
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
