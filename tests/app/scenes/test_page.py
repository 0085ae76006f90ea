"""The page in the window: bars are marked, looped and printed, and it leads back to where it was opened."""

from pathlib import Path

from tests.app.bench import Bench
from tests.screen.pages import BREAK
from tests.shipped import shipped
from trainer.app.scenes.page import PageController
from trainer.errors import StoreProblem
from trainer.music.pattern import Pattern
from trainer.records.library import open_pattern
from trainer.screen.actions import Act
from trainer.screen.scenes.page import PageView


class Open:
    """A bench with the page of a break of 16 bars open on it."""

    def __init__(self, problem: StoreProblem | None = None) -> None:
        self.bench = Bench()
        self.printed: list[Pattern] = []
        self.shown: list[Path] = []
        self.paper = Paper()
        self.problem = problem
        show = self.shown.append
        self.bench.open(lambda: PageController(self.bench.context, BREAK, self.write, show))

    def write(self, pattern: Pattern, string_1_on_top: bool) -> "Paper":  # noqa: ARG002 - as it is called
        if self.problem is not None:
            raise self.problem
        self.printed.append(pattern)
        return self.paper

    def marked(self, *wishes: tuple[Act, int]) -> tuple[int, int]:
        for act, value in wishes:
            self.bench.act(act, value)
        view = self.bench.view()
        assert isinstance(view, PageView)
        return view.first, view.last


def test_the_chosen_pattern_opens_on_its_page_with_all_bars() -> None:
    bench = Bench()
    bench.act(Act.OPEN_PAGE)
    view = bench.view()
    assert isinstance(view, PageView)
    assert view.pattern == bench.preferences.pattern
    assert view.is_whole
    bench.act(Act.BACK)
    assert bench.scene == "library"


def test_arrow_keys_move_the_first_and_the_last_bar() -> None:
    opened = Open()
    assert opened.marked((Act.MARK_FIRST, 1), (Act.MARK_FIRST, 1)) == (2, 15)
    assert opened.marked((Act.MARK_LAST, -1)) == (2, 14)
    assert opened.marked((Act.MARK_FIRST, -1)) == (1, 14)
    assert opened.marked((Act.MARK_ALL, 0)) == (0, 15)


def test_the_ends_push_each_other_and_stop_at_the_page() -> None:
    opened = Open()
    assert opened.marked((Act.SELECT, 5), (Act.MARK_FIRST, 1)) == (6, 6)
    assert opened.marked((Act.MARK_LAST, -1)) == (5, 5)
    assert opened.marked((Act.MARK_ALL, 0), (Act.SELECT, 0), (Act.MARK_LAST, -1)) == (0, 0)
    assert opened.marked((Act.MARK_ALL, 0), (Act.SELECT, 15), (Act.MARK_FIRST, 1), (Act.MARK_LAST, 1)) == (
        15,
        15,
    )


def test_a_click_marks_a_bar_and_another_all_between() -> None:
    opened = Open()
    assert opened.marked((Act.SELECT, 9)) == (9, 9)
    assert opened.marked((Act.SELECT, 4)) == (4, 9)
    assert opened.marked((Act.SELECT, 7)) == (7, 7)
    assert opened.marked((Act.SELECT, 99)) == (7, 7)


def test_the_page_moves_on_without_marking() -> None:
    opened = Open()
    opened.bench.act(Act.SCROLL, 1)
    view = opened.bench.view()
    assert isinstance(view, PageView)
    assert (view.shown, view.is_whole) == (4, True)


def test_marked_bars_are_looped_until_stopped_at_the_chosen_tempo() -> None:
    opened = Open()
    bench = opened.bench
    opened.marked((Act.SELECT, 2), (Act.SELECT, 5))
    opened.bench.act(Act.START)
    assert bench.scene == "drill"
    assert (bench.running.request.pattern.name, bench.running.request.passes) == ("lantern bars 3 to 6", 0)
    assert bench.running.request.bpm == bench.preferences.bpm
    opened.bench.until(2.0)
    opened.bench.act(Act.STOP)
    opened.bench.act(Act.BACK)
    assert bench.scene == "library"


def test_all_bars_are_played_as_often_as_chosen() -> None:
    opened = Open()
    opened.bench.act(Act.START)
    assert opened.bench.running.request is not None
    assert (opened.bench.running.request.pattern, opened.bench.running.request.passes) == (BREAK, 2)


class Paper:
    """A page being written, ready when it is said to be."""

    def __init__(self, problem: StoreProblem | None = None) -> None:
        self.is_ready = False
        self.given_up = False
        self.problem = problem

    def poll(self) -> Path | None:
        if self.problem is not None:
            raise self.problem
        return Path("sheets/lantern.pdf") if self.is_ready else None

    def give_up(self) -> None:
        self.given_up = True


def test_a_page_is_written_meanwhile_and_then_its_place_is_said_and_its_folder_shown_on_a_key() -> None:
    opened = Open()
    opened.bench.act(Act.WRITE)
    assert opened.printed == [BREAK]
    assert opened.bench.seen(PageView).is_printing
    opened.bench.act(Act.WRITE)
    assert opened.printed == [BREAK], "one at a time"
    opened.bench.act(Act.SHOW_FOLDER)
    assert opened.shown == []
    opened.paper.is_ready = True
    opened.bench.go(0.05)
    assert "sheets/lantern.pdf" in opened.bench.notes[0]
    keys = [key.key for key in opened.bench.view().scene().keys if key.action.act is Act.SHOW_FOLDER]
    assert keys == ["v"]
    assert "V shows its folder" in opened.bench.notes[0]
    opened.bench.act(Act.SHOW_FOLDER)
    assert opened.shown == [Path("sheets")]


def test_what_cannot_be_written_is_said_at_once_or_later() -> None:
    refused = Open(StoreProblem("the disk is full", "free some space"))
    refused.bench.act(Act.WRITE)
    assert refused.bench.notes == ("the disk is full; free some space.",)
    late = Open()
    late.paper.problem = StoreProblem("the disk is full", "free some space")
    late.bench.act(Act.WRITE)
    late.bench.go(0.05)
    assert late.bench.notes == ("the disk is full; free some space.",)


def test_leaving_gives_up_a_page_that_is_not_written_yet() -> None:
    opened = Open()
    opened.bench.act(Act.WRITE)
    opened.bench.act(Act.BACK)
    assert opened.paper.given_up


def test_a_tune_stands_as_it_is_written_and_all_of_it_is_played_as_it_goes() -> None:
    pattern = open_pattern("turnip-frost at plain", shipped())
    bench = Bench()
    bench.open(lambda: PageController(bench.context, pattern))
    page = bench.context.navigation.top
    assert isinstance(page, PageController)
    view = bench.view()
    assert isinstance(view, PageView)
    assert len(view.pattern.bars) == sum(part.written for part in pattern.parts) < len(pattern.bars)
    assert page.part is pattern
    bench.act(Act.SELECT, 2)
    assert page.part.bars == view.pattern.bars[2:3]
    assert page.part.name == "turnip-frost at plain bar 3"


def test_string_1_goes_up_and_down_and_stays_where_it_was_put() -> None:
    opened = Open()
    before = opened.bench.preferences.settings.string_1_on_top
    opened.bench.act(Act.TURN_OVER)
    assert opened.bench.preferences.settings.string_1_on_top is not before
    view = opened.bench.view()
    assert isinstance(view, PageView)
    assert view.string_1_on_top is not before
