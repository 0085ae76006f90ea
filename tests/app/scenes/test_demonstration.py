"""A teacher at the lectern: stop, step, another fault, another tempo, take over, leave."""

import pytest

from tests.app.bench import MS, WINDOW, Bench
from tests.shipped import shipped
from trainer.app.scenes.demonstration import DemonstrationController
from trainer.devices.speaker import SilentSpeaker, SpeakerState
from trainer.judging.take import Verdict
from trainer.practice.showing import Showing
from trainer.screen.actions import Act
from trainer.screen.draw import Text
from trainer.screen.scenes.demonstration import DemonstrationView, Played
from trainer.screen.scenes.layers import SheetLayer


class Lectern(Bench):
    """A bench with a demonstration open."""

    def __init__(self) -> None:
        super().__init__()
        self.act(Act.OPEN_DEMONSTRATION)
        assert isinstance(self.top, DemonstrationController)
        self.controller = self.top

    def view(self) -> DemonstrationView:
        return self.controller.view(WINDOW)

    def until_beat(self, beat: float) -> None:
        """Let time go on to a beat of the demonstration."""
        while self.view().drill.timeline.beat(self.view().drill.song_s) < beat:
            self.go(0.05)

    def show(self, showing: Showing) -> None:
        self.act(Act.SHOW, self.view().showings.index(showing))


def test_the_fault_comes_first_and_then_a_clean_stretch_in_turn() -> None:
    desk = Lectern()
    desk.show(Showing.RUSHED)
    desk.until_beat(0.5)
    assert desk.view().playing is Played.FAULT
    assert desk.view().drill.simulated
    desk.until_beat(4.5)
    assert desk.view().playing is Played.CLEAN
    desk.until_beat(8.5)
    assert desk.view().playing is Played.FAULT


def test_the_fault_is_judged_as_it_is_called_within_two_bars() -> None:
    desk = Lectern()
    desk.show(Showing.TOUCHED)
    desk.until_beat(2 * desk.view().drill.pattern.meter.beats)
    assert any(o.verdict is Verdict.TOUCHED for o in desk.view().drill.outcomes)


def test_both_rulers_are_full_from_the_first_moment_on() -> None:
    desk = Lectern()
    desk.show(Showing.RUSHED)
    compared = desk.view().compared
    assert all(o.verdict.is_clean for o in compared[Showing.CLEAN])
    assert any(o.rushed_gap for o in compared[Showing.RUSHED])


def test_the_title_names_the_figure_and_the_fault() -> None:
    desk = Lectern()
    desk.show(Showing.RUSHED)
    texts = [
        item.text for panel in desk.view().scene().panels for item in panel.items if isinstance(item, Text)
    ]
    assert f"{desk.view().title}: {Showing.RUSHED.value}" in texts


def test_a_stop_in_the_count_in_waits_for_nothing() -> None:
    desk = Lectern()
    desk.go(1.5)
    assert desk.view().drill.count > 0
    desk.key("b")
    on = desk.view().stopped_on
    assert on is not None
    assert (on.pass_index, on.bar) == (0, 0)


def test_going_on_goes_on_at_the_bar_and_in_the_stretch_that_was_up() -> None:
    desk = Lectern()
    desk.show(Showing.STOPPED)
    for beat, playing in ((2.2, Played.FAULT), (4.2, Played.CLEAN)):
        desk.until_beat(beat)
        desk.key("b")
        desk.go(3.0)
        on = desk.view().stopped_on
        assert on is not None
        number = desk.view().drill.bar_numbers[on.bar]
        assert desk.view().playing is playing
        desk.key("b")
        assert desk.view().stopped_on is None
        assert desk.view().playing is playing
        assert desk.view().drill.bar_numbers[0] == number
        desk.key("r")


def test_the_teachers_taps_stand_in_a_row_of_their_own_and_clean_stays_clean() -> None:
    desk = Lectern()
    desk.show(Showing.RUSHED)
    desk.until_beat(0.1)
    before = desk.view().compared
    for _ in range(30):
        desk.press("f")
        desk.go(0.31)  # nothing that anybody would call clean
    view = desk.view()
    assert view.playing is Played.YOURS
    assert view.compared == before
    assert view.yours
    assert not all(o.verdict.is_clean for o in view.yours)
    texts = [item.text for panel in view.scene().panels for item in panel.items if isinstance(item, Text)]
    assert {"clean", Showing.RUSHED.value, "your taps"} <= set(texts)


def test_it_stays_the_teachers_turn_over_a_stop_until_the_hands_are_asked_for() -> None:
    desk = Lectern()
    desk.go(9.0)
    desk.press("f")
    desk.key("b")
    desk.go(3.0)
    desk.key("b")
    desk.go(6.0)
    assert desk.view().playing is Played.YOURS
    assert not desk.view().drill.taps
    desk.key("r")
    assert desk.view().playing is Played.CLEAN


def test_the_light_is_turned_for_this_demonstration_and_not_for_the_program() -> None:
    desk = Lectern()
    before = desk.preferences.settings.theme
    dark = desk.view().window.theme
    desk.key("t")
    assert desk.view().window.theme is not dark
    assert desk.preferences.settings.theme == before
    desk.key("escape")
    assert desk.app.view(WINDOW).window.theme is dark


