"""``thumbfall record`` through SDL itself: its disk driver is loudspeaker and microphone."""

from __future__ import annotations

import json
import wave
from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.banjo_material import RATE, Instrument, in_room, play
from trainer.cli import main
from trainer.records.library import load_library, open_pattern
from trainer.sound.clicks import ClickVoice

pytest.importorskip("pygame")
pytestmark = pytest.mark.system

PATTERN = open_pattern("skip-figure", load_library(Path("none")))


def test_one_command_makes_a_sound_file_and_its_labels(
    tmp_path: Path, disk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    banjo = Instrument("string and head")
    recording = play(PATTERN, banjo, bpm=100, passes=2, seed=5, click=ClickVoice.TONE, click_db=-9.0)
    sound = in_room(recording.wave, snr_db=35.0, seed=3)
    np.rint(0.5 * sound / np.abs(sound).max() * 32767).astype(np.int16).tofile(disk)
    to = tmp_path / "mine.wav"
    words = [
        "record",
        "skip-figure",
        "--bpm",
        "100",
        "--passes",
        "2",
        "--to",
        str(to),
        "--about",
        "a loud one",
    ]
    assert main(words) == 0
    out, _err = capsys.readouterr()
    assert "Nothing was sent" in out
    with wave.open(str(to)) as file:
        assert (file.getframerate(), file.getsampwidth()) == (RATE, 2)
        assert file.getnframes() / RATE > 6.0
    labels = json.loads((tmp_path / "mine.heard.json").read_text())
    assert (labels["pattern"], labels["bpm"], labels["your_words"]) == ("skip-figure", 100.0, "a loud one")
    assert len(labels["strokes"]) >= 10
    assert {each["string"] for each in labels["taps"]} >= {5, None}
    assert main(["grade", "skip-figure", str(to), "--json"]) == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--to", "mine.mp3"], "name it mine.wav"),
        (["--to", "mine.wav", "--passes", "9999"], "ask for fewer"),
    ],
)
def test_what_cannot_be_recorded_is_said_before_anything_is_opened(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["record", "skip-figure", *words]) == 2
    assert said in capsys.readouterr().err
