"""A drill with nothing faked: window, MIDI port, sound, and a second process that plays to the clicks."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, count_in_beats
from trainer.practice.hands import Faults, simulate
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take
from trainer.sound.plan import SoundSettings, click_onsets, plan_for
from trainer.sound.render import render

PATTERN = "one-basic-one-skip"
BPM = "97.3"
PASSES = 6
RATE = 48_000
FAULTS = Faults(jitter_s=0.012, rush_gap_s=0.07, touch_skips=0.3, miss=0.05)
# The clicks are heard a card's buffer after the speaker hands them on (no calibration here), a constant;
# what is left is a JACK period of 5.3 ms in the transport and the waits of three processes on two cores.
TRANSPORT_MS = 8.0
HERE = Path(__file__).parent
TOP = HERE.parents[1]
PORT = "Finger Pad"
pytestmark = [
    pytest.mark.system,
    pytest.mark.skipif(
        not sys.platform.startswith("linux"), reason="the card of exact speed is a Linux pipe"
    ),
]


def environment(tmp_path: Path, screen: str) -> dict[str, str]:
    """Return the environment of a user with these devices; JACK's names are in it already."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "SDL_", "WAYLAND"))}
    return {
        **kept,
        "HOME": str(tmp_path / "home"),
        "PYTHONPATH": str(TOP),
        "DISPLAY": screen,
        "SDL_VIDEODRIVER": "x11",
        "SDL_AUDIODRIVER": "disk",
        "SDL_DISKAUDIOFILE": str(tmp_path / "card"),
    }


def sloppy_taps() -> tuple[Tap, ...]:
    """Return a player's take with every fault; a pad tells no string."""
    pattern = open_pattern(PATTERN, load_library())
    targets = lay_out(pattern, Timeline.steady(BPM), passes=PASSES)
    played = simulate(targets, FAULTS, np.random.default_rng(3)).taps
    return tuple(replace(tap, string=None) for tap in played)


def remember_pads(env: dict[str, str]) -> None:
    """Keep the pads of the port as if they had been taught: nail 36, thumb 38."""
    code = (
        "from trainer.records.settings import Settings, save_settings;"
        f"save_settings(Settings(cautions_seen=True, pads={{'{PORT}:out': 'nail=36,thumb=38'}}))"
    )
    subprocess.run([sys.executable, "-c", code], env=env, check=True, cwd=TOP)


def run(arguments: list[str], env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "trainer", *arguments]
    return subprocess.run(command, env=env, capture_output=True, text=True, timeout=150, check=False, cwd=TOP)


def test_a_drill_hears_every_tap_and_grades_it_as_the_take_itself_is_graded(
    tmp_path: Path, screen: str, jack_server: str
) -> None:
    assert jack_server
    env = environment(tmp_path, screen)
    remember_pads(env)
    pattern, timeline, taps = open_pattern(PATTERN, load_library()), Timeline.steady(BPM), sloppy_taps()
    first_click_s = timeline.seconds(Fraction(-count_in_beats(pattern.meter)))
    notes = [(t.song_s, 9, 36 if t.hand is Hand.NAIL else 38, t.velocity) for t in taps]
    order = tmp_path / "order.json"
    order.write_text(json.dumps({"first_click_s": first_click_s, "taps": notes}))
    write_take(tmp_path / "played.mid", taps, timeline, pattern.meter, lead_s=-first_click_s)
    os.mkfifo(tmp_path / "card")
    log, sound = tmp_path / "log.txt", tmp_path / "sound.raw"
    card = subprocess.Popen(
        [sys.executable, str(HERE / "pipe_card.py"), str(tmp_path / "card"), str(log), str(sound)]
    )
    player = subprocess.Popen(
        [sys.executable, str(HERE / "player.py"), str(order), str(log), str(sound)],
        env=env,
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        assert player.stdout is not None
        assert player.stdout.readline().strip() == "ready"
        drill = run(
            ["drill", PATTERN, "--bpm", BPM, "--passes", str(PASSES), "--input", PORT, "--leave"]
            + ["--report", str(tmp_path / "report.json"), "--take", str(tmp_path / "heard.mid")],
            env,
        )
    finally:
        for process in (player, card):
            process.terminate()
            process.wait(10)
    assert drill.returncode == 0, drill.stderr
    report = json.loads((tmp_path / "report.json").read_text())
    graded = json.loads(run(["grade", PATTERN, str(tmp_path / "played.mid"), "--json"], env).stdout)
    assert report["devices"]["taps_received"] == len(taps)
    assert report["devices"]["not_graded"] == ""
    same_grades(report["strokes"], graded["strokes"])
    again = json.loads(
        run(["grade", PATTERN, str(tmp_path / "heard.mid"), "--pads", "nail=50", "--json"], env).stdout
    )
    assert again["format"] == report["format"]
    clicks_lie_where_the_timeline_puts_them(sound)


def same_grades(heard: list[dict[str, float]], alone: list[dict[str, float]]) -> None:
    """Compare the graded drill with the graded take, the constant of the devices taken off."""
    assert [s["tapped_s"] is None for s in heard] == [s["tapped_s"] is None for s in alone]
    apart = np.array(
        [
            h["placement_ms"] - a["placement_ms"]
            for h, a in zip(heard, alone, strict=True)
            if a["tapped_s"] is not None
        ]
    )
    constant = float(np.median(apart))
    left = np.abs(apart - constant)
    kept = sum(h["verdict"] == a["verdict"] for h, a in zip(heard, alone, strict=True))
    print(
        f"\n{len(apart)} taps: devices {constant:+.1f} ms, else median {np.median(left):.2f} ms, "
        f"p99 {np.percentile(left, 99):.2f} ms; {kept} of {len(heard)} verdicts the same"
    )
    assert left.max() <= TRANSPORT_MS
    for h, a in zip(heard, alone, strict=True):
        if h["verdict"] != a["verdict"]:
            # Only at the edge of the pocket may a constant and some jitter tip a verdict over.
            edge = abs(abs(a["placement_ms"]) - a["pocket_ms"])
            assert edge <= abs(constant) + TRANSPORT_MS


def clicks_lie_where_the_timeline_puts_them(sound: Path) -> None:
    """Find each click in what the card played, by its own samples, and ask for error nought."""
    stream = np.fromfile(sound, dtype=np.int16).reshape(-1, 2)[:, 0]
    pattern = open_pattern(PATTERN, load_library())
    plan = plan_for(pattern, Timeline.steady(BPM), passes=PASSES, settings=SoundSettings(), rate=RATE)
    end = plan.frame_of(Fraction(PASSES * pattern.beats))
    wanted = [onset.frame for onset in click_onsets(plan, 0, end)]
    shift = int(np.flatnonzero(stream)[0]) - wanted[0]
    # In the count-in nothing else sounds: there each onset is the first sample after silence.
    loud = np.flatnonzero(stream[: wanted[4] + shift])
    onsets = loud[np.concatenate([[True], np.diff(loud) > RATE // 10])]
    assert (onsets - shift).tolist() == wanted[:4]
    # Later taps ring on top; where none is near, the stream is exactly what is rendered.
    same = 0
    for frame in wanted[4:]:
        piece = stream[frame + shift : frame + shift + 96]
        if len(piece) == 96 and np.array_equal(piece, render(plan, frame, 96)[:, 0]):
            same += 1
    print(f"{len(wanted)} clicks, {4 + same} found sample for sample where exact arithmetic puts them")
    assert same >= 4
