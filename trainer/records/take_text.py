"""Write the names, times, tempi and numbers of a take as text, exactly, and read them back.

Fractions are text such as ``973/10``. What is read is held to what a take can be: every text clean
(printable, UTF-8, of a length that a line can show), every number of a size that can be laid out and judged.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Sequence
from datetime import UTC, date, datetime
from fractions import Fraction
from functools import lru_cache

from trainer.errors import BadRecords
from trainer.music.layout import Feel
from trainer.music.strokes import Kind
from trainer.music.timeline import TempoSpan, Timeline, as_tempo, slot_in_beat
from trainer.practice.settings import LONGEST_NAME

FINEST_TEMPO = 1_000_000
LONGEST_WORDS = 200  # of a device's name or of why a take does not count
LONGEST_SHOWN = 40  # of what a complaint repeats
MOST_SPANS = 10_000  # one for each pass that a drill can have
MOST_DIGITS = 1000  # of an exact second after many changes of tempo; no number of ours comes near
FARTHEST = 10**7  # beats or seconds from beat 0: a hundred days
FIRST_YEAR, LAST_YEAR = 1970, 2199  # in which every system can say the time of any zone
_FRACTION = re.compile(r"-?[0-9]+(?:/[0-9]+)?")
_UID = re.compile(r"[0-9A-Za-z][0-9A-Za-z_-]{0,63}")
_TIME = "%Y-%m-%dT%H:%M:%S.%fZ"


def utc_text(moment: datetime) -> str:
    """Return a moment that knows its time zone as the records write it: UTC, whole microseconds, Z."""
    return moment.astimezone(UTC).strftime(_TIME)


def utc_moment(text: str) -> datetime:
    """Return the moment of a text, in UTC.

    Raises:
        BadRecords: no such moment, or a year in which nobody practises.
    """
    try:
        moment = datetime.strptime(text, _TIME).replace(tzinfo=UTC)
        if FIRST_YEAR <= moment.year <= LAST_YEAR and utc_text(moment) == text:
            return moment
    except ValueError:
        pass
    raise BadRecords(
        f"found {shown(text)} for the time of a take",
        f"write it as 2026-03-01T17:05:00.000000Z, in the years {FIRST_YEAR} to {LAST_YEAR}",
    )


def read_day(text: str) -> int:
    """Return the ordinal of a player's own date.

    Raises:
        BadRecords: no date, or in a year in which nobody practises.
    """
    try:
        day = date.fromisoformat(text)
        if FIRST_YEAR <= day.year <= LAST_YEAR:
            return day.toordinal()
    except ValueError:
        pass
    raise BadRecords(
        f"found {shown(text)} for day",
        f"write the date as 2026-03-01, in the years {FIRST_YEAR} to {LAST_YEAR}",
    )


def read_uid(text: str) -> str:
    """Return what tells a take from all others.

    Raises:
        BadRecords: anything but letters, digits, hyphens and underscores, at most 64.
    """
    if not _UID.fullmatch(text):
        raise BadRecords(f"found {shown(text)} for uid", "write up to 64 letters and digits")
    return text


def new_uid(begun: str, pattern: str, taps: object) -> str:
    """Return what tells a take from all others by what was played and when; no name is in it.

    Args:
        taps: plain values.
    """
    return hashlib.sha256(json.dumps([begun, pattern, taps]).encode()).hexdigest()[:32]


def text_hash(name: str, text: str) -> str:
    """Return what tells a pattern's text from all others."""
    return hashlib.sha256(json.dumps([name, text]).encode()).hexdigest()[:32]


def clean_name(name: str) -> str:
    """Return a player's name as it is kept: one form of each letter, nothing unprintable, 40 characters."""
    letters = "".join(c for c in unicodedata.normalize("NFC", name) if c.isprintable())
    return letters.strip()[:LONGEST_NAME].strip()


