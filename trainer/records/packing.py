"""Turn the parts of a take into what a row of the records can hold, and back, without loss.

Fractions are text such as ``973/10``. Taps are packed one after another, 14 bytes each, little-endian:
microseconds from beat 0 (8, signed), uncertainty in microseconds (4), hand times eight plus string (1;
hands 0 unknown, 1 nail, 2 thumb, 3 left; string 0 unknown, else 1 to 5), velocity (1; 0 unknown).
"""

from __future__ import annotations

import hashlib
import json
import re
import struct
import unicodedata
from collections.abc import Sequence
from datetime import UTC, datetime
from fractions import Fraction
from functools import lru_cache

from trainer.errors import BadRecords
from trainer.judging.matching import microseconds
from trainer.judging.take import Tap
from trainer.music.layout import Feel
from trainer.music.strokes import ALL_STRINGS, Hand, Kind
from trainer.music.timeline import TempoSpan, Timeline, as_tempo, slot_in_beat
from trainer.practice.settings import LONGEST_NAME
from trainer.practice.stored_take import StoredTake

TAP = struct.Struct("<qIBB")
HANDS = (None, Hand.NAIL, Hand.THUMB, Hand.LEFT)
MOST_UNCERTAIN_US = 2**32 - 1
LONGEST_US = 2**62
FINEST_TEMPO = 1_000_000
MOST_SPANS = 100_000
MOST_DIGITS = 1000  # of an exact second after many changes of tempo; no number of ours comes near
_FRACTION = re.compile(r"-?[0-9]+(?:/[0-9]+)?")
_TIME = "%Y-%m-%dT%H:%M:%S.%fZ"


def utc_text(moment: datetime) -> str:
    """Return a moment that knows its time zone as the records write it: UTC, whole microseconds, Z."""
    return moment.astimezone(UTC).strftime(_TIME)


def utc_moment(text: str) -> datetime:
    """Return the moment of a text, in UTC.

    Raises:
        BadRecords: no such moment.
    """
    try:
        return datetime.strptime(text, _TIME).replace(tzinfo=UTC)
    except ValueError:
        raise BadRecords(
            f'found "{text}" for the time of a take', "write it as 2026-03-01T17:05:00.000000Z"
        ) from None


def uid_of(take: StoredTake) -> str:
    """Return what tells a take from all others by what was played and when; no name is in it."""
    words = [take.begun, take.pattern.name, write_spans(take.timeline), pack_taps(take.taps).hex()]
    return hashlib.sha256(json.dumps(words).encode()).hexdigest()[:32]


def text_hash(name: str, text: str) -> str:
    """Return what tells a pattern's text from all others."""
    return hashlib.sha256(json.dumps([name, text]).encode()).hexdigest()[:32]


def clean_name(name: str) -> str:
    """Return a player's name as it is kept: one form of each letter, nothing unprintable, 40 characters."""
    shown = "".join(c for c in unicodedata.normalize("NFC", name) if c.isprintable())
    return shown.strip()[:LONGEST_NAME].strip()


@lru_cache(maxsize=4096)
def exact_tempo(bpm: float) -> Fraction:
    """Return the tempo that a column holds as the nearest binary number; tempi have at most six decimals."""
    return Fraction(bpm).limit_denominator(FINEST_TEMPO)


def as_text(text: str) -> str:
    """Return a text that every file can hold: a lone surrogate, as names of ports have them, spelt out."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def pack_taps(taps: Sequence[Tap]) -> bytes:
    """Return taps as bytes."""
    return b"".join(
        TAP.pack(
            microseconds(tap.song_s),
            min(microseconds(tap.uncertainty_s), MOST_UNCERTAIN_US),
            HANDS.index(tap.hand) * 8 + (tap.string or 0),
            tap.velocity or 0,
        )
        for tap in taps
    )


def unpack_taps(data: bytes) -> tuple[Tap, ...]:
    """Return the taps of bytes.

    Raises:
        BadRecords: not a whole number of taps, or a hand that nobody has.
    """
    try:
        return tuple(
            Tap(
                song_s=at_us / 1e6,
                hand=HANDS[code >> 3],
                string=code & 7 or None,
                velocity=velocity or None,
                uncertainty_s=within_us / 1e6,
            )
            for at_us, within_us, code, velocity in TAP.iter_unpack(data)
        )
    except (struct.error, LookupError):
        raise BadRecords("the taps of a take are damaged", "restore the records from a backup") from None


def checked_tap(at_us: int, hand: str, string: int, velocity: int, within_us: int) -> Tap:
    """Return a tap from the numbers of a file; 0 and an empty word mean unknown.

    Raises:
        BadRecords: a number or a word outside what a tap can have.
    """
    known = {"": None} | {each.value: each for each in HANDS if each is not None}
    fits = (
        abs(at_us) < LONGEST_US
        and hand in known
        and string in (0, *ALL_STRINGS)
        and 0 <= velocity <= 127
        and 0 <= within_us <= MOST_UNCERTAIN_US
    )
    if not fits:
        raise BadRecords(
            f'found the tap {at_us}, "{hand}", {string}, {velocity}, {within_us}',
            "write microseconds, a hand or nothing, a string to 5, a velocity to 127, microseconds",
        )
    return Tap(
        song_s=at_us / 1e6,
        hand=known[hand],
        string=string or None,
        velocity=velocity or None,
        uncertainty_s=within_us / 1e6,
    )


def read_fraction(text: str) -> Fraction:
    """Return the exact number of a text such as ``973/10``.

    Raises:
        BadRecords: no number.
    """
    if len(text) <= MOST_DIGITS and _FRACTION.fullmatch(text) and not re.search(r"/0*$", text):
        return Fraction(text)
    raise BadRecords(f'found "{text[:40]}" for a number', "write a whole number or a fraction such as 973/10")


def write_spans(timeline: Timeline) -> str:
    """Return a timeline as text: ``beat second bpm`` of each span, parted by semicolons."""
    return ";".join(f"{span.start_beat} {span.start_s} {span.bpm}" for span in timeline.spans)


def read_spans(text: str) -> Timeline:
    """Return the timeline of a text.

    Raises:
        BadRecords: not what :func:`write_spans` gives.
        BadSettings: a tempo outside what can be used.
    """
    spans = [tuple(read_fraction(part) for part in span.split(" ")) for span in text.split(";")]
    if not all(len(span) == 3 for span in spans) or len(spans) > MOST_SPANS:
        raise BadRecords(
            f'found "{text[:40]}" for the tempi of a take', "write beat, second and tempo of each"
        )
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
        raise BadRecords(f'found "{layback[:40]}" for a lay-back', "write kind=seconds") from None
    return Feel(swing=ratio, layback_s=moved)
