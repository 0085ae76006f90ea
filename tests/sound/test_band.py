"""The band: the right notes, on the very frames of the clicks, and never over a limit.

What a bass and a chopped chord do in each meter is common practice, no source; the notes of a chord are
checked against music21, a general music library.
"""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import pattern_of
from tests.sound.helpers import plan_of
from tests.strategies import TEMPI
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.layout import Feel
from trainer.music.notation import read_pattern
from trainer.music.pattern import Meter, Pattern
from trainer.music.timeline import Timeline
from trainer.sound.band import (
    LOWEST_FIFTH,
    BandNote,
    Part,
    band_samples,
    band_score,
    bass_fifth,
    bass_root,
    chop_notes,
)
from trainer.sound.level import KNEE
from trainer.sound.plan import RATE, SoundSettings, band_onsets, click_onsets, plan_for
from trainer.sound.render import make_sounds, render
from trainer.sound.string import PLUCK_S

G = 7
ONE, FOUR, FIVE = (Chord(degree=degree) for degree in (1, 4, 5))
SIX_MINOR = Chord(degree=6, minor=True)
CHORDS = st.builds(Chord, degree=st.integers(1, 7), shift=st.sampled_from([-1, 0, 1]), minor=st.booleans())
BAND_ALONE = SoundSettings(click=False, left_hand=False, band=True)


def chart_of(*spans: tuple[Chord, int], key: str = "G") -> Chart:
    return Chart(key=key, spans=tuple(ChordSpan(chord=chord, beats=beats) for chord, beats in spans))


