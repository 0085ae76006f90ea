"""Looking back: the pictures say what the records hold, and any take is heard and seen again as it was."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.judging.helpers import SKIP_FIGURE, pattern_of
from trainer.app.recording import Recorder, local_now
from trainer.app.scenes.progress import ProgressController
from trainer.errors import StoreProblem
from trainer.judging.take import Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.library import Library
from trainer.records.store import Store
from trainer.screen.actions import Act
from trainer.screen.scenes.progress import ProgressPicture, ProgressView
from trainer.screen.scenes.replay import ReplayView
from trainer.screen.scenes.takes import TakesView

TODAY = 739_945  # 25 November 2026
PATTERN = pattern_of(SKIP_FIGURE)


def a_take(day: int, bpm: int, *, jitter_s: float = 0.004, passes: int = 8, seed: int = 1) -> StoredTake:
    timeline = Timeline.steady(bpm)
    targets = lay_out(PATTERN, timeline, passes=passes)
    taps = simulate(targets, Faults(jitter_s=jitter_s), np.random.default_rng(seed)).taps
    take = StoredTake(
        begun=f"2026-11-{25 - (TODAY - day):02d}T18:30:00.000000Z", day=day, pattern=PATTERN,
        timeline=timeline, passes=passes, slots_asked=len(targets), input_name="Computer keys", taps=taps,
    )  # fmt: skip
    return summarised(take)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = Store.open(tmp_path / "takes.sqlite")
    for day, bpm in ((TODAY - 3, 60), (TODAY - 1, 72), (TODAY, 66)):
        store.keep(a_take(day, bpm))
    yield store
    store.close()


class Desk(Bench):
    """A bench with the progress open."""

    def __init__(self, store: Store, library: Library | None = None) -> None:
        self.recorder = Recorder(store.path, local_now)
        self.recorder.store = self.store = store
        super().__init__(library=library, recorder=self.recorder)
        self.open(lambda: ProgressController(self.context, "", TODAY))

    def shown(self) -> ProgressView | TakesView | ReplayView:
        view = self.view()
        assert isinstance(view, ProgressView | TakesView | ReplayView)
        return view


def test_the_fastest_clean_tempo_is_shown_by_day(store: Store) -> None:
    view = Desk(store).shown()
    assert isinstance(view, ProgressView)
    assert [(each.day - TODAY, each.value) for each in view.values] == [(-3, 60.0), (-1, 72.0), (0, 66.0)]
    assert view.rows[0].words == "clean at 72, 3 takes, today"


def test_the_slow_tempo_and_the_goal_are_those_of_the_figure_that_is_chosen(store: Store) -> None:
    view = Desk(store).shown()
    assert isinstance(view, ProgressView)
    assert (view.slow, view.goal) == (float(PATTERN.slow_bpm), float(PATTERN.goal_bpm))
    gone = Desk(store, library=Library(entries=())).shown()
    assert isinstance(gone, ProgressView)
    assert (gone.slow, gone.goal) == (None, None)


def test_the_spread_is_that_of_the_taps_at_the_tempo(store: Store) -> None:
    """Against numpy's standard deviation of the placements of the same take."""
    desk = Desk(store)
    desk.key("right")
    view = desk.shown()
    assert isinstance(view, ProgressView)
    assert view.picture is ProgressPicture.SPREAD
    assert view.at_bpm == 72
    take = a_take(TODAY - 1, 72)
    targets = lay_out(PATTERN, take.timeline, passes=take.passes)
    placed = [o.placement_s for o in judge(targets, take.taps).outcomes if o.placement_s is not None]
    (value,) = [each.value for each in desk.shown().values]  # type: ignore[union-attr]
    assert value == pytest.approx(np.std(placed, ddof=1) * 1000, rel=0.02)


def test_minutes_are_those_played(store: Store) -> None:
    desk = Desk(store)
    desk.key("left")
    view = desk.shown()
    assert isinstance(view, ProgressView)
    assert view.picture is ProgressPicture.MINUTES
    # Eight passes of two beats, the last tap half a beat before the end: 15.5 beats.
    wanted = [15.5 / bpm for bpm in (60, 72, 66)]
    assert [each.value for each in view.values] == pytest.approx(wanted, abs=0.001)


def test_a_take_is_heard_and_seen_again(store: Store) -> None:
    desk = Desk(store)
    desk.key("return")
    takes = desk.shown()
    assert isinstance(takes, TakesView)
    assert [line.tempo for line in takes.lines] == ["66 bpm", "72 bpm", "60 bpm"]
    desk.key("return")
    again = desk.shown()
    assert isinstance(again, ReplayView)
    assert desk.top.in_time
    assert again.drill.taps == ()
    desk.go(60.0)
    again = desk.shown()
    assert isinstance(again, ReplayView)
    assert again.over
    assert not desk.top.in_time
    assert len(again.drill.taps) == 24
    assert len(again.drill.outcomes) == 32
    assert all(o.verdict in (Verdict.IN_TIME, Verdict.KEPT_SILENT) for o in again.drill.outcomes)
    desk.key("space")
    assert not desk.shown().over
    for place in (TakesView, ProgressView):
        desk.key("escape")
        assert isinstance(desk.shown(), place)
    desk.key("escape")
    assert desk.scene == "library"
    assert desk.speaker.plan is None


