"""How a drill is played as a whole is said while it runs and in the review, and the rest stands under it."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.screen.pages import words_on
from tests.shipped import shipped
from trainer.app.result_files import write_report
from trainer.judging.readings import ReadingKind
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.settings import Settings
from trainer.records.library import open_pattern
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.review import ReviewView

LIBRARY = shipped()
BPM = 100
PASSES = 8
BAR_S = 2 * 60 / BPM
KEYS = {Hand.NAIL: "f", Hand.THUMB: "j"}
Deed = Callable[[Sequence[Tap]], list[Tap]]


def bench() -> Bench:
    settings = Settings(
        cautions_seen=True, pattern="skip-figure", passes=PASSES, tempi={"skip-figure": str(BPM)}
    )
    return Bench(settings=settings, library=LIBRARY)


def taps_of(name: str = "skip-figure", bpm: float = BPM) -> Sequence[Tap]:
    targets = lay_out(open_pattern(name, LIBRARY), Timeline.steady(Fraction(bpm)), passes=PASSES)
    return simulate(targets, Faults(jitter_s=0.012), np.random.default_rng(2)).taps


def drilled(taps: Sequence[Tap]) -> tuple[Bench, list[str]]:
    """Play a drill on the keys; return it with each thing that was said on the way."""
    played = bench()
    played.start()
    drill = played.running.drill
    waiting = sorted((tap.song_s, KEYS[tap.hand]) for tap in taps if tap.hand is not None)
    said: list[str] = [""]
    now_s = drill.start_s
    while played.scene == "drill":
        now_s += 0.05
        played.until(now_s, dict(at for at in waiting if at[0] < now_s))
        waiting = [at for at in waiting if at[0] >= now_s]
        if played.scene == "drill" and (words := played.seen(DrillView).reading) != said[-1]:
            said.append(words)
    return played, said


def late(taps: Sequence[Tap], by_s: float) -> list[Tap]:
    return [replace(tap, song_s=tap.song_s + by_s) for tap in taps]


def exchanged(taps: Sequence[Tap]) -> list[Tap]:
    other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
    return [replace(tap, hand=other[tap.hand]) for tap in taps if tap.hand is not None]


DEEDS: dict[ReadingKind, tuple[Sequence[Tap], str]] = {
    ReadingKind.BAR_LATE: (late(taps_of(), BAR_S), "You were one bar late"),
    ReadingKind.PADS_EXCHANGED: (exchanged(taps_of()), "Your pads are exchanged; Enter changes them."),
    ReadingKind.OTHER_TEMPO: (taps_of(bpm=1.12 * BPM), "You played at 11"),
    ReadingKind.ANOTHER_FIGURE: (taps_of("basic-figure"), 'You played another figure, "The basic figure"'),
}


@pytest.mark.parametrize("kind", DEEDS, ids=lambda kind: kind.value)
def test_what_was_played_is_said_first_and_the_table_stands_under_it(
    kind: ReadingKind, tmp_path: Path
) -> None:
    taps, words = DEEDS[kind]
    played, said = drilled(taps)
    result = played.result
    review = played.seen(ReviewView)
    assert result.judgement.reading is not None
    assert result.judgement.reading.kind is kind
    assert review.happened.startswith(words.partition(";")[0])
    assert result.advice[0].startswith(words)
    assert review.take.clean_share is not None
    assert review.take.clean_share >= 0.9, "clean, seen so"
    assert len(said) <= 3, "it does not flicker"
    if kind is not ReadingKind.BAR_LATE:  # a bar late can be the figure as asked while it runs
        assert said[-1].startswith(words)
    write_report(result, tmp_path / "report.json", input_name="keys", sound="none")
    report = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    assert report["reading"]["kind"] == kind.value
    assert report["reading"]["sentence"] == result.advice[0]


def test_who_plays_as_asked_is_told_nothing_and_can_take_the_mean_as_delay() -> None:
    played, said = drilled(late(taps_of(), 0.030))
    assert said == [""]
    assert played.result.delay_s == pytest.approx(0.030, abs=0.01)


def test_a_lag_of_the_devices_can_be_taken_as_delay_whole() -> None:
    played, _ = drilled(late(taps_of(), 0.150))
    assert played.result.judgement.reading is not None
    assert played.result.judgement.reading.kind is ReadingKind.LATE
    assert played.result.can_be_delay
    assert played.result.delay_s == pytest.approx(0.150, abs=0.01)


@pytest.mark.parametrize("kind", [ReadingKind.BAR_LATE, ReadingKind.OTHER_TEMPO], ids=lambda kind: kind.value)
def test_no_delay_is_taken_from_a_take_played_elsewhere(kind: ReadingKind) -> None:
    played, _ = drilled(DEEDS[kind][0])
    assert not played.result.can_be_delay


def test_enter_exchanges_the_pads_in_the_drill_and_it_begins_anew() -> None:
    played = bench()
    played.start()
    first = played.running.drill
    taps = {tap.song_s: KEYS[tap.hand] for tap in exchanged(taps_of()) if tap.hand is not None}
    played.until(4 * first.settings.pattern.beats * 60 / BPM + 1.0, taps)
    view = played.seen(DrillView)
    assert view.reading == "Your pads are exchanged; Enter changes them."
    assert view.reading in " ".join(words_on(view.scene()))
    played.key("return")
    assert played.scene == "drill"
    assert played.running.drill is not first
    assert (played.kept[-1].nail_key, played.kept[-1].thumb_key) == ("j", "f")
    assert not played.seen(DrillView).exchanged
    played.key("return")
    assert played.scene != "drill", "Enter stops a drill that has nothing to exchange"


def test_enter_exchanges_the_pads_in_the_review_drills_again_and_they_can_be_changed_back() -> None:
    played, _ = drilled(DEEDS[ReadingKind.PADS_EXCHANGED][0])
    played.key("return")
    assert played.scene == "drill"
    assert (played.kept[-1].nail_key, played.kept[-1].thumb_key) == ("j", "f")
    played.key("escape")
    played.key("u")
    assert (played.kept[-1].nail_key, played.kept[-1].thumb_key) == ("f", "j")


def test_taught_pads_are_exchanged_for_their_port() -> None:
    settings = Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail3=36,thumb=38,left=40"})
    pads = Bench("Pad 20:0", settings=settings)
    pads.context.exchange_pads()
    assert pads.kept[-1].pads == {"Pad": "thumb3=36,nail=38,left=40"}


def test_a_swing_that_was_read_can_be_taken_over() -> None:
    def swung(taps: Sequence[Tap]) -> list[Tap]:
        slot_s = 30 / BPM
        up = {t.song_s for t in taps if round(t.song_s / slot_s) % 2 == 1}
        return [replace(t, song_s=t.song_s + 0.06) if t.song_s in up else t for t in taps]

    played, _ = drilled(swung(taps_of()))
    assert played.result.judgement.reading is not None
    assert played.result.judgement.reading.kind is ReadingKind.SWUNG
    # 0.36 s and 0.24 s of 0.6 s.
    assert played.result.adoptable_swing == pytest.approx(1.5, abs=0.1)