def charted(*spans: tuple[Chord, int], key: str = "G") -> Pattern:
    beats = sum(n for _, n in spans)
    pattern = pattern_of(*["strike 3, rest, brush, thumb"] * (beats // 2))
    return replace(pattern, chart=chart_of(*spans, key=key))


def bass_of(score: tuple[tuple[BandNote, ...], ...]) -> list[int | None]:
    return [next((n.notes[0] for n in beat if n.part is Part.BASS), None) for beat in score]


def chops_of(score: tuple[tuple[BandNote, ...], ...]) -> list[int | None]:
    return [next((n.slot for n in beat if n.part is Part.CHOP), None) for beat in score]


def test_in_two_four_the_bass_has_root_and_fifth_and_the_chord_answers_between() -> None:
    score = band_score(chart_of((ONE, 4), (FOUR, 4)), G, Meter.TWO_FOUR, 2)
    root, fifth = 31, 38  # G1 and D2
    assert bass_of(score) == [root, fifth, root, fifth, 36, 31, 36, 31]  # C2 and the G1 below it
    assert chops_of(score) == [1] * 8


def test_in_three_four_root_and_fifth_take_turns_by_bar_and_the_chord_has_the_other_beats() -> None:
    score = band_score(chart_of((ONE, 9)), G, Meter.THREE_FOUR, 2)
    assert bass_of(score) == [31, None, None, 38, None, None, 31, None, None]
    assert chops_of(score) == [None, 0, 0] * 3


def test_in_four_four_the_chord_has_the_second_and_fourth_beat() -> None:
    score = band_score(chart_of((ONE, 4)), G, Meter.FOUR_FOUR, 2)
    assert bass_of(score) == [31, None, 38, None]
    assert chops_of(score) == [None, 0, None, 0]


def test_in_six_eight_the_chord_comes_on_the_last_third_of_each_beat() -> None:
    score = band_score(chart_of((ONE, 4)), G, Meter.SIX_EIGHT, 3)
    assert bass_of(score) == [31, 38, 31, 38]
    assert chops_of(score) == [2] * 4


@pytest.mark.parametrize("meter", Meter)
def test_wherever_the_chord_changes_the_bass_has_the_new_root(meter: Meter) -> None:
    bars = meter.beats
    chart = chart_of((ONE, 2 * bars - 1), (FIVE, 1), (FOUR, bars + 1), (SIX_MINOR, bars - 1))
    bass = bass_of(band_score(chart, G, meter, 3))
    for start, span in zip(chart.starts, chart.spans, strict=True):
        assert bass[start] == bass_root(span.chord, G)


@given(CHORDS, st.integers(0, 11))
def test_the_notes_are_those_of_the_triad(chord: Chord, key: int) -> None:
    """Outside check: music21's own triad on the same root."""
    music21_chord = pytest.importorskip("music21.chord")
    root = bass_root(chord, key)
    triad = {
        p % 12 for p in music21_chord.Chord([root, root + (3 if chord.minor else 4), root + 7]).normalOrder
    }
    assert {note % 12 for note in chop_notes(chord, key)} == triad
    assert len(chop_notes(chord, key)) == 3
    assert (bass_fifth(chord, key) - root) % 12 == 7
    assert root % 12 == (key + chord.root) % 12
    assert bass_fifth(chord, key) >= LOWEST_FIFTH


@given(TEMPI, st.sampled_from([Fraction(1), Fraction(3, 2), Fraction(2)]), st.integers(0, 40))
def test_every_bass_note_is_0_frames_from_a_click_and_every_chop_from_its_subdivision(
    bpm: Fraction, swing: Fraction, beats_in: int
) -> None:
    pattern = charted((ONE, 4), (FOUR, 2), (FIVE, 2))
    timeline = Timeline.steady(bpm).with_tempo(97, from_beat=Fraction(8))
    sound = SoundSettings(subdivide=True, band=True)
    plan = plan_for(pattern, timeline, passes=0, settings=sound, feel=Feel(swing=swing))
    first = plan.frame_of(Fraction(beats_in))
    last = plan.frame_of(Fraction(beats_in + 5))
    clicks = {o.frame for o in click_onsets(plan, first, last)}
    beats = {plan.frame_of(Fraction(b)) for b in range(beats_in, beats_in + 5)}
    half = swing / (1 + swing)
    between = {plan.frame_of(b + half) for b in range(beats_in, beats_in + 5)}
    onsets = band_onsets(plan, first, last)
    assert {o.frame for o in onsets if o.part is Part.BASS} == beats
    assert beats <= clicks
    assert {o.frame for o in onsets if o.part is Part.CHOP} == between
    assert clicks <= beats | between


def heard(stream: np.ndarray) -> int:
    return int(np.flatnonzero(stream.any(axis=1))[0])


@pytest.mark.parametrize("bpm", ["61", "97.3", "133"])
def test_the_first_rendered_frame_of_the_band_is_the_frame_of_the_click(bpm: str) -> None:
    pattern = charted((ONE, 4))
    click = SoundSettings(count_in=False, left_hand=False)
    alone = replace(BAND_ALONE, count_in=False)
    assert heard(render(plan_of(bpm, pattern=pattern, settings=click), 0, 10 * RATE)) == heard(
        render(plan_of(bpm, pattern=pattern, settings=alone), 0, 10 * RATE)
    )


@pytest.mark.parametrize("part", Part)
@pytest.mark.parametrize("gain_db", [-60.0, -15.0, 0.0])
def test_no_part_begins_with_a_silent_frame(part: Part, gain_db: float) -> None:
    samples = band_samples(part, (31, 38, 43) if part is Part.CHOP else (31,), gain_db, RATE)
    assert samples[0] != 0
    assert len(samples) <= PLUCK_S * RATE


def test_the_count_in_is_left_to_the_clicks_and_after_the_last_pass_nothing_begins() -> None:
    plan = plan_of("120", pattern=charted((ONE, 2), (FIVE, 2)), settings=BAND_ALONE, passes=2)
    onsets = band_onsets(plan, 0, 60 * RATE)
    assert onsets[0].frame == plan.origin_frame
    assert onsets[-1].frame < plan.frame_of(Fraction(8))
    roots = [o.notes[0] % 12 for o in onsets if o.part is Part.BASS]
    assert roots == [7, 2, 2, 9] * 2, "the second pass has the chords of the first"


def test_without_a_chart_there_is_no_band() -> None:
    plan = plan_of("120", settings=BAND_ALONE)
    assert band_onsets(plan, 0, 60 * RATE) == ()


def test_a_key_and_its_octaves_move_every_note_by_the_same_steps() -> None:
    for key in range(12):
        assert bass_root(FOUR, key) % 12 == (key + 5) % 12
        assert [n % 12 for n in sorted(chop_notes(ONE, key), key=lambda n: (n - key) % 12)] == [
            key,
            (key + 4) % 12,
            (key + 7) % 12,
        ]


def test_the_pieces_of_a_band_are_the_whole() -> None:
    plan = plan_of("133", pattern=charted((ONE, 2), (FIVE, 2)), settings=SoundSettings(band=True))
    whole = render(plan, 0, 8 * RATE)
    for frames in (512, 2048, 5000):
        pieces = [render(plan, first, frames) for first in range(0, 8 * RATE, frames)]
        np.testing.assert_array_equal(np.concatenate(pieces)[: 8 * RATE], whole)


def test_sounds_made_ahead_are_all_that_a_band_needs() -> None:
    plan = plan_of("133", pattern=charted((ONE, 2), (FIVE, 2), key="Eb"), settings=BAND_ALONE)
    make_sounds(plan)
    made = band_samples.cache_info().misses
    render(plan, 0, 10 * RATE)
    assert band_samples.cache_info().misses == made


WALTZ = read_pattern(
    """title = "Waltz"
level = "plain"
step = 1
meter = "3/4"
slots_per_beat = 2
slow_bpm = 60
goal_bpm = 120
bars = "strike 3, rest, brush, thumb, brush, thumb"
""",
    name="waltz",
)


@pytest.mark.parametrize("pattern", [charted((ONE, 4), (FOUR, 4)), replace(WALTZ, chart=chart_of((ONE, 3)))])
def test_at_the_usual_volumes_clicks_and_band_never_touch_the_limit_and_the_click_stands_out(
    pattern: Pattern,
) -> None:
    """The click's own range, 800 to 3200 Hz, in the 15 ms after it: at least 3 dB above the band."""
    both = plan_of("104", pattern=pattern, settings=SoundSettings(band=True, left_hand=False))
    first = both.origin_frame
    mixed = render(both, first, 20 * RATE)[:, 0].astype(int)
    clicks = render(both.with_settings(SoundSettings(left_hand=False), from_frame=0), first, 20 * RATE)[:, 0]
    band = render(both.with_settings(BAND_ALONE, from_frame=0), first, 20 * RATE)[:, 0]
    assert np.abs(mixed).max() < KNEE
    np.testing.assert_array_equal(mixed, clicks.astype(int) + band.astype(int))
    for onset in click_onsets(both, first, first + 19 * RATE):
        at = onset.frame - first
        assert _presence(clicks[at : at + 720]) > 2 * _presence(band[at : at + 720])


def _presence(piece: np.ndarray) -> float:
    spectrum = np.abs(np.fft.rfft(piece * np.hanning(1440)[720:], 4096)) ** 2
    hz = np.fft.rfftfreq(4096, 1 / RATE)
    return float(spectrum[(hz > 800) & (hz < 3200)].sum())
