"""A sound file of a banjo is graded as a pad's take is."""

from __future__ import annotations

import json
import struct
import wave
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.banjo_material import RATE, Instrument, Recording, in_room, play
from tests.shipped import shipped
from trainer.cli import main
from trainer.records.library import open_pattern
from trainer.sound.clicks import ClickVoice

pytest.importorskip("pygame")  # decodes the file


def recorded(**chosen: object) -> Recording:
    pattern = open_pattern("skip-figure", shipped())
    return play(pattern, Instrument("string and head"), bpm=90, passes=4, seed=7, **chosen)  # type: ignore[arg-type]


def written(path: Path, sound: np.ndarray, *, rate: int = RATE, channels: int = 1, bits: int = 16) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setparams((channels, bits // 8, rate, 0, "NONE", ""))
        loud = 0.6 * sound / max(1e-9, float(np.abs(sound).max()))
        frames = np.repeat(loud[:, None], channels, axis=1)
        if bits == 8:
            file.writeframes(np.round(128 + 127 * frames).astype(np.uint8).tobytes())
        else:
            file.writeframes((frames * (2 ** (bits - 1) - 1)).astype(f"<i{bits // 8}").tobytes())
    return path


def graded(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, object], str]:
    code = main(["grade", "skip-figure", *words, "--json"])
    out, err = capsys.readouterr()
    return code, json.loads(out) if out else {}, err


@pytest.mark.parametrize("voice", ClickVoice)
def test_tempo_and_beat_0_come_from_the_clicks_and_strokes_are_judged(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, voice: ClickVoice
) -> None:
    take = recorded(click=voice)
    path = written(tmp_path / "take.wav", in_room(take.wave, snr_db=35, seed=1))
    code, report, err = graded(capsys, str(path))
    assert code == 0
    assert report["bpm"] == 90
    assert report["offset_s"] == pytest.approx(take.beat_0_s, abs=0.002)
    assert "clicks were heard" in err
    counts = report["summary"]["counts"]  # type: ignore[index]
    assert counts["in time"] + counts["kept silent"] >= 0.93 * report["summary"]["asked"]  # type: ignore[index]
    assert "wrong hand" not in counts
    placed = {round(each["expected_s"], 3): each["placement_ms"] for each in report["strokes"]}  # type: ignore[attr-defined]
    near = []
    for played in take.played:
        song_s = played.time_s - take.beat_0_s
        expected = min(placed, key=lambda each: abs(each - song_s))
        if placed[expected] is not None:
            near.append(abs(placed[expected] - 1000 * (song_s - expected)) <= 6)
    # A wooden click within some milliseconds of a stroke hides where it began.
    assert np.mean(near) >= (0.8 if voice is ClickVoice.WOOD else 0.95)


def test_touched_skips_are_heard(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    take = recorded(touch_share=0.5, touch_db=-6.0)
    path = written(tmp_path / "take.wav", in_room(take.wave, snr_db=40, seed=1))
    _code, report, _err = graded(capsys, str(path), "--bpm", "90", "--offset", str(take.beat_0_s))
    verdicts = [each["verdict"] for each in report["strokes"] if each["kind"] == "skip"]  # type: ignore[attr-defined]
    assert verdicts == ["touched" if touched else "kept silent" for _s, touched in take.skips]


@pytest.mark.parametrize(("rate", "channels", "bits"), [(44_100, 2, 16), (16_000, 1, 16), (48_000, 2, 8)])
def test_other_rates_channels_and_depths_are_heard(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, rate: int, channels: int, bits: int
) -> None:
    take = recorded()
    sound = in_room(take.wave, snr_db=40, seed=1)
    at = np.arange(0, len(sound) - 1, RATE / rate)
    low = np.convolve(sound, np.hanning(9) / np.hanning(9).sum(), mode="same") if rate < RATE else sound
    path = written(
        tmp_path / "take.wav",
        np.interp(at, np.arange(len(low)), low),
        rate=rate,
        channels=channels,
        bits=bits,
    )
    code, report, _err = graded(capsys, str(path), "--bpm", "90", "--offset", str(take.beat_0_s))
    assert code == 0
    assert report["summary"]["counts"].get("missed", 0) <= 3  # type: ignore[index]


@pytest.mark.parametrize("channels", [1, 2])
def test_steps_of_8_bits_are_no_touches_and_the_file_is_said_to_have_too_few(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, channels: int
) -> None:
    take = recorded()
    path = written(tmp_path / "take.wav", in_room(take.wave, snr_db=40, seed=1), channels=channels, bits=8)
    _code, report, err = graded(capsys, str(path), "--bpm", "90", "--offset", str(take.beat_0_s))
    counts = report["summary"]["counts"]  # type: ignore[index]
    assert "touched" not in counts
    assert counts.get("stray", 0) <= 1
    assert "take.wav has 8 bits a sample" in err


def test_a_room_that_no_set_up_has_learnt_is_learnt_from_the_take(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    take = recorded(touch_share=0.5, touch_db=-18.0)
    path = written(tmp_path / "take.wav", in_room(take.wave, snr_db=25, seed=1))
    _code, report, _err = graded(capsys, str(path), "--bpm", "90", "--offset", str(take.beat_0_s))
    told = [each["verdict"] == "touched" for each in report["strokes"] if each["kind"] == "skip"]  # type: ignore[attr-defined]
    truth = [touched for _s, touched in take.skips]
    assert sum(told) >= 0.8 * sum(truth)
    assert not any(said and not was for said, was in zip(told, truth, strict=True))


def test_a_silent_file_is_one_sentence(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with wave.open(str(tmp_path / "quiet.wav"), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes(np.full(2 * RATE, 3, dtype="<i2").tobytes())
    code, _report, err = graded(capsys, str(tmp_path / "quiet.wav"), "--bpm", "90")
    assert code == 2
    assert "silent" in err
    assert len(err.strip().splitlines()) == 1


def test_noise_alone_is_one_sentence(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    noise = np.random.default_rng(2).normal(0, 1, 3 * RATE)
    code, _report, err = graded(capsys, str(written(tmp_path / "noise.wav", noise)), "--bpm", "90")
    assert code == 2
    assert "no stroke can be heard" in err


def test_without_clicks_the_tempo_must_be_given(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    take = recorded()
    path = written(tmp_path / "take.wav", in_room(take.wave, snr_db=40, seed=1))
    code, _report, err = graded(capsys, str(path))
    assert code == 2
    assert "--bpm" in err


def test_pads_are_refused_for_a_sound_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = written(tmp_path / "take.wav", recorded().wave)
    code, _report, err = graded(capsys, str(path), "--pads", "nail=36")
    assert code == 2
    assert "no pad is heard" in err


def pieces_of(path: Path, frames: np.ndarray, *, rate: int, format_tag: int, bits: int) -> Path:
    """Write a WAV file by its own description (RIFF WAVE, Microsoft 1991), of any format that has one."""
    body = frames.tobytes()
    channels = frames.shape[1]
    block = channels * bits // 8
    head = struct.pack("<IHHIIHH", 16, format_tag, channels, rate, rate * block, block, bits)
    data = b"WAVEfmt " + head + b"data" + struct.pack("<I", len(body)) + body
    path.write_bytes(b"RIFF" + struct.pack("<I", len(data)) + data)
    return path


@pytest.mark.parametrize("channels", [1, 8])
def test_floats_and_many_channels_are_heard(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, channels: int
) -> None:
    sound = in_room(recorded(click=ClickVoice.TONE).wave, snr_db=35, seed=1)
    loud = (0.6 * sound / np.abs(sound).max()).astype("<f4")
    path = pieces_of(
        tmp_path / "take.wav", np.repeat(loud[:, None], channels, axis=1), rate=RATE, format_tag=3, bits=32
    )
    code, report, _err = graded(capsys, str(path))
    assert (code, report["bpm"]) == (0, 90)


@pytest.mark.parametrize(
    ("what", "word"),
    [
        ("empty", "empty.wav"),
        ("text", "no sound that can be read"),
        ("doubles", "64-bit"),
        ("hour", "60 minutes"),
    ],
)
def test_what_cannot_be_heard_is_one_sentence(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, what: str, word: str
) -> None:
    path = tmp_path / f"{what}.wav"
    if what == "text":
        path.write_text("hello")
    elif what == "doubles":
        pieces_of(path, np.zeros((RATE, 1)), rate=RATE, format_tag=3, bits=64)
    else:
        # An hour at 8 bits and 8,000 a second is 29 MB; the length is known before any of it is decoded.
        length = 0 if what == "empty" else 3600 * 8000
        pieces_of(path, np.full((length, 1), 128, np.uint8), rate=8000, format_tag=1, bits=8)
    code, _report, err = graded(capsys, str(path))
    assert code == 2
    assert word in err
    assert len(err.strip().splitlines()) == 1


def test_a_clipped_file_without_a_click_to_be_heard_says_that_it_is_clipped(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    sound = np.clip(50 * recorded().wave, -1, 1)
    path = tmp_path / "take.wav"
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        file.writeframes((sound * 32767).astype("<i2").tobytes())
    code, _report, err = graded(capsys, str(path))
    assert code == 2
    assert "is clipped" in err
    assert "--bpm" in err
