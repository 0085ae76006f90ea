"""Speakers without a device: the silent one, and what is said when there is none."""

from fractions import Fraction

import pytest

from tests.sound.helpers import CLICKS_ONLY, plan_of
from trainer.devices import mixer
from trainer.devices.speaker import DEEPEST, SilentSpeaker, Speaker, SpeakerLike, SpeakerState, open_speaker
from trainer.errors import NoSound

NS = 1_000_000_000


def test_a_silent_speaker_keeps_time_by_the_host_clock() -> None:
    speaker: SpeakerLike = SilentSpeaker()
    plan = plan_of("60")
    assert (speaker.state, speaker.song_s(0)) == (SpeakerState.STOPPED, None)
    speaker.start(plan, 7 * NS)
    assert speaker.state is SpeakerState.PLAYING
    # 0.6 s of silence and four beats of count-in come before beat 0.
    assert speaker.song_s(7 * NS) == pytest.approx(-4.6)
    assert speaker.song_s(12 * NS) == pytest.approx(0.4)
    speaker.pump(12 * NS)
    assert (speaker.xruns, speaker.notes) == (0, ())
    speaker.stop()
    assert (speaker.state, speaker.plan, speaker.song_s(12 * NS)) == (SpeakerState.STOPPED, None, None)


def test_a_silent_speaker_follows_a_tempo_change_without_a_jump() -> None:
    speaker = SilentSpeaker()
    plan = plan_of("60")
    speaker.start(plan, 0)
    before = speaker.song_s(6 * NS)
    timeline = plan.timeline.with_tempo("120", from_beat=Fraction(8))
    speaker.set_timeline(timeline)
    assert speaker.song_s(6 * NS) == before
    assert speaker.plan == plan.with_timeline(timeline)
    speaker.set_plan(plan)
    assert speaker.plan == plan


def test_a_silent_speaker_takes_no_plan_while_stopped() -> None:
    speaker = SilentSpeaker()
    speaker.set_plan(plan_of("60"))
    speaker.set_timeline(plan_of("60").timeline)
    speaker.set_sound(CLICKS_ONLY)
    assert speaker.plan is None


def test_without_pygame_there_is_a_sentence_and_a_silent_speaker(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mixer, "pygame", None)
    with pytest.raises(NoSound, match="no pygame is installed for this Python, so there is no sound; drills"):
        Speaker()
    silent = open_speaker()
    assert isinstance(silent, SilentSpeaker)
    assert silent.name == "no sound"
    (note,) = tuple(silent.notes)
    assert note.startswith("no pygame is installed")


def test_without_a_device_there_is_a_sentence_and_a_silent_speaker(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pygame")
    monkeypatch.setenv("SDL_AUDIODRIVER", "no-such-driver")
    with pytest.raises(NoSound, match=r"no sound device could be opened \(.*\); drills run on the clock"):
        Speaker()
    assert open_speaker().state is SpeakerState.STOPPED


def test_buffers_are_doubled_twice_between_streams_and_play_on(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("pygame")
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    speaker = Speaker()
    try:
        speaker.start(plan_of("97.3"), 0)
        assert not speaker.deepen(), "not while it plays"
        speaker.stop()
        for depth in (1, 2):
            assert speaker.deepen()
            assert speaker.depth == depth
            speaker.start(plan_of("97.3"), 0)
            assert speaker.state is SpeakerState.PLAYING
            assert speaker.stalls == ()
            speaker.stop()
        assert not speaker.deepen()
        assert speaker.depth == DEEPEST
    finally:
        speaker.close()
