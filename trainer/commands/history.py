"""Answer the command that says what was played.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction

from trainer.commands.parsing import Answer, Commands, signed_ms, whole
from trainer.commands.records import add_folder, known_player, opened_file, with_records
from trainer.practice.json_values import Json, milliseconds
from trainer.practice.report import COLUMNS
from trainer.records.progress import DayMinutes, PatternPlayed
from trainer.records.rows import TakeRow
from trainer.records.settings import load_settings
from trainer.records.store import Store
from trainer.records.take_text import utc_moment

LAST_TAKES = 10
WEEK_DAYS = 7
FORMAT = 1


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_history(each)


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryOrder:
    """What ``thumbfall history`` was asked; empty words where nothing was said."""

    player: str = ""
    pattern: str = ""
    most: int = LAST_TAKES
    as_json: bool = False


def history(store: Store, order: HistoryOrder, today: int) -> Answer:
    """Say what a player has played.

    Args:
        today: ordinal of the date.
    """
    players = store.players()
    played = [p for p in store.patterns_played(order.player) if order.pattern in ("", p.name)]
    rows = store.takes(player=order.player, pattern=order.pattern or None, limit=order.most)
    minutes = store.minutes_by_day(order.player, today - WEEK_DAYS + 1)
    goals = {p.name: store.pattern(p.name).goal_bpm for p in played}
    spreads = {p.name: _latest_spread(store, order.player, p) for p in played}
    if order.as_json:
        table: dict[str, Json] = {
            "format": FORMAT,
            "player": order.player,
            "players": list(players),
            "patterns": [_pattern_table(p, goals, spreads) for p in played],
            "minutes": [{"day": _day(d.day), "minutes": round(d.minutes, 3)} for d in minutes],
            "takes": [_take_table(row) for row in rows],
        }
        return Answer(lines=(json.dumps(table, indent=1, ensure_ascii=False),))
    others = [name for name in players if name != order.player]
    notes = (
        (f"Players with takes of their own: {', '.join(others)}; see them with --player.",) if others else ()
    )
    if not rows:
        return Answer(lines=("Nothing is kept yet: play a drill, or import takes.",), notes=notes)
    lines = [
        *(f"{order.player}" for _ in range(bool(order.player))),
        *_pattern_lines(played, goals, spreads),
        "",
        *textwrap.wrap(f"Minutes in the last {WEEK_DAYS} days: {_minute_words(minutes)}", COLUMNS),
        "",
        *_take_lines(rows),
    ]
    return Answer(lines=tuple(lines), notes=notes)


def _minute_words(minutes: Iterable[DayMinutes]) -> str:
    return ", ".join(f"{_day(each.day)} {each.minutes:.1f}" for each in minutes) or "none"


def _latest_spread(store: Store, player: str, played: PatternPlayed) -> float | None:
    """Return the latest day's spread at the fastest clean tempo, in seconds: how steady it is by now."""
    if played.fastest_clean is None:
        return None
    days = store.spread_by_day(player, played.name, played.fastest_clean)
    return days[-1].spread_s if days else None


def _pattern_lines(
    played: Iterable[PatternPlayed], goals: Mapping[str, Fraction], spreads: Mapping[str, float | None]
) -> list[str]:
    each = list(played)
    width = max([len(p.name) for p in each] + [len("pattern")])
    lines = [f"{'pattern':<{width}}  {'takes':>5}  {'clean at':>8}  {'goal':>5}  {'spread':>6}  last played"]
    for p in each:
        spread_s = spreads[p.name]
        lines.append(
            f"{p.name:<{width}}  {p.takes:>5}  {_tempo(p.fastest_clean):>8}  {_tempo(goals[p.name]):>5}  "
            f"{'' if spread_s is None else f'{spread_s * 1000:.0f} ms':>6}  {_day(p.last_day)}"
        )
    return [*lines, "Spread: at the tempo given as clean, on the last day it was played."]


def _take_lines(rows: Iterable[TakeRow]) -> list[str]:
    each = list(rows)
    width = max([len(row.pattern) for row in each] + [len("pattern")])
    lines = [
        f"{'take':>6}  {'begun':<16}  {'pattern':<{width}}  {'tempo':>9}  {'clean':>9}  {'mean':>7}  spread"
    ]
    for row in each:
        tempo = _tempo(row.first_bpm)
        if row.last_bpm != row.first_bpm:
            tempo += f"-{_tempo(row.last_bpm)}"
        mean = "" if row.mean_s is None else signed_ms(row.mean_s)
        spread = "" if row.spread_s is None else f"{row.spread_s * 1000:.0f} ms"
        why = (
            " simulated hands"
            if row.simulated
            else f" not graded: {row.not_graded}"
            if row.not_graded
            else ""
        )
        begun = utc_moment(row.begun).astimezone().strftime("%Y-%m-%d %H:%M")
        clean = f"{row.clean} of {row.asked}"
        line = (
            f"{row.id:>6}  {begun}  {row.pattern:<{width}}  {tempo:>9}  {clean:>9}  {mean:>7}  {spread}{why}"
        )
        lines.append(line.rstrip())
    return lines


def _pattern_table(
    played: PatternPlayed, goals: Mapping[str, Fraction], spreads: Mapping[str, float | None]
) -> dict[str, Json]:
    return {
        "name": played.name,
        "title": played.title,
        "takes": played.takes,
        "last_day": _day(played.last_day),
        "fastest_clean_bpm": None if played.fastest_clean is None else float(played.fastest_clean),
        "goal_bpm": float(goals[played.name]),
        "spread_ms": milliseconds(spreads[played.name]),
    }


def _take_table(row: TakeRow) -> dict[str, Json]:
    return {
        "take": row.id,
        "uid": row.uid,
        "begun": row.begun,
        "day": _day(row.day),
        "pattern": row.pattern,
        "first_bpm": float(row.first_bpm),
        "last_bpm": float(row.last_bpm),
        "passes": row.passes,
        "asked": row.asked,
        "clean": row.clean,
        "mean_ms": milliseconds(row.mean_s),
        "spread_ms": milliseconds(row.spread_s),
        "seconds_played": round(row.seconds_played, 3),
        "input": row.input_name,
        "not_graded": row.not_graded,
        "simulated": row.simulated,
    }


def _tempo(bpm: Fraction | None) -> str:
    return "" if bpm is None else f"{float(bpm):g}"


def _day(ordinal: int) -> str:
    return date.fromordinal(ordinal).isoformat()


def _add_history(each: Commands) -> None:
    parser = each.add_parser("history", help="say what was played: tempi, spread, minutes, the last takes")
    parser.add_argument("--player", metavar="NAME", default=None, help="whose (default: who plays now)")
    parser.add_argument("--pattern", metavar="NAME", default="", help="only this pattern")
    parser.add_argument(
        "--takes",
        metavar="N",
        default=str(LAST_TAKES),
        help=f"how many takes to list (default: {LAST_TAKES})",
    )
    parser.add_argument("--json", action="store_true", help="print numbers for programs instead of words")
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        order = HistoryOrder(
            player=load_settings()[0].player if o.player is None else o.player,
            pattern=o.pattern,
            most=whole(o.takes, "--takes", 0, most=1_000_000),
            as_json=o.json,
        )

        def deed(store: Store) -> Answer:
            known_player(store, o.player)
            return history(store, order, datetime.now().date().toordinal())

        return with_records(opened_file(o.records), deed)

    parser.set_defaults(command=run)
