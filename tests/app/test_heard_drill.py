"""A drill on a banjo that a microphone hears: the whole way from sound to verdicts, the devices simulated."""

from __future__ import annotations

from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.benchmarks.banjo_material import RATE, Instrument, Recording, in_room, play
from tests.devices.fake_microphone import FakeMicrophone
from tests.shipped import shipped
from trainer.app.banjo import ALL_ZEROS, NO_SOUND
from trainer.app.drill_request import DrillRequest
from trainer.app.heard_playing import BAND_HEARD, WAITED_S
from trainer.app.recording import Recorder
from trainer.app.scenes.review import OPEN_S
from trainer.judging.take import Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.strokes import Kind
from trainer.music.timeline import count_in_beats
from trainer.practice.settings import Settings
from trainer.records.library import open_pattern
from trainer.records.take_codec import take_of, take_table
from trainer.sound.clicks import ClickVoice

BPM = 90
PASSES = 4
DELAY_S = 0.12
PATTERN = open_pattern("skip-figure", shipped())
SETTINGS = Settings(cautions_seen=True, input_name="Microphone: Lid")


def recorded(*, click: ClickVoice | None, touch_share: float = 0.0, drift_ppm: float = 0.0) -> Recording:
    return play(
        PATTERN, Instrument("string and head"), bpm=BPM, passes=PASSES, seed=11, click=click, click_db=-9.0,
        touch_share=touch_share, touch_db=-9.0, drift_ppm=drift_ppm,
    )  # fmt: skip


def as_captured(recording: Recording, *, snr_db: float = 35.0) -> np.ndarray:
    """The sound as the microphone gets it: beat 0 where the drill has it, and as late as devices make it."""
    wave = in_room(recording.wave, snr_db=snr_db, seed=2)
    begins = WAITED_S + count_in_beats(PATTERN.meter) * 60 / BPM + DELAY_S
    lead = round((begins - recording.beat_0_s) * RATE)
    noise = np.random.default_rng(6).normal(0, wave[: RATE // 2].std(), max(0, lead))
    return np.concatenate([noise, wave[max(0, -lead) :]])


def drilled(wave: np.ndarray, settings: Settings = SETTINGS) -> Bench:
    bench = Bench(settings=settings, sound=FakeMicrophone(wave))
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=PASSES))
    bench.go(len(wave) / RATE + 1)
    return bench


def said(bench: Bench) -> str:
    """What stands over the sheet while the drill is paused."""
    banner = bench.view().window.banner  # type: ignore[attr-defined]
    return " ".join(banner.lines) if banner is not None else ""


def truth_of(recording: Recording) -> dict[int, Verdict]:
    """What the same take is judged as when it is sent as taps."""
    from trainer.music.layout import lay_out
    from trainer.music.timeline import Timeline

    taps = [
        Tap(song_s=each.time_s - recording.beat_0_s, string=None if each.kind is Kind.BRUSH else each.string)
        for each in recording.played
    ]
    taps += [Tap(song_s=at_s - recording.beat_0_s) for at_s, touched in recording.skips if touched]
    targets = lay_out(PATTERN, Timeline.steady(Fraction(BPM)), passes=PASSES)
    return {o.target.index: o.verdict for o in judge(targets, taps, knows_left=True).outcomes}


def share_alike(bench: Bench, recording: Recording) -> float:
    truth = truth_of(recording)
    outcomes = bench.result.judgement.outcomes
    assert len(outcomes) == len(truth)
    return float(np.mean([truth[o.target.index] is o.verdict for o in outcomes]))


@pytest.mark.parametrize("touch_share", [0.0, 0.5])
def test_what_is_heard_is_judged_as_the_same_take_sent_as_taps(touch_share: float) -> None:
    recording = recorded(click=ClickVoice.TONE, touch_share=touch_share, drift_ppm=40.0)
    bench = drilled(as_captured(recording))
    assert bench.scene == "review"
    assert share_alike(bench, recording) >= 0.95
    assert "as the microphone heard it, to 0.1 ms;" in bench.result.placed_words
    assert "34 cm" in " ".join(bench.view().besides)  # type: ignore[attr-defined]
    placed = [o.placement_s for o in bench.result.judgement.outcomes if o.placement_s is not None]
    assert abs(float(np.median(placed))) < 0.006  # the player's own jitter has a mean of some ms


@pytest.mark.parametrize(("click", "placed_by"), [(ClickVoice.TONE, "click"), (None, "delay")])
def test_what_strokes_were_placed_against_is_kept_with_the_take(
    tmp_path: Path, click: ClickVoice | None, placed_by: str
) -> None:
    recorder, note = Recorder.open(tmp_path / "takes.sqlite", lambda: datetime(2026, 3, 2, tzinfo=UTC))
    assert not note
    sound = FakeMicrophone(as_captured(recorded(click=click)))
    bench = Bench(settings=SETTINGS, sound=sound, recorder=recorder)
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=PASSES))
    bench.go(len(sound.wave) / RATE + 1)
    assert recorder.store is not None
    (take,) = recorder.store.each_take()
    assert take.placed_by.value == placed_by
    assert placed_by in take.placed_words
    assert take_of(take_table(take), take.pattern).placed_by is take.placed_by
    recorder.close()


