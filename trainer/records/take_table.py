"""Turn a take into plain values for JSON and back, without loss.

Fields of a take (format 1):

- ``uid``: tells it from every other take.  ``player``: a name, empty for none.
- ``begun``: UTC, ISO 8601 to the microsecond, with Z.  ``day``: the player's own date.
- ``pattern``: key of ``patterns`` in the file.  In that table ``name``, ``title`` and ``text``, the pattern's
  file as it was.
- ``tempi``: ``[beat, second, beats a minute]`` of each tempo, exact, as text such as ``"973/10"``.
- ``passes``: begun.  ``slots_asked``: slots asked before the end, rests included.
- ``swing``: long to short, exact, as text.  ``lay_back``: ``kind=seconds`` parted by semicolons, or empty.
- ``pocket``: its name.  ``input``, ``sound``: the devices.  ``delay_ms``: taken off each tap already.
- ``click_off``, ``knows_left``, ``simulated``: true or false.  ``not_graded``: why not, or empty.
- ``seconds_played``, ``asked``, ``clean``, ``mean_s``, ``spread_s``: the summary; null where nothing can
  be said.
- ``rungs``: objects with ``bpm`` (exact, as text), ``passes``, ``clean_passes``, ``clean_in_a_row``,
  ``held``, ``asked``, ``clean``, ``taps``, ``mean_s``, ``spread_s``.
- ``taps``: five lists of one length: ``at_us`` (microseconds from beat 0), ``hand`` (nail, thumb, left or
  empty), ``string`` (1 to 5, 0 unknown), ``velocity`` (1 to 127, 0 unknown), ``within_us`` (uncertainty in
  microseconds).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date
from typing import NoReturn, TypeGuard

from trainer.errors import BadRecords
from trainer.judging.matching import microseconds
from trainer.judging.pocket import Pocket
from trainer.judging.take import Tap
from trainer.music.layout import MOST_PASSES
from trainer.music.pattern import Pattern
from trainer.practice.json_values import Json
from trainer.practice.stored_take import RungPlayed, StoredTake
from trainer.records.packing import (
    as_text,
    checked_tap,
    clean_name,
    read_feel,
    read_fraction,
    read_spans,
    utc_moment,
    write_layback,
    write_spans,
)

MOST = 2**53  # beyond, other readers of JSON round whole numbers
TAP_LISTS = ("at_us", "hand", "string", "velocity", "within_us")


def take_table(take: StoredTake, pattern_key: str) -> dict[str, Json]:
    """Return a take as plain values; the module's head documents every field."""
    return {
        "uid": take.uid,
        "player": clean_name(take.player),
        "begun": take.begun,
        "day": date.fromordinal(take.day).isoformat(),
        "pattern": pattern_key,
        "tempi": [span.split(" ") for span in write_spans(take.timeline).split(";")],
        "passes": take.passes,
        "slots_asked": take.slots_asked,
        "swing": str(take.feel.swing),
        "lay_back": write_layback(take.feel),
        "pocket": take.pocket.value,
        "input": as_text(take.input_name),
        "sound": as_text(take.sound),
        "delay_ms": take.delay_ms,
        "click_off": take.click_off,
        "knows_left": take.knows_left,
        "simulated": take.simulated,
        "not_graded": as_text(take.not_graded),
        "seconds_played": take.seconds_played,
        "asked": take.asked,
        "clean": take.clean,
        "mean_s": take.mean_s,
        "spread_s": take.spread_s,
        "rungs": [_rung_table(rung) for rung in take.rungs],
        "taps": taps_table(take.taps),
    }


def taps_table(taps: Sequence[Tap]) -> dict[str, Json]:
    """Return taps as five lists of one length."""
    rows = [tap_values(tap) for tap in taps]
    return {name: [row[at] for row in rows] for at, name in enumerate(TAP_LISTS)}


def tap_values(tap: Tap) -> tuple[int, str, int, int, int]:
    """Return a tap as the five values that :func:`checked_tap` reads."""
    hand = tap.hand.value if tap.hand is not None else ""
    return (
        microseconds(tap.song_s), hand, tap.string or 0, tap.velocity or 0, microseconds(tap.uncertainty_s),
    )  # fmt: skip


def take_of(table: object, patterns: Mapping[str, Pattern]) -> StoredTake:
    """Return the take of plain values.

    Args:
        patterns: the patterns of the file by their keys.

    Raises:
        TrainerError: a field is missing or holds what no take can have; it is named.
    """
    f = Fields(table)
    key = f.text("pattern")
    if key not in patterns:
        f.fail("pattern", "name one of the file's patterns")
    begun = f.text("begun")
    utc_moment(begun)
    take = StoredTake(
        uid=f.text("uid"),
        player=clean_name(f.text("player")),
        begun=begun,
        day=_day(f),
        pattern=patterns[key],
        timeline=read_spans(";".join(" ".join(f.words(span)) for span in f.rows("tempi"))),
        passes=f.whole("passes"),
        slots_asked=f.whole("slots_asked"),
        feel=read_feel(f.text("swing"), f.text("lay_back")),
        pocket=Pocket.named(f.text("pocket")),
        input_name=f.text("input"),
        sound=f.text("sound"),
        delay_ms=f.whole("delay_ms", least=-MOST),
        click_off=f.flag("click_off"),
        knows_left=f.flag("knows_left"),
        simulated=f.flag("simulated"),
        not_graded=f.text("not_graded"),
        seconds_played=f.number("seconds_played"),
        asked=f.whole("asked"),
        clean=f.whole("clean"),
        mean_s=f.maybe("mean_s"),
        spread_s=f.maybe("spread_s"),
        rungs=tuple(_rung(rung) for rung in f.rows("rungs")),
        taps=taps_of(f.value("taps")),
    )
    return checked_take(take)


