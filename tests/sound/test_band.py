"""The band: the right notes, on the very frames of the clicks, and never over a limit.

What a bass and a chopped chord do in each meter is common practice, no source; the notes of a chord are
checked against music21, a general music library.
"""

from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sound import spectrum
from tests.sound.helpers import FIVE, FOUR, ONE, chart_of, charted, plan_of
from tests.sound.loudness import loudness
from tests.sound.spectrum import peak_near
from tests.strategies import TEMPI
from trainer.music.chart import Chord
from trainer.music.layout import Feel
from trainer.music.notation import read_pattern
from trainer.music.pattern import Meter, Pattern
from trainer.music.timeline import Timeline
from trainer.music.tuning import note_to_hz
from trainer.sound.band import (
    LOWEST_FIFTH,
    BandNote,
    BandPart,
    band_samples,
    band_score,
    bass_fifth,
    bass_root,
    chop_notes,
)
from trainer.sound.band_voices import bass_wave, brush_wave, chop_wave, drum_wave
from trainer.sound.clicks import ClickVoice
from trainer.sound.gain import CEILING
from trainer.sound.plan import RATE, SoundSettings, plan_for
from trainer.sound.render import make_sounds, render
from trainer.sound.stream_onsets import band_onsets, click_onsets
from trainer.sound.string import PLUCK_S
from trainer.sound.volumes import band_volume_db

G = 7
SIX_MINOR = Chord(degree=6, minor=True)
CHORDS = st.builds(Chord, degree=st.integers(1, 7), shift=st.sampled_from([-1, 0, 1]), minor=st.booleans())
BAND_ALONE = SoundSettings(click=False, left_hand=False, band=True)


def bass_of(score: tuple[tuple[BandNote, ...], ...]) -> list[int | None]:
    return [next((n.notes[0] for n in beat if n.part is BandPart.BASS), None) for beat in score]


def chops_of(score: tuple[tuple[BandNote, ...], ...]) -> list[int | None]:
    return [next((n.slot for n in beat if n.part is BandPart.CHOP), None) for beat in score]


def test_in_two_four_of_four_slots_the_bass_has_root_and_fifth_and_the_chord_answers_between() -> None:
    score = band_score(chart_of((ONE, 4), (FOUR, 4)), G, Meter.TWO_FOUR, 4)
    root, fifth = 31, 38  # G1 and D2
    assert bass_of(score) == [root, fifth, root, fifth, 36, 31, 36, 31]  # C2 and the G1 below it
    assert chops_of(score) == [2] * 8


def test_in_two_four_of_two_slots_the_bass_is_where_the_nail_strikes_and_the_chord_where_it_brushes() -> None:
    """The basic figure takes a whole bar there: strike, wait, brush, thumb."""
    score = band_score(chart_of((ONE, 4), (FOUR, 4)), G, Meter.TWO_FOUR, 2)
    assert bass_of(score) == [31, None, 38, None, 36, None, 31, None]
    assert chops_of(score) == [None, 0] * 4


def test_in_two_four_of_two_slots_a_chord_that_changes_on_the_brush_has_its_root_there() -> None:
    score = band_score(chart_of((ONE, 1), (FOUR, 3)), G, Meter.TWO_FOUR, 2)
    assert bass_of(score) == [31, 36, 31, None]
    assert chops_of(score) == [None, 0, None, 0]


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
        assert bass[int(start)] == bass_root(span.chord, G)


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
def test_every_note_of_the_band_in_two_slots_is_0_frames_from_a_click(
    bpm: Fraction, swing: Fraction, beats_in: int
) -> None:
    pattern = charted((ONE, 4), (FOUR, 2), (FIVE, 2))
    plan = plan_for(
        pattern,
        Timeline.steady(bpm).with_tempo(97, from_beat=Fraction(8)),
        passes=0,
        settings=SoundSettings(band=True),
        feel=Feel(swing=swing),
    )
    first, last = plan.frame_of(Fraction(2 * beats_in)), plan.frame_of(Fraction(2 * beats_in + 6))
    clicks = [o.frame for o in click_onsets(plan, first, last)]
    onsets = band_onsets(plan, first, last)
    assert sorted({o.frame for o in onsets}) == clicks
    assert [o.frame for o in onsets if o.part is BandPart.BASS] == clicks[::2]
    assert [o.frame for o in onsets if o.part is BandPart.CHOP] == clicks[1::2]


