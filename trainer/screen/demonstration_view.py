"""Say what the scene of a demonstration needs to know."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trainer.judging.take import Outcome
from trainer.music.layout import Target
from trainer.practice.showing import Showing
from trainer.screen.views import DrillView, Window


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
