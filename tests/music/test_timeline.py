"""When things fall: exact beats, seconds and frames."""

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.strategies import TEMPI, patterns
from trainer.errors import BadSettings
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Meter, Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline, as_tempo, count_in_beats, slot_in_beat
from trainer.music.tuning import OPEN_G, Tuning, note_to_hz

RATE = 48_000
BEATS = st.fractions(min_value=-16, max_value=4000, max_denominator=48)


@pytest.mark.parametrize(("bpm", "frames"), [(120, 22050), (140, 18900), (90, 29400), (125, 21168)])
def test_whole_beats_fall_on_the_frames_of_plain_arithmetic(bpm: int, frames: int) -> None:
    """Source: 44100 * 60 / bpm, worked in the reference values, section 12."""
    timeline = Timeline.steady(bpm)
    assert [timeline.frame(Fraction(n), 44_100) for n in range(-4, 5)] == [n * frames for n in range(-4, 5)]


def test_a_tempo_that_does_not_divide_the_rate_never_drifts() -> None:
    """110 bpm at 44.1 kHz is 24054.545… frames a beat: the nth is n times that, rounded once."""
    timeline = Timeline.steady(110)
    for n in range(0, 20_000, 7):
        exact = Fraction(44_100 * 60 * n, 110)
        assert abs(timeline.frame(Fraction(n), 44_100) - exact) <= Fraction(1, 2)


@given(TEMPI, TEMPI, st.fractions(0, 64, max_denominator=12), st.fractions(-8, 200, max_denominator=60))
def test_a_frame_is_the_exact_second_rounded_once(
    one: Fraction, other: Fraction, change: Fraction, beat: Fraction
) -> None:
    """The formula itself, in fractions, against the whole numbers that are used."""
    timeline = Timeline.steady(one).with_tempo(other, from_beat=change)
    for rate in (44_100, 48_000):
        assert timeline.frame(beat, rate) == math.floor(timeline.exact_seconds(beat) * rate + Fraction(1, 2))


@given(TEMPI, TEMPI, st.integers(1, 64), BEATS)
def test_beats_come_back_from_seconds(first: Fraction, second: Fraction, at: int, beat: Fraction) -> None:
    timeline = Timeline.steady(first).with_tempo(second, from_beat=Fraction(at))
    assert timeline.beat(timeline.seconds(beat)) == pytest.approx(float(beat), abs=1e-8)


@given(TEMPI, TEMPI, st.integers(1, 64))
def test_a_tempo_change_leaves_what_came_before(first: Fraction, second: Fraction, at: int) -> None:
    steady, changed = (
        Timeline.steady(first),
        Timeline.steady(first).with_tempo(second, from_beat=Fraction(at)),
    )
    for beat in (Fraction(-3), Fraction(0), Fraction(at) - Fraction(1, 7), Fraction(at)):
        assert changed.exact_seconds(beat) == steady.exact_seconds(beat)
    gained = changed.exact_seconds(Fraction(at + 1)) - changed.exact_seconds(Fraction(at))
    assert gained == 60 / second


def test_a_change_before_the_first_anchor_replaces_the_tempo() -> None:
    assert Timeline.steady(60).with_tempo(90, from_beat=Fraction(0)) == Timeline.steady(90)


def test_a_later_change_is_dropped_by_an_earlier_one() -> None:
    late = Timeline.steady(60).with_tempo(90, from_beat=Fraction(8))
    both = late.with_tempo(120, from_beat=Fraction(4))
    assert both == Timeline.steady(60).with_tempo(120, from_beat=Fraction(4))


@pytest.mark.parametrize(
    ("ratio", "place"), [("1", "1/2"), ("3/2", "3/5"), ("2", "2/3"), ("3", "3/4"), ("7/2", "7/9")]
)
def test_swing_puts_the_up_slot_at_r_over_one_plus_r(ratio: str, place: str) -> None:
    """Source: the ratio of long to short, Friberg & Sundstrom 2002."""
    assert slot_in_beat(2, 1, Fraction(ratio)) == Fraction(place)
    assert slot_in_beat(2, 0, Fraction(ratio)) == 0
    assert slot_in_beat(4, 3, Fraction(ratio)) == Fraction(1, 2) + Fraction(place) / 2
    assert slot_in_beat(3, 1, Fraction(ratio)) == Fraction(1, 3)


def test_a_swing_no_one_plays_is_refused() -> None:
    for ratio in (Fraction(1, 2), Fraction(5)):
        with pytest.raises(BadSettings, match="outside 1 to 4"):
            slot_in_beat(2, 1, ratio)


@pytest.mark.parametrize("bad", ["fast", "1/0", 19, 400.5, "nan"])
def test_a_tempo_out_of_reach_is_refused(bad: object) -> None:
    with pytest.raises(BadSettings):
        as_tempo(bad)  # type: ignore[arg-type]


def test_the_count_in_is_whole_bars_of_at_least_three_beats() -> None:
    assert {m.value: count_in_beats(m) for m in Meter} == {"2/4": 4, "3/4": 3, "4/4": 4, "6/8": 4, "9/8": 3}


@given(patterns(most_bars=3), TEMPI, st.integers(1, 4))
def test_layouts_made_in_pieces_fit_together(pattern: Pattern, bpm: Fraction, passes: int) -> None:
    timeline = Timeline.steady(bpm)
    whole = lay_out(pattern, timeline, passes=passes)
    pieces = [t for p in range(passes) for t in lay_out(pattern, timeline, first_pass=p)]
    assert list(whole) == pieces
    assert [t.index for t in whole] == list(range(passes * len(pattern.strokes)))
    assert [t.song_s for t in whole] == sorted(t.song_s for t in whole)


@given(patterns(most_bars=2), TEMPI)
def test_lay_back_moves_only_its_kind(pattern: Pattern, bpm: Fraction) -> None:
    timeline = Timeline.steady(bpm)
    moved = lay_out(pattern, timeline, feel=Feel(layback_s=((Kind.BRUSH, 0.025),)))
    for plain, late in zip(lay_out(pattern, timeline), moved, strict=True):
        shift = 0.025 if plain.stroke.kind is Kind.BRUSH else 0.0
        assert late.song_s - plain.song_s == pytest.approx(shift, abs=1e-12)
        assert late.beat == plain.beat


def test_a_lay_back_beyond_feel_is_refused() -> None:
    with pytest.raises(BadSettings, match="outside -80 to 80"):
        Feel(layback_s=((Kind.BRUSH, 0.2),))


@pytest.mark.parametrize(
    ("note", "hz"),
    [
        (69, 440.0),
        (60, 261.6256),
        (67, 391.9954),
        (50, 146.8324),
        (55, 195.9977),
        (59, 246.9417),
        (62, 293.6648),
    ],
)
def test_notes_have_their_equal_tempered_pitch(note: int, hz: float) -> None:
    """Source: f = 440 * 2**((m - 69) / 12), as in mir_eval.util.midi_to_hz."""
    assert note_to_hz(note) == pytest.approx(hz, abs=5e-5)


def test_note_to_hz_agrees_with_mir_eval() -> None:
    mir_eval = pytest.importorskip("mir_eval")
    for note in range(128):
        assert note_to_hz(note) == pytest.approx(float(mir_eval.util.midi_to_hz(note)), rel=1e-12)


def test_a_capo_raises_every_string() -> None:
    assert Tuning(capo=2).notes == OPEN_G.notes
    assert [Tuning(capo=2).note(s) - OPEN_G.note(s) for s in range(1, 6)] == [2] * 5