FOUR_SLOTS = read_pattern(
    """title = "Four slots"
level = "plain"
step = 1
meter = "2/4"
slots_per_beat = 4
slow_bpm = 60
goal_bpm = 120
bars = "strike 3, rest, brush, thumb, strike 3, rest, brush, thumb"
""",
    name="four-slots",
)


@given(TEMPI, st.sampled_from([Fraction(1), Fraction(3, 2), Fraction(2)]), st.integers(0, 40))
def test_every_bass_note_is_0_frames_from_a_click_and_every_chop_from_its_subdivision(
    bpm: Fraction, swing: Fraction, beats_in: int
) -> None:
    pattern = replace(FOUR_SLOTS, chart=chart_of((ONE, 2)))
    timeline = Timeline.steady(bpm).with_tempo(97, from_beat=Fraction(8))
    sound = SoundSettings(subdivide=True, band=True)
    plan = plan_for(pattern, timeline, passes=0, settings=sound, feel=Feel(swing=swing))
    first = plan.frame_of(Fraction(beats_in))
    last = plan.frame_of(Fraction(beats_in + 5))
    clicks = {o.frame for o in click_onsets(plan, first, last)}
    beats = {plan.frame_of(Fraction(b)) for b in range(beats_in, beats_in + 5)}
    between = {plan.frame_of(b + Fraction(1, 2)) for b in range(beats_in, beats_in + 5)}
    others = {
        plan.frame_of(b + pair + swing / (1 + swing) / 2)
        for b in range(beats_in, beats_in + 5)
        for pair in (Fraction(0), Fraction(1, 2))
    }
    onsets = band_onsets(plan, first, last)
    assert {o.frame for o in onsets if o.part is BandPart.BASS} == beats
    assert beats <= clicks
    assert {o.frame for o in onsets if o.part is BandPart.CHOP} == between
    assert clicks <= beats | between | others


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


@pytest.mark.parametrize("part", BandPart)
@pytest.mark.parametrize("gain_db", [-60.0, -15.0, 0.0])
def test_no_part_begins_with_a_silent_frame(part: BandPart, gain_db: float) -> None:
    samples = band_samples(part, (31, 38, 43) if part is BandPart.CHOP else (31,), gain_db, RATE)
    assert samples[0] != 0
    assert len(samples) <= PLUCK_S * RATE


def test_the_count_in_is_left_to_the_clicks_and_after_the_last_pass_nothing_begins() -> None:
    plan = plan_of("120", pattern=charted((ONE, 2), (FIVE, 2)), settings=BAND_ALONE, passes=2)
    onsets = band_onsets(plan, 0, 60 * RATE)
    assert onsets[0].frame == plan.origin_frame
    assert onsets[-1].frame < plan.frame_of(Fraction(8))
    roots = [o.notes[0] % 12 for o in onsets if o.part is BandPart.BASS]
    assert roots == [7, 2] * 2, "the second pass has the chords of the first"


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


CHARTED = [charted((ONE, 4), (FOUR, 4)), replace(WALTZ, chart=chart_of((ONE, 3)))]


@pytest.mark.parametrize("pattern", CHARTED)
def test_at_the_first_volumes_clicks_and_band_are_hardly_ever_limited(pattern: Pattern) -> None:
    both = plan_of("104", pattern=pattern, settings=SoundSettings(band=True, left_hand=False))
    first = both.origin_frame
    mixed = render(both, first, 20 * RATE).astype(int)
    clicks = render(both.with_settings(SoundSettings(left_hand=False), from_frame=0), first, 20 * RATE)
    band = render(both.with_settings(BAND_ALONE, from_frame=0), first, 20 * RATE)
    away = np.abs(mixed - clicks.astype(int) - band.astype(int))
    assert np.abs(mixed).max() <= CEILING
    assert (away > 1).mean() < 0.01, "each is rounded for itself, and hardly a millisecond is turned down"
    assert away.max() < 0.1 * CEILING, "by less than 1 dB"


