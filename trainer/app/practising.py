"""Follow one player's evening: what is clean, what is ready, what to play next, and when to rest."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from trainer.app.preferences import Preferences
from trainer.app.recording import Recorder
from trainer.errors import TrainerError
from trainer.music.breaks import Break
from trainer.music.pattern import Pattern
from trainer.music.tune_files import Tune
from trainer.practice.course import Rung, Standing, standings
from trainer.practice.session import Session, Stretch, Suggestion, session_of, suggest
from trainer.screen.scenes.library_preview import LibraryRow

RESUMED_TAKES = 60  # more than fit into the playing between two breaks


class Practising:
    """The course as the player stands in it, and the session; from the app's thread only.

    Args:
        recorder: the records; None when nothing is kept.
        say: takes what the player should be told.
    """

    def __init__(self, chosen: Preferences, recorder: Recorder | None, say: Callable[[str], None]) -> None:
        self._chosen = chosen
        self._recorder = recorder
        self._say = say
        self._session = self._before = Session()
        self._rungs: tuple[Rung, ...] | None = None
        self._of_player = ""
        self._rows: tuple[object, tuple[LibraryRow, ...]] | None = None
        self._suggested: tuple[object, Suggestion | None] | None = None
        self._found: dict[str, Standing] = {}

    def resume(self, host_ns: int, now: datetime) -> None:
        """Go on with the session of a program that was closed a little while ago.

        Args:
            host_ns, now: the same moment by the host clock and by the calendar, with its time zone.
        """
        store = self._recorder.store if self._recorder is not None else None
        if store is None:
            return
        try:
            latest = store.takes(player=self._chosen.settings.player, limit=RESUMED_TAKES)
        except TrainerError as problem:
            self._say(str(problem))
            return
        stretches = []
        for take in reversed(latest):
            ago_s = (now - datetime.fromisoformat(take.begun)).total_seconds()
            start_s = host_ns / 1e9 - ago_s
            if ago_s > 0:
                stretches.append(
                    Stretch(pattern=take.pattern, start_s=start_s, end_s=start_s + take.seconds_played)
                )
        self._session = session_of(stretches)

    def started(self, host_ns: int, pattern: Pattern) -> None:
        """Note that a drill has begun."""
        self._before = self._session
        self._session = self._session.started(host_ns / 1e9, pattern.name)

    def stopped(self, host_ns: int, *, has_played: bool = True) -> None:
        """Note that the drill is over; what was kept of it counts from now on.

        Args:
            has_played: whether anything was tapped; a drill without a tap has not been.
        """
        self._session = self._session.stopped(host_ns / 1e9) if has_played else self._before
        self.forget()

    def forget(self) -> None:
        """Ask the records again when it is wanted next."""
        self._rungs = self._rows = self._suggested = None
        self._found = {}

    def suggestion(self) -> Suggestion | None:
        """Return what to play next; None for nothing."""
        patterns = self._chosen.library.patterns
        asked = (self._session, self._chosen.settings.player)
        if self._suggested is None or self._suggested[0] != asked:
            # Worked out once, not for every frame: years of practice take some milliseconds.
            self._suggested = (asked, suggest(self._session, patterns, self._standings()))
        return self._suggested[1]

    def words(self, host_ns: int) -> str:
        """Return what the session says just now, in a line."""
        return self._session.in_words(host_ns / 1e9, self.suggestion())

    def is_break_due(self, host_ns: int) -> bool:
        """Return whether it is time to rest."""
        return self._session.is_break_due(host_ns / 1e9)

    def is_time_to_rotate(self, host_ns: int) -> bool:
        """Return whether another figure should follow."""
        return self._session.is_time_to_rotate(host_ns / 1e9)

    def standings(self) -> Mapping[str, Standing]:
        """Return how the player stands with all figures, breaks and charts."""
        return self._standings()

    def rows(self) -> tuple[LibraryRow, ...]:
        """Return the shelf that is shown, as the player stands with what is on it."""
        shelves = self._chosen.shelves
        asked = (shelves.shelf, shelves.choice, self._chosen.settings.player)
        if self._rows is None or self._rows[0] != asked:
            self._rows = (asked, self._made_rows())
        return self._rows[1]

    def _made_rows(self) -> tuple[LibraryRow, ...]:
        shelves = self._chosen.shelves
        laid = [(tune, shelves.laid(tune)) for tune in shelves.tunes]
        found = self._standings(*(pattern for _, pattern in laid if pattern is not None))
        return tuple(_row(tune, found.get(shelves.name_of(tune))) for tune, _ in laid)

    def _standings(self, *patterns: Pattern) -> Mapping[str, Standing]:
        """Return how the player stands with the figures and with what is laid, and with these besides.

        Worked out once: years of practice take some hundredths of a second.
        """
        rungs = self._known_rungs()
        if not self._found or any(pattern.name not in self._found for pattern in patterns):
            library = self._chosen.library
            known = {p.name: p for p in (*library.patterns, *library.laid, *patterns)}
            self._found = dict(standings(tuple(known.values()), rungs))
        return self._found

    def _known_rungs(self) -> tuple[Rung, ...]:
        player = self._chosen.settings.player
        if self._rungs is None or player != self._of_player:
            self._rungs, self._of_player = self._read(player), player
            self._found = {}
        return self._rungs

    def _read(self, player: str) -> tuple[Rung, ...]:
        store = self._recorder.store if self._recorder is not None else None
        if store is None:
            return ()
        try:
            return store.clean_rungs(player)
        except TrainerError as problem:
            self._say(str(problem))
            return ()


def _row(tune: Tune, standing: Standing | None) -> LibraryRow:
    step = str(tune.step) if isinstance(tune, Pattern | Break) else ""
    return LibraryRow(
        title=tune.title,
        step_words=step,
        level=tune.level.value if isinstance(tune, Pattern) else "",
        clean=standing is not None and standing.clean_enough,
        fastest_clean_bpm=standing.fastest_clean_bpm if standing is not None else None,
        ready=standing is None or standing.ready,
        ready_words=_standing_words(standing) if standing is not None else "",
    )


def _standing_words(standing: Standing) -> str:
    return "goal reached" if standing.goal_reached else standing.in_words()