def checked_take(take: StoredTake) -> StoredTake:
    """Return a take that can be laid out and judged.

    Raises:
        BadRecords: more passes than a drill can have, or more slots than the passes.
    """
    if not 0 <= take.passes <= MOST_PASSES or take.slots_asked > take.passes * len(take.pattern.strokes):
        raise BadRecords(
            f"found {take.passes} passes with {take.slots_asked} slots asked",
            f"write at most {MOST_PASSES} passes and the slots in them",
        )
    return take


def taps_of(table: object) -> tuple[Tap, ...]:
    """Return the taps of five lists.

    Raises:
        BadRecords: a list is missing or of another length, or a value is one that no tap has.
    """
    f = Fields(table)
    lists = [f.rows(name) for name in TAP_LISTS]
    if len({len(each) for each in lists}) > 1:
        f.fail("at_us", "make the five lists of the taps equally long")
    return tuple(tap_of(values) for values in zip(*lists, strict=True))


def tap_of(values: Sequence[object]) -> Tap:
    """Return the tap of its five values.

    Raises:
        BadRecords: not five, or a value is one that no tap has.
    """
    if len(values) == 5:
        at_us, hand, string, velocity, within_us = values
        if (
            isinstance(hand, str)
            and is_whole(at_us)
            and is_whole(string)
            and is_whole(velocity)
            and is_whole(within_us)
        ):
            return checked_tap(at_us, hand, string, velocity, within_us)
    raise BadRecords(f"found {str(list(values))[:60]} for a tap", "write its five values")


class Fields:
    """A table of plain values that is read field by field; what does not fit is named."""

    def __init__(self, table: object) -> None:
        if not isinstance(table, dict):
            raise BadRecords(f"found {str(table)[:40]!r} where a table should be", "export the takes again")
        self._table = table

    def value(self, name: str) -> object:
        """Return a field of any kind."""
        if name not in self._table:
            raise BadRecords(f"the field {name} is missing", "export the takes again")
        return self._table[name]

    def fail(self, name: str, remedy: str) -> NoReturn:
        """Refuse a field."""
        raise BadRecords(f"found {str(self._table.get(name))[:40]!r} for {name}", remedy)

    def text(self, name: str) -> str:
        """Return words."""
        value = self.value(name)
        if not isinstance(value, str):
            self.fail(name, "write words in quotes")
        return value

    def whole(self, name: str, *, least: int = 0) -> int:
        """Return a whole number."""
        value = self.value(name)
        if not is_whole(value) or not least <= value <= MOST:
            self.fail(name, f"write a whole number from {least}")
        return value

    def number(self, name: str) -> float:
        """Return a number that is finite."""
        value = self.maybe(name)
        if value is None:
            self.fail(name, "write a number")
        return value

    def maybe(self, name: str) -> float | None:
        """Return a number that is finite, or None for null."""
        value = self.value(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            self.fail(name, "write a number or null")
        return float(value)

    def flag(self, name: str) -> bool:
        """Return true or false."""
        value = self.value(name)
        if not isinstance(value, bool):
            self.fail(name, "write true or false")
        return value

    def rows(self, name: str) -> list[object]:
        """Return a list of anything."""
        value = self.value(name)
        if not isinstance(value, list):
            self.fail(name, "write a list")
        return value

    def words(self, value: object) -> list[str]:
        """Return a list of words that is inside a field."""
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise BadRecords(f"found {str(value)[:40]!r} where a list of words should be", "export it again")
        return value


def is_whole(value: object) -> TypeGuard[int]:
    """Return whether a value of JSON is a whole number; true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)


def _day(f: Fields) -> int:
    try:
        return date.fromisoformat(f.text("day")).toordinal()
    except ValueError:
        f.fail("day", "write the date as 2026-03-01")


def _rung_table(rung: RungPlayed) -> dict[str, Json]:
    return {
        "bpm": str(rung.bpm),
        "passes": rung.passes,
        "clean_passes": rung.clean_passes,
        "clean_in_a_row": rung.clean_in_a_row,
        "held": rung.held,
        "asked": rung.asked,
        "clean": rung.clean,
        "taps": rung.taps,
        "mean_s": rung.mean_s,
        "spread_s": rung.spread_s,
    }


def _rung(table: object) -> RungPlayed:
    f = Fields(table)
    return RungPlayed(
        bpm=read_fraction(f.text("bpm")),
        passes=f.whole("passes"),
        clean_passes=f.whole("clean_passes"),
        clean_in_a_row=f.whole("clean_in_a_row"),
        held=f.flag("held"),
        asked=f.whole("asked"),
        clean=f.whole("clean"),
        taps=f.whole("taps"),
        mean_s=f.maybe("mean_s"),
        spread_s=f.maybe("spread_s"),
    )
