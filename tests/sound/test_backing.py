"""A backing track under the stream: every frame of it where exact arithmetic puts it."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.sound.helpers import ALTERNATING
from trainer.errors import BadSettings
from trainer.music.timeline import Timeline
from trainer.sound.backing import LEAD_IN_S, LEAD_OUT_S, Backing
from trainer.sound.gain import CEILING
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.render import render
from trainer.sound.stream_onsets import agree_before

TRACK_ALONE = SoundSettings(click=False, count_in=False, left_hand=False, backing_db=0.0)


def track(seconds: float = 30.0, *, level: int = 0) -> np.ndarray:
    return np.full((round(seconds * RATE), 2), level, dtype=np.int16)


def marked(bpm: str, beat_1_s: float, seconds: float = 30.0) -> np.ndarray:
    """A track with one loud frame on each of its beats, left 8000 and right -4000."""
    samples = track(seconds)
    beat = 0
    while (at := round((Fraction(beat_1_s) + beat * 60 / Fraction(bpm)) * RATE)) < len(samples):
        samples[at] = (8000, -4000)
        beat += 1
    return samples


def plan_on(
    samples: np.ndarray, *, bpm: str = "97.3", beat_1_s: float = 1.25, start_beat: int = 0, passes: int = 0
) -> StreamPlan:
    backing = Backing(samples=samples, rate=RATE, beat_1_s=beat_1_s, bpm=Fraction(bpm), start_beat=start_beat)
    timeline = Timeline.steady(bpm)
    return plan_for(ALTERNATING, timeline, passes=passes, settings=TRACK_ALONE, backing=backing)


@pytest.mark.parametrize("bpm", ["61", "97.3", "133"])
@pytest.mark.parametrize("start_beat", [0, 8])
def test_every_beat_of_the_track_is_heard_on_the_frame_of_its_beat(bpm: str, start_beat: int) -> None:
    plan = plan_on(marked(bpm, 1.25), bpm=bpm, start_beat=start_beat)
    stream = render(plan, 0, 30 * RATE)
    heard = np.flatnonzero(stream[:, 0])
    wanted = [plan.frame_of(Fraction(beat)) for beat in range(len(heard))]
    # Two roundings, one of the file's frame and one of the stream's: at most one frame between them.
    assert np.abs(heard - np.array(wanted)).max() <= 1
    assert heard[0] == wanted[0]
    assert len(heard) > 15


def test_the_samples_are_those_of_the_file_and_both_channels_stay_apart() -> None:
    rng = np.random.default_rng(3)
    samples = rng.integers(-9000, 9000, (20 * RATE, 2)).astype(np.int16)
    plan = plan_on(samples)
    assert plan.backing is not None
    at = plan.backing.start_frame
    stream = render(plan, plan.origin_frame, 5 * RATE)
    np.testing.assert_array_equal(stream, samples[at : at + 5 * RATE])


def test_the_count_in_has_no_track_but_the_lead_in_right_before_its_first_beat() -> None:
    plan = plan_on(track(level=5000))
    lead_in = round(LEAD_IN_S * RATE)
    stream = render(plan, 0, plan.origin_frame)[:, 0].astype(int)
    assert not stream[: plan.origin_frame - lead_in].any()
    rise = stream[plan.origin_frame - lead_in :]
    assert (np.diff(rise) >= 0).all()
    assert 0 < rise[0] < 100
    assert render(plan, plan.origin_frame, 1)[0, 0] == 5000


def test_a_track_that_begins_with_its_first_beat_has_nothing_to_lead_in() -> None:
    plan = plan_on(track(level=5000), beat_1_s=0.0)
    assert not render(plan, 0, plan.origin_frame).any()
    assert render(plan, plan.origin_frame, 1)[0, 0] == 5000


def test_the_track_fades_after_the_last_pass() -> None:
    plan = plan_on(track(level=5000), passes=1)
    end = plan.frame_of(plan.end_beat or Fraction(0))
    stream = render(plan, end - 10, RATE)[:, 0].astype(int)
    assert (stream[:10] == 5000).all()
    assert (np.diff(stream[10:]) <= 0).all()
    assert not stream[10 + round(LEAD_OUT_S * RATE) :].any()


def test_the_track_ends_with_its_file_and_the_click_goes_on() -> None:
    plan = plan_on(track(4.0, level=5000))
    clicking = plan.with_settings(replace(TRACK_ALONE, click=True), from_frame=0)
    assert plan.backing is not None
    gone = plan.origin_frame + len(plan.backing.samples) - plan.backing.start_frame
    assert render(plan, gone - 1, 1).any()
    assert not render(plan, gone, 5 * RATE).any()
    assert render(clicking, gone, 5 * RATE).any()


def test_a_tempo_change_ends_the_track_and_another_tempo_from_the_start_silences_it() -> None:
    plan = plan_on(track(level=5000))
    changed = plan.with_timeline(plan.timeline.with_tempo(120, from_beat=Fraction(4)))
    change = changed.frame_of(Fraction(4))
    assert render(changed, change - 1, 1)[0, 0] == 5000
    assert not render(changed, change + round(LEAD_OUT_S * RATE), RATE).any()
    other = plan.with_timeline(plan.timeline.with_tempo(120, from_beat=Fraction(0)))
    assert not render(other, other.origin_frame, RATE).any()


def test_the_pieces_of_a_track_are_the_whole_through_a_change_of_volume() -> None:
    rng = np.random.default_rng(4)
    samples = rng.integers(-20_000, 20_000, (8 * RATE, 2)).astype(np.int16)
    plan = plan_on(samples)
    plan = plan.with_settings(SoundSettings(backing_db=-6.0), from_frame=plan.origin_frame + 12_345)
    whole = render(plan, 0, 9 * RATE)
    pieces = [render(plan, first, 2048) for first in range(0, 9 * RATE, 2048)]
    np.testing.assert_array_equal(np.concatenate(pieces)[: 9 * RATE], whole)
    assert np.abs(whole.astype(int)).max() <= CEILING


def test_volume_is_in_decibels_and_the_track_can_be_muted() -> None:
    """Source: a gain of g dB multiplies by 10**(g/20)."""
    plan = plan_on(track(level=5000))
    softer = plan.with_settings(replace(TRACK_ALONE, backing_db=-20.0), from_frame=0)
    assert render(softer, plan.origin_frame + RATE, 1)[0, 0] == 500
    muted = plan.with_settings(replace(TRACK_ALONE, backing=False), from_frame=0)
    assert not render(muted, plan.origin_frame, RATE).any()


def test_a_track_knows_its_bars_and_how_many_passes_fit() -> None:
    """30 s at 120 from second 2 on: 56 beats, 28 bars of 2/4; from beat 8 on six passes of 8 fit."""
    backing = Backing(samples=track(30.0), rate=RATE, beat_1_s=2.0, bpm=Fraction(120), start_beat=8)
    assert (backing.beats, backing.bars(2), backing.passes_that_fit(8)) == (56, 28, 6)


def test_plans_with_different_tracks_do_not_agree() -> None:
    one, other = plan_on(track()), plan_on(track())
    assert agree_before(one, one, RATE)
    assert not agree_before(one, other, RATE)


def test_what_does_not_fit_is_refused_in_a_sentence() -> None:
    good = Backing(samples=track(10.0), rate=RATE, beat_1_s=1.0, bpm=Fraction(120))
    with pytest.raises(BadSettings, match=r"beat 1 at 10 s lies outside the track, which is 10\.0 s long"):
        replace(good, beat_1_s=10.0)
    with pytest.raises(BadSettings, match="outside the track"):
        replace(good, beat_1_s=float("nan"))
    with pytest.raises(BadSettings, match="a track of 401 beats a minute is outside 20 to 400"):
        replace(good, bpm=Fraction(401))
    with pytest.raises(BadSettings, match="the track has 18 beats, and beat 19 was to be the first"):
        replace(good, start_beat=18)
    with pytest.raises(BadSettings, match="the track has 120 beats a minute and the drill 100"):
        plan_for(ALTERNATING, Timeline.steady(100), passes=0, settings=TRACK_ALONE, backing=good)
    with pytest.raises(ValueError, match="a track of 44100 frames a second in a stream of 48000"):
        plan_for(
            ALTERNATING,
            Timeline.steady(120),
            passes=0,
            settings=TRACK_ALONE,
            backing=replace(good, rate=44_100),
        )
