"""Tracks of each kind read into memory, with SDL's dummy driver; what they are is said by other libraries.

The FLAC, Ogg and MP3 files were written by libsndfile (tests/data/tracks), the WAV files by Python's wave.
"""

import hashlib
import os
import subprocess
import sys
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from trainer.devices import backing as backing_module
from trainer.devices import decoder
from trainer.devices.backing import LONGEST_MINUTES, TrackReader, read_track
from trainer.errors import BadSettings, NoSound, StoreProblem
from trainer.sound.track_length import stated_seconds

pygame = pytest.importorskip("pygame")

TRACKS = Path(__file__).parent.parent / "data" / "tracks"
RATE = 48_000
SMALL = f"""
import sys
from trainer.devices import decoder
decoder.MOST_BYTES = 1
sys.exit(decoder.main([sys.argv[1], "{RATE}"]))
"""


@pytest.fixture
def mixer(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    pygame.mixer.quit()
    pygame.mixer.init(RATE, -16, 2, 512, allowedchanges=0)
    yield
    pygame.mixer.quit()


def write_wav(path: Path, samples: np.ndarray, rate: int = 44_100) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1 if samples.ndim == 1 else 2)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.astype("<i2").tobytes())
    return path


def two_tones() -> np.ndarray:
    """As in tests/data/tracks/make_tracks.py: left from 0.25 s, right from 0.75 s, 50 ms each."""
    samples = np.zeros((66_150, 2))
    t = np.arange(2205) / 44_100
    tone = 16_000 * np.sin(2 * np.pi * 1000 * t) * np.hanning(len(t))
    samples[11_025 : 11_025 + 2205, 0] = tone
    samples[33_075 : 33_075 + 2205, 1] = tone
    return samples


@pytest.mark.usefixtures("mixer")
@pytest.mark.parametrize("ending", ["wav", "flac", "ogg", "mp3"])
def test_each_kind_is_read_with_its_sounds_in_their_places_and_left_as_it_was(
    ending: str, tmp_path: Path
) -> None:
    path = TRACKS / f"track.{ending}"
    if ending == "wav":
        path = write_wav(tmp_path / "track.wav", two_tones())
    before = path.read_bytes()
    track = read_track(path, RATE)
    assert path.read_bytes() == before
    assert track.mark == hashlib.sha256(before).hexdigest()
    assert track.seconds == pytest.approx(1.5, abs=0.02)
    assert not track.samples.flags.writeable
    for channel, middle_s in ((0, 0.275), (1, 0.775)):
        energy = track.samples[:, channel].astype(float) ** 2
        assert np.average(np.arange(len(energy)), weights=energy) / RATE == pytest.approx(middle_s, abs=0.001)
        assert np.abs(track.samples[:, channel].astype(int)).max() == pytest.approx(16_380, rel=0.05)


@pytest.mark.parametrize("ending", ["flac", "ogg", "mp3"])
def test_the_length_is_known_before_decoding(ending: str) -> None:
    data = (TRACKS / f"track.{ending}").read_bytes()
    found = stated_seconds(data[: 1 << 16], data[-(1 << 16) :], len(data))
    assert found == pytest.approx(1.5, abs=0.08), "an MP3 is padded to whole frames"


def test_the_length_of_a_wav_file_is_known_before_decoding(tmp_path: Path) -> None:
    data = write_wav(tmp_path / "x.wav", np.ones(22_050)).read_bytes()
    assert stated_seconds(data, data, len(data)) == 0.5


def test_an_mp3_whose_tag_holds_a_large_picture_is_at_least_as_long_as_its_bytes() -> None:
    """Source: 320 kbit/s is the highest rate of layer 3."""
    size_of_tag = 1 << 20
    head = (
        b"ID3\x04\x00\x00" + bytes((size_of_tag >> shift) & 0x7F for shift in (21, 14, 7, 0)) + bytes(60_000)
    )
    found = stated_seconds(head, b"", 10 + size_of_tag + 40_000 * 60)
    assert found == pytest.approx(60.0)


@pytest.mark.parametrize("data", [b"", b"RIFF", b"fLaC", b"OggS", b"ID3", b"hello world" * 400, bytes(5000)])
def test_what_states_no_length_has_none(data: bytes) -> None:
    assert stated_seconds(data, data, len(data)) is None


