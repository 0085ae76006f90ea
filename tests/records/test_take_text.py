"""What a row of the records holds, and back without loss."""

from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.records.takes import FEELS, PLAYERS, timelines
from tests.strategies import TEMPI
from trainer.errors import BadRecords, BadSettings
from trainer.judging.take import Tap
from trainer.music.layout import Feel
from trainer.music.timeline import Timeline
from trainer.records.take_text import (
    clean_name,
    clean_words,
    exact_tempo,
    read_day,
    read_feel,
    read_fraction,
    read_spans,
    read_uid,
    shown,
    spans_in_words,
    spans_of_words,
    utc_moment,
    utc_text,
    write_layback,
    write_spans,
)
from trainer.records.tap_codec import tap_of, tap_values


@given(st.integers(1, 8).flatmap(timelines))
def test_tempi_come_back_exactly(timeline: Timeline) -> None:
    rows = write_spans(timeline)
    assert read_spans(rows) == timeline
    assert spans_of_words(spans_in_words(rows)) == rows


@given(FEELS)
def test_feel_comes_back_exactly(feel: Feel) -> None:
    assert read_feel(str(feel.swing), write_layback(feel)) == feel


@given(TEMPI)
def test_a_tempo_of_a_column_is_the_one_that_was_written(bpm: Fraction) -> None:
    assert exact_tempo(float(bpm)) == bpm


@pytest.mark.parametrize(
    "text", ["", "1.5", "1/0", "3/00", "x", "1/2/3", " 1", "9" * 2000, "9" * 9, "1" * 999]
)
def test_what_is_no_fraction_is_refused(text: str) -> None:
    with pytest.raises(BadRecords, match="for a number"):
        read_fraction(text)


def test_tempi_that_do_not_join_are_refused() -> None:
    good = [["0", "0", "60"], ["4", "4", "90"]]
    assert read_spans(good).spans[1].bpm == 90
    with pytest.raises(BadRecords, match="does not begin where"):
        read_spans([good[0], ["4", "5", "90"]])
    for bad in ([], [["0", "0"]], [*good, []], [[str(n), str(n), "60"] for n in range(10_001)]):
        with pytest.raises(BadRecords, match="for the tempi"):
            read_spans(bad)
    with pytest.raises(BadSettings, match="outside 20 to 400"):
        read_spans([["0", "0", "500"]])


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


BAD_MOMENTS = [
    "yesterday", "", "2026-03-01T17:05:00Z", "2026-3-1T17:05:00.000000Z", "2026-03-01T17:05:00.000000+99:00",
    "0001-01-01T00:00:00.000000Z", "9999-12-31T23:59:59.999999Z", "1969-12-31T23:59:59.999999Z",
]  # fmt: skip


@pytest.mark.parametrize("text", BAD_MOMENTS)
def test_what_is_no_moment_of_anybodys_practice_is_refused(text: str) -> None:
    with pytest.raises(BadRecords, match="time of a take"):
        utc_moment(text)


@pytest.mark.parametrize("text", ["0001-01-01", "2300-01-01", "tomorrow", "20260301x"])
def test_what_is_no_day_of_anybodys_practice_is_refused(text: str) -> None:
    with pytest.raises(BadRecords, match="for day"):
        read_day(text)


@pytest.mark.parametrize("text", ["", "a\0b", "\ud800", "../../x", "a" * 65, "=1", "-a", "a b"])
def test_a_uid_is_letters_and_digits(text: str) -> None:
    assert read_uid("0af-_Z") == "0af-_Z"
    with pytest.raises(BadRecords, match="for uid"):
        read_uid(text)


@given(PLAYERS)
def test_a_clean_name_is_clean(name: str) -> None:
    assert clean_name(name) == name


def test_names_are_brought_to_one_form() -> None:
    assert clean_name("  Zoe\u0308\n") == "Zoë"
    assert len(clean_name("x" * 100)) == 40
    assert clean_name("\ud800") == ""


def test_words_are_what_every_file_and_terminal_can_hold() -> None:
    assert clean_words("pad \udc80") == "pad \\udc80"
    assert clean_words("x\x1b]0;owned\x07\x1b[2J\u202ey\n") == "x ]0;owned  [2J y "
    assert len(clean_words("x" * 1000)) == 200


@given(st.text())
def test_a_complaint_repeats_only_what_can_be_printed(text: str) -> None:
    assert shown(text).isprintable()
    assert len(shown(text)) <= 40 * len("\\udc80") + 2


def test_a_tap_may_be_as_uncertain_as_its_four_bytes_hold_and_no_more() -> None:
    most = 2**32 - 1
    assert tap_of((0, "", 0, 0, most)).uncertainty_s == most / 1e6
    for within_us in (most + 1, -1, 1.0, True):
        with pytest.raises(BadRecords, match="for a tap"):
            tap_of((0, "", 0, 0, within_us))
    assert tap_values(Tap(song_s=0.0, uncertainty_s=1e9))[-1] == most


@pytest.mark.parametrize(("digits", "fits"), [(998, True), (999, False), (5_000, False)])
def test_a_fraction_of_a_thousand_signs_is_the_longest(digits: int, fits: bool) -> None:
    text = f"1/{'1' * digits}"
    if fits:
        assert read_fraction(text) == Fraction(1, int("1" * digits))
    else:
        with pytest.raises(BadRecords, match="for a number"):
            read_fraction(text)
