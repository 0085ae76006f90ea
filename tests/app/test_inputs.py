"""An input of another kind needs nothing but what every kind offers."""

from collections.abc import Mapping

import pytest

from tests.app.bench import Bench
from trainer.devices.midi import PortNotice
from trainer.errors import NoMidi
from trainer.music.strokes import Hand
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadTouch
from trainer.practice.seats import TouchSource
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.settings import SettingsView

PEDAL = "Pedal: left foot"


class Pedal:
    """A kind of input of its own: one pedal that stands for the nail."""

    least_uncertainty_s = 0.002
    hears_left = False
    hears_side = True
    is_behind = False
    needs_teaching = False

    def __init__(self) -> None:
        self.takes_taps = False
        self.is_there = True
        self.sent: list[InputEvent] = []
        self.notices: list[PortNotice] = []

    def names(self) -> tuple[str, ...]:
        return (PEDAL,) if self.is_there else ()

    def knows(self, name: str) -> bool:
        return name.startswith("Pedal: ")

    def open(self, name: str) -> str:
        if not self.is_there:
            raise NoMidi(f"{name} is not there", "plug it in")
        self.takes_taps = True
        return name

    def close(self) -> None:
        self.takes_taps = False

    def poll(self) -> tuple[InputEvent, ...]:
        found, self.sent = tuple(self.sent), []
        return found

    def scan(self) -> tuple[PortNotice, ...]:
        found, self.notices = tuple(self.notices), []
        return found

    def exchanged(self) -> Mapping[str, object]:
        return {}


class Room(Bench):
    """A bench with a pedal and a pad."""

    def __init__(self) -> None:
        super().__init__("Pad 20:0", settings=Settings(cautions_seen=True, pads={"Pad": "nail=36,thumb=38"}))
        self.pedal = Pedal()
        keys, *others = self.inputs.devices
        self.inputs.devices = (keys, self.pedal, *others)

    def pressed(self) -> None:
        self.pedal.sent.append(
            InputEvent(
                source=TouchSource(port=PEDAL), host_ns=self.system.ns, uncertainty_s=0.002,
                touch=PadTouch(hand=Hand.NAIL, string=None),
            )
        )  # fmt: skip


@pytest.fixture
def room() -> Room:
    return Room()


def test_it_is_listed_with_the_others_and_shown_in_the_settings(room: Room) -> None:
    assert [name for name, _ in room.inputs.inputs()][:2] == ["Computer keys", PEDAL]
    room.act(Act.OPEN_SETTINGS)
    assert PEDAL in [item.name for item in room.seen(SettingsView).inputs]


def test_once_chosen_it_is_kept_and_a_drill_takes_its_taps(room: Room) -> None:
    assert room.inputs.use(PEDAL)
    assert room.kept[-1].input_name == PEDAL
    assert not room.inputs.uses_keys
    assert (room.inputs.hears_side, room.inputs.hears_left) == (True, False)
    room.start()
    room.go(4.0)
    room.pressed()
    room.go(0.1)
    (tap,) = room.running.drill.taps
    assert (tap.hand, tap.uncertainty_s) == (Hand.NAIL, 0.002)


@pytest.mark.parametrize("other", ["Computer keys", "Pad"])
def test_only_one_is_in_use_at_a_time(room: Room, other: str) -> None:
    room.inputs.use(PEDAL)
    room.inputs.use(other)
    assert not room.pedal.takes_taps
    room.inputs.use(PEDAL)
    assert room.inputs.midi.open_name == ""
    assert room.inputs.device is room.pedal


def test_one_that_is_not_there_is_said_and_the_one_before_goes_on(room: Room) -> None:
    room.inputs.use("Pad")
    room.pedal.is_there = False
    assert not room.inputs.use(PEDAL)
    assert room.notes == (f"{PEDAL} is not there; plug it in.",)
    assert (room.inputs.in_use, room.inputs.midi.open_name) == ("Pad", "Pad")


def test_one_that_goes_away_counts_as_unplugged_and_the_keys_are_tapped_on(room: Room) -> None:
    room.inputs.use(PEDAL)
    room.pedal.takes_taps = False
    room.pedal.notices.append(PortNotice(name=PEDAL, present=False))
    room.inputs.scan()
    assert room.inputs.unplugs == 1
    assert room.inputs.uses_keys
    assert room.notes[0].startswith(f"{PEDAL} was unplugged")


def test_what_was_chosen_is_taken_back(room: Room) -> None:
    room.inputs.use("Pad")
    room.inputs.use(PEDAL)
    room.act(Act.OPEN_SETTINGS)
    room.act(Act.UNDO)
    assert room.inputs.midi.open_name == "Pad"
    assert not room.pedal.takes_taps


def test_exchanging_the_pads_of_one_without_pads_changes_nothing(room: Room) -> None:
    room.inputs.use(PEDAL)
    before = room.preferences.settings
    room.inputs.exchange()
    assert room.preferences.settings == before


def test_one_that_is_remembered_and_not_there_is_shown_as_not_there() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Old pad"))
    assert bench.inputs.inputs()[-1] == ("Old pad", False)
    assert ("Pad", True) in bench.inputs.inputs()
    bench.inputs.use("Pad")
    assert "Old pad" not in dict(bench.inputs.inputs())


def test_what_is_tapped_on_is_named_key_by_key_and_pad_by_pad() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, left_key="d", side_key="space"))
    assert bench.inputs.tapped_on == (
        ("F", "nail", Hand.NAIL),
        ("J", "thumb", Hand.THUMB),
        ("D", "left hand", Hand.LEFT),
        ("Space", "skip", Hand.NONE),
    )
    for pads, words in (
        ("any=36", [("", "any pad", None)]),
        ("nail=36,thumb=38", [("", "nail", Hand.NAIL), ("", "thumb", Hand.THUMB)]),
        (
            "nail=36,thumb=38,left=40,side=42",
            [
                ("", "nail", Hand.NAIL),
                ("", "thumb", Hand.THUMB),
                ("", "left hand", Hand.LEFT),
                ("", "skip", Hand.NONE),
            ],
        ),
    ):
        bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": pads}))
        assert list(bench.inputs.tapped_on) == words
        assert bench.inputs.how_to_tap == "Tap on Pad."


def test_what_comes_and_goes_is_said_and_only_the_one_in_use_counts_as_unplugged() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad"))
    bench.system.ports.append("Other 24:0")
    bench.go(1.0)
    assert bench.notes == ("Other was plugged in: F2 taps on it.",)
    bench.act(Act.DISMISS)
    bench.system.ports.remove("Other 24:0")
    bench.go(1.0)
    assert (bench.notes, bench.inputs.newcomer, bench.inputs.unplugs) == ((), "", 0)
    bench.system.ports.remove("Pad 20:0")
    bench.go(1.0)
    assert bench.notes == ("Pad was unplugged: plug it in again, or choose another input.",)
    assert bench.inputs.unplugs == 1
    bench.act(Act.DISMISS)
    bench.system.ports.append("Pad 20:0")
    bench.go(1.0)
    assert bench.notes == ("Pad is back.",)
