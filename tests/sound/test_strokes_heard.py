"""What the rarer strokes and chords sound like: muted, slid into, triplets, pickups, no chord, named bass."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.judging.helpers import pattern_of
from tests.sound.helpers import FIVE, ONE, charted, plan_of
from tests.sound.spectrum import peak_near, share
from trainer.music.chart import NO_CHORD, Chord, Degree
from trainer.music.form import Part
from trainer.music.pattern import Meter
from trainer.music.strokes import Kind, Stroke
from trainer.music.tuning import OPEN_G, note_to_hz
from trainer.sound import band
from trainer.sound.band import band_score, bass_fifth, bass_root
from trainer.sound.left_hand import GLIDE_S, Attack, notes_before
from trainer.sound.plan import RATE, SoundSettings
from trainer.sound.pluck import pluck_samples, stroke_plucks, stroke_samples
from trainer.sound.stream_onsets import pluck_onsets

STRIKE = Stroke(kind=Kind.STRIKE, strings=(3,), fret=2)
TRIPLET = replace(STRIKE, fret=0, triplet=(2, 0))


def test_a_muted_stroke_is_a_short_knock() -> None:
    muted = stroke_samples(replace(STRIKE, fret=None, muted=True), -20.0, RATE).astype(float)
    plain = stroke_samples(replace(STRIKE, fret=0), -20.0, RATE).astype(float)
    late = slice(RATE // 10, RATE // 7)
    assert np.abs(muted[late]).max() < 0.05 * np.abs(plain[late]).max()
    assert share(muted, 140, 5200) > 0.9


def test_a_note_slid_into_begins_at_the_other_fret_and_is_in_tune_after_the_slide() -> None:
    """Source: equal temperament, 440 * 2**((n - 69) / 12)."""
    (pluck,) = stroke_plucks(replace(STRIKE, fret=4, slid_from=2), OPEN_G)
    assert (pluck.attack, pluck.before, pluck.note, pluck.delay_s) == (Attack.SLID_INTO, 57, 59, 0.0)
    wave = pluck_samples(pluck, -12.0, RATE).astype(float)
    hz = note_to_hz(59)
    assert abs(1200 * np.log2(peak_near(wave[round(GLIDE_S * RATE) :], hz, RATE) / hz)) < 1.0


@pytest.mark.parametrize("bpm", ["60", "97.3"])
def test_the_notes_of_a_triplet_part_the_beat_in_three(bpm: str) -> None:
    pattern = pattern_of("strike 3, rest, brush, thumb")
    bar = (TRIPLET, *pattern.bars[0][1:])
    sound = SoundSettings(click=False, strokes=True)
    plan = plan_of(bpm, pattern=replace(pattern, bars=(bar,)), settings=sound, passes=1)
    onsets = [o for o in pluck_onsets(plan, 0, 20 * RATE) if o.pluck.string == 3][:3]
    assert [o.frame for o in onsets] == [plan.frame_of(Fraction(n, 3)) for n in range(3)]
    assert [o.pluck.attack for o in onsets] == [Attack.PLUCKED, Attack.HAMMERED, Attack.PULLED]
    assert [o.pluck.note for o in onsets] == [55, 57, 55]


def test_what_a_string_is_left_at_is_where_the_next_stroke_comes_from() -> None:
    pattern = pattern_of("strike 3, rest, brush, hammer-on 3 fret 4")
    bar = (replace(TRIPLET, triplet=(3, 2)), pattern.bars[0][1], pattern.bars[0][1], pattern.bars[0][3])
    assert notes_before(replace(pattern, bars=(bar,)), OPEN_G)[0][3] == 57


def test_a_tapped_triplet_has_one_note_at_a_time() -> None:
    samples = stroke_samples(TRIPLET, -20.0, RATE, beat_s=0.6)
    first = stroke_samples(replace(TRIPLET, triplet=()), -20.0, RATE)
    np.testing.assert_array_equal(samples[: RATE // 5], first[: RATE // 5])
    assert not np.array_equal(samples[RATE // 5 : RATE // 4], first[RATE // 5 : RATE // 4])


def test_a_pickup_is_heard_in_the_count_in_and_again_before_each_pass() -> None:
    pattern = pattern_of("strike 3, rest, brush, thumb", "strike 3, rest, brush, thumb")
    pattern = replace(pattern, parts=(Part(name="", bars=2, pickup=2),))
    sound = SoundSettings(click=False, strokes=True)
    plan = plan_of("60", pattern=pattern, settings=sound, passes=1)
    before = pluck_onsets(plan, 0, plan.origin_frame)
    assert {o.pluck.string for o in before} == {3, 2, 1, 5}
    assert before[0].frame == plan.frame_of(Fraction(-1))
    assert before[-1].frame == plan.frame_of(Fraction(-1, 2))


def test_where_there_is_no_chord_bass_and_chord_are_silent() -> None:
    score = band_score(charted((ONE, 2), (NO_CHORD, 2)).chart, 7, Meter.TWO_FOUR, 2)  # type: ignore[arg-type]
    assert [{note.part for note in beat} for beat in score] == [
        {band.BandPart.BASS, band.BandPart.DRUM},
        {band.BandPart.CHOP, band.BandPart.BRUSH},
        {band.BandPart.DRUM},
        {band.BandPart.BRUSH},
    ]


def test_a_chord_that_names_its_bass_has_that_alone() -> None:
    over_third = Chord(degree=1, bass=Degree(degree=3))
    assert bass_root(over_third, 7) % 12 == bass_fifth(over_third, 7) % 12 == 11


def test_a_chord_that_changes_inside_a_beat_has_its_root_there() -> None:
    chart = charted((ONE, 1), (FIVE, 1)).chart
    assert chart is not None
    spans = (replace(chart.spans[0], beats=Fraction(3, 2)), replace(chart.spans[1], beats=Fraction(1, 2)))
    score = band_score(replace(chart, spans=spans), 7, Meter.TWO_FOUR, 4)
    assert [(n.slot, n.notes) for n in score[1] if n.part is band.BandPart.BASS] == [(0, (38,)), (2, (38,))]
    chop = next(n for n in score[1] if n.part is band.BandPart.CHOP)
    assert {note % 12 for note in chop.notes} == {2, 6, 9}, "the chord of that moment, D"
