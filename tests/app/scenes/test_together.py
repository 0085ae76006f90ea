"""Several players at once: pads by touch from any port and from keys, one sheet, a row for each."""

from tests.app.bench import WINDOW, Bench
from tests.devices.fake_midi import FakeSystem
from trainer.app.drill_request import DrillRequest
from trainer.app.scenes.together import TogetherController
from trainer.devices.midi import MidiInputs
from trainer.judging.take import Judgement, Verdict
from trainer.screen.actions import Act


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
        pattern = self.preferences.library.patterns[1]
        self.pattern = pattern
        run = DrillRequest(pattern=pattern, bpm=pattern.goal_bpm, passes=2)
        self.controller = TogetherController(
            self.context, run, names, lambda played, _run: self.finished.append(played),
            listen=lambda: Inputs([self.system.make], self.system.clock),
        )  # fmt: skip
        self.open(lambda: self.controller)

    def pad(self, port: str, note: int) -> None:
        self.system.send(0x90, note, 90, port=port)
        self.go(0.05)


def test_pads_of_all_ports_and_keys_find_their_players() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.pad("Right pad", 36)
    hall.key("q")
    assert [source.port or source.key for source in hall.controller.seats.sources] == [
        "Left pad",
        "Right pad",
        "q",
    ]
    hall.key("backspace")
    assert hall.controller.seats.asked == "Cy"


def test_one_player_alone_cannot_begin() -> None:
    hall = Hall("Ann", "Bo")
    hall.pad("Left pad", 36)
    hall.key("return")
    assert hall.controller.view(WINDOW).drill is None


def test_each_has_a_row_and_is_judged_alone() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.key("q")
    hall.key("return")
    assert hall.controller.in_time
    beat_s = float(60 / hall.pattern.goal_bpm)
    # Ann plays every stroke of the basic figure (strike, brush, thumb on beats 0, 1, 1.5), Bo nothing.
    for at in (0.0, 1.0, 1.5, 2.0, 3.0, 3.5):
        now = hall.speaker.song_s(hall.system.ns)
        assert now is not None
        hall.go(at * beat_s - now)
        hall.system.send(0x90, 36, 90, port="Left pad")
    hall.go(0.2)
    rows = hall.controller.view(WINDOW).drill
    assert rows is not None
    assert [row.name for row in rows.others] == ["Ann", "Bo"]
    assert (len(rows.others[0].taps), len(rows.others[1].taps)) == (6, 0)
    hall.go(10.0)
    assert not hall.controller.in_time
    assert hall.controller.view(WINDOW).results == ("6 of 6", "0 of 6")
    ((ann, bo),) = hall.finished
    assert ann[0] == "Ann"
    assert {o.verdict for o in ann[1].outcomes} == {Verdict.IN_TIME}
    assert {o.verdict for o in bo[1].outcomes} == {Verdict.MISSED}


def test_a_stall_of_the_sound_costs_nobody_but_the_strokes_beside_it() -> None:
    hall = Hall("Ann", "Bo")
    hall.key("q")
    hall.key("w")
    hall.key("return")
    hall.go(4.0)
    now_s = hall.context.playback.song_s
    hall.speaker.xruns, hall.speaker.stalls = 1, ((now_s, now_s + 0.5),)
    hall.go(30.0)
    assert not hall.controller.in_time
    ((ann, _bo),) = hall.finished
    verdicts = [o.verdict for o in ann[1].outcomes]
    assert verdicts.count(Verdict.NOT_JUDGED) in range(1, len(verdicts))
    assert hall.notes == ()


def test_it_can_be_played_again_and_left() -> None:
    hall = Hall()
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    assert hall.controller.seats.names[:2] == ("Player 1", "Player 2")
    hall.key("return")
    hall.go(20.0)
    hall.key("return")
    assert hall.controller.in_time
    hall.key("escape")
    assert hall.scene == "library"
    assert hall.speaker.plan is None
    assert all(made.deleted or not made.opened for made in hall.system.inputs)


def test_every_state_can_be_shown_and_clicked() -> None:
    hall = Hall("Ann", "Bo")
    for step in (lambda: None, lambda: hall.key("q"), lambda: hall.key("w"), lambda: hall.key("return")):
        step()
        scene = hall.view().scene()
        rare = {cap.action for entry in scene.helps if entry.rare for cap in entry.caps}
        assert {use.action for use in scene.keys} <= {hit.action for hit in scene.hits} | rare
    hall.go(30.0)
    assert hall.view().scene().actions_for_key("return")[0].act is Act.START
