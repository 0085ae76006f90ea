"""The samples: every click on its frame, and the same bytes however the stream is cut."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.judging.helpers import pattern_of
from tests.sound.helpers import CLICKS_ONLY, plan_of
from tests.strategies import patterns
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.sound.gain import CEILING, FILE_CEILING
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.pluck import note_samples
from trainer.sound.render import make_sounds, render
from trainer.sound.stream_onsets import click_onsets

EVERYTHING = SoundSettings(strokes=True, subdivide=True)
LOUDEST = SoundSettings(strokes=True, subdivide=True, click_db=0.0, stroke_db=0.0)


def heard_onsets(stream: np.ndarray) -> list[int]:
    """First frames of sound after at least 50 ms of silence, without asking the plan."""
    sounding = np.flatnonzero(stream[:, 0])
    firsts = sounding[np.concatenate([[True], np.diff(sounding) > RATE // 20])]
    return [int(frame) for frame in firsts]


@pytest.mark.parametrize("bpm", ["61", "97.3", "133"])
def test_a_rendered_click_begins_on_its_frame_and_not_one_off(bpm: str) -> None:
    plan = plan_of(bpm, changes=((4, "122.5"), (8, bpm)))
    assert heard_onsets(render(plan, 0, 20 * RATE)) == [o.frame for o in click_onsets(plan, 0, 20 * RATE)]


@pytest.mark.parametrize("bpm", ["61", "97.3", "133"])
def test_clicks_deep_in_half_an_hour_begin_on_their_frames(bpm: str) -> None:
    """A sample of the half hour that the plan's own test covers whole: two seconds in every minute."""
    plan = plan_of(bpm)
    for minute in range(0, 30):
        first = minute * 60 * RATE
        # Begin in silence: half a beat before a click.
        first = click_onsets(plan, first, first + 2 * RATE)[0].frame - RATE // 8
        wanted = [o.frame - first for o in click_onsets(plan, first, first + 2 * RATE)]
        assert heard_onsets(render(plan, first, 2 * RATE)) == wanted


def cut(plan: StreamPlan, first: int, cuts: list[int]) -> bytes:
    pieces = []
    for frames in cuts:
        pieces.append(render(plan, first, frames).tobytes())
        first += frames
    return b"".join(pieces)


@settings(max_examples=30)
@given(
    patterns(most_bars=2),
    st.lists(st.integers(0, RATE), min_size=1, max_size=8),
    st.integers(0, 6 * RATE),
    st.sampled_from([EVERYTHING, LOUDEST, SoundSettings()]),
    st.integers(0, 8 * RATE),
)
def test_the_bytes_are_the_same_however_the_stream_is_cut(
    pattern: Pattern, cuts: list[int], first: int, sound: SoundSettings, from_frame: int
) -> None:
    plan = plan_for(pattern, Timeline.steady("133"), passes=0, settings=CLICKS_ONLY)
    plan = plan.with_settings(sound, from_frame=from_frame)
    assert cut(plan, first, cuts) == render(plan, first, sum(cuts)).tobytes()


def test_blocks_as_the_speaker_takes_them_are_the_whole() -> None:
    plan = plan_of("97.3", settings=LOUDEST)
    assert cut(plan, 0, [2048] * 200) == render(plan, 0, 2048 * 200).tobytes()


def test_all_at_full_volume_and_speed_stays_below_the_ceiling() -> None:
    accented = "accented strike 1, accented thumb, accented brush 4 to 1, accented thumb"
    plan = plan_of("400", pattern=pattern_of(accented), settings=LOUDEST)
    loudest = int(np.abs(render(plan, 0, 10 * RATE).astype(int)).max())
    assert CEILING // 2 < loudest <= CEILING


def test_the_first_volumes_never_touch_the_limit_of_a_file() -> None:
    """What is not limited is the plain sum but for the rounding of each part."""
    plan = plan_of("110", settings=SoundSettings(strokes=True, subdivide=True))

    def heard(settings: SoundSettings) -> np.ndarray:
        frames = 10 * RATE
        alone = plan.with_settings(settings, from_frame=0)
        return render(alone, plan.origin_frame, frames, ceiling=FILE_CEILING).astype(int)

    clicks, strings = heard(CLICKS_ONLY), heard(SoundSettings(strokes=True, click=False))
    assert np.abs(clicks + strings - heard(SoundSettings(strokes=True))).max() <= 1


def test_a_string_that_is_sounded_again_stops_sounding_as_before() -> None:
    plan = plan_of(
        "60",
        pattern=pattern_of("strike 3, rest, strike 3, rest"),
        settings=SoundSettings(strokes=True, click=False, stroke_pan=0.0),
    )
    second = plan.origin_frame + RATE
    heard = render(plan, second + RATE // 10, 1000)[:, 0]
    alone = note_samples(55, plan.settings.stroke_db, RATE)[RATE // 10 : RATE // 10 + 1000]
    np.testing.assert_array_equal(heard, alone)


def test_what_rings_when_settings_change_rings_on() -> None:
    plan = plan_of("60", settings=SoundSettings(strokes=True))
    middle = plan.origin_frame + 6 * RATE // 10
    quieter = plan.with_settings(replace(plan.settings, stroke_db=-30.0, click_db=-30.0), from_frame=middle)
    before, after = render(plan, middle, 4000), render(quieter, middle, 4000)
    np.testing.assert_array_equal(before, after)
    assert np.abs(before.astype(int)).max() > 0


def test_after_the_last_pass_is_silence_and_the_middle_is_the_same_in_both_channels() -> None:
    plan = plan_of("120", passes=1)
    stream = render(plan, 0, 10 * RATE)
    np.testing.assert_array_equal(stream[:, 0], stream[:, 1])
    assert not stream[plan.frame_of(plan.end_beat or 0) :].any()  # type: ignore[arg-type]
    assert stream.dtype == np.int16
    assert render(plan, 5, 0).shape == (0, 2)


def test_sounds_made_ahead_are_all_that_a_stream_needs() -> None:
    plan = plan_of("133", settings=SoundSettings(strokes=True, subdivide=True, stroke_db=-13.0), passes=2)
    make_sounds(plan)
    made = note_samples.cache_info().misses
    render(plan, 0, 10 * RATE)
    assert note_samples.cache_info().misses == made
