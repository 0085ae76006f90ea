"""The clicks of a drill followed as they are heard: where strokes lie by them, and where sound was lost."""

from __future__ import annotations

import numpy as np
import pytest

from tests.benchmarks.banjo_material import Recording
from tests.hearing.conftest import Make
from trainer.hearing.bands import RATE
from trainer.hearing.heard_beats import DueClick, HeardBeats
from trainer.hearing.tone_edge import MOVED_S, tone_began_s
from trainer.music.pattern import Meter
from trainer.sound.clicks import Click, ClickVoice, beat_click, click_samples

DELAY_S = 0.14
PIECE = 512


def followed(
    sound: np.ndarray, recording: Recording, voice: ClickVoice, *, until_s: float = np.inf
) -> HeardBeats:
    """Hear the clicks of a recording piece by piece, thought to have come ``DELAY_S`` late."""
    beats = HeardBeats(voice)
    beat_s = 60 / recording.bpm
    for beat in range(-4, int((len(sound) / RATE - recording.beat_0_s) / beat_s)):
        beats.expect(DueClick(song_s=beat * beat_s, click=beat_click(Meter.FOUR_FOUR, beat)))
    for start in range(0, len(sound), PIECE):
        beats.push(sound[start : start + PIECE])
        beats.look(recording.beat_0_s - DELAY_S)
        if (start + PIECE) / RATE > until_s:
            break
    return beats


@pytest.mark.parametrize("voice", ClickVoice)
def test_seconds_of_the_song_are_right_beside_a_banjo_and_a_clock_that_drifts(
    make: Make, voice: ClickVoice
) -> None:
    recording = make(click=voice, drift_ppm=100.0, passes=6)
    beats = followed(recording.wave, recording, voice)
    assert beats.is_firm
    assert not beats.jumps
    last = recording.played[-1].time_s
    # The clock drifts by 100 ppm, so the song's last stroke lies later in the recording by as much.
    expected = (last - recording.beat_0_s) / (1 + 100e-6)
    assert beats.song_s(last) == pytest.approx(expected, abs=0.001)


def test_a_line_is_firm_before_the_first_stroke(make: Make) -> None:
    recording = make(click=ClickVoice.TONE)
    beats = followed(recording.wave, recording, ClickVoice.TONE, until_s=recording.beat_0_s - 0.2)
    assert beats.is_firm
    assert beats.song_s(recording.beat_0_s) == pytest.approx(0.0, abs=0.001)


@pytest.mark.parametrize("lost_s", [0.010, 0.050])
def test_lost_sound_is_noticed_within_two_clicks(make: Make, lost_s: float) -> None:
    recording = make(click=ClickVoice.TONE, passes=6)
    beat_s = 60 / recording.bpm
    cut_s = recording.beat_0_s + 10.4 * beat_s
    lost = np.concatenate(
        [recording.wave[: round(cut_s * RATE)], recording.wave[round((cut_s + lost_s) * RATE) :]]
    )
    beats = followed(lost, recording, ClickVoice.TONE, until_s=cut_s + 1.6 * beat_s + 0.2)
    ((from_s, to_s),) = beats.jumps
    assert from_s <= 10.4 * beat_s <= to_s <= 12.1 * beat_s
    after = followed(lost, recording, ClickVoice.TONE)
    expected = (len(recording.wave) / RATE - recording.beat_0_s) - 1.0
    assert after.song_s(len(lost) / RATE - 1.0) == pytest.approx(expected, abs=0.0015)


def test_without_a_click_nothing_is_claimed(make: Make) -> None:
    recording = make()
    for voice in ClickVoice:
        beats = followed(recording.wave, recording, voice)
        assert beats.song_s(3.0) is None
        assert beats.uncertainty_s == 0.0


def test_a_click_that_a_stroke_rings_into_is_placed_by_its_best_match() -> None:
    click = click_samples(Click.BEAT, -6.0, RATE, ClickVoice.TONE).astype(np.float64)
    sound = np.zeros(RATE // 2)
    begins = RATE // 4
    sound[begins : begins + len(click)] += click
    alone_s = tone_began_s(sound, 0.0, 0.25, Click.BEAT)
    assert alone_s == pytest.approx(0.25, abs=0.0002)
    # A partial of a stroke in the tone's own band, as loud as the click, 5 ms before it.
    t = np.arange(round(0.03 * RATE)) / RATE
    partial = 0.5 * np.abs(click).max() * np.sin(2 * np.pi * 2600 * t) * np.exp(-t / 0.004)
    sound[begins - round(0.005 * RATE) :][: len(partial)] += partial
    assert abs(tone_began_s(sound, 0.0, 0.25, Click.BEAT) - 0.25) < MOVED_S
