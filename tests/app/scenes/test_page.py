"""The page in the window: bars are marked, looped and printed, and it leads back to where it was opened."""

from dataclasses import replace
from pathlib import Path

import pytest

from tests.app.bench import Bench
from tests.screen.pages import BREAK
from trainer.app.scenes import page
from trainer.app.scenes.page import PageController, write_page
from trainer.errors import StoreProblem
from trainer.music.pattern import Pattern
from trainer.screen.actions import Act
from trainer.screen.scenes.page import PageView


class Open:
    """A bench with the page of a break of 16 bars open on it."""

    def __init__(self, problem: StoreProblem | None = None) -> None:
        self.bench = Bench()
        self.printed: list[Pattern] = []
        self.problem = problem
        self.bench.open(lambda: PageController(self.bench.context, BREAK, self.write))

    def write(self, pattern: Pattern) -> Path:
        if self.problem is not None:
            raise self.problem
        self.printed.append(pattern)
        return Path("sheets/lantern.pdf")

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


def test_printing_says_where_the_page_is_or_why_not() -> None:
    opened = Open()
    opened.bench.act(Act.WRITE)
    assert opened.printed == [BREAK]
    assert "sheets/lantern.pdf" in opened.bench.notes[0]
    refused = Open(StoreProblem("the disk is full", "free some space"))
    refused.bench.act(Act.WRITE)
    view = refused.bench.view()
    assert isinstance(view, PageView)
    assert view.window.banner is not None
    assert view.window.banner.lines == ("the disk is full; free some space.",)


def test_the_page_is_written_beside_the_users_own_patterns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
    monkeypatch.setattr(page, "user_patterns_folder", lambda: tmp_path / "patterns")
    path = write_page(replace(BREAK, name="lantern at skips"))
    assert path.parent == tmp_path / "sheets"
    assert path.stem == "lantern-at-skips"
    assert path.stat().st_size > 1000
