"""Make the pictures of a player's progress, and the lines of takes, from the records."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

from trainer.records.library import Library
from trainer.records.progress import PatternPlayed
from trainer.records.rows import TakeRow
from trainer.records.store import Store
from trainer.screen.scenes.chart_of_days import DayValue, day_words
from trainer.screen.scenes.parts import bpm_words
from trainer.screen.scenes.progress import PlayedRow, ProgressPicture, ProgressView
from trainer.screen.scenes.takes import TakeLine
from trainer.screen.window import Window

WITHIN = 0.03  # a tempo this near is the same to a listener: Drake & Botte 1993


def values_of(
    store: Store, player: str, pattern: str, picture: ProgressPicture, at_bpm: Fraction
) -> tuple[DayValue, ...]:
    """Return what a picture shows of a pattern, by day."""
    if picture is ProgressPicture.TEMPO:
        tempi = store.fastest_clean_by_day(player, pattern)
        return tuple(DayValue(each.day, float(each.bpm)) for each in tempi)
    if picture is ProgressPicture.SPREAD:
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
    picture: ProgressPicture,
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
