"""Three shelves: figures, breaks at a level, charts with a figure over them; what is chosen is remembered."""

import pytest

from tests.shipped import shipped
from trainer.app.preferences import Preferences
from trainer.app.shelves import Shelves
from trainer.music.pattern import Level
from trainer.practice.settings import Settings
from trainer.records.library import Library, open_pattern
from trainer.screen.actions import Act
from trainer.screen.scenes.library import LibraryView, Shelf

LIBRARY = shipped()


def test_each_shelf_holds_its_own_and_what_is_laid_can_be_drilled() -> None:
    shelves = Shelves(LIBRARY, "")
    counts = {}
    for _ in Shelf:
        counts[shelves.shelf] = len(shelves.tunes)
        for at in range(len(shelves.tunes)):
            shelves.select(at)
            pattern = shelves.pattern
            assert pattern is not None
            # Figures that teach the shape of a chord carry one too.
            assert pattern.chart is not None or shelves.shelf is Shelf.FIGURES
        shelves.step_shelf(1)
    assert shelves.shelf is Shelf.FIGURES
    assert counts == {
        Shelf.FIGURES: len(LIBRARY.patterns),
        Shelf.BREAKS: len(LIBRARY.breaks),
        Shelf.CHARTS: len(LIBRARY.charts),
    }


def test_a_break_is_chosen_at_each_level() -> None:
    shelves = Shelves(LIBRARY, "")
    shelves.step_shelf(1)
    seen = []
    for _ in Level:
        assert shelves.pattern is not None
        assert shelves.choice is not None
        seen.append((shelves.choice.options[shelves.choice.at], shelves.pattern.level))
        shelves.step_choice(1)
    assert [level for _, level in seen] == list(Level)
    assert seen[2][0] == "skips"


def test_only_figures_of_its_meter_are_laid_over_a_chart() -> None:
    shelves = Shelves(LIBRARY, "")
    shelves.step_shelf(-1)
    assert shelves.shelf is Shelf.CHARTS
    first = shelves.pattern
    assert first is not None
    shelves.step_choice(1)
    second = shelves.pattern
    assert second is not None
    assert second.name != first.name
    assert second.chart == first.chart
    assert second.meter is first.meter
    shelves.step_choice(-1)
    assert shelves.pattern == first


@pytest.mark.parametrize("shelf", list(Shelf))
def test_what_was_chosen_is_found_again_by_its_name(shelf: Shelf) -> None:
    shelves = Shelves(LIBRARY, "")
    while shelves.shelf is not shelf:
        shelves.step_shelf(1)
    shelves.select(1)
    shelves.step_choice(1)
    wanted = shelves.pattern
    assert wanted is not None
    again = Shelves(LIBRARY, wanted.name)
    assert again.shelf is shelf
    assert again.pattern == wanted
    assert open_pattern(wanted.name, LIBRARY) == wanted


@pytest.mark.parametrize("name", ["", "no-such-tune", "at", "x at loud", "x with nothing in H", "\0"])
def test_a_name_of_nothing_begins_with_the_first_figure(name: str) -> None:
    shelves = Shelves(LIBRARY, name)
    assert shelves.shelf is Shelf.FIGURES
    assert shelves.selected == 0


def test_empty_shelves_are_no_fault() -> None:
    shelves = Shelves(Library(entries=()), "x")
    for _ in Shelf:
        shelves.step_shelf(1)
        shelves.step_choice(1)
        shelves.select(3)
        assert shelves.pattern is None
        assert shelves.choice is None


def test_the_choice_is_kept_in_the_settings() -> None:
    kept: list[Settings] = []

    def keep(_before: Settings, after: Settings) -> Settings:
        kept.append(after)
        return after

    chosen = Preferences(Settings(), LIBRARY, keep)
    chosen.shelves.step_shelf(1)
    chosen.shelves.step_choice(2)
    chosen.remember_chosen()
    assert kept[-1].pattern.endswith(" at skips")


def test_the_library_view_shows_the_shelf() -> None:
    from tests.app.bench import Bench

    bench = Bench()
    bench.act(Act.SHELF, 1)
    view = bench.view()
    assert isinstance(view, LibraryView)
    assert view.shelf is Shelf.BREAKS
    assert view.rows == ()


def test_a_title_is_found_by_its_first_letters_or_those_of_a_word_of_it_and_on_other_shelves_too() -> None:
    shelves = Shelves(LIBRARY, "")
    assert shelves.find_title("the skip")
    assert shelves.tune is not None
    assert shelves.tune.title.casefold().startswith("the skip")
    assert shelves.find_title("lantern")
    assert (shelves.shelf, shelves.tune.title) == (Shelf.BREAKS, "Barn Lantern")
    assert not shelves.find_title("zzz")
    assert (shelves.shelf, shelves.tune.title) == (Shelf.BREAKS, "Barn Lantern")
    assert not shelves.find_title("  ")


def test_on_a_shelf_of_one_that_one_is_chosen_whatever_is_asked() -> None:
    shelves = Shelves(Library(entries=LIBRARY.entries[:1]), "")
    for at in (-3, 0, 1, 7):
        shelves.select(at)
        assert shelves.tune is LIBRARY.entries[0].pattern


def test_whether_there_was_such_a_thing_to_choose_is_told() -> None:
    shelves = Shelves(LIBRARY, "")
    for name in ("skip-figure", "barn-lantern at skips", "barn-lantern"):
        assert shelves.choose(name), name
    for name in ("no-such-figure", "", "barn-lantern at nonsense"):
        assert not shelves.choose(name), name
