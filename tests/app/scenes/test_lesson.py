"""A lesson is stepped through with a presenter's keys, and its results are those of the takes."""

from dataclasses import replace
from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from tests.app.bench import WINDOW, Bench, keys_for
from trainer.app.recording import Recorder
from trainer.app.scenes.drill import DrillController
from trainer.app.scenes.lesson import LessonController, open_lesson, result_words
from trainer.devices.speaker import SilentSpeaker, SpeakerState
from trainer.files import documents_folder
from trainer.practice.classroom import Classroom
from trainer.practice.lesson import Lesson, LessonStep
from trainer.practice.lesson_results import LessonResults
from trainer.records.class_file import class_path, keep_class
from trainer.records.copies import known_copies
from trainer.screen.actions import Act
from trainer.screen.scenes.demonstration import DemonstrationView
from trainer.screen.scenes.lesson import LessonView

A_LESSON = 'title = "First skips"\nsteps = """\nskip-figure, 60 bpm, 2 passes: say it\n"""\n'
DAY = date(2026, 11, 25)
NAMES = ("Anna", "Bela", "Cora")


class Room(Bench):
    """A bench with a lesson of two steps open, and records."""

    def __init__(self, folder: Path, names: tuple[str, ...] = NAMES) -> None:
        recorder, _ = Recorder.open(
            folder / "takes.sqlite", clock=lambda: datetime(2026, 11, 25, 10, 0).astimezone()
        )
        super().__init__(recorder=recorder)
        patterns = self.preferences.library.patterns
        steps = (
            LessonStep(pattern=patterns[0], bpm=Fraction(60), passes=1, words="Say it aloud."),
            LessonStep(pattern=patterns[1], bpm=Fraction(80), minutes=Fraction(4)),
        )
        self.pages: list[LessonResults] = []
        self.open(
            lambda: LessonController(
                self.context,
                Lesson(title="First skips", steps=steps),
                names,
                today=lambda: DAY,
                write=self.write,
            )
        )
        assert isinstance(self.top, LessonController)
        self.lesson = self.top

    def write(self, results: LessonResults, _day: str) -> Path:
        self.pages.append(results)
        return Path("lesson.pdf")

    def turn(self) -> None:
        """Take the turn that is up, clean."""
        self.key("b")
        assert isinstance(self.top, DrillController)
        self.until(60.0, keys_for(self))

    def shown(self) -> LessonView:
        return self.lesson.view(WINDOW)


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path)


def test_turns_go_round_and_each_players_result_stands_beside_the_name(room: Room) -> None:
    assert [player.words for player in room.shown().players] == ["", "", ""]
    room.turn()
    assert room.scene == "lesson"
    view = room.shown()
    assert view.chosen == 1
    assert view.players[0].words.startswith("7 of 7")
    assert view.steps[0].turns == 1
    store = room.context.store
    assert store is not None
    assert store.players() == ("Anna (class)",)


def test_page_keys_go_from_step_to_step_and_no_further_than_the_last(room: Room) -> None:
    room.key("page up")
    assert room.shown().at == 0
    for _ in range(3):
        room.key("page down")
    assert room.shown().at == 1
    assert room.shown().steps[1].title == room.preferences.library.patterns[1].title


def test_results_belong_to_their_step(room: Room) -> None:
    room.turn()
    room.key("page down")
    assert [player.words for player in room.shown().players] == ["", "", ""]
    assert [step.turns for step in room.shown().steps] == [1, 0]


def test_the_minutes_of_a_step_are_shared_by_those_who_play() -> None:
    pattern = Bench().preferences.library.patterns[0]  # four beats: 3 s at 80
    step = LessonStep(pattern=pattern, bpm=Fraction(80), minutes=Fraction(4))
    assert step.passes_for(1) == 80
    assert step.passes_for(8) == 10
    assert step.passes_for(60) == 1
    assert replace(step, passes=3).passes_for(8) == 3


def test_the_clock_begins_with_the_first_moment_however_long_the_machine_has_run(room: Room) -> None:
    room.system.ns += 3_600_000_000_000
    fresh = LessonController(room.context, room.lesson.lesson, NAMES, today=lambda: DAY)
    room.context.now_ns = room.system.ns
    assert fresh.view(WINDOW).clock == "0:00 of 3 min"
    fresh.tick()
    assert fresh.view(WINDOW).clock == "0:00 of 3 min"


def test_the_clock_of_a_step_stands_while_another_is_up(room: Room) -> None:
    room.go(5.1)
    assert room.shown().clock == "0:05 of 3 min"
    room.key("page down")
    room.go(2.1)
    assert room.shown().clock == "0:02 of 4 min"
    room.key("page up")
    room.go(1.1)
    assert room.shown().clock == "0:06 of 3 min"


def test_the_step_that_is_up_can_be_demonstrated(room: Room) -> None:
    room.key("page down")
    room.act(Act.OPEN_DEMONSTRATION)
    assert room.seen(DemonstrationView).title == room.preferences.library.patterns[1].title
    room.key("escape")
    assert room.scene == "lesson"


def test_opened_again_on_the_same_day_it_goes_on_where_it_was_left(room: Room, tmp_path: Path) -> None:
    room.key("page down")
    room.act(Act.SELECT, 1)
    room.key("b")
    room.until(2.5, keys_for(room))
    room.act(Act.STOP)
    assert room.context.recorder is not None
    room.context.recorder.close()
    again = Room(tmp_path)
    assert again.shown().at == 1
    assert again.shown().chosen == 0
    assert again.shown().players[1].words


