"""Look back at what was practised: pictures, the takes behind them, and any take once more on the sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.preferences import tempo_after
from trainer.app.progress_of import progress_frame, take_line, usual_tempo, values_of
from trainer.app.recording import local_now
from trainer.app.scenes.replay import ReplayController
from trainer.errors import StoreProblem, TrainerError
from trainer.practice.stored_take import StoredTake
from trainer.records.progress import PatternPlayed
from trainer.records.rows import TakeRow
from trainer.records.store import Store
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.chart_of_days import DayValue
from trainer.screen.scenes.progress import ProgressPicture, ProgressView
from trainer.screen.scenes.takes import TakesView
from trainer.screen.window import Window

LISTED_TAKES = 500  # of one pattern; older ones are in the pictures and in the export


class ProgressController(Controller):
    """The pictures of one player's progress.

    Args:
        player: whose; empty for takes without a name.
        today: ordinal of the date.
    """

    def __init__(self, context: Context, player: str, today: int) -> None:
        self._context = context
        self._player = player
        self._today = today
        self._played: tuple[PatternPlayed, ...] = ()
        self._selected = 0
        self._picture = ProgressPicture.TEMPO
        self._at_bpm: Fraction | None = None
        self._values: tuple[DayValue, ...] = ()
        self.uncovered()

    def view(self, window: Window) -> ProgressView:
        """Return the picture that is up."""
        library = self._context.preferences.library
        return replace(
            progress_frame(window, library, self._played, self._selected, self._today),
            player=self._player,
            picture=self._picture,
            values=self._values,
            at_bpm=self._at_bpm,
        )

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Choose a pattern or a picture, or list the takes."""
        act, value = action.act, action.value
        if act is Act.SELECT and self._played:
            self._selected = min(max(value, 0), len(self._played) - 1)
            self._at_bpm = None
        elif act is Act.SHOW:
            pictures = list(ProgressPicture)
            self._picture = pictures[(pictures.index(self._picture) + value) % len(pictures)]
        elif act is Act.TEMPO and self._at_bpm is not None:
            self._at_bpm = tempo_after(value, self._at_bpm)
        elif act is Act.START:
            if self._played:
                asking(self._context, lambda: self._list_takes(self._played[self._selected]))
            return True
        else:
            return False
        asking(self._context, self._read_values)
        return True

    def uncovered(self) -> None:
        """Read anew: takes may have been forgotten."""
        asking(self._context, self._read)

    def _list_takes(self, played: PatternPlayed) -> None:
        context = self._context
        context.navigation.open(lambda: TakesController(context, self._player, played, self._today))

    def _read(self) -> None:
        self._played = records(self._context).patterns_played(self._player)
        self._selected = min(self._selected, max(len(self._played) - 1, 0))
        self._read_values()

    def _read_values(self) -> None:
        self._values = ()
        if self._played:
            name, store = self._played[self._selected].name, records(self._context)
            if self._at_bpm is None:
                self._at_bpm = usual_tempo(store, self._player, name)
            self._values = values_of(store, self._player, name, self._picture, self._at_bpm)


class TakesController(Controller):
    """The takes of one pattern, the newest first.

    Raises:
        StoreProblem: they cannot be read.
    """

    def __init__(self, context: Context, player: str, played: PatternPlayed, today: int) -> None:
        self._context = context
        self._player = player
        self._pattern = played
        self._today = today
        self._takes: tuple[TakeRow, ...] = ()
        self._chosen = 0
        self._forgotten: StoredTake | None = None
        self._list()

    def view(self, window: Window) -> TakesView:
        """Return the list."""
        return TakesView(
            window=window,
            title=self._pattern.title,
            lines=tuple(take_line(row, self._today) for row in self._takes),
            selected=self._chosen,
            can_undo=self._forgotten is not None,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Choose a take, play it once more, or forget it."""
        act, context, takes = action.act, self._context, self._takes
        if act is Act.SELECT:
            self._chosen = min(max(action.value, 0), max(len(takes) - 1, 0))
        elif act is Act.START:
            if takes:
                asking(context, lambda: self._replay(takes[self._chosen], host_ns))
        elif act is Act.REMOVE and takes:
            asking(context, lambda: self._forget(takes[self._chosen].id))
        elif act is Act.UNDO and self._forgotten is not None:
            asking(context, self._bring_back)
        else:
            return False
        return True

    def _list(self) -> None:
        store = records(self._context)
        self._takes = store.takes(player=self._player, pattern=self._pattern.name, limit=LISTED_TAKES)
        self._chosen = 0

    def _replay(self, row: TakeRow, host_ns: int) -> None:
        context, line = self._context, take_line(row, self._today)
        take = records(context).take(row.id)
        context.navigation.open(lambda: ReplayController(context, take, line, host_ns))

    def _forget(self, take_id: int) -> None:
        at = self._chosen
        self._forgotten = records(self._context).forget_take(take_id)
        self._list()
        self._chosen = min(at, max(len(self._takes) - 1, 0))
        self._context.say("This take is forgotten. U brings it back until you leave the list.")

    def _bring_back(self) -> None:
        if self._forgotten is not None:
            records(self._context).restore_take(self._forgotten)
            self._forgotten = None
            self._list()


def asking(context: Context, deed: Callable[[], None]) -> None:
    """Ask the records; what they cannot give is said, not raised."""
    try:
        deed()
    except TrainerError as problem:
        context.say(str(problem))


def records(context: Context) -> Store:
    """Return the records as they are open now: they may have been mended or begun anew meanwhile.

    Raises:
        StoreProblem: they cannot be used just now.
    """
    if context.store is None:
        raise StoreProblem("the records cannot be read just now", "the program tries again; look later")
    return context.store


def open_progress(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the progress of the player of the settings."""
    if context.store is None:
        context.say("No takes are kept, so there is no progress to show.")
        return
    player, today = context.preferences.settings.player, local_now().date().toordinal()
    context.navigation.open(lambda: ProgressController(context, player, today))