@pytest.mark.usefixtures("mixer")
def test_hours_are_refused_before_they_are_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The header of a FLAC file says three hours; nothing of it is ever decoded."""

    def never(*_args: object, **_options: object) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr("trainer.devices.backing.subprocess.Popen", never)
    data = bytearray((TRACKS / "track.flac").read_bytes())
    packed = int.from_bytes(data[18:26], "big") & ~((1 << 36) - 1) | 44_100 * 3 * 3600
    data[18:26] = packed.to_bytes(8, "big")
    path = tmp_path / "long.flac"
    path.write_bytes(data)
    with pytest.raises(
        BadSettings, match=f"long.flac is 180 minutes long and at most {LONGEST_MINUTES} are read"
    ):
        read_track(path, RATE)


@pytest.mark.usefixtures("mixer")
@pytest.mark.parametrize(("name", "data"), [("a.wav", b""), ("b.mp3", b"hello " * 1000), ("c.ogg", b"OggS")])
def test_a_file_without_sound_is_refused_in_one_line(tmp_path: Path, name: str, data: bytes) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(BadSettings) as caught:
        read_track(path, RATE)
    assert str(caught.value).startswith(f"{name} holds no sound that can be read (")
    assert str(caught.value).endswith("; give a WAV, FLAC, Ogg Vorbis or MP3 file.")
    assert "\n" not in str(caught.value)


@pytest.mark.usefixtures("mixer")
def test_silence_missing_files_and_large_files_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(BadSettings, match=r"mute\.wav is silent from begin to end"):
        read_track(write_wav(tmp_path / "mute.wav", np.zeros(44_100)), RATE)
    with pytest.raises(StoreProblem, match=r"none\.wav cannot be read \(No such file or directory\)"):
        read_track(tmp_path / "none.wav", RATE)
    monkeypatch.setattr(backing_module, "LARGEST_BYTES", 1 << 20)
    loud = write_wav(tmp_path / "big.wav", np.ones(1 << 20))
    with pytest.raises(BadSettings, match=r"big\.wav has 2 MB and at most 1 are read"):
        read_track(loud, RATE)


def test_without_an_open_device_there_is_no_track(tmp_path: Path) -> None:
    pygame.mixer.quit()
    with pytest.raises(NoSound, match="a track needs a sound device, and none is open"):
        read_track(write_wav(tmp_path / "x.wav", np.ones(100)), RATE)


@pytest.mark.usefixtures("mixer")
def test_a_device_of_another_rate_is_said_so(tmp_path: Path) -> None:
    with pytest.raises(NoSound, match="the sound device has changed its rate"):
        read_track(write_wav(tmp_path / "x.wav", np.ones(100)), 44_100)
    assert os.environ["SDL_AUDIODRIVER"] == "dummy"


@pytest.mark.usefixtures("mixer")
def test_a_file_over_which_the_decoder_breaks_down_is_one_sentence(tmp_path: Path) -> None:
    """One bit of a FLAC header is wrong: SDL_mixer 2.6.3 ends by SIGSEGV, and only its process with it."""
    data = bytearray((TRACKS / "track.flac").read_bytes())
    data[20] ^= 1 << 2
    path = tmp_path / "one-bit.flac"
    path.write_bytes(data)
    with pytest.raises(BadSettings, match=r"one-bit\.flac (is damaged|holds no sound)"):
        read_track(path, RATE)


@pytest.mark.usefixtures("mixer")
def test_a_slowed_track_is_longer_with_its_sounds_further_apart_at_their_pitch(tmp_path: Path) -> None:
    path = write_wav(tmp_path / "track.wav", two_tones())
    reader = TrackReader(path, RATE, speed=60)
    track = reader.wait()
    assert reader.share == 1.0
    whole = read_track(path, RATE)
    assert track.mark == whole.mark
    assert track.speed == 60
    assert len(track.samples) == round(len(whole.samples) / 0.6)
    for channel, middle_s in ((0, 0.275), (1, 0.775)):
        sound = track.samples[:, channel].astype(float)
        loud = np.convolve(sound**2, np.ones(480), "same")
        assert np.argmax(loud) / RATE == pytest.approx(middle_s / 0.6, abs=0.02)
        hertz = np.fft.rfftfreq(1 << 18, 1 / RATE)[np.argmax(np.abs(np.fft.rfft(sound, 1 << 18)))]
        assert hertz == pytest.approx(1000, abs=12)
    with pytest.raises(ValueError, match="outside"):
        TrackReader(path, RATE, speed=40)


@pytest.mark.usefixtures("mixer")
def test_hours_in_a_file_that_states_no_length_are_stopped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The header of a FLAC file says nothing; what is decoded is counted. With little room, memory is too."""
    data = bytearray((TRACKS / "track.flac").read_bytes())
    packed = int.from_bytes(data[18:26], "big") & ~((1 << 36) - 1)
    data[18:26] = packed.to_bytes(8, "big")
    path = tmp_path / "unknown.flac"
    path.write_bytes(data)
    assert read_track(path, RATE).seconds == pytest.approx(1.5, abs=0.02)
    monkeypatch.setattr(backing_module, "LONGEST_MINUTES", 0.01)
    with pytest.raises(BadSettings, match=r"unknown\.flac is 0 minutes long"):
        read_track(path, RATE)