@pytest.mark.parametrize("voice", ClickVoice)
@pytest.mark.parametrize("band_volume", [5, 10])
@pytest.mark.parametrize("pattern", CHARTED)
def test_a_click_at_its_first_volume_is_never_masked_by_the_band(
    pattern: Pattern, voice: ClickVoice, band_volume: int
) -> None:
    """In one critical band of hearing a click must have more energy than all else to be heard for sure.

    Source: a tone in noise is heard from about 4 dB under the noise of its critical band on (Moore, An
    Introduction to the Psychology of Hearing; from memory). Asked here: over it, in the band where the
    click is strongest against the players, in the 25 ms after its onset, as both come out of the limiter.
    """
    settings = SoundSettings(click_voice=voice, left_hand=False, band_db=band_volume_db(band_volume))
    band = replace(settings, click=False, count_in=False, band=True)
    plan = plan_of("104", pattern=pattern, settings=settings)
    first = plan.origin_frame
    clicks = render(plan, first, 20 * RATE).mean(axis=1)
    others = render(plan.with_settings(band, from_frame=0), first, 20 * RATE).mean(axis=1)
    for onset in click_onsets(plan, first, first + 19 * RATE):
        at = onset.frame - first
        assert (_energies(clicks[at : at + 1200]) / _energies(others[at : at + 1200])).max() > 2


def _energies(piece: np.ndarray) -> np.ndarray:
    """The energy of a piece in the critical bands round 900, 1000 ... 3100 Hz.

    Their widths are 24.7 (4.37 f / kHz + 1) Hz: Glasberg & Moore 1990, Hearing Research 47:103-138; from
    memory.
    """
    freqs, power = spectrum.power(piece)
    widths = {hz: 24.7 * (4.37 * hz / 1000 + 1) for hz in range(900, 3200, 100)}
    return np.array([power[np.abs(freqs - hz) < wide / 2].sum() + 1e-9 for hz, wide in widths.items()])


LOW, MIDDLE = (28, 31, 34, 36, 39, 42), ((55, 59, 62), (60, 64, 67), (57, 62, 66), (56, 60, 63))


@pytest.mark.parametrize("note", LOW)
def test_a_bass_is_low_and_still_has_what_a_small_loudspeaker_gives_back(note: int) -> None:
    """Source: the sampled basses of tests/benchmarks/voice_study.py have 72 to 96 % below 100 Hz."""
    wave = bass_wave(note, RATE)
    assert spectrum.share(wave, 0, 100) >= 0.6
    assert spectrum.share(wave, 1000, RATE / 2) < 0.1
    assert spectrum.share(wave, 2.5 * note_to_hz(note), 1000) > 0.04


@pytest.mark.parametrize("notes", MIDDLE)
def test_a_chopped_chord_lies_in_the_middle(notes: tuple[int, ...]) -> None:
    """Source: two sampled guitars have 56 and 61 % there (voice_study)."""
    assert spectrum.share(chop_wave(notes, RATE), 200, 1000) >= 0.5


def test_the_brush_lies_above_the_clicks_and_the_drum_below() -> None:
    assert 4000 <= spectrum.centre_hz(brush_wave(RATE)) <= 6000
    assert spectrum.share(brush_wave(RATE), 2400, 2800) < 0.01
    assert spectrum.share(drum_wave(RATE), 0, 800) > 0.95


@pytest.mark.parametrize("note", LOW)
def test_a_bass_is_in_tune(note: int) -> None:
    """Source: equal temperament, 440 * 2**((n - 69) / 12)."""
    hz = note_to_hz(note)
    assert abs(1200 * np.log2(peak_near(bass_wave(note, RATE), hz, RATE) / hz)) < 1.0


def test_the_players_are_balanced_and_everything_together_is_about_minus_twenty() -> None:
    """Source of the measure: ITU-R BS.1770-4. Chop within 3 LU of the bass, drum within 8."""
    pattern = charted((ONE, 4), (FOUR, 2), (FIVE, 2))

    def heard(**more: Any) -> float:
        settings = replace(SoundSettings(click=False, left_hand=False), **more)
        plan = plan_of("104", pattern=pattern, settings=settings)
        return loudness(render(plan, plan.origin_frame, 20 * RATE))

    alone = {part: heard(band=True, band_parts=frozenset({part})) for part in BandPart}
    assert abs(alone[BandPart.CHOP] - alone[BandPart.BASS]) < 3
    assert abs(alone[BandPart.DRUM] - alone[BandPart.BASS]) < 8
    assert -22 < heard(click=True, band=True, strokes=True) < -18
