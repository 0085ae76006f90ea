"""Look back at what was practised: pictures, the takes behind them, and any take once more on the sheet."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.app.corner import Corner
from trainer.app.playing_again import PlayedAgain
from trainer.app.preferences import tempo_after
from trainer.app.stage import Stage
from trainer.errors import TrainerError
from trainer.practice.stored_take import StoredTake
from trainer.records.library import Library
from trainer.records.progress import PatternPlayed
from trainer.records.rows import TakeRow
from trainer.records.store import Store
from trainer.screen.progress_view import (
    DayValue,
    Picture,
    PlayedRow,
    ProgressView,
    TakeLine,
    TakesView,
)
from trainer.screen.scenes.chart_of_days import day_words
from trainer.screen.scenes.parts import bpm_words
from trainer.screen.views import Act, Action, View, Window

LISTED_TAKES = 500  # of one pattern; older ones are in the pictures and in the export
WITHIN = 0.03  # a tempo this near is the same to a listener: Drake & Botte 1993


def values_of(
    store: Store, player: str, pattern: str, picture: Picture, at_bpm: Fraction
) -> tuple[DayValue, ...]:
    """Return what a picture shows of a pattern, by day."""
    if picture is Picture.TEMPO:
        tempi = store.fastest_clean_by_day(player, pattern)
        return tuple(DayValue(each.day, float(each.bpm)) for each in tempi)
    if picture is Picture.SPREAD:
        spreads = store.spread_by_day(player, pattern, at_bpm, within=WITHIN)
        return tuple(DayValue(each.day, each.spread_s * 1000) for each in spreads)
    return tuple(DayValue(each.day, each.minutes) for each in store.minutes_by_day(player, 0))


def usual_tempo(store: Store, player: str, pattern: str) -> Fraction:
    """Return the tempo at which the spread is looked at first: that of most of the latest takes."""
    tempi = [take.first_bpm for take in store.takes(player=player, pattern=pattern, limit=50)]
    return max(set(tempi), key=lambda bpm: (tempi.count(bpm), bpm)) if tempi else Fraction(60)


def progress_frame(
    window: Window, library: Library, played: tuple[PatternPlayed, ...], selected: int, today: int
) -> ProgressView:
    """Return the view of what was played, without a picture's values."""
    name = played[selected].name if played else ""
    pattern = next((p for p in (*library.patterns, *library.laid) if p.name == name), None)
    return ProgressView(
        window=window,
        rows=tuple(_played_row(each, today) for each in played),
        selected=selected,
        slow=float(pattern.slow_bpm) if pattern is not None else None,
        goal=float(pattern.goal_bpm) if pattern is not None else None,
        today=today,
    )


def progress_view(
    window: Window,
    store: Store,
    library: Library,
    *,
    player: str,
    selected: int,
    picture: Picture,
    today: int,
) -> ProgressView:
    """Return one picture of a player's progress, as a program that has no window wants it."""
    played = store.patterns_played(player)
    name = played[selected].name
    at_bpm = usual_tempo(store, player, name)
    return replace(
        progress_frame(window, library, played, selected, today),
        player=player,
        picture=picture,
        values=values_of(store, player, name, picture, at_bpm),
        at_bpm=at_bpm,
    )


