"""A whole drill on a banjo through SDL itself: its disk driver plays a rendered room into the capture.

The loudspeaker and the air are simulated by the file: it holds the clicks when the drill plays them, and a
banjo beside them. Run with -s to see the figures.
"""

from __future__ import annotations

import json
import sys
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.benchmarks.banjo_material import RATE, Instrument, Recording, in_room, play
from tests.system.apparatus import ApparatusFailed, measured, watched
from trainer.app.banjo import Banjo
from trainer.app.drill_request import DrillRequest
from trainer.app.heard_playing import WAITED_S
from trainer.app.scene_table import start_drill
from trainer.cli import main
from trainer.devices.clock import now_ns
from trainer.devices.outputs import capture_names
from trainer.devices.speaker import Speaker
from trainer.hearing.listening import UNCERTAINTY_S
from trainer.hearing.taps import BRUSH_UNCERTAINTY_S
from trainer.judging.take import Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline, count_in_beats
from trainer.practice.settings import MICROPHONE, Settings
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take
from trainer.sound.clicks import ClickVoice

pygame = pytest.importorskip("pygame")
pytestmark = pytest.mark.system

BPM, PASSES = 100, 7
LEAST_ALIKE = 0.98
LEAD_S = 4.0  # of a MIDI file, before beat 0
LATE_S = 0.15  # of the clicks in the file, after where the drill would have them without any delay
PATTERN = open_pattern("skip-figure", load_library(Path("none")))


def write_room(path: Path) -> Recording:
    """Write what the microphone hears into a file; return its truth."""
    recording = play(
        PATTERN, Instrument("string and head"), bpm=BPM, passes=PASSES, seed=23, click=ClickVoice.TONE,
        click_db=-9.0, touch_share=0.4, touch_db=-9.0,
    )  # fmt: skip
    wave = in_room(recording.wave, snr_db=35.0, seed=3)
    lead_s = WAITED_S + count_in_beats(PATTERN.meter) * 60 / BPM + LATE_S - recording.beat_0_s
    noise = np.random.default_rng(6).normal(0, wave[: RATE // 2].std(), round(lead_s * RATE))
    sound = np.concatenate([noise, 0.5 * wave / np.abs(wave).max()])
    np.rint(sound * 32767).astype(np.int16).tofile(path)
    return recording


def drilled(path: Path) -> tuple[Bench, Recording, list[float]]:
    """Drill to the end; return the bench, the truth, and how many seconds of sound each stroke took."""
    recording = write_room(path)
    speaker = Speaker()
    try:
        settings = Settings(cautions_seen=True, input_name=f"{MICROPHONE}{capture_names()[0]}")
        bench = Bench(settings=settings, speaker=speaker, banjo=Banjo())  # type: ignore[arg-type]
        start_drill(bench.context, now_ns(), DrillRequest(pattern=PATTERN, bpm=Fraction(BPM), passes=PASSES))
        assert bench.scene == "drill", bench.notes
        drill, known, late = bench.running.drill, 0, []
        until = time.monotonic() + 60
        while bench.scene == "drill" and time.monotonic() < until:
            speaker.pump(now_ns())
            bench.app.poll()
            heard_s = bench.inputs.microphone.banjo.heard_s(now_ns())
            taps = drill.taps
            if len(taps) > known and heard_s is not None:
                beats = bench.running._hearing._beats  # type: ignore[union-attr]
                here_s = beats.song_s(heard_s)
                late += [here_s - taps[-1].song_s] if here_s is not None else []
                known = len(taps)
            bench.app.tick(now_ns())
            time.sleep(0.002)
    finally:
        speaker.close()
    return bench, recording, late


def played_taps(recording: Recording, uncertainty_s: float, brush_uncertainty_s: float) -> tuple[Tap, ...]:
    """Return what the recording's truth is as taps, in order."""
    taps = [
        Tap(
            song_s=each.time_s - recording.beat_0_s,
            string=None if each.kind is Kind.BRUSH else each.string,
            uncertainty_s=brush_uncertainty_s if each.kind is Kind.BRUSH else uncertainty_s,
        )
        for each in recording.played
    ]
    taps += [Tap(song_s=at_s - recording.beat_0_s) for at_s, touched in recording.skips if touched]
    return tuple(sorted(taps, key=lambda tap: tap.song_s))


def graded_as_midi(taps: tuple[Tap, ...], path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Return the verdicts of the command ``grade`` on a MIDI file with these taps, in order."""
    write_take(path, taps, Timeline.steady(Fraction(BPM)), PATTERN.meter, lead_s=LEAD_S)
    capsys.readouterr()
    assert main(["grade", PATTERN.name, str(path), "--passes", str(PASSES), "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert report["reading"] is None or report["reading"]["kind"] == "as asked", report["reading"]
    return [stroke["verdict"] for stroke in report["strokes"]]


def test_a_whole_drill_through_sdl_is_judged_as_the_same_take_sent_as_midi(
    disk: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def measure(_attempt: int) -> tuple[float, float]:
        with watched() as machine:
            bench, recording, late = drilled(disk)
        assert bench.scene == "review"
        # While it opens, SDL's disk driver and the machine do as they like; no stroke is there yet.
        spans = [span for span in bench.result.drill.spans if span[1] >= 0]
        if spans:
            raise ApparatusFailed(f"sound was lost on its way in, or stalled on its way out: {spans}")
        # What is heard of a brush is good to so much, and no verdict claims more.
        taps = played_taps(recording, UNCERTAINTY_S, BRUSH_UNCERTAINTY_S)
        targets = lay_out(PATTERN, Timeline.steady(Fraction(BPM)), passes=PASSES)
        truth = {o.target.index: o for o in judge(targets, taps, knows_left=True).outcomes}
        outcomes = bench.result.judgement.outcomes
        sent = graded_as_midi(played_taps(recording, 0.0, 0.0), tmp_path / "sent.mid", capsys)
        assert len(outcomes) == len(truth) == len(sent)
        as_midi = float(
            np.mean([o.verdict.value == verdict for o, verdict in zip(outcomes, sent, strict=True)])
        )
        alike = float(np.mean([truth[o.target.index].verdict is o.verdict for o in outcomes]))
        off_ms = [
            1000 * (o.placement_s - (truth[o.target.index].placement_s or 0.0))
            for o in outcomes
            if o.placement_s is not None and truth[o.target.index].tap is not None
        ]
        sys.stdout.write(
            f"\nverdicts as of the same take sent as MIDI: {100 * as_midi:.1f} % of {len(sent)}, "
            f"as of taps with its uncertainty: {100 * alike:.1f} %; placements off "
            f"by {np.median(off_ms):.2f} ms (median), 95 % within {np.percentile(np.abs(off_ms), 95):.1f}; "
            f"known {1000 * np.median(late):.0f} ms after their sound (median), {1000 * max(late):.0f} at "
            f"most; {bench.result.placed_words}; {machine}\n"
        )
        if min(as_midi, alike) < LEAST_ALIKE:
            machine.must_have_kept_time()
        assert all(o.verdict is not Verdict.WRONG_HAND for o in outcomes)
        return as_midi, alike

    as_midi, alike = measured(measure)
    assert as_midi >= LEAST_ALIKE
    assert alike >= LEAST_ALIKE
