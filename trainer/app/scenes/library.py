"""Go through the library: its shelves, what is chosen there, and what a drill of it would begin with."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.gestures import pads_help
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.scenes.naming import written
from trainer.screen.actions import Act, Action
from trainer.screen.key_help import gestures_of
from trainer.screen.scenes.library import LibraryView
from trainer.screen.window import Window


class LibraryController(Controller):
    """The lowest of all scenes: what there is to play."""

    hears_pads = True
    gestures = gestures_of("library")

    def __init__(self, context: Context) -> None:
        self._context = context
        self._finding: str | None = None  # what has been typed of a title; None while nobody types
        self._before = ""  # what was chosen before

    @property
    def is_tapped_in(self) -> bool:  # type: ignore[override]
        """Whether the keys are tapped on: while a title is typed they are letters."""
        return self._finding is None

    @property
    def wants_text(self) -> bool:
        """Whether a title is being typed."""
        return self._finding is not None

    def view(self, window: Window) -> LibraryView:
        """Return the shelf that is open."""
        context, preferences = self._context, self._context.preferences
        problems = tuple(str(problem).split("\n")[0] for problem in preferences.library.problems)
        return LibraryView(
            window=window,
            shelf=preferences.shelves.shelf,
            rows=context.practising.rows(),
            selected=preferences.selected,
            preview=preferences.pattern,
            choice=preferences.shelves.choice,
            finding=self._finding,
            ladder=preferences.settings.ladder if preferences.climbs else "",
            player=preferences.settings.player,
            suggestion=context.practising.words(context.now_ns),
            break_due=context.practising.is_break_due(context.now_ns),
            pads_help=pads_help(context),
            bpm=context.own_track.played_bpm or preferences.bpm,
            track=context.own_track.words,
            passes=preferences.settings.passes,
            input_name=context.inputs.in_use,
            sound=context.sound_words,
            problems=problems + preferences.library.remarks,
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - a drill is begun by the application
        """Choose, or change what a drill would begin with."""
        act, value = action.act, action.value
        if self._finding is not None and act in (Act.FIND, Act.BACK, Act.REMOVE):
            self._end_or_take_back(act)
            return True
        context, preferences = self._context, self._context.preferences
        if act is Act.SELECT:
            context.keep(lambda: preferences.select(value))
        elif act is Act.SCROLL:
            context.keep(lambda: preferences.select(preferences.selected + value))
        elif act is Act.SHELF:
            preferences.shelves.step_shelf(value)
            context.keep(preferences.remember_chosen)
        elif act is Act.CHOICE:
            preferences.shelves.step_choice(value)
            context.keep(preferences.remember_chosen)
        elif act is Act.NEXT_SUGGESTED:
            suggestion = context.practising.suggestion()
            if suggestion is not None and preferences.shelves.choose(suggestion.pattern):
                context.keep(preferences.remember_chosen)
        elif act is Act.FIND:
            self._finding, self._before = "", preferences.pattern.name if preferences.pattern else ""
        elif act is Act.CHANGE:
            context.change(action.setting, value)
        elif act in TEMPO_ACTS:
            context.change_tempo(preferences.pattern, preferences.bpm, action)
        elif act is Act.PASSES:
            context.change("passes", value)
        else:
            return False
        return True

    def typed(self, text: str) -> None:
        """Go to the first title with what has been typed."""
        if self._finding is not None:
            self._find(written(self._finding, text))

    def covered(self) -> None:
        """Type no more."""
        self._finding = None

    def _find(self, typed: str) -> None:
        self._finding = typed
        preferences = self._context.preferences
        if preferences.shelves.find_title(typed):
            self._context.keep(preferences.remember_chosen)

    def _end_or_take_back(self, act: Act) -> None:
        assert self._finding is not None
        if act is Act.REMOVE:
            self._find(self._finding[:-1])
            return
        self._finding = None
        preferences = self._context.preferences
        if act is Act.BACK and preferences.shelves.choose(self._before):
            self._context.keep(preferences.remember_chosen)
