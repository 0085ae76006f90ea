"""The same drill on a machine without a sound device: the host clock alone keeps the time.

Another process plays to the moment at which the drill says that it has begun; nothing else is told it.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.system.test_drill_end_to_end import (
    BPM,
    PASSES,
    PATTERN,
    PORT,
    TOP,
    TRANSPORT_MS,
    environment,
    grade,
    remember_pads,
    same_placements,
    same_verdicts,
    sloppy_taps,
)
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, count_in_beats
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take

pytestmark = [
    pytest.mark.system,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="two processes share one clock on Linux"),
]

# The program itself, and a note of the clock at which its silent speaker was begun and of its first second.
DRILL = """
import sys
from pathlib import Path
from trainer.cli import main
from trainer.devices.speaker import SilentSpeaker
begin = SilentSpeaker.start
def start(self, plan, host_ns):
    begin(self, plan, host_ns)
    told = Path(sys.argv[1])
    told.with_suffix(".part").write_text(f"{host_ns} {plan.song_s(0)}")
    told.with_suffix(".part").rename(told)
SilentSpeaker.start = start
sys.exit(main(sys.argv[2:]))
"""
PLAYER = """
import json, sys, time
from pathlib import Path
import rtmidi
order, told, sent = map(Path, sys.argv[1:4])
port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, sys.argv[4])
port.open_virtual_port("out")
print("ready", flush=True)
while not told.exists():
    time.sleep(0.005)
begun_ns, first_s = told.read_text().split()
zero_s = int(begun_ns) / 1e9 - float(first_s)
seconds = []
for second, channel, note, velocity in json.loads(order.read_text()):
    time.sleep(max(0.0, zero_s + second - time.perf_counter()))
    seconds.append(time.perf_counter() - zero_s)
    port.send_message([0x90 | channel, note, velocity])
sent.write_text(json.dumps(seconds))
time.sleep(5.0)
port.delete()
"""
# A JACK period of 5.3 ms is half of it in the mean, and a busy machine adds to that.
LARGEST_CONSTANT_MS = 8.0


def test_without_a_sound_device_a_drill_hears_and_grades_as_with_one(
    tmp_path: Path, screen: str, jack_server: str
) -> None:
    assert jack_server
    env = {**environment(tmp_path, screen), "SDL_AUDIODRIVER": "none of this name"}
    remember_pads(env)
    pattern, timeline, taps = open_pattern(PATTERN, load_library()), Timeline.steady(BPM), sloppy_taps()
    order, told, sent = (tmp_path / name for name in ("order.json", "told", "sent.json"))
    order.write_text(json.dumps([(t.song_s, 9, 36 if t.hand is Hand.NAIL else 38, t.velocity) for t in taps]))
    with subprocess.Popen(
        [sys.executable, "-c", PLAYER, *map(str, (order, told, sent)), PORT],
        env=env,
        stdout=subprocess.PIPE,
        text=True,
    ) as player:
        assert player.stdout is not None
        assert player.stdout.readline().strip() == "ready"
        drill = subprocess.run(
            [
                *(sys.executable, "-c", DRILL, str(told), "drill", PATTERN, "--bpm", BPM),
                *("--passes", str(PASSES), "--input", PORT, "--leave"),
                *("--report", str(tmp_path / "report.json"), "--take", str(tmp_path / "heard.mid")),
            ],
            env=env,
            capture_output=True,
            text=True,
            timeout=150,
            check=False,
            cwd=TOP,
        )
        player.terminate()
    assert drill.returncode == 0, drill.stderr
    report = json.loads((tmp_path / "report.json").read_text())
    devices = report["devices"]
    assert devices["sound"] == "no sound"
    assert (devices["taps_received"], devices["not_graded"]) == (len(taps), "")

    played_s = json.loads(sent.read_text())
    late_ms = (np.array(played_s) - np.array([tap.song_s for tap in taps])) * 1000
    really = tuple(replace(tap, song_s=at_s) for tap, at_s in zip(taps, played_s, strict=True))
    first_click_s = timeline.seconds(Fraction(-count_in_beats(pattern.meter)))
    write_take(tmp_path / "played.mid", really, timeline, pattern.meter, lead_s=-first_click_s)
    truth = grade(tmp_path / "played.mid", env)
    constant_ms = same_placements(report["strokes"], truth["strokes"])
    print(f"the player itself was up to {late_ms.max():.1f} ms late")
    assert 0 <= constant_ms <= LARGEST_CONSTANT_MS, "without a card there is no card's delay"
    same_verdicts(report["strokes"], grade(tmp_path / "heard.mid", env)["strokes"], within_ms=1.01)
    same_verdicts(
        grade(tmp_path / "heard.mid", env, "--offset", f"{-first_click_s + constant_ms / 1000:.6f}")[
            "strokes"
        ],
        truth["strokes"],
        within_ms=TRANSPORT_MS,
    )