def test_a_turn_that_was_disturbed_counts_by_the_teachers_word_and_is_marked(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    room.key("b")
    room.until(3.2, keys_for(room))
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    room.go(0.02)
    assert room.scene == "lesson"
    assert "G counts it by your word" in room.notes[-1]
    assert room.shown().is_held
    assert room.shown().players[0].words == ""
    room.key("g")
    assert "by word" in room.shown().players[0].words
    assert not room.shown().is_held
    assert room.shown().chosen == 1


def test_one_press_of_a_remote_does_not_leave_the_lesson(room: Room) -> None:
    room.key("escape")
    assert room.scene == "lesson"
    assert "Esc once more leaves the lesson" in room.notes[-1]
    room.key("page down")
    room.key("escape")
    assert room.scene == "lesson"
    room.key("escape")
    assert room.scene == "library"


def test_the_pages_hold_every_turn_and_nothing_is_written_of_nothing(room: Room) -> None:
    room.key("w")
    assert not room.pages
    assert "nothing to write" in room.notes[0]
    room.turn()
    room.turn()
    room.key("w")
    (results,) = room.pages
    assert results.players == NAMES
    assert [results.of(0, name) is not None for name in NAMES] == [True, True, False]
    tally = results.of(0, "Anna")
    assert tally is not None
    assert (tally.clean, tally.asked) == (7, 7)


def test_without_a_class_the_player_of_the_settings_plays_alone(tmp_path: Path) -> None:
    room = Room(tmp_path, names=())
    room.turn()
    assert [player.name for player in room.shown().players] == [""]
    assert room.shown().players[0].words.startswith("7 of 7")


def test_a_turn_at_another_tempo_is_kept_and_none_of_the_steps(room: Room) -> None:
    room.key("b")
    room.act(Act.TEMPO, 1)
    room.until(60.0, keys_for(room))
    assert room.scene == "lesson"
    assert room.notes[-1].startswith("The tempo was changed, so this turn is kept but is none of")
    assert (room.shown().players[0].words, room.shown().chosen) == ("", 0)
    store = room.context.store
    assert store is not None
    assert store.count() == 1


def test_a_click_on_the_step_that_is_up_leaves_all_as_it_is(room: Room) -> None:
    room.go(3.1)
    room.act(Act.SELECT, 2)
    room.act(Act.STEP, 0)
    assert (room.shown().at, room.shown().chosen, room.shown().clock) == (0, 2, "0:03 of 3 min")


def test_without_records_a_disturbed_turn_cannot_be_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench()
    pattern = bench.preferences.library.patterns[0]
    step = LessonStep(pattern=pattern, bpm=Fraction(60), passes=1)
    lesson = Lesson(title="First skips", steps=(step,))
    bench.open(lambda: LessonController(bench.context, lesson, NAMES, today=lambda: DAY))
    bench.key("b")
    bench.until(3.2, keys_for(bench))
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    bench.go(0.02)
    assert bench.notes[-1].startswith("This turn was disturbed and does not count: ")
    assert "by your word" not in bench.notes[-1]
    assert not bench.seen(LessonView).is_held


@pytest.mark.usefixtures("own_folders")
def test_the_pages_are_written_into_the_users_documents_and_remembered(tmp_path: Path) -> None:
    room = Room(tmp_path)
    lesson = room.lesson.lesson
    room.act(Act.BACK)
    room.act(Act.BACK)
    room.open(lambda: LessonController(room.context, lesson, NAMES, today=lambda: DAY))
    room.turn()
    room.key("w")
    (path, *others) = sorted(documents_folder().iterdir())
    assert path.name.startswith("First skips 2026-11-25")
    assert room.notes == (
        f"What the lesson came to is in {path}: the class, and a page for each who played.",
    )
    assert {each.path for each in known_copies()} == {path, *others}


@pytest.mark.usefixtures("own_folders")
def test_a_lesson_is_opened_with_the_class_that_is_chosen_and_what_is_wrong_with_its_file_is_said(
    tmp_path: Path,
) -> None:
    path = tmp_path / "lesson.toml"
    path.write_text(A_LESSON, encoding="utf-8")
    bench = Bench()
    keep_class(Classroom(), Classroom().with_names(("Dora", "Emil")))
    open_lesson(bench.context, path)
    assert [player.name for player in bench.seen(LessonView).players] == ["Dora", "Emil"]
    assert not bench.notes
    class_path().write_text("{", encoding="utf-8")
    open_lesson(bench.context, path)
    assert "class" in bench.notes[0]


def test_what_the_turns_came_to_is_told_in_a_few_words(room: Room) -> None:
    room.turn()
    tally = room.lesson.results.of(0, "Anna")
    assert tally is not None

    def words(mean_s: float | None, by_word: int = 0) -> str:
        return result_words(
            replace(tally, placement=replace(tally.placement, mean_s=mean_s), by_word=by_word)
        )

    assert result_words(None) == ""
    assert [words(None), words(None, 1)] == ["7 of 7", "7 of 7 by word"]
    assert [words(0.0124), words(-0.0124)] == ["7 of 7, 12 ms late", "7 of 7, 12 ms early"]
    assert words(0.0004) == "7 of 7, on the click"
