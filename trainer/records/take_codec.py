"""The one form of a take outside the program: plain values, as JSON has them, without loss.

The records hold it packed (:func:`pack`), the journal line by line, an export as it is, CSV as cells made
from it. A field of a take lives in ``FIELDS`` and nowhere else: its name, how it is written, how it is read
and held to what a take can be, and, where older versions did not write it, what it was then.

Fields (format 1):

- ``uid``: tells it from every other take.  ``player``: a name, empty for none.
- ``begun``: UTC, ISO 8601 to the microsecond, with Z.  ``day``: the player's own date.
- ``pattern``: key of ``patterns`` in an export. In that table ``name``, ``title`` and ``text``, the pattern's
  file as it was.
- ``tempi``: ``[beat, second, beats a minute]`` of each tempo, exact, as text such as ``"973/10"``.
- ``passes``: begun.  ``slots_asked``: slots asked before the end, rests included.
- ``swing``: long to short, exact, as text.  ``lay_back``: ``kind=seconds`` parted by semicolons, or empty.
- ``pocket``: its name.  ``input``, ``sound``: the devices.  ``delay_ms``: taken off each tap already.
- ``placed_by``: what strokes that a microphone heard were placed against, ``click`` or ``delay``; empty of
  taps, which have times of their own, and where it is not known. Older files are without it.
- ``spared``: ``[from, to]`` in microseconds from beat 0 of each stall of the sound; nothing is judged there.
  Files of version 0.2.0 are without it.
- ``click_off``, ``knows_left``, ``simulated``: true or false.  ``not_graded``: why not, or empty.
- ``by_word``: why a turn in a class was disturbed that counts by the teacher's word, or empty. Older files
  are without it.
- ``seconds_played``, ``asked``, ``clean``, ``mean_s``, ``spread_s``: the summary; null where nothing can
  be said.
- ``rungs``: objects with ``bpm`` (exact, as text), ``passes``, ``clean_passes``, ``clean_in_a_row``,
  ``held``, ``asked``, ``clean``, ``taps``, ``mean_s``, ``spread_s``.
- ``taps``: five lists of one length: ``at_us`` (microseconds from beat 0), ``hand`` (nail, thumb, left or
  empty), ``string`` (1 to 5, 0 unknown), ``velocity`` (1 to 127, 0 unknown), ``within_us`` (uncertainty in
  microseconds).
"""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from trainer.errors import BadRecords
from trainer.judging.pocket import Pocket
from trainer.music.layout import MOST_PASSES
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.timeline import as_tempo
from trainer.practice.json_values import Json
from trainer.practice.placed_by import PlacedBy
from trainer.practice.stored_take import MOST_SLOTS, RungPlayed, StoredTake
from trainer.records.plain_fields import MOST, Fields, words_in
from trainer.records.take_text import (
    clean_name,
    clean_text,
    clean_words,
    read_day,
    read_feel,
    read_fraction,
    read_spans,
    read_uid,
    shown,
    spans_of_words,
    utc_moment,
    write_layback,
    write_spans,
)
from trainer.records.tap_codec import spans_of, spans_table, taps_of, taps_table

LARGEST_DELAY_MS = 10_000
LONGEST_WHOLE = 20  # digits
LARGEST_PACKED_BYTES = 32 << 20  # of one take, unpacked; a million taps have less


@dataclass(frozen=True, slots=True)
class TakeField:
    """One field of a take.

    Attributes:
        name: in the plain values.
        write: gives the plain value.
        read: gives what the take holds, under ``attribute``, from the table of plain values.
        attribute: of :class:`~trainer.practice.stored_take.StoredTake`.
        of_cell: gives the plain value from a cell of CSV; what may be refused there is refused by ``read``.
        column: name in CSV, where it is another.
        is_new: whether files of version 0.2.0 are without it; a take of theirs has what is usual.
        is_summary: whether it follows from the rest, and is worked out again from CSV.
    """

    name: str
    write: Callable[[StoredTake], Json]
    read: Callable[[Fields], object]
    attribute: str
    of_cell: Callable[[str], Json] = str
    column: str = ""
    is_new: bool = False
    is_summary: bool = False


def whole_of_cell(cell: str) -> Json:
    """Return the whole number of a cell of CSV, and what is none as it stands, for it to be refused."""
    return int(cell) if len(cell) <= LONGEST_WHOLE and re.fullmatch(r"-?[0-9]+", cell) else cell


