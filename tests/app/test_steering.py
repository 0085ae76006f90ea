"""The whole drill loop with nothing but two pads."""

from tests.app.bench import MS, Bench
from trainer.app.places import Place
from trainer.app.steering import Steering, carry_out, pads_help
from trainer.devices.midi import MidiTap
from trainer.practice.settings import SCREEN_WISHES, Settings
from trainer.screen.views import Act

PADS = {"Pad": "nail=36,thumb=38"}
NAIL, THUMB = 36, 38


class TwoPads:
    """A player who has two pads and no other way in."""

    def __init__(self, **settings: object) -> None:
        self.bench = Bench(
            "Pad 20:0",
            settings=Settings(cautions_seen=True, input_name="Pad", pads=PADS, passes=1, **settings),  # type: ignore[arg-type]
        )
        self.steering = Steering(self.bench.stage)
        self.wait(1.1)

    def wait(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.016)):
            self.bench.system.ns += 16 * MS
            self._poll()
            self.bench.stage.tick(self.bench.system.ns)
            self.steering.tick(self.bench.system.ns)

    def _poll(self) -> None:
        for tap in self.bench.stage.hearing.midi.poll():
            self._tap(tap)

    def _tap(self, tap: MidiTap) -> None:
        touch = self.bench.stage.hearing.pad_touch(tap)
        if touch is not None and self.bench.stage.place is not Place.DRILL:
            self.steering.touched(touch.hand, tap.host_ns)

    def touch(self, *notes: int) -> None:
        for note in notes:
            self.bench.system.send(0x99, note, 90)
            self.wait(0.3)
        self.wait(0.5)


def test_the_drill_loop_runs_by_two_pads_alone() -> None:
    pads = TwoPads()
    stage = pads.bench.stage
    bpm = stage.chosen.bpm
    pads.touch(NAIL, THUMB)
    assert stage.chosen.bpm == bpm + 5
    pads.wait(1.0)
    pads.touch(THUMB, NAIL)
    assert stage.chosen.bpm == bpm
    pads.wait(1.0)
    pads.touch(THUMB, THUMB)
    assert stage.chosen.selected == 1
    pads.wait(1.0)
    pads.touch(NAIL, NAIL)
    assert stage.place is Place.DRILL
    pads.wait(30.0)
    assert stage.place is Place.REVIEW
    pads.touch(NAIL, NAIL)
    assert stage.place is Place.DRILL
    pads.wait(30.0)
    pads.touch(THUMB, THUMB)
    assert (stage.place, stage.chosen.selected) == (Place.LIBRARY, 1)


def test_strokes_that_go_on_after_the_end_of_a_drill_do_nothing() -> None:
    pads = TwoPads()
    stage = pads.bench.stage
    pads.touch(NAIL, NAIL)
    while stage.place is Place.DRILL:
        pads.wait(0.1)
    for _ in range(8):
        pads.bench.system.send(0x99, NAIL, 90)
        pads.wait(0.2)
    pads.wait(1.0)
    assert stage.place is Place.REVIEW
    pads.touch(NAIL, NAIL)
    assert stage.place is Place.DRILL


def test_pads_that_are_not_to_steer_do_not() -> None:
    pads = TwoPads(pads_steer=False)
    pads.touch(NAIL, NAIL)
    assert pads.bench.stage.place is Place.LIBRARY
    assert pads_help(pads.bench.stage) == ""


def test_in_the_settings_the_pads_ask_for_nothing() -> None:
    pads = TwoPads()
    pads.bench.wish(Act.OPEN_SETTINGS)
    pads.wait(1.2)
    pads.touch(NAIL, NAIL)
    assert pads.bench.stage.place is Place.SETTINGS


def test_what_the_pads_do_is_said_only_with_a_port_open() -> None:
    assert "nail nail" in pads_help(TwoPads().bench.stage)
    assert pads_help(Bench().stage) == ""


def test_every_screen_wish_is_carried_out_in_library_and_review() -> None:
    for wish in SCREEN_WISHES:
        assert carry_out(Bench().stage, wish, 0)
    bench = Bench()
    bench.wish(Act.START)
    assert not carry_out(bench.stage, "next", 0)  # not while playing
    assert carry_out(bench.stage, "faster", 0)
    assert bench.stage.next_bpm is not None
