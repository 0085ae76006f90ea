"""The set-up of a banjo in the window: what it asks for, what it keeps, and when the microphone is open."""

from __future__ import annotations

from tests.app.bench import Bench
from tests.devices.fake_microphone import FakeMicrophone
from tests.hearing.performance import performance
from trainer.app.scenes.banjo_setup import NO_MICROPHONE
from trainer.hearing.room import read_room
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.banjo_setup import BanjoSetupView
from trainer.screen.scenes.calibration import CalibrationView

NAME = "Microphone: Lid"
SETTINGS = Settings(cautions_seen=True, input_name=NAME)


def test_what_was_learnt_is_kept_for_this_microphone_and_used_by_the_next_drill() -> None:
    microphone = FakeMicrophone(performance(sweep_db=None)[round(2.5 * 48_000) :])
    bench = Bench(settings=SETTINGS, sound=microphone)
    bench.act(Act.OPEN_BANJO)
    assert not microphone.is_open
    bench.act(Act.START)
    assert microphone.is_open
    bench.go(1.0)
    view = bench.seen(BanjoSetupView)
    assert (view.running, view.has_sweep) == (0, False)
    assert "open" in view.input_name
    bench.go(12.0)
    assert bench.seen(BanjoSetupView).running == 2
    bench.go(30.0)
    found = bench.seen(BanjoSetupView)
    assert found.can.startswith("In this room: strokes to 3 ms")
    assert not microphone.is_open
    bench.act(Act.USE)
    assert bench.scene == "library"
    room = read_room(bench.preferences.settings.rooms[NAME])
    assert room.words == found.can
    assert len(room.taught or {}) == 5


def test_it_can_be_stopped_and_left_and_then_the_microphone_is_closed() -> None:
    microphone = FakeMicrophone()
    bench = Bench(settings=SETTINGS, sound=microphone)
    bench.act(Act.OPEN_BANJO)
    bench.act(Act.START)
    bench.go(0.5)
    bench.act(Act.BACK)
    assert not microphone.is_open
    assert bench.scene == "banjosetup"
    bench.act(Act.START)
    bench.go(0.5)
    bench.context.navigation.back()
    assert not microphone.is_open
    assert bench.preferences.settings.rooms == {}


def test_without_a_microphone_it_says_where_to_choose_one() -> None:
    bench = Bench()
    bench.act(Act.OPEN_BANJO)
    assert NO_MICROPHONE in " ".join(bench.notes)


def test_tapping_for_the_delay_says_that_a_heard_click_needs_none() -> None:
    bench = Bench(settings=SETTINGS, sound=FakeMicrophone())
    bench.act(Act.OPEN_CALIBRATION)
    bench.act(Act.START)
    assert "needs no delay" in " ".join(bench.seen(CalibrationView).sentences)
