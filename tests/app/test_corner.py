"""A corner gets what the stage hands on, and the stage goes on where it was when it is left."""

from tests.app.bench import MS, WINDOW, Bench
from trainer.app.corner import Corner
from trainer.app.places import Place
from trainer.app.played import Played, Run
from trainer.app.views_of import view_of
from trainer.screen.views import Act, Action, View, Window


class Watching(Corner):
    """A corner that writes down what it was given."""

    def __init__(self) -> None:
        self.seen: list[object] = []
        self.played: Played | None = None

    def view(self, window: Window) -> View:
        return _Shown(window)

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002
        self.seen.append(action.act)
        return action.act is Act.START

    def tick(self, host_ns: int) -> None:
        self.seen.append(host_ns)

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:  # noqa: ARG002
        self.seen.append(key)
        return key == "f"

    def drilled(self, played: Played) -> None:
        self.played = played

    def leave(self) -> None:
        self.seen.append("left")


class _Shown:
    def __init__(self, window: Window) -> None:
        self.window = window


def test_a_corner_is_shown_and_gets_time_keys_and_wishes() -> None:
    bench, corner = Bench(), Watching()
    bench.stage.open_corner(corner)
    assert view_of(bench.stage, WINDOW).window == WINDOW
    bench.stage.tick(5 * MS)
    assert bench.stage.key_down("f", host_ns=6 * MS, looked_ns=5 * MS)
    assert not bench.stage.key_down("x", host_ns=6 * MS, looked_ns=5 * MS)
    bench.wish(Act.START)
    assert bench.stage.place is Place.CORNER
    assert corner.seen == [5 * MS, "f", "x", Act.START]


def test_leaving_a_corner_goes_back_to_where_it_was_opened() -> None:
    bench, corner = Bench(), Watching()
    bench.stage.open_corner(corner)
    bench.wish(Act.BACK)
    assert bench.stage.place is Place.LIBRARY
    assert corner.seen[-1] == "left"


def test_what_a_corner_does_not_do_the_stage_does_only_if_it_leads_away() -> None:
    bench, corner = Bench(), Watching()
    bench.stage.open_corner(corner)
    before = bench.stage.chosen.settings.passes
    bench.wish(Act.PASSES, 1)
    assert bench.stage.chosen.settings.passes == before


def test_a_drill_that_a_corner_lets_the_stage_run_comes_back_to_it() -> None:
    bench, corner = Bench(), Watching()
    bench.stage.open_corner(corner)
    pattern = bench.stage.chosen.pattern
    assert pattern is not None
    bench.stage.lend(bench.system.ns, Run(pattern=pattern, bpm=pattern.goal_bpm, passes=1))
    assert bench.stage.place is Place.DRILL
    bench.until(60.0)
    assert bench.stage.place is Place.CORNER
    assert corner.played is not None
    assert len(corner.played.judgement.outcomes) > 0


def test_what_is_opened_from_a_corner_that_is_returned_to_leads_back_to_it() -> None:
    bench, below, above = Bench(), Watching(), Watching()
    below.is_returned_to = True
    bench.stage.open_corner(below)
    bench.stage.open_corner(above)
    assert bench.stage.corner is above
    bench.wish(Act.BACK)
    assert bench.stage.corner is below
    assert bench.stage.place is Place.CORNER
    bench.wish(Act.BACK)
    assert bench.stage.corner is None
    assert bench.stage.place is Place.LIBRARY
