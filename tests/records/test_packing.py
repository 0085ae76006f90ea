"""What a row of the records holds, and back without loss."""

import struct
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.takes import FEELS, PLAYERS, TAPS, a_take, timelines
from tests.strategies import TEMPI
from trainer.errors import BadRecords, BadSettings
from trainer.judging.take import Tap
from trainer.music.layout import Feel
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.records.packing import (
    as_text,
    clean_name,
    exact_tempo,
    pack_taps,
    read_feel,
    read_fraction,
    read_spans,
    uid_of,
    unpack_taps,
    utc_moment,
    utc_text,
    write_layback,
    write_spans,
)


@given(st.lists(TAPS, max_size=20).map(tuple))
def test_taps_come_back_as_they_were(taps: tuple[Tap, ...]) -> None:
    assert unpack_taps(pack_taps(taps)) == taps


def test_a_tap_is_fourteen_bytes_that_anyone_can_read() -> None:
    """The layout written in the module's head, read here by the struct module's own words."""
    tap = Tap(song_s=-0.25, hand=Hand.THUMB, string=5, velocity=90, uncertainty_s=0.004)
    assert struct.unpack("<q I B B", pack_taps([tap])) == (-250_000, 4000, 2 * 8 + 5, 90)


@pytest.mark.parametrize("data", [b"x", bytes(13), bytes(12) + b"\xff\x00"])
def test_damaged_taps_are_refused(data: bytes) -> None:
    with pytest.raises(BadRecords, match="damaged"):
        unpack_taps(data)


@given(st.integers(1, 8).flatmap(timelines))
def test_tempi_come_back_exactly(timeline: Timeline) -> None:
    assert read_spans(write_spans(timeline)) == timeline


@given(FEELS)
def test_feel_comes_back_exactly(feel: Feel) -> None:
    assert read_feel(str(feel.swing), write_layback(feel)) == feel


@given(TEMPI)
def test_a_tempo_of_a_column_is_the_one_that_was_written(bpm: Fraction) -> None:
    assert exact_tempo(float(bpm)) == bpm


@pytest.mark.parametrize("text", ["", "1.5", "1/0", "3/00", "x", "1/2/3", " 1", "9" * 2000])
def test_what_is_no_fraction_is_refused(text: str) -> None:
    with pytest.raises(BadRecords, match="for a number"):
        read_fraction(text)


def test_tempi_that_do_not_join_are_refused() -> None:
    assert read_spans("0 0 60;4 4 90").spans[1].bpm == 90
    with pytest.raises(BadRecords, match="does not begin where"):
        read_spans("0 0 60;4 5 90")
    with pytest.raises(BadRecords, match="for the tempi"):
        read_spans("0 0")
    with pytest.raises(BadSettings, match="outside 20 to 400"):
        read_spans("0 0 500")


def test_a_feel_that_no_drill_can_have_is_refused() -> None:
    with pytest.raises(BadRecords, match="lay-back"):
        read_feel("1", "wave=0.01")
    with pytest.raises(BadSettings, match="swing"):
        read_feel("9", "")
    with pytest.raises(BadSettings, match="lay-back"):
        read_feel("1", "brush=nan")


def test_moments_are_written_in_utc_and_sort_as_text() -> None:
    east = timezone(timedelta(hours=9))
    late, early = datetime(2026, 3, 2, 1, 5, tzinfo=east), datetime(2026, 3, 1, 17, 0, tzinfo=UTC)
    assert utc_text(late) == "2026-03-01T16:05:00.000000Z"
    assert utc_text(late) < utc_text(early)
    assert utc_moment(utc_text(late)) == late
    with pytest.raises(BadRecords, match="time of a take"):
        utc_moment("yesterday")


@given(PLAYERS)
def test_a_clean_name_is_clean(name: str) -> None:
    assert clean_name(name) == name


def test_names_are_brought_to_one_form() -> None:
    assert clean_name("  Zoe\u0308\n") == "Zoë"
    assert len(clean_name("x" * 100)) == 40
    assert clean_name("\ud800") == ""


def test_lone_surrogates_are_spelt_out() -> None:
    assert as_text("pad \udc80") == "pad \\udc80"


def test_takes_have_a_uid_of_their_own_without_the_players_name() -> None:
    assert uid_of(a_take(player="Ann")) == uid_of(a_take(player="Bo"))
    assert len({uid_of(a_take(seed=n, minutes=m)) for n in (1, 2) for m in (0, 1)}) == 4
