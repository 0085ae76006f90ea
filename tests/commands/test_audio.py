"""A play-along from the command line, read back by scipy, and wrong words said in one sentence."""

import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import scipy.io.wavfile

from tests.screen.pages import BREAK
from trainer.cli import main

Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")


def test_a_file_is_written_that_other_programs_read(capsys: Capture, lantern: Path, tmp_path: Path) -> None:
    """Outside check: scipy reads 16-bit stereo of 48 kHz, with clicks where 120 a minute puts them."""
    to = tmp_path / "home.wav"
    words = ["--bpm", "120", "--passes", "1", "--parts", "click", "--to", str(to)]
    assert main(["audio", str(lantern), *words]) == 0
    assert f"{to}: {BREAK.title}, 1 pass at 120" in capsys.readouterr().out
    rate, samples = scipy.io.wavfile.read(to)
    assert (rate, samples.dtype, samples.shape[1]) == (48_000, np.dtype("<i2"), 2)
    sounding = np.flatnonzero(samples.any(axis=1))
    firsts = sounding[np.concatenate([[True], np.diff(sounding) > rate // 20])]
    assert set(np.diff(firsts).tolist()) == {rate // 2}
    with wave.open(str(to)) as read:
        assert read.getnframes() == len(samples)


def test_all_parts_are_heard_unless_some_are_named(capsys: Capture, lantern: Path, tmp_path: Path) -> None:
    to = tmp_path / "home.wav"
    assert main(["audio", str(lantern), "--passes", "1", "--to", str(to)]) == 0
    assert "s of click, banjo, bass, chop, drum." in capsys.readouterr().out


def test_a_figure_without_chords_says_that_it_has_no_band(capsys: Capture, tmp_path: Path) -> None:
    to = str(tmp_path / "home.wav")
    assert main(["audio", "basic-figure", "--passes", "1", "--to", to]) == 0
    said = capsys.readouterr()
    assert "s of click, banjo." in said.out
    assert "basic-figure has no chords, so no band plays to it." in said.err


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (
            ["basic-figure", "--to", "home.flac"],
            'found "home.flac" for a sound file, and only WAV can be written',
        ),
        (["basic-figure", "--to", "home"], "name it home.wav"),
        (["basic-figure", "--parts", "bass", "--to", "home.wav"], "has no chords, so no band plays to it"),
        (["basic-figure", "--parts", "piano", "--to", "home.wav"], 'found "piano" for a part'),
        (["basic-figure", "--click-of", "tin", "--to", "home.wav"], 'write one of "wood", "tone"'),
        (["basic-figure", "--click-on", "Mondays", "--to", "home.wav"], 'write one of "every beat"'),
        (["basic-figure", "--bpm", "4000", "--to", "home.wav"], "outside 20 to 400"),
        (["basic-figure", "--passes", "9000", "--to", "home.wav"], "write at most 60 minutes"),
        (["basic-figure", "--to", "no/such/folder/home.wav"], "cannot be written"),
    ],
)
def test_what_cannot_be_written_is_said_in_one_sentence(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, words: list[str], complaint: str
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["audio", *words]) in (2, 4)
    said = capsys.readouterr().err
    assert complaint in said
    assert "Traceback" not in said
    assert not list(tmp_path.glob("home*"))


def test_an_older_file_stands_until_the_new_one_is_whole(
    monkeypatch: pytest.MonkeyPatch, lantern: Path, tmp_path: Path
) -> None:
    to = tmp_path / "home.wav"
    to.write_bytes(b"older")

    def full(_plan: object) -> Iterator[np.ndarray]:
        yield np.zeros((100, 2), dtype=np.int16)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("trainer.sound.play_along.play_along_blocks", full)
    assert main(["audio", str(lantern), "--to", str(to)]) == 4
    assert to.read_bytes() == b"older"