class LookingBack(Corner):
    """The progress of one player.

    Args:
        stage: for the sound, and for what is in the library.
        store: the records.
        player: whose; empty for takes without a name.
        today: ordinal of the date.
    """

    is_returned_to = True

    def __init__(self, stage: Stage, store: Store, player: str, today: int) -> None:
        self._stage = stage
        self._store = store
        self._player = player
        self._today = today
        self._played: tuple[PatternPlayed, ...] = ()
        self._selected = 0
        self._picture = Picture.TEMPO
        self._at_bpm: Fraction | None = None
        self._values: tuple[DayValue, ...] = ()
        self._takes: tuple[TakeRow, ...] | None = None  # while they are listed
        self._chosen_take = 0
        self._forgotten: StoredTake | None = None
        self._again: PlayedAgain | None = None
        self._asking(self._read)

    @property
    def in_time(self) -> bool:  # type: ignore[override]
        """Whether a take is being played."""
        return self._again is not None and not self._again.over

    def view(self, window: Window) -> View:
        """Return whichever of the three is up."""
        if self._again is not None:
            return self._again.view(window)
        if self._takes is not None:
            return TakesView(
                window=window,
                title=self._pattern_title,
                lines=tuple(take_line(row, self._today) for row in self._takes),
                selected=self._chosen_take,
                can_undo=self._forgotten is not None,
            )
        return self._pictures(window)

    def _pictures(self, window: Window) -> ProgressView:
        return replace(
            progress_frame(window, self._stage.chosen.library, self._played, self._selected, self._today),
            player=self._player,
            picture=self._picture,
            values=self._values,
            at_bpm=self._at_bpm,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what is asked for in whichever of the three is up."""
        if self._again is not None:
            return self._act_again(action, host_ns)
        if self._takes is not None:
            return self._act_takes(action, host_ns)
        act, value = action.act, action.value
        if act is Act.SELECT and self._played:
            self._selected = min(max(value, 0), len(self._played) - 1)
            self._at_bpm = None
        elif act is Act.SHOW:
            pictures = list(Picture)
            self._picture = pictures[(pictures.index(self._picture) + value) % len(pictures)]
        elif act is Act.TEMPO and self._at_bpm is not None:
            self._at_bpm = tempo_after(value, self._at_bpm)
        elif act is Act.START:
            self._asking(self._list_takes)
            return True
        else:
            return False
        self._asking(self._read_values)
        return True

    def tick(self, host_ns: int) -> None:
        """Let the take go on."""
        if self._again is not None:
            self._again.tick(host_ns)

    def leave(self) -> None:
        """Fall silent."""
        self._end_again()

    # The pictures

    @property
    def _pattern_name(self) -> str:
        return self._played[self._selected].name if self._played else ""

    @property
    def _pattern_title(self) -> str:
        return self._played[self._selected].title if self._played else ""

    def _read(self) -> None:
        self._played = self._store.patterns_played(self._player)
        self._selected = min(self._selected, max(len(self._played) - 1, 0))
        self._read_values()

    def _read_values(self) -> None:
        self._values = ()
        if self._played:
            if self._at_bpm is None:
                self._at_bpm = usual_tempo(self._store, self._player, self._pattern_name)
            self._values = values_of(
                self._store, self._player, self._pattern_name, self._picture, self._at_bpm
            )

    # The takes

    def _list_takes(self) -> None:
        if self._played:
            self._takes = self._store.takes(
                player=self._player, pattern=self._pattern_name, limit=LISTED_TAKES
            )
            self._chosen_take = 0

    def _act_takes(self, action: Action, host_ns: int) -> bool:
        takes = self._takes
        assert takes is not None
        act = action.act
        if act is Act.SELECT:
            self._chosen_take = min(max(action.value, 0), max(len(takes) - 1, 0))
        elif act is Act.START and takes:
            self._asking(lambda: self._play_again(takes[self._chosen_take], host_ns))
        elif act is Act.REMOVE and takes:
            self._asking(lambda: self._forget(takes[self._chosen_take].id))
        elif act is Act.UNDO and self._forgotten is not None:
            self._asking(self._bring_back)
        elif act is Act.BACK:
            self._takes, self._forgotten = None, None
            self._asking(self._read)
        else:
            return False
        return True

    def _forget(self, take_id: int) -> None:
        at = self._chosen_take
        self._forgotten = self._store.forget_take(take_id)
        self._list_takes()
        self._chosen_take = min(at, max(len(self._takes or ()) - 1, 0))
        self._stage.say("This take is forgotten. U brings it back until you leave the list.")

    def _bring_back(self) -> None:
        if self._forgotten is not None:
            self._store.restore_take(self._forgotten)
            self._forgotten = None
            self._list_takes()

    # One take again

    def _play_again(self, row: TakeRow, host_ns: int) -> None:
        self._again = PlayedAgain(self._stage, self._store.take(row.id), take_line(row, self._today))
        self._again.start(host_ns)

    def _act_again(self, action: Action, host_ns: int) -> bool:
        assert self._again is not None
        if action.act is Act.AGAIN:
            self._again.start(host_ns)
        elif action.act is Act.BACK:
            self._end_again()
        else:
            return False
        return True

    def _end_again(self) -> None:
        if self._again is not None:
            self._stage.speaker.stop()
            self._again = None

    def _asking(self, deed: Callable[[], None]) -> None:
        """Ask the records; what they cannot give is said, not raised."""
        try:
            deed()
        except TrainerError as problem:
            self._stage.say(str(problem))


def take_line(row: TakeRow, today: int) -> TakeLine:
    """Return a take in the words of a list."""
    begun = datetime.datetime.fromisoformat(row.begun).astimezone()
    first, last = bpm_words(row.first_bpm), bpm_words(row.last_bpm)
    tempo = f"{first} bpm" if first == last else f"{first} to {last} bpm"
    return TakeLine(
        when=f"{day_words(row.day, today)}, {begun:%H:%M}",
        tempo=tempo,
        result=f"{row.clean} of {row.asked} as asked"
        if not row.not_graded
        else f"not graded: {row.not_graded}",
        spread=f"spread {row.spread_s * 1000:.0f} ms" if row.spread_s is not None else "",
        counts=not row.not_graded,
    )


def _played_row(played: PatternPlayed, today: int) -> PlayedRow:
    clean = f"clean at {bpm_words(played.fastest_clean)}" if played.fastest_clean else "not clean yet"
    takes = f"{played.takes} take{'s' if played.takes != 1 else ''}"
    when = "today" if played.last_day == today else day_words(played.last_day, today)
    return PlayedRow(title=played.title, words=f"{clean}, {takes}, {when}")
