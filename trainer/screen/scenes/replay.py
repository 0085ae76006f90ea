"""Show one take again: the sheet as it was, and which take it is."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.screen.draw import Anchor, Item, Scene, Text
from trainer.screen.key_help import helps_of
from trainer.screen.lettering import shortened, text_width
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.moving_sheet import sheet_panels
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    middle_baseline,
    page,
)
from trainer.screen.scenes.takes import TakeLine
from trainer.screen.window import Window


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplayView:
    """One take played again: the sheet as it was, and which take it is.

    Attributes:
        line: the take.
        placed: what strokes that a microphone heard were placed against, in words; else empty.
        over: whether it is over.
    """

    window: Window
    drill: DrillView
    line: TakeLine
    placed: str = ""
    over: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return replay_scene(self)


def replay_scene(view: ReplayView) -> Scene:
    """Return the scene of a take that is played again."""
    helps = helps_of("replay")
    frame = Frame.of(view.window, is_steady=not view.over, helps=helps)
    values = (Value("", bpm_words(view.drill.bpm), "bpm"),)
    header = header_panel(frame, view.drill.pattern.title, values)
    size = frame.sizes.body
    baseline = middle_baseline(frame.note_top, frame.help_top - frame.note_top, size)
    words = "    ".join(filter(None, (view.line.when, view.line.result, view.placed)))
    spread = view.line.spread
    room = frame.right - frame.left - text_width(spread, size) - frame.sizes.gap
    items: tuple[Item, ...] = (
        Text(frame.left, baseline, shortened(words, size, room), size, frame.theme.ink),
        Text(frame.right, baseline, spread, size, frame.theme.muted, Anchor.RIGHT),
    )
    return page(frame, (header, *sheet_panels(frame, view.drill)), (), helps, status=items)