def test_marked_bars_of_the_page_are_shown_and_keep_their_numbers() -> None:
    bench = Bench(library=shipped())
    bench.preferences.shelves.choose("barn-lantern at skips")
    bench.act(Act.OPEN_PAGE)
    for _ in range(4):
        bench.act(Act.MARK_FIRST, 1)
    for _ in range(8):
        bench.act(Act.MARK_LAST, -1)
    bench.act(Act.OPEN_DEMONSTRATION)
    view = bench.seen(DemonstrationView)
    assert view.drill.bar_numbers == (5, 6, 7, 8)
    assert len(view.drill.pattern.bars) == 4


def test_a_stop_is_on_a_stroke_and_steps_go_from_stroke_to_stroke() -> None:
    desk = Lectern()
    desk.go(12.0)
    desk.key("b")
    desk.go(3.0)
    first = desk.view().stopped_on
    assert first is not None
    assert desk.view().drill.song_s == pytest.approx(first.song_s)
    desk.go(5.0)
    assert desk.view().stopped_on == first
    desk.key("page down")
    second = desk.view().stopped_on
    assert second is not None
    assert second.song_s > first.song_s
    desk.key("page up")
    assert desk.view().stopped_on == first
    desk.key("b")
    assert desk.view().stopped_on is None
    assert desk.view().drill.song_s < 0  # a count-in, and on from the bar


def test_stepping_on_and_on_never_ends() -> None:
    desk = Lectern()
    desk.go(6.0)
    desk.key("b")
    desk.go(3.0)
    for _ in range(60):
        desk.key("page down")
    on = desk.view().stopped_on
    assert on is not None
    assert on.pass_index > 3
    for _ in range(200):
        desk.key("page up")
    assert desk.view().stopped_on is not None


def test_page_down_shows_the_next_fault_while_the_sheet_moves() -> None:
    desk = Lectern()
    seen = []
    for _ in desk.view().showings:
        seen.append(desk.view().showing)
        desk.key("page down")
    assert tuple(seen) == desk.view().showings
    assert desk.view().showing is Showing.CLEAN


def test_a_tap_takes_over_and_the_hands_are_silent() -> None:
    desk = Lectern()
    desk.go(9.0)
    assert desk.app.key_down("f", host_ns=desk.system.ns, looked_ns=desk.system.ns - MS)
    taps = len(desk.view().drill.taps)
    desk.go(6.0)
    assert desk.view().taken_over
    assert not desk.view().drill.simulated
    assert len(desk.view().drill.taps) == taps
    desk.key("r")
    desk.go(12.0)
    assert len(desk.view().drill.taps) > 0


def test_layers_are_hidden_and_shown() -> None:
    desk = Lectern()
    desk.key("1")
    assert desk.view().drill.layers == frozenset(SheetLayer) - {SheetLayer.PATH}
    desk.key("1")
    assert desk.view().drill.layers == frozenset(SheetLayer)


def test_another_tempo_begins_at_the_bar_that_is_up() -> None:
    desk = Lectern()
    before = desk.view().drill.bpm
    desk.go(9.0)
    desk.key("right")
    assert desk.view().drill.bpm == before + 5
    assert desk.view().drill.song_s < 0


def test_escape_leaves_and_the_stream_falls_silent() -> None:
    desk = Lectern()
    desk.go(6.0)
    desk.key("escape")
    assert desk.scene == "library"
    assert desk.speaker.plan is None


def test_it_starts_from_a_drill_with_the_pattern_that_is_drilled() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(0.5)
    bench.act(Act.OPEN_DEMONSTRATION)
    assert isinstance(bench.top, DemonstrationController)
    view = bench.view()
    assert isinstance(view, DemonstrationView)
    assert view.drill.pattern.title == bench.preferences.library.patterns[0].title


def test_everything_that_the_keys_do_a_click_does_too() -> None:
    """But for steps, and tempi between those that clicks reach."""
    desk = Lectern()
    scene = desk.view().scene()
    finer = (Act.STEP, Act.TEMPO_BY_ONE)
    by_keys = {use.action for use in scene.keys if use.action.act not in finer}
    rare = {cap.action for entry in scene.helps if entry.rare for cap in entry.caps}  # in the list of keys
    assert by_keys <= {hit.action for hit in scene.hits} | rare


def test_a_long_demonstration_costs_no_more_to_draw() -> None:
    desk = Lectern()
    desk.go(120.0)  # the sheet has been full for some passes
    early = desk.view()
    desk.go(120.0)
    late = desk.view()
    assert len(late.drill.targets) <= len(early.drill.targets) + 8


def test_a_demonstration_whose_sound_is_lost_stops_on_a_stroke_and_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    desk = Lectern()
    desk.go(2.0)
    assert desk.view().stopped_on is None
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    desk.app.tick(desk.system.ns + MS)
    assert desk.view().stopped_on is not None
    assert "Space begins anew" in desk.notes[0]
