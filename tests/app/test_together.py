"""Several players at once: pads by touch from any port and from keys, one sheet, a row for each."""

from tests.app.bench import MS, WINDOW, Bench
from tests.devices.fake_midi import FakeSystem
from trainer.app.places import Place
from trainer.app.played import Run
from trainer.app.together import Together
from trainer.app.views_of import view_of
from trainer.devices.midi import MidiInputs
from trainer.judging.take import Judgement, Verdict
from trainer.screen.scenes.show import scene_of
from trainer.screen.views import Act


class Inputs(MidiInputs):
    """Inputs whose clock goes on while they wait."""

    system: FakeSystem

    def end(self, sleep: object = None) -> None:  # noqa: ARG002 - the clock of the test goes on instead
        super().end(sleep=self._wait)

    def _wait(self, seconds: float) -> None:
        self.system.ns += round(seconds * 1e9)


class Hall(Bench):
    """A bench with two ports besides the keys."""

    def __init__(self, *names: str) -> None:
        super().__init__("Left pad", "Right pad")
        Inputs.system = self.system
        self.finished: list[tuple[tuple[str, Judgement], ...]] = []
        pattern = self.stage.chosen.library.patterns[1]
        self.pattern = pattern
        run = Run(pattern=pattern, bpm=pattern.goal_bpm, passes=2)
        self.corner = Together(
            self.stage, run, names, lambda played, _run: self.finished.append(played),
            listen=lambda: Inputs([self.system.make], self.system.clock),
        )  # fmt: skip
        self.stage.open_corner(self.corner)

    def key(self, name: str) -> None:
        if not self.stage.key_down(name, host_ns=self.system.ns, looked_ns=self.system.ns - MS):
            for action in scene_of(view_of(self.stage, WINDOW)).actions_for_key(name):
                self.wish(action.act, action.value)

    def pad(self, port: str, note: int) -> None:
        self.system.send(0x90, note, 90, port=port)
        self.system.ns += 50 * MS
        self.stage.tick(self.system.ns)

    def go(self, seconds: float) -> None:
        end = self.system.ns + round(seconds * 1e9)
        while self.system.ns < end:
            self.system.ns += 4 * MS
            self.stage.tick(self.system.ns)


def test_pads_of_all_ports_and_keys_find_their_players() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.pad("Right pad", 36)
    hall.key("q")
    assert [source.port or source.key for source in hall.corner.seats.sources] == [
        "Left pad",
        "Right pad",
        "q",
    ]
    hall.key("backspace")
    assert hall.corner.seats.asked == "Cy"


def test_one_player_alone_cannot_begin() -> None:
    hall = Hall("Ann", "Bo")
    hall.pad("Left pad", 36)
    hall.key("return")
    assert hall.corner.view(WINDOW).drill is None


def test_each_has_a_row_and_is_judged_alone() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.key("q")
    hall.key("return")
    assert hall.corner.in_time
    beat_s = float(60 / hall.pattern.goal_bpm)
    # Ann plays every stroke of the basic figure (strike, brush, thumb on beats 0, 1, 1.5), Bo nothing.
    for at in (0.0, 1.0, 1.5, 2.0, 3.0, 3.5):
        now = hall.speaker.song_s(hall.system.ns)
        assert now is not None
        hall.go(at * beat_s - now)
        hall.system.send(0x90, 36, 90, port="Left pad")
    hall.go(0.2)
    rows = hall.corner.view(WINDOW).drill
    assert rows is not None
    assert [row.name for row in rows.others] == ["Ann", "Bo"]
    assert (len(rows.others[0].taps), len(rows.others[1].taps)) == (6, 0)
    hall.go(10.0)
    assert not hall.corner.in_time
    assert hall.corner.view(WINDOW).results == ("6 of 6", "0 of 6")
    ((ann, bo),) = hall.finished
    assert ann[0] == "Ann"
    assert {o.verdict for o in ann[1].outcomes} == {Verdict.IN_TIME}
    assert {o.verdict for o in bo[1].outcomes} == {Verdict.MISSED}


def test_over_broken_sound_nobody_is_graded() -> None:
    hall = Hall("Ann", "Bo")
    hall.key("q")
    hall.key("w")
    hall.key("return")
    hall.go(4.0)
    hall.speaker.xruns = 1
    hall.go(30.0)
    assert not hall.corner.in_time
    assert hall.finished == []
    assert hall.stage.notes == ("The sound was interrupted; this time does not count.",)


def test_it_can_be_played_again_and_left() -> None:
    hall = Hall()
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    assert hall.corner.seats.names[:2] == ("Player 1", "Player 2")
    hall.key("return")
    hall.go(20.0)
    hall.key("return")
    assert hall.corner.in_time
    hall.key("escape")
    assert hall.stage.place is Place.LIBRARY
    assert hall.speaker.plan is None
    assert all(made.deleted or not made.opened for made in hall.system.inputs)


def test_every_state_can_be_shown_and_clicked() -> None:
    hall = Hall("Ann", "Bo")
    for step in (lambda: None, lambda: hall.key("q"), lambda: hall.key("w"), lambda: hall.key("return")):
        step()
        scene = scene_of(view_of(hall.stage, WINDOW))
        assert {use.action for use in scene.keys} <= {hit.action for hit in scene.hits}
    hall.go(30.0)
    assert scene_of(view_of(hall.stage, WINDOW)).actions_for_key("return")[0].act is Act.START
