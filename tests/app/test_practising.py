"""The evening of one player: what was kept makes things ready, what to play next, when to rest."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.app.bench import MS, Bench
from tests.shipped import shipped
from trainer.app.drill_request import DrillRequest
from trainer.app.recording import Recorder
from trainer.music.strokes import Hand
from trainer.practice.faults import Faults
from trainer.practice.session import BREAK_S, ROTATE_S
from trainer.practice.settings import Settings
from trainer.practice.stored_take import judgement_of
from trainer.screen.actions import Act
from trainer.screen.scenes.library import LibraryView
from trainer.screen.scenes.review import ReviewView

LIBRARY = shipped()
KEYS = {Hand.NAIL: "f", Hand.THUMB: "j"}


class Evening(Bench):
    """A bench with records of its own; time goes on when it is told to."""

    def __init__(self, folder: Path) -> None:
        self.now = datetime(2026, 11, 25, 19, 0, tzinfo=UTC)
        recorder, note = Recorder.open(folder / "takes.sqlite", lambda: self.now)
        assert note == ""
        super().__init__(settings=Settings(cautions_seen=True, passes=8), library=LIBRARY, recorder=recorder)

    def wait(self, seconds: float) -> None:
        self.system.ns += round(seconds * 1e9)
        self.app.tick(self.system.ns)

    def play(self, run: DrillRequest, *, late_s: float = 0.0) -> None:
        """Play a run stroke by stroke with the keys, each late by as much."""
        self.start(run)
        last = -1
        drill = self.running.drill
        while self.scene == "drill":
            self.system.ns += 8 * MS
            now = self.speaker.song_s(self.system.ns)
            assert now is not None
            for target in drill.targets[last + 1 :]:
                if target.song_s + late_s > now:
                    break
                last = target.index
                if target.stroke.hand in KEYS:
                    self.press(KEYS[target.stroke.hand])
            self.app.tick(self.system.ns)

    def shown(self) -> LibraryView:
        while self.scene != "library":
            self.context.navigation.back()
        view = self.view()
        assert isinstance(view, LibraryView)
        return view


@pytest.fixture
def evening(tmp_path: Path) -> Iterator[Evening]:
    evening = Evening(tmp_path)
    yield evening
    evening.app.end()


def first_run() -> DrillRequest:
    pattern = LIBRARY.patterns[0]
    return DrillRequest(pattern=pattern, bpm=pattern.goal_bpm, passes=8)


def test_a_clean_take_is_kept_and_makes_what_needs_it_ready(evening: Evening) -> None:
    before = evening.shown()
    needing = next(at for at, p in enumerate(LIBRARY.patterns) if p.needs == (LIBRARY.patterns[0].name,))
    assert not before.rows[needing].ready
    assert before.rows[needing].ready_words.startswith("first: ")
    evening.play(first_run())
    after = evening.shown()
    assert after.rows[0].clean
    assert after.rows[0].fastest_clean_bpm == LIBRARY.patterns[0].goal_bpm
    assert after.rows[needing].ready


def test_another_player_stands_where_that_player_stands_and_not_where_the_last_one_did(
    evening: Evening,
) -> None:
    evening.play(first_run())
    assert evening.shown().rows[0].clean
    evening.preferences.change(player="Bo")
    assert not evening.shown().rows[0].clean
    evening.preferences.change(player="")
    assert evening.shown().rows[0].clean


def test_a_take_that_was_not_clean_leaves_the_row_unclean(evening: Evening) -> None:
    evening.play(first_run(), late_s=0.12)
    view = evening.shown()
    assert not view.rows[0].clean
    assert view.rows[0].fastest_clean_bpm is None


def test_a_session_goes_on_when_the_program_was_closed_for_a_moment(tmp_path: Path) -> None:
    before = Evening(tmp_path)
    before.play(first_run())
    before.wait(1.0)
    said = before.shown().suggestion
    before.app.end()
    after = Evening(tmp_path)
    after.now = before.now + timedelta(minutes=1)
    after.system.ns = before.system.ns + 60 * 10**9
    after.context.practising.resume(after.system.ns, after.now)
    after.app.tick(after.system.ns)
    assert after.shown().suggestion == said != ""
    after.app.end()


def test_the_kept_take_is_the_one_that_was_judged(evening: Evening) -> None:
    evening.play(first_run())
    played, recorder = evening.result, evening.context.recorder
    assert played is not None
    assert recorder is not None
    assert recorder.store is not None
    assert recorder.last_id is not None
    take = recorder.store.take(recorder.last_id)
    again = judgement_of(take)
    assert [o.verdict for o in again.outcomes] == [o.verdict for o in played.judgement.outcomes]
    assert take.input_name == "Computer keys"


def test_the_session_suggests_another_figure_and_n_goes_there(evening: Evening) -> None:
    evening.play(first_run())
    evening.wait(1.0)
    view = evening.shown()
    assert "(N)" in view.suggestion
    assert not view.break_due
    evening.act(Act.NEXT_SUGGESTED)
    assert evening.preferences.pattern is not None
    assert evening.preferences.pattern.name != LIBRARY.patterns[0].name
    assert evening.preferences.pattern.title in view.suggestion


def test_after_25_minutes_of_playing_it_is_time_to_rest_and_five_minutes_are_enough(evening: Evening) -> None:
    evening.context.practising.started(evening.system.ns, LIBRARY.patterns[0])
    evening.wait(25 * 60)
    evening.context.practising.stopped(evening.system.ns)
    view = evening.shown()
    assert view.break_due
    assert view.suggestion == "25 minutes of playing: rest for 5 minutes"
    evening.wait(5 * 60)
    assert not evening.shown().break_due


def test_what_simulated_hands_play_is_nobodys_practice(evening: Evening) -> None:
    run = DrillRequest(
        pattern=LIBRARY.patterns[0], bpm=LIBRARY.patterns[0].goal_bpm, passes=2, hands=Faults()
    )
    before = evening.shown().suggestion
    evening.start(run)
    while evening.scene == "drill":
        evening.wait(0.05)
    evening.act(Act.BACK)
    assert evening.shown().suggestion == before, "the evening has not begun"
    recorder = evening.context.recorder
    assert recorder is not None
    assert recorder.store is not None
    assert recorder.store.count() == 0


def test_a_goal_is_reached_at_the_second_clean_time_on_another_day(evening: Evening) -> None:
    evening.play(first_run())
    assert evening.shown().rows[0].ready_words == "ready"
    evening.now += timedelta(days=1)
    evening.play(first_run())
    assert evening.shown().rows[0].ready_words == "goal reached"


@pytest.mark.parametrize("minutes", [1, 4, 6, 9, 12])
def test_a_change_of_figure_is_offered_when_it_is_said_to_be_time_and_no_longer_after_a_rest(
    evening: Evening, minutes: int
) -> None:
    practising = evening.context.practising
    practising.started(evening.system.ns, LIBRARY.patterns[0])
    evening.wait(60 * minutes)
    practising.stopped(evening.system.ns)
    said = "minutes here: next" in evening.shown().suggestion
    assert practising.is_time_to_rotate(evening.system.ns) == said == (60 * minutes >= ROTATE_S)
    evening.wait(BREAK_S)
    assert not practising.is_time_to_rotate(evening.system.ns)


def test_the_review_says_that_it_is_time_to_rest_and_for_how_long(evening: Evening) -> None:
    evening.play(first_run())
    assert evening.seen(ReviewView).step_words != "Rest for 5 minutes"
    evening.context.practising.started(evening.system.ns, LIBRARY.patterns[0])
    evening.wait(25 * 60)
    evening.context.practising.stopped(evening.system.ns)
    evening.play(first_run())
    assert evening.seen(ReviewView).step_words == "Rest for 5 minutes"
