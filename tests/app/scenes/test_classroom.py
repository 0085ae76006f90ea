"""A class at work: names typed and pasted, turns, the board, its file, and forgetting."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.app.bench import WINDOW, Bench
from tests.screen.pages import words_on
from trainer.app.recording import Recorder
from trainer.app.scenes.classroom import ClassController
from trainer.devices.speaker import SilentSpeaker, SpeakerState
from trainer.errors import StoreProblem
from trainer.practice.classroom import Classroom, Order, player_of
from trainer.practice.turns import Turn
from trainer.records import class_file, class_lists
from trainer.records.library import Library
from trainer.records.store import Store
from trainer.screen.actions import Act
from trainer.screen.scenes.classroom import ClassView, Extra
from trainer.screen.scenes.drill import DrillView

NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
TODAY = NOW.date().toordinal()


class School(Bench):
    """A bench with a class open; what is kept and written is held here."""

    def __init__(self, *names: str, full: bool = False, recorder: Recorder | None = None) -> None:
        super().__init__(recorder=recorder)
        self.full = full
        self.day = TODAY
        self.saved: list[Classroom] = [Classroom().with_names(names)]
        self.open(self.board)

    def board(self) -> ClassController:
        """The board, as it comes up from the library."""
        self.controller = ClassController(
            self.context,
            np.random.default_rng(1),
            load=lambda: (self.saved[-1], ""),
            save=self.save,
            write=lambda _room, stem: Path(f"{stem}.csv"),
            clock=lambda: NOW + timedelta(days=self.day - TODAY, seconds=self.system.ns / 1e9),
        )
        return self.controller

    def save(self, _before: Classroom, room: Classroom) -> tuple[Classroom, str]:
        if self.full:
            raise StoreProblem("the disk is full", "free some space")
        self.saved.append(room)
        return room, ""

    @property
    def whose(self) -> str:
        """Whose turn it is."""
        current = self.controller.room.current
        return current.name if current is not None else ""

    def turn(self, taps: dict[float, str] | None = None) -> None:
        """Let whose turn it is play it to the end."""
        self.key("return")
        assert self.scene == "drill"
        self.until(200.0, taps)
        assert self.scene == "class"

    def turns(self, at: int = 0) -> tuple[Turn, ...]:
        return self.controller.room.pupils[at].turns


def test_an_empty_class_begins_with_writing_names() -> None:
    school = School()
    assert school.controller.wants_text
    for letter in "Wilma":
        school.controller.typed(letter)
    school.key("return")
    school.controller.typed("Ondo")
    school.key("backspace")
    school.key("escape")
    assert school.controller.room.names == ("Wilma", "Ond")
    assert not school.controller.wants_text
    assert school.scene == "class"


def test_nothing_written_adds_nobody() -> None:
    school = School()
    school.key("return")
    school.key("backspace")
    school.key("escape")
    assert school.controller.room.names == ()
    assert not school.controller.wants_text


def test_a_pasted_list_is_taken_in_at_once() -> None:
    school = School()
    school.controller.typed("Ann\nBo\r\nCy, Di")
    assert school.controller.room.names == ("Ann", "Bo", "Cy", "Di")
    school.controller.typed("\n".join(f"N{n}" for n in range(80)))
    assert "24 of these names were left out" in school.notes[0]


def test_a_turn_goes_onto_the_board_and_the_next_is_up() -> None:
    school = School("Ann", "Bo")
    school.key("return")
    assert school.scene == "drill"
    assert school.running.request.passes == 2
    strip = words_on(school.running.view(WINDOW).scene())
    assert "stop" in strip
    assert "stop and review" not in strip, "no review follows"
    school.until(200.0, {1.0: "f"})
    assert school.scene == "class"
    assert [len(pupil.turns) for pupil in school.controller.room.pupils] == [1, 0]
    assert school.controller.room.current is not None
    assert school.controller.room.current.name == "Bo"
    assert school.saved[-1] == school.controller.room


def test_a_turn_left_in_the_count_in_is_none() -> None:
    school = School("Ann", "Bo")
    school.key("return")
    school.until(-0.5)
    school.key("escape")
    assert school.scene == "class"
    assert school.controller.room.at == 0
    assert not school.controller.room.pupils[0].turns


def test_order_ranking_and_tempo_are_the_teachers() -> None:
    school = School("Ann", "Bo")
    school.key("r")
    assert school.controller.room.order is Order.RANDOM
    school.key("k")
    assert school.controller.view(WINDOW).ranked
    before = school.controller.view(WINDOW).bpm
    school.key("right")
    assert school.controller.view(WINDOW).bpm == before + 5
    school.key("+")
    assert school.controller.view(WINDOW).passes == 4


def test_one_key_forgets_all_names_and_another_brings_them_back() -> None:
    school = School("Ann", "Bo")
    school.key("c")
    assert school.saved[-1].pupils == ()
    school.key("u")
    assert school.controller.room.names == ("Ann", "Bo")
    school.key("delete")
    assert school.controller.room.names == ("Bo",)


def test_the_file_is_named_when_it_is_written() -> None:
    school = School("Ann")
    school.key("w")
    assert school.notes == ("The class is written to thumbfall-class.csv.",)


def test_names_that_cannot_be_kept_hold_until_the_end() -> None:
    school = School("Ann", full=True)
    school.key("n")
    school.controller.typed("Bo\n")
    assert school.controller.room.names == ("Ann", "Bo")
    assert school.notes == ("the disk is full; free some space.",)


def test_the_names_can_be_chosen_by_a_click() -> None:
    school = School("Ann", "Bo")
    scene = school.view().scene()
    hit = next(hit for hit in scene.hits if hit.action.act is Act.SELECT and hit.action.value == 1)
    school.act(hit.action.act, hit.action.value)
    assert school.controller.room.at == 1


# Boards


def test_another_tempo_figure_or_day_opens_a_board_of_its_own_and_old_ones_are_looked_up() -> None:
    school = School("Ann", "Bo")
    school.turn({1.0: "f"})
    first = school.controller.view(WINDOW)
    assert first.board is not None
    assert len(first.room.pupils[0].counted(first.board)) == 1
    school.key("right")
    faster = school.controller.view(WINDOW)
    assert faster.board is not None
    assert faster.board.bpm == first.board.bpm + 5
    assert not any(pupil.on(faster.board) for pupil in faster.room.pupils)
    school.turn()
    school.day += 1
    assert school.controller.view(WINDOW).boards == 3
    school.key("tab")
    assert school.controller.view(WINDOW).board == faster.board
    school.key("tab")
    looking = school.controller.view(WINDOW)
    assert (looking.board, looking.number, looking.looking_back) == (first.board, 1, True)
    assert (looking.title, looking.bpm) == (first.title, first.bpm)
    school.act(Act.BOARD, 1)
    assert school.controller.view(WINDOW).number == 2
    for _ in range(3):
        school.key("tab")
    assert school.controller.view(WINDOW).number == 2
    school.key("escape")
    assert school.scene == "class"
    assert not school.controller.view(WINDOW).looking_back


def test_an_old_board_can_be_taken_up_again() -> None:
    school = School("Ann")
    school.turn()
    first = school.controller.view(WINDOW).board
    assert first is not None
    school.preferences.select(1)
    school.key("right")
    assert school.controller.view(WINDOW).board != first
    school.key("tab")
    school.key("return")
    assert school.scene == "class"
    assert school.controller.view(WINDOW).board == first
    assert school.preferences.pattern is not None
    assert school.preferences.pattern.name == first.pattern


# Turns


def test_the_chosen_one_stays_chosen_through_every_way_in_and_out() -> None:
    school = School("Ann", "Bo", "Cy", "Di")
    school.key("down")
    school.key("page down")
    assert school.whose == "Cy"
    school.act(Act.OPEN_DEMONSTRATION)  # F5
    school.key("escape")
    assert (school.scene, school.whose) == ("class", "Cy")
    school.act(Act.OPEN_SETTINGS)
    school.key("escape")
    assert school.whose == "Cy"
    school.key("escape")
    assert school.scene == "library"
    school.open(school.board)
    assert school.whose == "Cy"
    # The remote's Escape in a turn, and its F5.
    school.key("return")
    school.until(2.0)
    school.key("escape")
    assert (school.scene, school.whose) == ("class", "Cy")
    school.key("b")
    assert school.seen(DrillView).player == "Cy"
    school.until(2.0)
    school.act(Act.OPEN_DEMONSTRATION)
    school.key("escape")
    school.key(".")  # the turn waited under the demonstration, and begins anew
    assert school.seen(DrillView).player == "Cy"
    assert not school.seen(DrillView).paused
    school.until(200.0)
    assert [len(pupil.turns) for pupil in school.controller.room.pupils] == [0, 0, 2, 0]
    assert school.turns(2)[-1].counts


def test_a_turn_that_was_broken_off_waits_for_the_teachers_word(tmp_path: Path) -> None:
    recorder, _note = Recorder.open(tmp_path / "takes.sqlite", lambda: NOW)
    school = School("Ann", "Bo", recorder=recorder)
    school.key("return")
    school.until(3.0, {1.0: "f", 2.0: "f"})
    school.key("escape")
    view = school.controller.view(WINDOW)
    assert view.held is not None
    assert view.held[0] == "Ann"
    assert view.held[1].disturbed.startswith("broken off after")
    assert view.board is not None
    assert view.room.pupils[0].counted(view.board) == ()
    school.key("g")
    view = school.controller.view(WINDOW)
    assert view.held is None
    assert [turn.by_word for turn in school.turns()] == [True]
    assert school.whose == "Bo"
    assert recorder.store is not None
    [row] = recorder.store.takes(player=player_of("Ann"))
    assert recorder.store.take(row.id).by_word == school.turns()[0].disturbed
    assert row.uid == school.turns()[0].uid
    school.key("u")
    assert [turn.by_word for turn in school.turns()] == [False]
    assert recorder.store.take(row.id).by_word == ""


def test_a_lost_sound_holds_the_turn_back_and_a_word_makes_its_take_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    recorder, _note = Recorder.open(tmp_path / "takes.sqlite", lambda: NOW)
    school = School("Ann", "Bo", recorder=recorder)
    school.key("return")
    school.until(3.0, {1.0: "f", 2.0: "f"})
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    school.go(0.1)
    assert school.scene == "class"
    assert school.whose == "Ann"
    [turn] = school.turns()
    assert turn.disturbed == "the sound device was lost"
    assert isinstance(recorder.store, Store)
    [row] = recorder.store.takes(player=player_of("Ann"))
    assert row.not_graded == "the sound device was lost"
    assert not recorder.store.take(row.id).counts
    school.key("g")
    take = recorder.store.take(row.id)
    assert (take.counts, take.by_word, take.not_graded) == (True, turn.disturbed, turn.disturbed)
    assert recorder.store.faults() == ()


def test_another_tempo_in_the_middle_holds_the_turn_back() -> None:
    school = School("Ann", "Bo")
    school.key("return")
    school.until(1.0)
    school.key("right")
    school.until(200.0)
    assert [turn.disturbed for turn in school.turns()] == ["the tempo was changed"]
    assert school.whose == "Ann"


def test_with_a_remote_alone_all_can_be_chosen_that_a_lesson_needs() -> None:
    school = School("Ann", "Bo")
    school.key("return")
    school.until(2.0, {1.0: "f"})
    school.key("escape")
    school.key("page up")
    assert school.controller.view(WINDOW).extra is Extra.WORD
    school.key(".")
    assert [turn.counts for turn in school.turns()] == [True]
    assert school.whose == "Bo"
    school.key("page down")
    assert school.controller.view(WINDOW).extra is Extra.TOGETHER
    assert school.whose == "Bo"
    school.key("b")
    assert school.scene == "together"
    school.key("escape")
    assert (school.scene, school.whose) == ("class", "Bo")
    school.key("page down")
    assert school.whose == "Ann"


def test_who_is_not_there_is_passed_over_today() -> None:
    school = School("Ann", "Bo", "Cy")
    school.key("l")
    assert school.whose == "Bo"
    school.turn()
    school.turn()
    assert school.whose == "Bo"
    school.act(Act.SELECT, 0)
    school.key("l")
    assert school.controller.room.pupils[0].away is None
    assert school.whose == "Ann"


@pytest.mark.parametrize("key", ["return", "b", "space"])
def test_an_empty_class_asks_for_names_and_begins_nothing(key: str) -> None:
    school = School()
    school.key("escape")
    school.key(key)
    assert school.scene == "class"


@pytest.mark.parametrize(
    ("acts", "forgets"),
    [((), 0), ((Act.CLEAR, Act.UNDO), 0), ((Act.REMOVE, Act.REMOVE), 0), ((Act.CLEAR,), 1)],
)
def test_only_a_class_that_was_forgotten_here_loses_its_takes(
    acts: tuple[Act, ...], forgets: int, tmp_path: Path
) -> None:
    asked: list[Store] = []

    def forget(store: Store) -> tuple[str, ...]:
        asked.append(store)
        return ("A copy still holds names: /a/copy.",)

    recorder, _ = Recorder.open(tmp_path / "takes.sqlite", clock=lambda: NOW)
    bench = Bench(recorder=recorder)
    room = Classroom().with_names(("Ada", "Ben"))
    bench.open(
        lambda: ClassController(
            bench.context,
            np.random.default_rng(1),
            load=lambda: (room, ""),
            save=lambda _before, after: (after, ""),
            forget=forget,
        )
    )
    for act in acts:
        bench.act(act)
    bench.act(Act.BACK)
    assert bench.scene == "library"
    assert len(asked) == forgets
    assert ("A copy still holds names: /a/copy." in bench.notes) == bool(forgets)


def test_without_a_home_the_class_is_not_opened_and_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere() -> Path:
        raise StoreProblem("the system knows no home folder of this user", "set the variable HOME")

    for module in (class_lists, class_file):
        monkeypatch.setattr(module, "data_folder", nowhere)
    bench = Bench()
    bench.act(Act.OPEN_CLASS)
    assert bench.scene == "library"
    assert bench.notes == ("the system knows no home folder of this user; set the variable HOME.",)


def test_a_turn_whose_tempo_was_changed_is_held_back() -> None:
    school = School("Wilma")
    school.key("return")
    school.until(1.0)
    school.act(Act.TEMPO, 1)
    school.until(200.0)
    (turn,) = school.turns()
    assert turn.disturbed == "the tempo was changed"


@pytest.mark.usefixtures("own_folders")
def test_one_goes_on_to_another_class_which_is_kept_under_its_name() -> None:
    for name, pupils in (("", ("Anna",)), ("Monday", ("Bela", "Cora"))):
        class_file.keep_class(Classroom(), Classroom().with_names(pupils), class_lists.list_path(name))
    bench = Bench()
    bench.act(Act.OPEN_CLASS)
    seen = []
    for _ in range(3):
        assert isinstance(bench.top, ClassController)
        seen.append((bench.preferences.settings.class_list, bench.top.room.names))
        bench.act(Act.LIST, 1)
    assert seen == [("", ("Anna",)), ("Monday", ("Bela", "Cora")), ("", ("Anna",))]
    assert bench.kept[-1].class_list == "Monday"


def test_without_anything_to_play_there_is_a_board_all_the_same_and_no_turn() -> None:
    bench = Bench(library=Library(entries=()))
    room = Classroom().with_names(("Anna",))
    bench.open(
        lambda: ClassController(
            bench.context, np.random.default_rng(1), load=lambda: (room, ""), save=lambda _b, a: (a, "")
        )
    )
    view = bench.seen(ClassView)
    assert (view.board, view.bpm) == (None, bench.preferences.bpm)
    view.scene()
    bench.act(Act.START)
    assert bench.scene == "class"
