"""A drill with nothing faked: window, MIDI port, sound, and a second process that plays to the clicks."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.system.apparatus import ApparatusFailed, measured, watched
from tests.system.drills import (
    BPM,
    HERE,
    PASSES,
    PATTERN,
    PORT,
    TOP,
    TRANSPORT_MS,
    environment,
    grade,
    remember_pads,
    run,
    same_placements,
    same_verdicts,
    sloppy_taps,
)
from trainer.app.preferences import Preferences, keep_nothing
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, count_in_beats
from trainer.practice.settings import Settings
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take
from trainer.sound.plan import plan_for
from trainer.sound.render import render
from trainer.sound.stream_onsets import click_onsets

RATE = 48_000
pytestmark = [
    pytest.mark.system,
    pytest.mark.skipif(
        not sys.platform.startswith("linux"), reason="the card of exact speed is a Linux pipe"
    ),
]


@dataclass(frozen=True)
class Played:
    """One drill: the window's report, the written take, what the card played, and when each tap was sent."""

    report: dict[str, Any]
    sent_s: tuple[float, ...]
    heard: Path
    sound: Path
    ran_dry: bool


def play(folder: Path, env: dict[str, str], order: Path) -> Played:
    """Run the card, the player and the drill, and wait for the drill to end."""
    folder.mkdir()
    os.mkfifo(folder / "card")
    log, sound = folder / "log.txt", folder / "sound.raw"
    card = subprocess.Popen(
        [sys.executable, str(HERE / "pipe_card.py"), str(folder / "card"), str(log), str(sound)]
    )
    player = subprocess.Popen(
        [sys.executable, "-m", "tests.system.player", *map(str, (order, log, sound, folder / "sent.json"))],
        cwd=TOP,
        env=env,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert player.stdout is not None
        assert player.stdout.readline().strip() == "ready"
        drill = run(
            [
                *("drill", PATTERN, "--bpm", BPM, "--passes", str(PASSES), "--input", PORT, "--leave"),
                *("--report", str(folder / "report.json"), "--take", str(folder / "heard.mid")),
            ],
            {**env, "SDL_DISKAUDIOFILE": str(folder / "card"), "SDL_DISKAUDIODELAY": "0"},
        )
    finally:
        for process in (player, card):
            process.terminate()
            process.wait(10)
        if player.stdout is not None:
            player.stdout.close()
    assert drill.returncode == 0, drill.stderr
    return Played(
        report=json.loads((folder / "report.json").read_text()),
        sent_s=tuple(json.loads((folder / "sent.json").read_text())),
        heard=folder / "heard.mid",
        sound=sound,
        ran_dry="dry" in log.read_text().split("\n0 ")[-1],
    )


def test_a_drill_hears_every_tap_and_grades_it_as_the_take_itself_is_graded(
    tmp_path: Path, screen: str, jack_server: str
) -> None:
    env = environment(tmp_path, screen)
    remember_pads(env)
    pattern, timeline, taps = open_pattern(PATTERN, load_library()), Timeline.steady(BPM), sloppy_taps()
    first_click_s = timeline.seconds(Fraction(-count_in_beats(pattern.meter)))
    notes = [(t.song_s, 9, 36 if t.hand is Hand.NAIL else 38, t.velocity) for t in taps]
    order = tmp_path / "order.json"
    order.write_text(json.dumps({"first_click_s": first_click_s, "taps": notes}))

    def measure(attempt: int) -> tuple[Played, dict[str, Any], float]:
        with watched() as machine:
            played = play(tmp_path / f"attempt-{attempt}", env, order)
        assert played.report["devices"]["taps_received"] == len(taps)
        marked = played.report["devices"]["not_graded"]
        if marked or played.ran_dry:
            raise ApparatusFailed(f"marked: {marked or 'nothing'}; the card ran dry: {played.ran_dry}")
        sent = tuple(replace(tap, song_s=at_s) for tap, at_s in zip(taps, played.sent_s, strict=True))
        write_take(tmp_path / "played.mid", sent, timeline, pattern.meter, lead_s=-first_click_s)
        truth = grade(tmp_path / "played.mid", env)
        print(f"\n{machine}")
        machine.must_have_kept_time()
        return played, truth, same_placements(played.report["strokes"], truth["strokes"])

    played, truth, constant_ms = measured(measure)
    report = played.report
    # What was said live is what the written take is graded as; only the file does not know that a live tap
    # is uncertain by a millisecond.
    same_verdicts(report["strokes"], grade(played.heard, env)["strokes"], within_ms=1.01)
    # With the devices' constant taken off, it is also what the take that was played is graded as.
    offset_s = -first_click_s + constant_ms / 1000
    shifted = grade(played.heard, env, "--offset", f"{offset_s:.6f}")
    same_verdicts(shifted["strokes"], truth["strokes"], within_ms=TRANSPORT_MS)
    clicks_lie_where_the_timeline_puts_them(played.sound)


def clicks_lie_where_the_timeline_puts_them(sound: Path) -> None:
    """Hold what the card played against the stream as exact arithmetic renders it: not a frame may differ."""
    stream = np.fromfile(sound, dtype=np.int16).reshape(-1, 2)
    pattern = open_pattern(PATTERN, load_library())
    chosen = Preferences(Settings(), load_library(), keep_nothing).sound_settings(hears_left=False)
    plan = plan_for(pattern, Timeline.steady(BPM), passes=PASSES, settings=chosen, rate=RATE)
    end = plan.frame_of(Fraction(PASSES * pattern.beats))
    clicks = click_onsets(plan, 0, end)
    start = int(np.flatnonzero(stream.any(axis=1))[0]) - clicks[0].frame
    np.testing.assert_array_equal(stream[start : start + end], render(plan, 0, end))
    print(f"{len(clicks)} clicks in {end / RATE:.1f} s of sound: every frame as rendered")