@pytest.mark.usefixtures("mixer")
def test_a_decoder_that_takes_too_much_memory_stops_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten seconds of 8 frames each, brought to 48,000: SDL makes them 6000 times as long."""
    pytest.importorskip("resource", reason="on this system only time is limited")
    path = write_wav(tmp_path / "slow.wav", np.ones(50_000), rate=8)
    monkeypatch.setattr(backing_module, "stated_seconds", lambda *_args: None)
    with pytest.raises(BadSettings, match=r"slow\.wav (takes more memory than|is \d+ minutes long)"):
        read_track(path, RATE)
    ended = subprocess.run(
        [sys.executable, "-c", SMALL, str(path)], env={**os.environ, **decoder.ENVIRONMENT},
        capture_output=True, check=False,
    )  # fmt: skip
    assert ended.returncode == decoder.TOO_LARGE
    assert ended.stdout == b""


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no pipes with names")
@pytest.mark.usefixtures("mixer")
def test_pipes_devices_and_folders_are_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.wav")
    for path in (tmp_path / "pipe.wav", Path("/dev/zero"), tmp_path):
        with pytest.raises(BadSettings, match="is not a plain file"):
            read_track(path, RATE)


@pytest.fixture
def stuck_decoder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A module that a decoder's process finds, and that starts, says nothing and stays."""
    (tmp_path / "stuck_decoder.py").write_text("import threading; threading.Event().wait()", encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    return "stuck_decoder"


@pytest.mark.usefixtures("mixer")
def test_a_decoder_that_never_ends_is_ended(monkeypatch: pytest.MonkeyPatch, stuck_decoder: str) -> None:
    monkeypatch.setattr(backing_module, "LONGEST_WAIT_S", 0.05)
    monkeypatch.setattr(backing_module, "DECODER", stuck_decoder)
    with pytest.raises(BadSettings, match="keeps its decoder busy without an end"):
        read_track(TRACKS / "track.ogg", RATE)


@pytest.mark.usefixtures("mixer")
def test_reading_goes_on_beside_the_caller_and_can_be_given_up(
    monkeypatch: pytest.MonkeyPatch, stuck_decoder: str
) -> None:
    reader = TrackReader(TRACKS / "track.ogg", RATE)
    assert reader.wait().seconds == pytest.approx(1.5, abs=0.02)
    assert (reader.share, reader.poll() is not None) == (1.0, True)
    monkeypatch.setattr(backing_module, "DECODER", stuck_decoder)
    reader = TrackReader(TRACKS / "track.ogg", RATE)
    assert reader.poll() is None
    reader.cancel()
    with pytest.raises(BadSettings, match="was not read to its end"):
        reader.wait()


@pytest.mark.usefixtures("mixer")
def test_a_track_is_read_from_a_folder_with_modules_of_the_same_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "trainer").mkdir()
    (tmp_path / "trainer" / "__init__.py").write_text("raise SystemExit(9)")
    (tmp_path / "struct.py").write_text("raise SystemExit(9)")
    monkeypatch.chdir(tmp_path)
    assert read_track(TRACKS / "track.ogg", RATE).seconds == pytest.approx(1.5, abs=0.02)