def test_with_headphones_strokes_are_placed_by_the_delay_that_is_kept() -> None:
    settings = Settings(
        cautions_seen=True,
        input_name="Microphone: Lid",
        known_delays={"Microphone: Lid | sound off": str(round(1000 * DELAY_S))},
    )
    recording = recorded(click=None)
    bench = drilled(as_captured(recording), settings)
    assert share_alike(bench, recording) >= 0.95
    assert "120 ms" in bench.result.placed_words


def test_no_verdict_says_wrong_hand_and_strings_one_to_four_have_no_hand() -> None:
    bench = drilled(as_captured(recorded(click=ClickVoice.TONE)))
    judgement = bench.result.judgement
    assert all(o.verdict is not Verdict.WRONG_HAND for o in judgement.outcomes)
    assert all(tap.hand is None for tap in judgement.taps if tap.string != 5)
    assert any(tap.string == 5 for tap in judgement.taps)


def test_the_microphone_is_open_in_the_drill_and_its_review_which_say_so_and_again_begins_at_once() -> None:
    microphone = FakeMicrophone(as_captured(recorded(click=ClickVoice.TONE)))
    bench = Bench(settings=SETTINGS, sound=microphone)
    bench.go(1.0)
    assert not microphone.is_open
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=PASSES))
    assert microphone.is_open
    assert "open" in bench.view().input_name  # type: ignore[attr-defined]
    bench.go(len(microphone.wave) / RATE + 1)
    assert bench.scene == "review"
    assert microphone.is_open
    assert bench.view().microphone_open  # type: ignore[attr-defined]
    bench.key("space")
    assert bench.scene == "drill"
    assert microphone.opened_times == 1
    bench.go(WAITED_S)
    assert bench.running.moment.beat > -count_in_beats(PATTERN.meter)
    bench.key("escape")
    assert bench.scene == "review"
    bench.key("escape")
    assert bench.scene == "library"
    assert not microphone.is_open


def in_review(microphone: FakeMicrophone) -> Bench:
    bench = Bench(settings=SETTINGS, sound=microphone)
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=PASSES))
    bench.go(2.0)
    bench.key("escape")
    assert (bench.scene, microphone.is_open) == ("review", True)
    return bench


def test_looking_at_something_else_from_the_review_closes_the_microphone() -> None:
    microphone = FakeMicrophone()
    bench = in_review(microphone)
    bench.key("f1")
    assert not microphone.is_open
    bench.key("escape")
    assert bench.scene == "review"
    assert not bench.view().microphone_open  # type: ignore[attr-defined]


def test_a_review_that_nobody_leaves_closes_the_microphone() -> None:
    microphone = FakeMicrophone()
    bench = in_review(microphone)
    bench.system.ns += round((OPEN_S + 1) * 1e9)
    bench.go(0.1)
    assert not microphone.is_open


def test_a_microphone_that_went_deaf_in_the_review_is_opened_anew() -> None:
    microphone = FakeMicrophone(np.random.default_rng(1).normal(0, 1e-3, 3 * RATE), ends=True)
    bench = in_review(microphone)
    bench.go(6.0)
    bench.key("space")
    assert bench.scene == "drill"
    assert microphone.opened_times == 2


def test_lost_sound_spares_the_strokes_beside_it_and_those_after_it_are_judged_as_before() -> None:
    recording = recorded(click=ClickVoice.TONE)
    wave = as_captured(recording)
    cut = round((WAITED_S + DELAY_S + (count_in_beats(PATTERN.meter) + 6.6) * 60 / BPM) * RATE)
    bench = drilled(np.concatenate([wave[:cut], wave[cut + round(0.03 * RATE) :]]))
    truth, outcomes = truth_of(recording), bench.result.judgement.outcomes
    spared = {o.target.index for o in outcomes if o.verdict is Verdict.NOT_JUDGED}
    assert bench.result.drill.spans
    late = [o for o in outcomes if o.target.beat >= 10 and o.target.index not in spared]
    assert np.mean([truth[o.target.index] is o.verdict for o in late]) >= 0.9


def test_a_band_from_the_loudspeaker_stops_the_drill_and_asks_for_headphones() -> None:
    over_chords = next(p for p in shipped().patterns if p.chart is not None)
    settings = Settings(cautions_seen=True, input_name="Microphone: Lid", band=True)
    bench = Bench(settings=settings, sound=FakeMicrophone(as_captured(recorded(click=ClickVoice.TONE))))
    bench.start(DrillRequest(pattern=over_chords, bpm=Fraction(BPM), passes=1))
    bench.go(6.0)
    assert bench.running.paused is not None
    assert BAND_HEARD in said(bench)


@pytest.mark.parametrize(
    ("wave", "ends", "words"), [(np.zeros(0), True, NO_SOUND), (np.zeros(20 * RATE), False, ALL_ZEROS)]
)
def test_a_microphone_that_gives_nothing_is_said(wave: np.ndarray, ends: bool, words: str) -> None:
    bench = Bench(settings=SETTINGS, sound=FakeMicrophone(wave, ends=ends))
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=1))
    bench.go(5.0)
    assert words in said(bench)


def test_keys_are_no_taps_while_a_banjo_is_heard() -> None:
    bench = Bench(settings=SETTINGS, sound=FakeMicrophone())
    assert ("Microphone: Lid", True) in bench.inputs.inputs()
    bench.start(DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=1))
    bench.go(1.0)
    assert not bench.press("f")
