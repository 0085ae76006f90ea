"""The calibration by keys, pads and a microphone, on a clock of the test's own."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.app.bench import MS, WINDOW, Bench, HeardSpeaker
from tests.sound.room import Room, calibration_clicks
from trainer.app.click_pattern import click_pattern
from trainer.app.scenes.calibration import NO_SOUND, CalibrationController
from trainer.devices.speaker import SpeakerState
from trainer.errors import DeviceProblem
from trainer.practice.settings import Settings
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.calibration import CalibrationView, Step, Way

GAP_S = 0.6
LATE_S = 0.035
Wave = NDArray[np.float64]


class FakeMicrophone:
    """A microphone that hears a recording made when it is asked for."""

    rate = 48_000

    def __init__(self, name: str, make: Callable[[], Wave]) -> None:
        self.name = name
        self._make = make
        self.started = self.closed = False
        self.seconds = 0.0

    def start(self) -> None:
        self.started, self.seconds = True, 1.0

    def recorded(self) -> Wave:
        return self._make()

    def close(self) -> None:
        self.closed = True


class Desk:
    """A bench with a speaker that is heard, and the calibration open on it."""

    def __init__(
        self, *ports: str, settings: Settings | None = None, microphones: tuple[str, ...] = ()
    ) -> None:
        self.speaker = HeardSpeaker()
        self.bench = Bench(*ports, settings=settings, speaker=self.speaker)  # type: ignore[arg-type]
        self.opened: list[FakeMicrophone] = []
        self.tapped: list[float] = []
        self.make: Callable[[], Wave] = lambda: np.zeros(48_000)
        self.controller = CalibrationController(
            self.bench.context, open_microphone=self._open, microphones=microphones
        )
        self.bench.open(lambda: self.controller)

    def _open(self, name: str) -> FakeMicrophone:
        self.opened.append(FakeMicrophone(name, lambda: self.make()))
        return self.opened[-1]

    @property
    def view(self) -> CalibrationView:
        return self.controller.view(WINDOW)

    def until(self, done: Callable[[], bool], taps_s: list[float], key: str = "f") -> None:
        """Let time run, a key going down at given seconds of the song, till something holds."""
        app, system = self.bench.app, self.bench.system
        waiting = sorted(taps_s)
        end = system.ns + 120_000 * MS
        while not done() and system.ns < end:
            system.ns += MS
            now = self.speaker.song_s(system.ns)  # type: ignore[operator]
            while waiting and now is not None and waiting[0] <= now:
                self.tapped.append(waiting.pop(0))
                assert app.key_down(key, host_ns=system.ns, looked_ns=system.ns)
                app.context.inputs.keys.up(key)
            if system.ns % (16 * MS) == 0:
                app.tick(system.ns)

    def answered(self) -> bool:
        return self.view.step is Step.ANSWERED


def along(late_s: float, n: int = 40, jitter_s: float = 0.008, seed: int = 1) -> list[float]:
    rng = np.random.default_rng(seed)
    return [float(k * GAP_S + late_s + e) for k, e in enumerate(rng.normal(0, jitter_s, n))]


def test_sixteen_taps_along_find_the_delay_and_it_is_used() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    assert desk.controller.in_time
    desk.until(desk.answered, along(LATE_S))
    view = desk.view
    assert (view.taps, view.wanted, len(desk.tapped)) == (16, 16, 16)
    assert view.found_ms == pytest.approx(35, abs=6)
    assert view.sentences[0].startswith(f"You tap {view.found_ms} ms late, steady (16 taps, spread ")
    assert "together with your own habit" in view.sentences[1]
    assert self_stopped(desk)
    desk.bench.act(Act.USE)
    assert desk.bench.preferences.delay_ms == view.found_ms
    assert desk.bench.kept[-1].known_delays == {"Computer keys | sound on": str(view.found_ms)}
    assert "ms for Computer keys, heard through sound on" in desk.bench.notes[0]


def self_stopped(desk: Desk) -> bool:
    return desk.speaker.state is SpeakerState.STOPPED and not desk.controller.in_time


def test_the_delay_in_use_is_not_taken_off_while_it_is_measured() -> None:
    desk = Desk(settings=Settings(cautions_seen=True, known_delays={"Computer keys | sound on": "120"}))
    desk.bench.act(Act.START)
    assert desk.view.delay_ms == 120
    desk.until(desk.answered, along(LATE_S))
    assert desk.view.found_ms == pytest.approx(35, abs=6)


def test_the_taps_show_as_they_come() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(lambda: desk.view.count == 3, [])
    assert desk.view.step is Step.RUNNING
    desk.until(lambda: len(desk.tapped) == 3, along(LATE_S))
    assert (desk.view.taps, desk.view.count, desk.view.middle_s) == (3, 0, None)
    desk.until(lambda: len(desk.tapped) == 5, along(LATE_S)[3:])
    view = desk.view
    assert view.placements_s == pytest.approx([s - k * GAP_S for k, s in enumerate(desk.tapped)], abs=0.0021)
    assert view.middle_s == pytest.approx(np.median(view.placements_s))
    assert view.quarter_s == pytest.approx(np.percentile(view.placements_s, 25))


def test_taps_in_the_count_in_are_listening() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(desk.answered, [-1.8, -1.2, -0.6, *along(0.0)])
    assert desk.view.taps == 16
    assert len(desk.tapped) == 19


def test_wild_taps_go_on_to_thirty_two_and_are_refused() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(desk.answered, along(0.0, jitter_s=0.11, n=60))
    assert desk.view.found_ms is None
    assert "lie too far apart: the middle half of them spreads over" in desk.view.sentences[0]
    assert 30 <= len(desk.tapped) <= 40
    desk.bench.act(Act.USE)
    assert desk.bench.preferences.delay_ms == 0


def test_taps_between_the_clicks_are_refused_and_the_next_try_goes_slower() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(desk.answered, along(0.28))
    assert "they may be meant for another one" in desk.view.sentences[0]
    desk.bench.act(Act.START)
    slower = [k * 1.0 + 0.28 for k in range(30)]
    desk.until(desk.answered, slower)
    assert desk.view.found_ms == pytest.approx(280, abs=3)


def test_nobody_tapping_ends_the_try_with_what_is_missing() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(desk.answered, [])
    assert desk.view.sentences == ("0 taps could be used. Tap once with every click, so that there are 16.",)


def test_a_pad_does_as_well_as_a_key() -> None:
    desk = Desk("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad"))
    app, system = desk.bench.app, desk.bench.system
    desk.bench.act(Act.START)
    waiting = along(-0.04)
    while not desk.answered() and waiting:
        system.ns += MS
        now = desk.speaker.song_s(system.ns)  # type: ignore[operator]
        if waiting[0] <= now:
            waiting.pop(0)
            system.send(0x99, 36, 90)
            app.poll()
        app.tick(system.ns)
    assert desk.view.found_ms == pytest.approx(-40, abs=6)
    assert desk.view.uncertainty_s == 0.001
    desk.bench.act(Act.USE)
    assert list(desk.bench.kept[-1].known_delays) == ["Pad | sound on"]


def test_tapping_along_opens_no_microphone() -> None:
    desk = Desk(microphones=("Desk",))
    desk.bench.act(Act.START)
    desk.until(lambda: len(desk.tapped) == 4, along(0.0))
    assert desk.opened == []


def test_escape_stops_a_try_and_then_leaves() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.until(lambda: len(desk.tapped) == 4, along(0.0))
    (stop,) = desk.view.scene().actions_for_key("escape")
    desk.bench.act(stop.act)
    assert (desk.view.step, desk.speaker.state) == (Step.READY, SpeakerState.STOPPED)
    (leave,) = desk.view.scene().actions_for_key("escape")
    desk.bench.act(leave.act)
    assert desk.bench.scene == "library"


def test_leaving_in_the_middle_gives_speaker_and_microphone_back() -> None:
    desk = Desk(microphones=("Desk",))
    desk.bench.act(Act.SELECT, 1)
    desk.bench.act(Act.START)
    desk.bench.context.navigation.back()
    assert desk.speaker.state is SpeakerState.STOPPED
    assert desk.opened[0].closed


def test_a_key_that_is_tapped_on_is_a_command_again_when_no_try_runs() -> None:
    desk = Desk()
    assert not desk.bench.app.key_down("f", host_ns=MS, looked_ns=0)


def test_the_hand_that_goes_on_for_a_tap_begins_nothing() -> None:
    desk = Desk(settings=Settings(cautions_seen=True, nail_key="space"))
    app, system = desk.bench.app, desk.bench.system
    desk.bench.act(Act.START)
    desk.until(desk.answered, along(LATE_S), key="space")
    assert app.key_down("space", host_ns=system.ns + 600 * MS, looked_ns=system.ns + 599 * MS)
    app.context.inputs.keys.up("space")
    assert not app.key_down("space", host_ns=system.ns + 1600 * MS, looked_ns=system.ns + 1599 * MS)


def test_a_stall_of_the_sound_costs_the_taps_beside_it_not_the_try() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    beside = (2 * GAP_S, 4 * GAP_S)
    taps = [tap + (0.2 if beside[0] - 0.1 <= tap <= beside[1] + 0.4 else 0.0) for tap in along(LATE_S)]
    desk.until(lambda: len(desk.tapped) == 6, taps)
    desk.speaker.xruns, desk.speaker.stalls = 1, (beside,)
    desk.until(desk.answered, taps[6:])
    assert desk.view.taps == 16
    assert desk.view.found_ms == pytest.approx(35, abs=6)
    assert len(desk.tapped) == 16 + 3


def test_a_recording_of_a_sound_that_stalled_says_nothing() -> None:
    desk = Desk(microphones=("Built-in",))
    desk.bench.act(Act.SELECT, list(Way).index(Way.MICROPHONE))
    desk.bench.act(Act.START)
    desk.until(lambda: len(desk.tapped) == 4, along(0.0))
    desk.speaker.xruns = 1
    desk.until(desk.answered, [])
    assert desk.view.sentences == ("The sound was interrupted; these taps say nothing, try again.",)


def test_a_lost_device_ends_the_try_with_a_sentence() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    desk.speaker.lost = True
    desk.until(desk.answered, [])
    assert desk.view.sentences[0].startswith("The sound device was lost")


def test_without_sound_only_the_way_by_hand_is_left() -> None:
    bench = Bench()
    bench.act(Act.OPEN_CALIBRATION)
    corner = bench.top
    assert isinstance(corner, CalibrationController)
    for way in (0, 1):
        bench.act(Act.SELECT, way)
        bench.act(Act.START)
        assert corner.view(WINDOW).sentences == (NO_SOUND,)
    bench.act(Act.SELECT, 2)
    bench.act(Act.DELAY, 10)
    bench.act(Act.DELAY, -1)
    assert bench.preferences.delay_ms == 9
    assert bench.kept[-1].known_delays == {"Computer keys | sound off": "9"}


def test_the_delay_changes_only_where_it_is_set_by_hand() -> None:
    desk = Desk()
    desk.bench.act(Act.DELAY, 10)
    assert desk.bench.preferences.delay_ms == 0


def test_a_delay_kept_by_an_older_version_holds_until_the_pair_has_its_own() -> None:
    desk = Desk(settings=Settings(cautions_seen=True, delays_ms={"": "60"}))
    assert desk.view.delay_ms == 60
    desk.bench.act(Act.SELECT, 2)
    desk.bench.act(Act.DELAY, -15)
    assert desk.view.delay_ms == 45


# By microphone


def recording_of(desk: Desk, *, device_s: float, microphone_s: float, noise: float = 0.002) -> Wave:
    """What the room heard: the click came ``device_s`` later than the program says, the taps at once."""
    begin_s = 3.1 + microphone_s
    clicks = [(s + device_s + begin_s, kind) for s, kind in calibration_clicks(16)]
    knocks = [t + begin_s for t in desk.tapped]
    rng = np.random.default_rng(5)
    return Room(noise=noise).record(rng, clicks, knocks, length_s=clicks[-1][0] + 1.0)


@pytest.mark.parametrize("microphone_s", [0.0, 0.2])
def test_a_microphone_finds_the_devices_delay_whatever_its_own(microphone_s: float) -> None:
    desk = Desk(microphones=("Desk", "Lid"))
    desk.bench.act(Act.SELECT, 1)
    desk.bench.act(Act.NEXT_MICROPHONE)
    desk.make = lambda: recording_of(desk, device_s=0.045, microphone_s=microphone_s)
    desk.bench.act(Act.START)
    desk.until(desk.answered, along(0.3, jitter_s=0.03))
    assert (desk.opened[0].name, desk.opened[0].started, desk.opened[0].closed) == ("Lid", True, True)
    assert desk.view.way is Way.MICROPHONE
    assert desk.view.found_ms == 45
    assert desk.view.sentences[0].startswith("Sound and input are 45 ms late together (12 taps, spread ")


def test_a_microphone_that_gives_nothing_is_said() -> None:
    desk = Desk(microphones=("Desk",))
    desk.bench.act(Act.SELECT, 1)
    desk.bench.act(Act.START)
    desk.opened[0].seconds = 0.0
    desk.until(desk.answered, along(0.3))
    assert desk.view.sentences[0].startswith("The microphone gave no sound")
    assert desk.opened[0].closed


def test_silence_on_the_microphone_is_said() -> None:
    desk = Desk(microphones=("Desk",))
    desk.bench.act(Act.SELECT, 1)
    desk.bench.act(Act.START)
    desk.until(desk.answered, along(0.3))
    assert desk.view.sentences[0].startswith("Of 8 knocks at least, 0 were heard")


def test_no_microphone_is_one_sentence() -> None:
    desk = Desk()

    def none(_name: str) -> FakeMicrophone:
        raise DeviceProblem("no microphone was found", "plug one in")

    desk.controller = CalibrationController(desk.bench.context, open_microphone=none, microphones=())
    desk.bench.open(lambda: desk.controller)
    desk.bench.act(Act.SELECT, 1)
    desk.bench.act(Act.START)
    assert desk.view.sentences == ("no microphone was found; plug one in.",)


def test_only_the_clicks_of_the_pattern_are_heard() -> None:
    pattern = click_pattern()
    assert not any(stroke.kind.sounds for stroke in pattern.strokes)
    assert pattern.beats == 2


def test_every_step_can_be_shown() -> None:
    desk = Desk(microphones=("Desk", "Lid"))
    for way in (0, 1, 2):
        desk.bench.act(Act.SELECT, way)
        assert desk.view.scene().panels
        desk.bench.act(Act.START)
        desk.until(lambda: len(desk.tapped) % 5 == 4, along(0.0 if way == 0 else 0.3))
        assert desk.view.scene().panels
        desk.bench.act(Act.STOP)


def test_ways_are_walked_by_keys() -> None:
    desk = Desk()
    for key, way in itertools.chain([("down", Way.MICROPHONE), ("down", Way.HAND)], [("up", Way.MICROPHONE)]):
        (action,) = desk.view.scene().actions_for_key(key)
        desk.bench.act(action.act, action.value)
        assert desk.view.way is way


def test_while_clicks_are_tapped_to_nothing_is_chosen_and_one_can_still_go_back() -> None:
    desk = Desk()
    desk.bench.act(Act.START)
    delay = desk.bench.preferences.delay_ms
    for act in (Act.SELECT, Act.START, Act.DELAY, Act.USE):
        assert desk.controller.act(Action(act=act, value=2), desk.bench.system.ns), act
    view = desk.controller.view(WINDOW)
    assert (view.way, view.step, desk.bench.preferences.delay_ms) == (Way.TAP, Step.RUNNING, delay)
    assert not desk.controller.act(Action(act=Act.OPEN_HELP), desk.bench.system.ns)
    desk.bench.act(Act.BACK)
    assert desk.bench.scene == "library"
    assert desk.bench.speaker.plan is None


def test_another_try_after_a_delay_was_found_is_at_the_same_tempo() -> None:
    desk = Desk()
    tempi = []
    for _ in range(2):
        desk.bench.act(Act.START)
        plan = desk.bench.speaker.plan
        assert plan is not None
        tempi.append(plan.timeline.spans[0].bpm)
        desk.until(desk.answered, along(LATE_S))
        desk.bench.go(1.0)
    assert tempi == [100, 100]