def clean_text(text: str) -> str:
    """Return a text that every file can hold: a lone surrogate, as names of files have them, spelt out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def clean_words(text: str) -> str:
    """Return words as every file and terminal can hold them.

    A lone surrogate is spelt out; what cannot be printed is a space; the end of what is too long is cut.
    """
    return "".join(c if c.isprintable() else " " for c in clean_text(text))[:LONGEST_WORDS]


def shown(value: object) -> str:
    """Return what was found as a complaint repeats it: in quotes, printable, at most 40 characters."""
    return f'"{clean_words(str(value)[:LONGEST_SHOWN])}"'


@lru_cache(maxsize=4096)
def exact_tempo(bpm: float) -> Fraction:
    """Return the tempo that a column holds as the nearest binary number; tempi have at most six decimals."""
    return Fraction(bpm).limit_denominator(FINEST_TEMPO)


def read_fraction(text: str) -> Fraction:
    """Return the exact number of a text such as ``973/10``.

    Raises:
        BadRecords: no number, or one farther from nought than anything in a take.
    """
    if len(text) <= MOST_DIGITS and _FRACTION.fullmatch(text) and not re.search(r"/0*$", text):
        number = Fraction(text)
        if abs(number) <= FARTHEST:
            return number
    raise BadRecords(f"found {shown(text)} for a number", "write a whole number or a fraction such as 973/10")


def write_spans(timeline: Timeline) -> list[list[str]]:
    """Return a timeline as plain values: beat, second and beats a minute of each span."""
    return [[str(span.start_beat), str(span.start_s), str(span.bpm)] for span in timeline.spans]


def read_spans(rows: Sequence[Sequence[str]]) -> Timeline:
    """Return the timeline of such values.

    Raises:
        BadRecords: not what :func:`write_spans` gives.
        BadSettings: a tempo outside what can be used.
    """
    if not rows or len(rows) > MOST_SPANS or not all(len(row) == 3 for row in rows):
        raise BadRecords(
            f"found {shown(rows)} for the tempi of a take", "write beat, second and tempo of each"
        )
    spans = [tuple(read_fraction(part) for part in row) for row in rows]
    timeline = Timeline(
        spans=tuple(TempoSpan(start_beat=s[0], start_s=s[1], bpm=as_tempo(s[2])) for s in spans)
    )
    for before, after in zip(timeline.spans, timeline.spans[1:], strict=False):
        joined = before.start_s + (after.start_beat - before.start_beat) * 60 / before.bpm
        if after.start_beat <= before.start_beat or joined != after.start_s:
            raise BadRecords(
                f"the tempo of beat {after.start_beat} does not begin where the one before ends",
                "export the take again",
            )
    return timeline


def spans_in_words(rows: Sequence[Sequence[str]]) -> str:
    """Return the rows of a timeline as one text: parts divided by spaces, rows by semicolons."""
    return ";".join(" ".join(row) for row in rows)


def spans_of_words(text: str) -> list[list[str]]:
    """Return the rows of a timeline from one text."""
    return [span.split(" ") for span in text.split(";")]


def write_layback(feel: Feel) -> str:
    """Return a feel's lay-back as text: ``kind=seconds`` parted by semicolons, empty for none."""
    return ";".join(f"{kind.value}={seconds!r}" for kind, seconds in feel.layback_s)


def read_feel(swing: str, layback: str) -> Feel:
    """Return the feel of its two texts.

    Raises:
        BadRecords: no such kind of stroke, or no number.
        BadSettings: outside what can be used.
    """
    ratio = read_fraction(swing)
    slot_in_beat(2, 1, ratio)
    try:
        parts = [part.rsplit("=", 1) for part in layback.split(";") if part]
        moved = tuple((Kind(kind), float(seconds)) for kind, seconds in parts)
    except ValueError:
        raise BadRecords(f"found {shown(layback)} for a lay-back", "write kind=seconds") from None
    return Feel(swing=ratio, layback_s=moved)
