"""`thumbfall delay`, end to end: files in, words and exit codes out."""

from __future__ import annotations

import json
import re
import wave
from dataclasses import asdict
from pathlib import Path
from types import SimpleNamespace

import mido
import numpy as np
import pytest

import trainer.app
from tests.sound.room import Room, calibration_clicks
from trainer.cli import main
from trainer.commands import calibrate
from trainer.opening import Opening
from trainer.records.settings import load_settings

GAP_S = 0.6
Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def nothing_plugged_in(own_folders: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A user without settings, ports or sound."""
    del own_folders
    monkeypatch.setattr(calibrate, "_whole_name", lambda name: name)
    monkeypatch.setattr(calibrate, "_output_in_use", lambda: "Headphones")


def run(capsys: Capture, *words: str) -> tuple[int, str, str]:
    code = main(("calibrate", *words))
    said = capsys.readouterr()
    return code, said.out, said.err


def write_taps(path: Path, taps_s: list[float], *, tempo_us: int | None = 600_000) -> Path:
    """Write notes with a general library, as any recorder would: 1000 ticks to 0.6 s."""
    midi, track = mido.MidiFile(type=0, ticks_per_beat=1000), mido.MidiTrack()
    if tempo_us is not None:
        track.append(mido.MetaMessage("set_tempo", tempo=tempo_us, time=0))
    per_s = 1000 / ((tempo_us or 500_000) / 1e6)
    at = 0
    for tap in taps_s:
        tick = round(tap * per_s)
        track.append(mido.Message("note_on", note=36, velocity=90, time=tick - at))
        at = tick
    midi.tracks.append(track)
    midi.save(path)
    return path


def write_wave(path: Path, samples: np.ndarray, *, channels: int = 1, rate: int = 48_000) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.rint(samples * 32767).astype("<i2").tobytes())
    return path


def along(late_s: float, n: int = 20, jitter_s: float = 0.01) -> list[float]:
    scatter = np.random.default_rng(1).normal(0, jitter_s, n)
    return [float((k + 1) * GAP_S + late_s + e) for k, e in enumerate(scatter)]


def test_a_file_of_taps_forty_ms_early_is_early_and_steady(tmp_path: Path, capsys: Capture) -> None:
    """Aschersleben & Prinz 1995: 30 to 50 ms ahead is usual."""
    taps = write_taps(tmp_path / "taps.mid", along(-0.040))
    code, out, err = run(capsys, "--taps", str(taps))
    lines = out.splitlines()
    assert (code, err) == (0, "")
    said = re.match(r"You tap (\d+) ms early, steady \(20 taps, spread \d+ ms, sure to ± \d+ ms\)", lines[0])
    assert said is not None
    assert int(said[1]) == pytest.approx(40, abs=5)
    assert "together with your own habit" in lines[1]
    assert lines[2].startswith("To keep it: thumbfall delay --set -")


def test_numbers_for_programs_and_a_tempo_of_ones_own(tmp_path: Path, capsys: Capture) -> None:
    taps = write_taps(tmp_path / "taps.mid", along(0.055), tempo_us=None)
    code, out, _ = run(capsys, "--taps", str(taps), "--bpm", "100", "--json")
    table = json.loads(out)
    assert code == 0
    assert table["delay_ms"] == pytest.approx(55, abs=6)
    assert (table["way"], table["taps"], table["steady"]) == ("taps", 20, True)


def test_an_offset_says_where_a_click_lies(tmp_path: Path, capsys: Capture) -> None:
    taps = write_taps(tmp_path / "taps.mid", [tap + 0.250 for tap in along(0.02)])
    _, out, _ = run(capsys, "--taps", str(taps), "--offset", "0.25", "--json")
    assert json.loads(out)["delay_ms"] == pytest.approx(20, abs=6)


def test_wild_taps_are_refused_with_exit_code_1(tmp_path: Path, capsys: Capture) -> None:
    taps = write_taps(tmp_path / "taps.mid", along(0.1, jitter_s=0.1))
    code, out, _ = run(capsys, "--taps", str(taps))
    assert code == 1
    assert "lie too far apart" in out
    assert "--set" not in out


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("microphone_s", [0.0, 0.17])
def test_one_recording_and_the_same_taps_give_the_devices_delay(
    tmp_path: Path, capsys: Capture, channels: int, microphone_s: float
) -> None:
    late_s, begin_s = 0.048, 2.9 + microphone_s
    hits = [k * GAP_S + 0.3 + e for k, e in enumerate(np.random.default_rng(2).normal(0, 0.03, 14))]
    clicks = [(s + late_s + begin_s, kind) for s, kind in calibration_clicks(17)]
    knocks = [h + begin_s for h in hits]
    heard = Room(noise=0.004).record(np.random.default_rng(3), clicks, knocks, length_s=14.0)
    recording = write_wave(tmp_path / "heard.wav", np.repeat(heard, channels), channels=channels)
    taps = write_taps(tmp_path / "taps.mid", hits)
    code, out, _ = run(capsys, "--taps", str(taps), "--wav", str(recording), "--json")
    table = json.loads(out)
    assert (code, table["way"]) == (0, "microphone")
    assert table["delay_ms"] == pytest.approx(48, abs=1.0)


def test_a_recording_of_silence_is_refused(tmp_path: Path, capsys: Capture) -> None:
    silence = write_wave(tmp_path / "silence.wav", np.zeros(48_000 * 5))
    taps = write_taps(tmp_path / "taps.mid", along(0.0))
    code, out, _ = run(capsys, "--taps", str(taps), "--wav", str(silence))
    assert code == 1
    assert out.startswith("Of 8 knocks at least, 0 were heard.")


def test_a_delay_is_kept_and_shown(capsys: Capture) -> None:
    assert run(capsys, "--show") == (0, "No delay is kept yet.\n", "")
    code, out, _ = run(capsys, "--set", "-35", "--input", "Pad")
    assert (code, out) == (0, "Kept: -35 ms are taken off each tap on Pad, heard through Headphones.\n")
    run(capsys, "--set", "80", "--output", "sound on", "--json")
    code, out, _ = run(capsys, "--show")
    assert out.splitlines() == ["   80 ms  Computer keys  sound on", "  -35 ms  Pad            Headphones"]
    assert load_settings()[0].known_delays == {"Pad | Headphones": "-35", "Computer keys | sound on": "80"}
    assert json.loads(run(capsys, "--show", "--json")[1]) == [
        {"input": "Computer keys", "output": "sound on", "delay_ms": 80},
        {"input": "Pad", "output": "Headphones", "delay_ms": -35},
    ]


def test_without_options_the_window_opens_on_the_calibration(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[Opening] = []

    def open_window(opening: Opening) -> int:
        opened.append(opening)
        return 0

    monkeypatch.setattr(trainer.app, "loop", SimpleNamespace(open_window=open_window), raising=False)
    assert run(capsys, "--input", "Pad") == (0, "", "")
    assert asdict(opened[0]) == asdict(Opening(calibrate=True, input_name="Pad"))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--set", "400"), "--set of 400 is outside -300 to 300"),
        (("--set", "a bit"), 'found "a bit" for --set'),
        (("--set", "1.5"), 'found "1.5" for --set'),
        (("--set", "5", "--show"), "--set and --show were given together"),
        (("--wav", "x.wav"), "a recording alone is not enough"),
        (("--bpm", "100"), "--bpm means nothing without files"),
        (("--taps", "nowhere.mid"), "nowhere.mid"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else "",
)
def test_wrong_words_are_one_sentence(capsys: Capture, words: tuple[str, ...], said: str) -> None:
    code, out, err = run(capsys, *words)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_take_without_a_tempo_asks_for_one(tmp_path: Path, capsys: Capture) -> None:
    taps = write_taps(tmp_path / "taps.mid", along(0.0), tempo_us=None)
    code, _, err = run(capsys, "--taps", str(taps))
    assert (code, err) == (2, "the take names no tempo; give the clicks a minute with --bpm.\n")


def bad_wave(tmp_path: Path, kind: str) -> Path:
    path = tmp_path / "bad.wav"
    if kind == "text":
        path.write_text("these are only words, and rather a lot of them for a file that should sound")
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "cut":
        path.write_bytes(write_wave(tmp_path / "whole.wav", np.zeros(1000)).read_bytes()[:30])
    elif kind == "8 bits":
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(1)
            file.setframerate(48_000)
            file.writeframes(bytes(1000))
    elif kind == "slow":
        write_wave(path, np.zeros(4000), rate=4_000)
    elif kind == "long":
        write_wave(path, np.zeros(8_000 * 121), rate=8_000)
    elif kind == "no frames":
        write_wave(path, np.zeros(0))
    return path


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("text", "is no WAV file of 16-bit PCM"),
        ("empty", "is no WAV file of 16-bit PCM"),
        ("cut", "is no WAV file of 16-bit PCM"),
        ("8 bits", "holds 1000 frames of 8 bits at 48000 a second; save it with 16 bits"),
        ("slow", "at 4000 a second"),
        ("long", "is 121 s long and at most 120 are heard"),
        ("no frames", "holds 0 frames"),
        ("missing", "cannot be read (No such file or directory)"),
    ],
)
def test_a_recording_that_is_none_is_one_sentence(
    tmp_path: Path, capsys: Capture, kind: str, said: str
) -> None:
    taps = write_taps(tmp_path / "taps.mid", along(0.0))
    code, out, err = run(capsys, "--taps", str(taps), "--wav", str(bad_wave(tmp_path, kind)))
    assert (code, out) == (2, "")
    assert said in err
    assert "bad.wav" in err
    assert err.count("\n") == 1
