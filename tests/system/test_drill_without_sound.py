"""A drill with no sound device at all: window, MIDI port and a second process, on the host clock alone.

As test_drill_end_to_end.py, with the same tolerance; only that the player has no clicks to hear and is told
when beat 0 comes.
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

from tests.system.apparatus import measured, watched
from tests.system.drills import (
    BPM,
    PASSES,
    PATTERN,
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
from trainer.judging.take import Tap
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, count_in_beats
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take

# Nobody can hear the count-in, so the player is told at which second of the host clock beat 0 lies.
START = """
import json, sys, time
from tests.system.peer import an_output
take, sent = json.load(open(sys.argv[1])), sys.argv[2]
port = an_output("Finger Pad")
port.open_virtual_port("out")
print("ready", flush=True)
begun = float(sys.stdin.readline())
seconds = []
for second, channel, note, velocity in take["taps"]:
    due = begun + second
    while (left := due - time.perf_counter()) > 0:
        time.sleep(min(left, 0.0005) if left < 0.02 else left - 0.01)
    seconds.append(time.perf_counter() - begun)
    port.send_message([0x90 | channel, note, velocity])
json.dump(seconds, open(sent, "w"))
time.sleep(5.0)
port.delete()
"""
# The drill as from the shell, with a word on when its stream begins.
TOLD = """
import sys
from trainer.cli import main
from trainer.devices.speaker import SilentSpeaker
start = SilentSpeaker.start
def told(self, plan, host_ns):
    start(self, plan, host_ns)
    print(host_ns / 1e9 - plan.song_s(0), flush=True)
SilentSpeaker.start = told
sys.exit(main(sys.argv[1:]))
"""
pytestmark = [
    pytest.mark.system,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="two processes share one clock on Linux"),
]


def test_without_a_sound_device_every_tap_is_heard_and_graded_as_the_take_itself(
    tmp_path: Path, screen: str, jack_server: str
) -> None:
    env = {**environment(tmp_path, screen), "SDL_AUDIODRIVER": "nothing of that name"}
    remember_pads(env)
    pattern, timeline, taps = open_pattern(PATTERN, load_library()), Timeline.steady(BPM), sloppy_taps()
    first_click_s = timeline.seconds(Fraction(-count_in_beats(pattern.meter)))

    def measure(attempt: int) -> tuple[dict[str, object], list[float]]:
        folder = tmp_path / f"attempt-{attempt}"
        folder.mkdir()
        with watched() as machine:
            found = played_without_sound(folder, env, taps)
        (folder / "heard.mid").replace(tmp_path / "heard.mid")
        print(f"\n{machine}")
        # Owed on any machine; that no tap is lost, only where JACK keeps time.
        devices = found[0]["devices"]
        assert isinstance(devices, dict)
        assert 0 < devices["taps_received"] <= len(taps)
        assert devices["not_graded"] == ""
        assert devices["sound"] == "no sound"
        assert any("drills run on the clock alone" in remark for remark in devices["remarks"])
        machine.must_have_kept_time()
        assert devices["taps_received"] == len(taps)
        return found

    report, sent_s = measured(measure)
    sent = tuple(replace(tap, song_s=at_s) for tap, at_s in zip(taps, sent_s, strict=True))
    write_take(tmp_path / "played.mid", sent, timeline, pattern.meter, lead_s=-first_click_s)
    truth = grade(tmp_path / "played.mid", env)
    strokes = report["strokes"]
    assert isinstance(strokes, list)
    constant_ms = same_placements(strokes, truth["strokes"])
    # No card's buffer lies between: what is constant is JACK's period and the way through the port.
    assert 0.0 <= constant_ms <= TRANSPORT_MS
    same_verdicts(strokes, grade(tmp_path / "heard.mid", env)["strokes"], within_ms=1.01)
    # With that constant taken off, it is also what the take that was played is graded as.
    offset_s = -first_click_s + constant_ms / 1000
    shifted = grade(tmp_path / "heard.mid", env, "--offset", f"{offset_s:.6f}")
    same_verdicts(shifted["strokes"], truth["strokes"], within_ms=TRANSPORT_MS)


def played_without_sound(
    folder: Path, env: dict[str, str], taps: tuple[Tap, ...]
) -> tuple[dict[str, object], list[float]]:
    """Run the drill and the player; return the report and the second at which each tap was sent."""
    notes = [(t.song_s, 9, 36 if t.hand is Hand.NAIL else 38, t.velocity) for t in taps]
    order, sent, report = folder / "order.json", folder / "sent.json", folder / "report.json"
    order.write_text(json.dumps({"taps": notes}))
    player = subprocess.Popen(
        [sys.executable, "-c", START, str(order), str(sent)],
        env=env,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert player.stdin is not None
    assert player.stdout is not None
    try:
        assert player.stdout.readline().strip() == "ready"
        words = [
            *("drill", PATTERN, "--bpm", BPM, "--passes", str(PASSES), "--input", "Finger Pad", "--leave"),
            *("--report", str(report), "--take", str(folder / "heard.mid")),
        ]
        drill = subprocess.Popen(
            [sys.executable, "-c", TOLD, *words], env=env, cwd=TOP, stdout=subprocess.PIPE, text=True
        )
        assert drill.stdout is not None
        begun = next(line for line in drill.stdout if line.strip().replace(".", "").isdigit())
        player.stdin.write(begun)
        player.stdin.flush()
        drill.communicate(timeout=120)
        assert drill.returncode == 0
    finally:
        player.terminate()
        player.wait(10)
        player.stdin.close()
        player.stdout.close()
    return json.loads(report.read_text()), json.loads(sent.read_text())


def test_checkup_says_in_a_sentence_what_is_not_there(tmp_path: Path) -> None:
    """No display, no sound device, no MIDI service: an answer all the same, and nothing on stderr."""
    env = {**environment(tmp_path, ""), "SDL_AUDIODRIVER": "nothing of that name"}
    env.update(JACK_NO_START_SERVER="1", JACK_DEFAULT_SERVER="thumbfall-none")
    for name in ("DISPLAY", "SDL_VIDEODRIVER"):
        env.pop(name)
    done = run(["checkup", "--seconds", "5"], env)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert any(line.startswith("The picture was not measured: ") for line in lines)
    assert any(line.startswith("Sound was not measured: ") for line in lines)


def test_checkup_measures_a_window_and_a_port_of_its_own(
    tmp_path: Path, screen: str, jack_server: str
) -> None:
    env = {**environment(tmp_path, screen), "SDL_DISKAUDIOFILE": str(tmp_path / "sound.raw")}
    done = run(["checkup", "--seconds", "5", "--json"], env)
    assert (done.returncode, done.stderr) == (0, "")
    found = json.loads(done.stdout)
    print(f"\n{found['verdict']}")
    assert found["seconds"] >= 5
    assert found["frames"]["width"] == 1280
    assert 0 < found["frames"]["per_second"] < 61
    assert found["midi"]["heard"] >= found["midi"]["sent"] - 1 > 0
    assert found["sound"]["blocks"] > 0
    assert np.isclose(found["looks"]["scan_ms"], 4.0)
