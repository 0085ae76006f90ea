"""Several players at once: pads by touch from any port or keys, one sheet, a row and a take for each."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.app.bench import WINDOW, Bench
from tests.devices.fake_midi import FakeSystem
from trainer.app.drill_request import DrillRequest
from trainer.app.recording import Recorder
from trainer.app.scenes.together import TogetherController, can_be_given
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker, SpeakerState
from trainer.judging.take import Verdict
from trainer.practice.classroom import player_of
from trainer.practice.seats import TouchSource
from trainer.practice.stored_take import judgement_of
from trainer.practice.turns import Turn
from trainer.screen.actions import Act
from trainer.screen.scenes.other_rows import PlayerRow

NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
# The strokes of the basic figure (strike, brush, thumb), in beats, of two passes.
STROKES = (0.0, 1.0, 1.5, 2.0, 3.0, 3.5)
Played = tuple[tuple[str, Turn], ...]


class Inputs(MidiInputs):
    """Inputs whose clock goes on while they wait."""

    system: FakeSystem

    def end(self, sleep: object = None) -> None:  # noqa: ARG002 - the clock of the test goes on instead
        super().end(sleep=self._wait)

    def _wait(self, seconds: float) -> None:
        self.system.ns += round(seconds * 1e9)


class Hall(Bench):
    """A bench with two ports besides the keys."""

    def __init__(self, *names: str, recorder: Recorder | None = None) -> None:
        super().__init__("Left pad", "Right pad", recorder=recorder)
        Inputs.system = self.system
        self.finished: list[Played] = []
        self.counted: list[Played] = []
        pattern = self.preferences.library.patterns[1]
        self.pattern = pattern
        run = DrillRequest(pattern=pattern, bpm=pattern.goal_bpm, passes=2)
        self.controller = TogetherController(
            self.context, run, names, self.finished.append, self.counted.append,
            listen=lambda: Inputs([self.system.make], self.system.clock), clock=lambda: NOW,
        )  # fmt: skip
        self.open(lambda: self.controller)

    def pad(self, port: str, note: int) -> None:
        self.system.send(0x90, note, 90, port=port)
        self.go(0.5)

    def seated(self, *keys: str) -> None:
        """Give each a key alone."""
        for key in keys:
            for _ in range(2):
                self.key(key)
                self.go(0.5)

    def to(self, beat: float) -> None:
        now = self.speaker.song_s(self.system.ns)
        assert now is not None
        self.go(beat * float(60 / self.pattern.goal_bpm) - now)


def test_pads_of_all_ports_and_keys_find_their_players_and_are_named() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    hall.pad("Right pad", 36)
    hall.pad("Right pad", 36)
    hall.seated("q")
    seats = hall.controller.seats
    assert [(seat.name, seat.in_words) for seat in seats.taken] == [
        ("Ann", "nail 36, thumb 38 of Left pad"),
        ("Bo", "note 36 of Right pad"),
        ("Cy", "key Q"),
    ]
    hall.key("backspace")
    hall.key("backspace")
    assert hall.controller.seats.asked == "Cy"


def test_whose_a_pad_is_shows_when_it_is_touched() -> None:
    hall = Hall("Ann", "Bo")
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    hall.system.send(0x90, 38, 90, port="Left pad")
    hall.go(0.1)
    assert hall.controller.view(WINDOW).touched == 0
    hall.go(2.0)
    assert hall.controller.view(WINDOW).touched is None


@pytest.mark.parametrize(
    "key", ["left", "up", "page up", "tab", "space", "f7", "left shift", "caps lock", ""]
)
def test_an_arrow_or_a_control_key_never_becomes_somebodys(key: str) -> None:
    hall = Hall("Ann", "Bo")
    for _ in range(3):
        hall.key(key)
        hall.go(0.5)
    assert hall.controller.seats.taken == ()
    assert hall.controller.seats.first is None
    assert not can_be_given(TouchSource(key=key))


@pytest.mark.parametrize("key", ["b", ".", "page down", "page up", "f5", "escape"])
def test_the_keys_of_a_remote_never_become_somebodys(key: str) -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.key(key)
    assert hall.controller.seats.first is None
    assert hall.controller.seats.taken == ()


def test_who_is_not_there_is_left_out() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.key("page down")
    hall.seated("q", "w")
    assert [seat.name for seat in hall.controller.seats.taken] == ["Bo", "Cy"]
    hall.key("b")
    assert [row.name for row in drill_rows(hall)] == ["Bo", "Cy"]


def drill_rows(hall: Hall) -> tuple[PlayerRow, ...]:
    view = hall.controller.view(WINDOW)
    assert view.drill is not None
    return view.drill.others


def test_one_player_alone_cannot_begin() -> None:
    hall = Hall("Ann", "Bo")
    hall.seated("q")
    hall.key("return")
    assert hall.controller.view(WINDOW).drill is None


def test_each_has_a_row_and_is_judged_alone_and_kept_as_a_take(tmp_path: Path) -> None:
    recorder, _note = Recorder.open(tmp_path / "takes.sqlite", lambda: NOW)
    hall = Hall("Ann", "Bo", "Cy", recorder=recorder)
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    hall.seated("q")
    hall.pad("Right pad", 40)
    hall.pad("Right pad", 42)
    hall.key("return")
    assert hall.controller.in_time
    # Ann plays every stroke with the right hand, Cy with the wrong one, Bo nothing.
    for at in STROKES:
        hall.to(at)
        thumb = at % 1 == 0.5
        hall.system.send(0x90, 38 if thumb else 36, 90, port="Left pad")
        hall.system.send(0x90, 40 if thumb else 42, 90, port="Right pad")
    hall.go(0.2)
    rows = hall.controller.view(WINDOW).drill
    assert rows is not None
    assert [(row.name, len(row.taps)) for row in rows.others] == [("Ann", 6), ("Bo", 0), ("Cy", 6)]
    hall.go(10.0)
    assert not hall.controller.in_time
    (played,) = hall.finished
    assert [(name, turn.share) for name, turn in played] == [
        ("Ann", "6 of 6"), ("Bo", "0 of 6"), ("Cy", "0 of 6"),
    ]  # fmt: skip
    assert set(dict(played)["Cy"].verdicts) == {Verdict.WRONG_HAND}
    assert all(turn.together and turn.counts for _, turn in played)
    store = recorder.store
    assert store is not None
    assert store.players() == ("Ann (class)", "Cy (class)")  # without a tap there is nothing to keep
    for name in ("Ann", "Cy"):
        [row] = store.takes(player=player_of(name))
        turn = dict(played)[name]
        assert (row.uid, row.clean, row.asked) == (turn.uid, turn.clean, turn.asked)
        outcomes = judgement_of(store.take(row.id)).outcomes
        assert tuple(o.verdict for o in outcomes if o.placement_s is not None) == turn.verdicts


def test_a_stall_of_the_sound_costs_nobody_but_the_strokes_beside_it() -> None:
    hall = Hall("Ann", "Bo")
    hall.seated("q", "w")
    hall.key("return")
    hall.to(1.5)
    now_s = hall.context.playback.song_s
    hall.speaker.xruns, hall.speaker.stalls = 1, ((now_s, now_s + 0.05),)
    hall.go(30.0)
    assert not hall.controller.in_time
    ((_, ann), _bo) = hall.finished[0]
    assert ann.not_judged in range(1, 6)
    assert f"{ann.not_judged} not judged" in ann.besides


def test_what_was_broken_off_counts_by_the_teachers_word() -> None:
    hall = Hall("Ann", "Bo")
    hall.seated("q", "w")
    hall.key("return")
    hall.to(2.5)
    hall.key("escape")
    hall.go(0.1)
    assert hall.scene == "together"
    (played,) = hall.finished
    assert [turn.disturbed for _, turn in played] == ["broken off after 4 of 6 strokes"] * 2
    hall.key("g")
    assert hall.counted == [played]
    assert all(turn.counts for turn in hall.controller.view(WINDOW).turns)
    hall.key("escape")
    assert hall.scene == "library"


def test_a_lost_sound_and_a_lost_pad_hold_back_whom_they_concern(monkeypatch: pytest.MonkeyPatch) -> None:
    hall = Hall("Ann", "Bo")
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 36)
    hall.seated("q")
    hall.key("return")
    hall.to(1.0)
    hall.system.ports.remove("Left pad")
    hall.go(20.0)
    assert [turn.disturbed for _, turn in hall.finished[0]] == ["the pad was unplugged", ""]
    assert hall.notes == ("Ann's pad was unplugged: Left pad.",)
    hall.key("return")
    hall.to(1.0)
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    hall.go(0.2)
    assert {turn.disturbed for _, turn in hall.finished[1]} == {"the sound device was lost"}


def test_a_demonstration_in_between_takes_nobodys_pad_away() -> None:
    hall = Hall("Ann", "Bo", "Cy")
    hall.pad("Left pad", 36)
    hall.pad("Left pad", 38)
    hall.act(Act.OPEN_DEMONSTRATION)
    hall.key("escape")
    assert hall.scene == "together"
    hall.pad("Right pad", 36)
    hall.pad("Right pad", 36)
    assert [seat.name for seat in hall.controller.seats.taken] == ["Ann", "Bo"]
    hall.key("return")
    hall.to(2.5)
    hall.act(Act.OPEN_DEMONSTRATION)
    hall.key("escape")
    assert [turn.disturbed for _, turn in hall.finished[0]] == ["broken off after 4 of 6 strokes"] * 2


def test_it_can_be_played_again_and_left() -> None:
    hall = Hall()
    for note in (36, 36, 38, 38):
        hall.pad("Left pad", note)
    assert hall.controller.seats.names[:2] == ("Player 1", "Player 2")
    hall.key("return")
    hall.go(20.0)
    hall.key("return")
    assert hall.controller.in_time
    hall.key("escape")  # in the count-in: nothing has been played
    hall.go(0.1)
    assert len(hall.finished) == 1
    hall.key("escape")
    assert hall.scene == "library"
    assert hall.speaker.plan is None
    assert all(made.deleted or not made.opened for made in hall.system.inputs)


def test_every_state_can_be_shown_and_clicked() -> None:
    hall = Hall("Ann", "Bo")
    for step in (
        lambda: None,
        lambda: hall.seated("q"),
        lambda: hall.seated("w"),
        lambda: hall.key("return"),
    ):
        step()
        scene = hall.view().scene()
        rare = {cap.action for entry in scene.helps if entry.rare for cap in entry.caps}
        assert {use.action for use in scene.keys} <= {hit.action for hit in scene.hits} | rare
    hall.go(30.0)
    assert hall.view().scene().actions_for_key("return")[0].act is Act.START