def _flag(name: str) -> TakeField:
    def of_cell(cell: str) -> Json:
        return {"0": False, "1": True}.get(cell, cell)

    return TakeField(name, lambda take: bool(getattr(take, name)), lambda f: f.flag(name), name, of_cell)


def _count(name: str, most: int = MOST, *, is_summary: bool = False) -> TakeField:
    def write(take: StoredTake) -> Json:
        return int(getattr(take, name))

    return TakeField(
        name, write, lambda f: f.whole(name, most=most), name, whole_of_cell, is_summary=is_summary
    )


def _words(name: str, attribute: str) -> TakeField:
    return TakeField(
        name, lambda take: clean_words(str(getattr(take, attribute))), lambda f: f.words(name), attribute
    )


def _maybe(name: str) -> TakeField:
    def write(take: StoredTake) -> Json:
        value = getattr(take, name)
        return None if value is None else float(value)

    return TakeField(name, write, lambda f: f.maybe(name), name, is_summary=True)


PLAYER = TakeField(
    "player", lambda take: clean_name(take.player), lambda f: clean_name(f.text("player")), "player"
)
_FEEL = TakeField(
    "swing",
    lambda take: str(take.feel.swing),
    lambda f: read_feel(f.text("swing"), f.text("lay_back")),
    "feel",
)
FIELDS: tuple[TakeField, ...] = (
    TakeField("uid", lambda take: take.uid, lambda f: read_uid(f.text("uid")), "uid"),
    PLAYER,
    TakeField("begun", lambda take: take.begun, lambda f: _begun(f), "begun", column="begun_utc"),
    TakeField(
        "day", lambda take: date.fromordinal(take.day).isoformat(), lambda f: read_day(f.text("day")), "day"
    ),
    TakeField(
        "tempi",
        lambda take: write_spans(take.timeline),
        lambda f: read_spans([words_in(span) for span in f.rows("tempi")]),
        "timeline",
        spans_of_words,
    ),
    _count("passes", MOST_PASSES),
    _count("slots_asked"),
    _FEEL,
    TakeField("lay_back", lambda take: write_layback(take.feel), _FEEL.read, "feel"),
    TakeField("pocket", lambda t: t.pocket.value, lambda f: Pocket.named(f.words("pocket")), "pocket"),
    _words("input", "input_name"),
    _words("sound", "sound"),
    TakeField("delay_ms", lambda take: take.delay_ms, lambda f: _delay(f), "delay_ms", whole_of_cell),
    TakeField(
        "placed_by",
        lambda take: take.placed_by.value,
        lambda f: _placed_by(f),
        "placed_by",
        is_new=True,
    ),
    _flag("click_off"),
    _flag("knows_left"),
    _flag("simulated"),
    _words("not_graded", "not_graded"),
    replace(_words("by_word", "by_word"), is_new=True),
    TakeField(
        "seconds_played",
        lambda t: float(t.seconds_played),
        lambda f: f.number("seconds_played"),
        "seconds_played",
        is_summary=True,
    ),
    _count("asked", is_summary=True),
    _count("clean", is_summary=True),
    _maybe("mean_s"),
    _maybe("spread_s"),
    TakeField(
        "rungs",
        lambda take: [_rung_table(rung) for rung in take.rungs],
        lambda f: tuple(_rung(rung) for rung in f.rows("rungs")),
        "rungs",
        is_summary=True,
    ),
    TakeField(
        "spared",
        lambda take: spans_table(take.spared),
        lambda f: spans_of(f.value("spared")),
        "spared",
        lambda cell: [[whole_of_cell(part) for part in row] for row in spans_of_words(cell)] if cell else [],
        is_new=True,
    ),
    TakeField("taps", lambda take: taps_table(take.taps), lambda f: taps_of(f.value("taps")), "taps"),
)


def take_table(take: StoredTake, fields: Iterable[TakeField] = FIELDS) -> dict[str, Json]:
    """Return a take as plain values, but for its pattern; the module's head documents every field."""
    return {field.name: field.write(take) for field in fields}


