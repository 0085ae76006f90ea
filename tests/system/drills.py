"""What the drills with real devices share: their figure, their player and how what was heard is compared."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.records.library import load_library, open_pattern

PATTERN = "one-basic-one-skip"


BPM = "97.3"


PASSES = 5


FAULTS = Faults(jitter_s=0.012, rush_gap_s=0.07, touch_skips=0.3, miss=0.05)


# The clicks are heard a card's buffer after the speaker hands them on (no calibration here), a constant;
# what is left is a JACK period of 5.3 ms in the transport and the waits of three processes on two cores.
TRANSPORT_MS = 8.0


HERE = Path(__file__).parent


TOP = HERE.parents[1]


PORT = "Finger Pad"


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
    }


def sloppy_taps() -> tuple[Tap, ...]:
    """Return a player's take with every fault; a pad tells no string."""
    pattern = open_pattern(PATTERN, load_library())
    targets = lay_out(pattern, Timeline.steady(BPM), passes=PASSES)
    played = simulate(targets, FAULTS, np.random.default_rng(3)).taps
    return tuple(replace(tap, string=None) for tap in played)


def remember_pads(env: dict[str, str]) -> None:
    """Keep the pads of the port as if they had been taught, nail 36 and thumb 38, and taps silent."""
    code = (
        "from trainer.practice.settings import Settings;"
        "from trainer.records.settings import save_settings;"
        f"pads = {{'{PORT}:out': 'nail=36,thumb=38'}};"
        "save_settings(Settings(cautions_seen=True, tap_sound=False, pads=pads))"
    )
    subprocess.run([sys.executable, "-c", code], env=env, check=True, cwd=TOP)


def run(arguments: list[str], env: dict[str, str]) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "trainer", *arguments]
    return subprocess.run(command, env=env, capture_output=True, text=True, timeout=150, check=False, cwd=TOP)


def grade(take: Path, env: dict[str, str], *more: str) -> dict[str, Any]:
    """Return what the command line makes of a take."""
    done = run(["grade", PATTERN, str(take), "--bpm", BPM, "--passes", str(PASSES), "--json", *more], env)
    assert done.returncode == 0, done.stderr
    graded: dict[str, Any] = json.loads(done.stdout)
    return graded


def same_placements(heard: list[dict[str, Any]], alone: list[dict[str, Any]]) -> float:
    """Compare when the taps of drill and take came; return the devices' constant in ms.

    Placements would not do: a take that is late throughout is judged from where it lies.
    """
    assert [s["tapped_s"] is None for s in heard] == [s["tapped_s"] is None for s in alone]
    pairs = [(h, a) for h, a in zip(heard, alone, strict=True) if a["tapped_s"] is not None]
    apart = np.array([1000 * (h["tapped_s"] - a["tapped_s"]) for h, a in pairs])
    constant = float(np.median(apart))
    left = np.abs(apart - constant)
    print(
        f"\n{len(apart)} taps: devices {constant:+.1f} ms; apart from that "
        f"median {np.median(left):.2f} ms, p99 {np.percentile(left, 99):.2f} ms"
    )
    assert np.percentile(left, 95) <= TRANSPORT_MS
    return constant


def same_verdicts(heard: list[dict[str, Any]], alone: list[dict[str, Any]], *, within_ms: float) -> None:
    """Compare verdicts; they may differ only where the edge of the pocket lies between, or this near.

    How far apart the placements may lie is :func:`same_placements`'s business.
    """
    differ = [(h, a) for h, a in zip(heard, alone, strict=True) if h["verdict"] != a["verdict"]]
    print(f"{len(heard) - len(differ)} of {len(heard)} verdicts the same")
    for h, a in differ:
        apart_ms = abs(h["placement_ms"] - a["placement_ms"])
        assert abs(abs(a["placement_ms"]) - a["pocket_ms"]) <= max(within_ms, apart_ms), (h, a)
    assert len(differ) <= len(heard) // 10
