"""Microphones and outputs without a device: what is said when there is none, and what a chunk becomes."""

import numpy as np
import pytest

from trainer.devices import microphone as microphones
from trainer.devices import outputs
from trainer.devices.microphone import CHUNK_FRAMES, LONGEST_S, RATE, Microphone
from trainer.devices.outputs import is_wireless, output_name, wireless_warning
from trainer.devices.speaker import SilentSpeaker
from trainer.errors import DeviceProblem


class FakeDevice:
    """What pygame's capture looks like from outside; chunks come when the test says so."""

    def __init__(self, **options: object) -> None:
        self.options = options
        self.callback = options["callback"]
        self.deviceid = 7
        self.done: list[str] = []

    def pause(self, pause_on: int) -> None:
        self.done.append(f"pause {pause_on}")

    def close(self) -> None:
        self.done.append("close")

    def send(self, samples: np.ndarray) -> None:
        self.callback(self, memoryview(bytearray(samples.astype(np.int16).tobytes())))  # type: ignore[operator]


class FakeAudio:
    """A capture module with two devices."""

    AUDIO_S16 = 0x8010

    def __init__(self) -> None:
        self.made: list[FakeDevice] = []

    def AudioDevice(self, **options: object) -> FakeDevice:  # noqa: N802 - pygame's name
        self.made.append(FakeDevice(**options))
        return self.made[-1]


@pytest.fixture
def audio(monkeypatch: pytest.MonkeyPatch) -> FakeAudio:
    pytest.importorskip("pygame")
    fake = FakeAudio()
    monkeypatch.setattr(microphones, "sdl_audio", fake)
    monkeypatch.setattr(microphones, "capture_names", lambda: ("Lid", "Desk"))
    return fake


def test_the_first_microphone_is_taken_unless_one_is_named(audio: FakeAudio) -> None:
    assert Microphone().name == "Lid"
    assert Microphone("Desk").name == "Desk"
    options = audio.made[1].options
    assert (options["devicename"], options["iscapture"], options["frequency"]) == ("Desk", True, 48_000)
    assert (options["numchannels"], options["allowed_changes"]) == (1, 0)


def test_what_comes_in_chunks_is_one_recording_from_minus_one_to_one(audio: FakeAudio) -> None:
    microphone = Microphone()
    microphone.start()
    (device,) = audio.made
    ramp = np.arange(CHUNK_FRAMES * 2) - CHUNK_FRAMES
    device.send(ramp[:CHUNK_FRAMES])
    device.send(ramp[CHUNK_FRAMES:])
    assert device.done == ["pause 0"]
    assert microphone.seconds == pytest.approx(2 * CHUNK_FRAMES / RATE)
    assert microphone.recorded() * 32768 == pytest.approx(ramp)
    microphone.start()
    assert microphone.seconds == 0.0


def test_a_recording_ends_by_itself_before_it_fills_the_memory(audio: FakeAudio) -> None:
    microphone = Microphone()
    microphone.start()
    second = np.zeros(RATE)
    for _ in range(round(LONGEST_S) + 5):
        audio.made[0].send(second)
    assert microphone.seconds == LONGEST_S


def test_a_device_is_closed_through_sdl_before_pygame_is_asked(
    audio: FakeAudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed: list[int] = []

    def close_device(device_id: int) -> bool:
        closed.append(device_id)
        assert audio.made[0].done == []
        return True

    monkeypatch.setattr(microphones, "close_device", close_device)
    Microphone().close()
    assert closed == [7]
    assert audio.made[0].done == ["close"]


def test_where_sdl_is_not_found_a_device_is_closed_just_after_a_chunk(
    audio: FakeAudio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(microphones, "close_device", lambda _id: False)
    microphone = Microphone()
    waited: list[float | None] = []

    class Came:
        def clear(self) -> None:
            waited.clear()

        def wait(self, timeout: float | None = None) -> bool:
            waited.append(timeout)
            assert audio.made[0].done == []
            return False

    monkeypatch.setattr(microphone, "_came", Came())
    microphone.close()
    assert waited == [0.5]
    assert audio.made[0].done == ["close"]


@pytest.mark.parametrize(
    ("name", "names", "words"),
    [
        ("", (), "no microphone was found; plug one in, or tap along instead, or set the delay by hand."),
        ("Loft", ("Lid",), 'the microphone "Loft" is not there; plug one in, or'),
    ],
)
def test_no_such_microphone_is_one_sentence(
    audio: FakeAudio, monkeypatch: pytest.MonkeyPatch, name: str, names: tuple[str, ...], words: str
) -> None:
    monkeypatch.setattr(microphones, "capture_names", lambda: names)
    with pytest.raises(DeviceProblem) as problem:
        Microphone(name)
    assert str(problem.value).startswith(words)
    assert audio.made == []


def test_a_refused_microphone_is_one_sentence(audio: FakeAudio, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**_options: object) -> FakeDevice:
        raise microphones.sdl_error("Device busy")  # type: ignore[attr-defined]

    monkeypatch.setattr(audio, "AudioDevice", refuse)
    with pytest.raises(DeviceProblem, match=r"the microphone Lid cannot be opened \(Device busy\); let the"):
        Microphone()


def test_a_pygame_that_cannot_record_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(microphones, "sdl_audio", None)
    with pytest.raises(DeviceProblem, match="this pygame cannot record, so no microphone can be used; tap"):
        Microphone()


@pytest.mark.parametrize(
    "name",
    [
        "Wireless Headphones",
        "bluez_output.AA_BB",
        "Headset (BT stereo)",
        "Hands-Free audio",
        "A2DP sink",
        "BLE buds",
    ],
)
def test_a_wireless_output_is_known_by_its_name(name: str) -> None:
    assert is_wireless(name)
    assert wireless_warning(name).startswith(
        f"{name} seems to be wireless: its sound comes 100 ms and more late"
    )


@pytest.mark.parametrize(
    "name", ["", "sound on", "Built-in Audio", "Obtuse subtle table", "USB Table", "wired"]
)
def test_other_outputs_are_not_warned_of(name: str) -> None:
    assert wireless_warning(name) == ""


def test_a_silent_speaker_is_called_what_it_is() -> None:
    assert output_name(SilentSpeaker()) == "sound off"
    assert output_name(SilentSpeaker("no sound device could be opened")) == "no sound"


class Heard:
    """Something that is heard; only its name is asked for."""

    name = "sound on"


@pytest.mark.parametrize(
    ("default", "names", "found"),
    [
        ("Headphones", ("Headphones", "Monitor"), "Headphones"),
        ("", ("Only one",), "Only one"),
        ("", ("One", "Another"), "sound on"),
        ("", (), "sound on"),
    ],
)
def test_an_output_is_named_as_well_as_the_system_can(
    monkeypatch: pytest.MonkeyPatch, default: str, names: tuple[str, ...], found: str
) -> None:
    monkeypatch.setattr(outputs, "default_output", lambda: default)
    monkeypatch.setattr(outputs, "output_names", lambda: names)
    assert output_name(Heard()) == found  # type: ignore[arg-type]


def test_without_pygame_there_are_no_names(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(outputs, "sdl_audio", None)
    assert (outputs.output_names(), outputs.capture_names()) == ((), ())
