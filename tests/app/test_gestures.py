"""The whole drill loop with nothing but two pads."""

from tests.app.bench import Bench
from trainer.app.gestures import pads_help
from trainer.practice.settings import SCREEN_GESTURES, Settings
from trainer.screen.actions import Act

PADS = {"Pad": "nail=36,thumb=38"}
NAIL, THUMB = 36, 38


class TwoPads:
    """A player who has two pads and no other way in."""

    def __init__(self, **settings: object) -> None:
        self.bench = Bench(
            "Pad 20:0",
            settings=Settings(cautions_seen=True, input_name="Pad", pads=PADS, passes=1, **settings),  # type: ignore[arg-type]
        )
        self.wait(1.1)

    def wait(self, seconds: float) -> None:
        self.bench.go(seconds)

    def touch(self, *notes: int) -> None:
        for note in notes:
            self.bench.system.send(0x99, note, 90)
            self.wait(0.3)
        self.wait(0.5)


def test_the_drill_loop_runs_by_two_pads_alone() -> None:
    pads = TwoPads()
    bench = pads.bench
    bpm = bench.preferences.bpm
    pads.touch(NAIL, THUMB)
    assert bench.preferences.bpm == bpm + 5
    pads.wait(1.0)
    pads.touch(THUMB, NAIL)
    assert bench.preferences.bpm == bpm
    pads.wait(1.0)
    pads.touch(THUMB, THUMB)
    assert bench.preferences.selected == 1
    pads.wait(1.0)
    pads.touch(NAIL, NAIL)
    assert bench.scene == "drill"
    pads.wait(30.0)
    assert bench.scene == "review"
    pads.touch(NAIL, NAIL)
    assert bench.scene == "drill"
    pads.wait(30.0)
    pads.touch(THUMB, THUMB)
    assert (bench.scene, bench.preferences.selected) == ("library", 1)


def test_strokes_that_go_on_after_the_end_of_a_drill_do_nothing() -> None:
    pads = TwoPads()
    bench = pads.bench
    pads.touch(NAIL, NAIL)
    while bench.scene == "drill":
        pads.wait(0.1)
    for _ in range(8):
        pads.bench.system.send(0x99, NAIL, 90)
        pads.wait(0.2)
    pads.wait(1.0)
    assert bench.scene == "review"
    pads.touch(NAIL, NAIL)
    assert bench.scene == "drill"


def test_pads_that_are_not_to_steer_do_not() -> None:
    pads = TwoPads(pads_steer=False)
    pads.touch(NAIL, NAIL)
    assert pads.bench.scene == "library"
    assert pads_help(pads.bench.context) == ""


def test_in_the_settings_the_pads_ask_for_nothing() -> None:
    pads = TwoPads()
    pads.bench.act(Act.OPEN_SETTINGS)
    pads.wait(1.2)
    pads.touch(NAIL, NAIL)
    assert pads.bench.scene == "settings"


def test_what_the_pads_do_is_said_only_with_a_port_open() -> None:
    assert "nail nail" in pads_help(TwoPads().bench.context)
    assert pads_help(Bench().context) == ""


def test_every_screen_wish_is_carried_out_in_library_and_review() -> None:
    for gesture in SCREEN_GESTURES:
        assert Bench().app.gesture(gesture, 0)
    bench = Bench()
    bench.act(Act.START)
    assert not bench.app.gesture("next", 0)  # not while playing
    assert bench.app.gesture("faster", 0)
    assert bench.running.tempo.next_bpm is not None
