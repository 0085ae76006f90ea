"""A class at work: names typed and pasted, turns, the board, its file, and forgetting."""

from pathlib import Path

import numpy as np

from tests.app.bench import WINDOW, Bench
from trainer.app.scenes.classroom import ClassController
from trainer.errors import StoreProblem
from trainer.practice.classroom import Classroom, Order
from trainer.screen.actions import Act


class School(Bench):
    """A bench with a class open; what is kept and written is held here."""

    def __init__(self, *names: str, full: bool = False) -> None:
        super().__init__()
        self.full = full
        self.saved: list[Classroom] = []
        self.controller = ClassController(
            self.context,
            np.random.default_rng(1),
            load=lambda: (Classroom().with_names(names), ""),
            save=self.save,
            write=lambda _room, stem: Path(f"{stem}.csv"),
        )
        self.open(lambda: self.controller)

    def save(self, room: Classroom) -> None:
        if self.full:
            raise StoreProblem("the disk is full", "free some space")
        self.saved.append(room)


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