def test_a_take_is_forgotten_and_brought_back(store: Store) -> None:
    desk = Desk(store)
    desk.key("return")
    desk.key("delete")
    takes = desk.shown()
    assert isinstance(takes, TakesView)
    assert [line.tempo for line in takes.lines] == ["72 bpm", "60 bpm"]
    assert store.count() == 2
    desk.key("u")
    assert store.count() == 3
    assert len(desk.shown().lines) == 3  # type: ignore[union-attr]


def test_nothing_played_yet_is_no_fault(tmp_path: Path) -> None:
    empty = Store.open(tmp_path / "none.sqlite")
    desk = Desk(empty)
    for key in ("down", "return", "right", "+", "right", "left", "delete"):
        desk.key(key)
        desk.shown().scene()
    empty.close()


def test_records_that_fail_are_one_sentence(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = Desk(store)

    def fail(**_asked: object) -> None:
        raise StoreProblem("the disk cannot be read", "look after it")

    monkeypatch.setattr(store, "takes", fail)
    desk.key("return")
    assert desk.notes == ("the disk cannot be read; look after it.",)
    assert desk.scene == "progress"


def test_a_take_that_did_not_count_says_why(store: Store) -> None:
    store.keep(replace(a_take(TODAY, 60, seed=3), not_graded="the input was unplugged"))
    desk = Desk(store)
    desk.act(Act.START)
    takes = desk.shown()
    assert isinstance(takes, TakesView)
    assert [line.result for line in takes.lines if not line.counts] == ["not graded: the input was unplugged"]


def test_records_that_were_begun_anew_meanwhile_are_asked_and_not_those_before(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    before = Store.open(path)
    before.keep(a_take(TODAY, 60))
    desk = Desk(before)
    desk.key("return")
    assert len(desk.seen(TakesView).lines) == 1
    for file in tmp_path.glob("takes.sqlite*"):
        file.unlink()
    desk.recorder.try_again()
    desk.key("delete")
    desk.key("escape")
    assert desk.seen(ProgressView).rows == ()
    assert desk.recorder.store is not None
    assert desk.recorder.store is not before
    desk.recorder.store.close()


def test_records_that_cannot_be_used_just_now_are_said_to_be_so(store: Store) -> None:
    desk = Desk(store)
    desk.recorder.store = None
    desk.key("return")
    assert desk.notes == ("the records cannot be read just now; the program tries again; look later.",)
    assert desk.scene == "progress"


def test_each_figure_has_the_tempo_that_it_is_played_at_most(store: Store) -> None:
    other = replace(PATTERN, name="other", title="Other")
    for seed in range(3):
        store.keep(replace(a_take(TODAY, 110, seed=seed + 5), pattern=other))
    desk = Desk(store)
    tempi = []
    for row in (0, 1, 0):
        desk.act(Act.SELECT, row)
        view = desk.shown()
        assert isinstance(view, ProgressView)
        tempi.append((view.rows[row].title, float(view.at_bpm or 0)))
    assert dict(tempi)["Other"] == 110
    assert len(dict(tempi)) == 2
    assert tempi[0] == tempi[2]
    assert tempi[1][1] != tempi[0][1]


def test_a_figure_not_played_today_is_told_by_its_day(store: Store) -> None:
    recorder = Recorder(store.path, local_now)
    recorder.store = store
    bench = Bench(recorder=recorder)
    words = []
    for today in (TODAY, TODAY + 1, TODAY + 40):
        bench.open(lambda today=today: ProgressController(bench.context, "", today))  # type: ignore[misc]
        words.append(bench.seen(ProgressView).rows[0].words.rsplit(", ", 1)[1])
    assert words == ["today", "25 Nov", "25 Nov 2026"]


def test_when_the_last_of_the_list_is_forgotten_the_one_before_it_is_chosen(store: Store) -> None:
    desk = Desk(store)
    desk.act(Act.START)
    chosen = []
    for at in (2, 1, 0):
        desk.act(Act.SELECT, at)
        desk.act(Act.REMOVE)
        view = desk.shown()
        assert isinstance(view, TakesView)
        chosen.append((len(view.lines), view.selected))
        view.scene()
    assert chosen == [(2, 1), (1, 0), (0, 0)]
    desk.act(Act.START)
    assert desk.scene == "takes", "there is none to hear"
