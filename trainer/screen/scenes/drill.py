"""Show a drill: the moving sheet, the pass and the tempo, and what can be heard."""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.screen.draw import Panel, Scene
from trainer.screen.key_help import helps_of
from trainer.screen.scenes.moved import moved
from trainer.screen.scenes.moving_sheet import SheetView, sheet_panels
from trainer.screen.scenes.page_key import drill_signs, signs_line
from trainer.screen.scenes.parts import (
    Frame,
    Value,
    bpm_words,
    header_panel,
    page,
    status_items,
    steady_sentence,
    tempo_unit,
)

SIGNS_EM = 2.1  # height of the line on the signs, in sizes of its type


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillView(SheetView):
    """A drill as it is at one moment; its attributes are those of the sheet, and two more.

    Attributes:
        explains_signs: whether a line under the sheet says what its signs mean.
        is_turn: whether it ends where it was begun, with no review.
    """

    explains_signs: bool = False
    is_turn: bool = False

    def scene(self) -> Scene:
        """Return the scene that shows it."""
        return drill_scene(self)


def drill_scene(view: DrillView) -> Scene:
    """Return a drill's scene."""
    states = {"paused": view.paused, "exchanged": view.exchanged, "turn": view.is_turn}
    helps = helps_of("drill", states=states)
    # Laid out with every help it can have, so that nothing moves while somebody plays.
    all_helps = helps_of("drill", states={**states, "exchanged": True})
    frame = Frame.of(view.window, is_steady=True, helps=all_helps)
    header = _header(frame, view)
    signs_high = round(SIGNS_EM * frame.sizes.small) if view.explains_signs else 0
    gutter, sheet = sheet_panels(replace(frame, note_top=frame.note_top - signs_high), view)
    signs = (_signs(frame, view, signs_high),) if signs_high else ()
    right = f"{view.climb}    {view.sound}" if view.climb else view.sound
    if view.reading:
        status = steady_sentence(frame, view.reading)
    else:
        status = status_items(frame, view.input_name, view.uncertainty_s, right)
    return page(frame, (header, gutter, sheet, *signs), (), helps, status=status)


def _signs(frame: Frame, view: DrillView, high: int) -> Panel:
    """Return one line on the signs of this figure: on first use nobody knows them."""
    theme, size = frame.theme, frame.sizes.small
    entries = drill_signs(view.pattern, knows_left=view.knows_left)
    line = signs_line(entries, theme, size=size, width=frame.right - frame.left)
    top = frame.note_top - high
    items = tuple(moved(item, frame.left, top + high // 2) for item in line)
    return Panel(0, top, frame.window.width, high, theme.raised, items)


def _header(frame: Frame, view: DrillView) -> Panel:
    # Beside a pupil's name there is no room for the figures a minute.
    tempo_label = "bpm" if view.player else tempo_unit(view.pattern, view.bpm)
    if view.next_bpm is not None and view.next_bpm != view.bpm:
        tempo_label = f"bpm, then {bpm_words(view.next_bpm)}"
    passes = f"{view.pass_index + 1} of {view.passes}" if view.passes else f"{view.pass_index + 1}"
    values = (Value("pass", passes, ""), Value("", bpm_words(view.bpm), tempo_label))
    return header_panel(frame, view.pattern.title, values, who=view.player)