def take_of(table: object, pattern: Pattern, **given: Any) -> StoredTake:
    """Return the take of plain values.

    Args:
        given: values of attributes that the table does not hold.

    Raises:
        TrainerError: a field is missing or holds what no take can have; it is named.
    """
    f = Fields(table)
    read: dict[str, Any] = {
        field.attribute: field.read(f)
        for field in FIELDS
        if field.attribute not in given and (f.has(field.name) or not field.is_new)
    }
    return checked_take(StoredTake(pattern=pattern, **read, **given))


def checked_take(take: StoredTake) -> StoredTake:
    """Return a take that can be laid out and judged.

    Raises:
        BadRecords: more passes than a drill can have, or more slots than the passes.
    """
    if take.slots_asked > min(take.passes * len(take.pattern.strokes), MOST_SLOTS):
        raise BadRecords(
            f"found {take.passes} passes with {take.slots_asked} slots asked",
            f"write at most {MOST_PASSES} passes, and the slots in them, at most {MOST_SLOTS}",
        )
    return take


# What a take usually looks like, for zlib to point at (RFC 1950, FDICT): a quarter of the room. What is
# packed needs it to be read, so it stays as it is to the last sign, also when fields come or go.
USUAL_TEXT = (
    b'"midi","pads","Computer keys","default","system default","nail","nail","thumb","thumb","left","",""],'
    b'"string":[3,2,5,1,3,2,5,3,5,2,1,0,0,0],"velocity":[90,80,85,0,0,0,0],"within_us":[1000,1000,0,0,0,0,0,0]}}'
    b'{"uid":"0123456789abcdef","begun":"2026-01-01T00:00:00.000000Z","day":"2026-01-01","tempi":[["0","0","60"]],'
    b'"passes":4,"slots_asked":64,"swing":"1","lay_back":"","pocket":"middle","input":"","sound":"","delay_ms":0,'
    b'"click_off":false,"knows_left":true,"simulated":false,"not_graded":"","seconds_played":10.0,"asked":32,'
    b'"clean":30,"mean_s":0.00,"spread_s":0.01,"rungs":[{"bpm":"60","passes":4,"clean_passes":4,"clean_in_a_row":4,'
    b'"held":true,"asked":32,"clean":30,"taps":32,"mean_s":-0.00,"spread_s":0.01}],"spared":[],'
    b'"taps":{"at_us":[0,500000,1000000],"hand":["nail","thumb","nail","thumb"'
)
_PACKED = tuple(field for field in FIELDS if field is not PLAYER)


def pack(take: StoredTake) -> bytes:
    """Return all of a take but its player and its pattern as compressed JSON: what the records hold.

    A name is not in it, so that it can be changed and taken away in one place.
    """
    text = json.dumps(take_table(take, _PACKED), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    writer = zlib.compressobj(zdict=USUAL_TEXT)
    return writer.compress(text.encode()) + writer.flush()


def unpack(data: bytes, player: str, pattern: Pattern) -> StoredTake:
    """Return the take of what :func:`pack` gave.

    Raises:
        TrainerError: it is damaged.
    """
    try:
        reader = zlib.decompressobj(zdict=USUAL_TEXT)
        text = reader.decompress(data, LARGEST_PACKED_BYTES)
        if not reader.eof:
            raise BadRecords("a take is cut off", "restore the records from a backup")
        table = json.loads(text)
    except (zlib.error, ValueError, RecursionError) as err:
        raise BadRecords("a take is damaged", "restore the records from a backup") from err
    return take_of(table, pattern, player=player)


def pattern_of(name: str, text: str) -> Pattern:
    """Return a pattern from its name and the text of its file as a take was kept with them.

    Raises:
        TrainerError: the text is no pattern's.
    """
    name = clean_words(name)
    if text != clean_text(text):
        raise BadRecords(f"the text of the pattern {shown(name)} is not UTF-8", "export the takes again")
    pattern = read_pattern(text, name=name, source=name)
    return replace(pattern, title=clean_words(pattern.title))


def _begun(f: Fields) -> str:
    begun = f.text("begun")
    utc_moment(begun)
    return begun


def _delay(f: Fields) -> int:
    return f.whole("delay_ms", least=-LARGEST_DELAY_MS, most=LARGEST_DELAY_MS)


def _placed_by(f: Fields) -> PlacedBy:
    found = f.words("placed_by")
    try:
        return PlacedBy(found)
    except ValueError:
        raise BadRecords(f"found {shown(found)} for placed_by", 'write "click", "delay" or nothing') from None


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
        bpm=as_tempo(read_fraction(f.text("bpm"))),
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
