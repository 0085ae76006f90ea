"""A scene gets what concerns it while it is on top, and the one below goes on when it is left."""

import pytest

from tests.app.bench import MS, WINDOW, Bench
from trainer.app.controller import Controller
from trainer.app.notes import CAUTIONS, sentence
from trainer.app.scenes.drill import begin_drill
from trainer.practice.input_event import InputEvent
from trainer.practice.settings import Settings
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.asking import AskingView
from trainer.screen.window import BannerKind, Window


class Watching(Controller):
    """A scene that writes down what it was given."""

    def __init__(self, *, plays: bool = False) -> None:
        self.seen: list[object] = []
        self.plays = plays

    @property
    def in_time(self) -> bool:
        return self.plays

    def view(self, window: Window) -> AskingView:
        return AskingView(window=window, title="x", question="y?")

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - as its base
        self.seen.append(action.act)
        return action.act is Act.START

    def tick(self) -> None:
        self.seen.append("tick")

    def heard(self, event: InputEvent) -> bool:
        self.seen.append(event.source.key)
        return event.source.key == "f"

    def leave(self) -> None:
        self.seen.append("left")

    def uncovered(self) -> None:
        self.seen.append("uncovered")


def watched(**settings: object) -> tuple[Bench, Watching]:
    bench, scene = Bench(settings=Settings(**{"cautions_seen": True, **settings})), Watching()  # type: ignore[arg-type]
    bench.open(lambda: scene)
    return bench, scene


def test_the_scene_on_top_is_shown_and_gets_time_touches_and_actions() -> None:
    bench, scene = watched()
    assert bench.view().window == WINDOW
    bench.app.tick(5 * MS)
    assert bench.press("f")
    assert not bench.press("x")
    bench.act(Act.START)
    assert bench.top is scene
    assert scene.seen == ["tick", "f", "x", Act.START]


def test_leaving_a_scene_goes_back_to_the_one_below() -> None:
    bench, below = watched()
    above = Watching()
    bench.open(lambda: above)
    bench.act(Act.BACK)
    assert bench.top is below
    assert above.seen[-1] == "left"
    assert below.seen == ["left", "uncovered"]
    bench.act(Act.BACK)
    assert bench.scene == "library"
    bench.act(Act.BACK)
    assert bench.scene == "library"


def test_a_scene_is_made_when_the_one_that_was_up_has_fallen_silent() -> None:
    bench, below = watched()
    seen: list[object] = []

    def make() -> Watching:
        seen.extend(below.seen)
        return Watching()

    bench.open(make)
    assert seen == ["left"]


def test_what_a_scene_does_not_do_is_done_only_if_it_leads_to_another() -> None:
    bench, _scene = watched()
    before = bench.preferences.settings
    bench.act(Act.PASSES, 1)
    assert bench.preferences.settings == before
    bench.act(Act.OPEN_SETTINGS)
    assert bench.scene == "settings"


def test_a_drill_over_a_scene_hands_its_result_to_whoever_asked_for_it() -> None:
    bench, scene = watched(passes=1)
    results: list[object] = []
    begin_drill(bench.context, bench.system.ns, None, results.append)
    assert bench.scene == "drill"
    bench.until(60.0)
    assert bench.top is scene
    assert results == [bench.result]


def test_a_key_held_down_means_what_it_meant_when_it_went_down() -> None:
    bench, scene = watched()
    for _ in range(3):
        assert bench.app.key_down("f", host_ns=bench.system.ns, looked_ns=bench.system.ns)
        assert not bench.app.key_down("x", host_ns=bench.system.ns, looked_ns=bench.system.ns)
    assert scene.seen == ["f", "x"]


def test_what_is_said_is_laid_over_whichever_scene_is_up() -> None:
    bench, _scene = watched()
    bench.context.say("The pad was unplugged.")
    banner = bench.view().window.banner
    assert banner is not None
    assert (banner.kind, banner.lines) == (BannerKind.NOTE, ("The pad was unplugged.",))
    bench.act(Act.DISMISS)
    assert bench.view().window.banner is None


def test_a_note_that_nobody_can_have_seen_is_not_replaced() -> None:
    bench, _scene = watched()
    bench.context.say("The pad was unplugged.")
    bench.context.say("The disk is full.")
    assert bench.notes == ("The pad was unplugged.", "The disk is full.")
    bench.view()
    bench.context.say("The pad is back.")
    assert bench.notes == ("The pad is back.",)


def test_a_note_takes_no_key_and_goes_with_one_once_it_could_be_read() -> None:
    bench, scene = watched()
    bench.context.say("The pad was unplugged.")
    bench.view()
    bench.context.notes.key_pressed(in_time=False)
    assert bench.notes == ("The pad was unplugged.",)
    bench.app.tick(bench.system.ns + 2_000 * MS)
    bench.context.notes.key_pressed(in_time=False)
    assert bench.notes == ()
    assert scene.seen == ["tick"]


def test_a_note_in_a_drill_goes_by_itself_for_no_key_is_free_there() -> None:
    bench, scene = watched(cautions_seen=False)
    scene.plays = True
    bench.context.say("The pad was unplugged. " * 9)
    bench.view()
    bench.app.tick(bench.system.ns + 2_000 * MS)
    bench.context.notes.key_pressed(in_time=True)
    assert len(bench.notes) == 1 + len(CAUTIONS)
    bench.app.tick(bench.system.ns + 9_000 * MS)
    assert bench.notes == CAUTIONS


def test_the_cautions_wait_while_somebody_plays_and_a_note_does_not() -> None:
    bench, scene = watched(cautions_seen=False)
    scene.plays = True
    assert bench.view().window.banner is None
    bench.context.say("The pad was unplugged.")
    banner = bench.view().window.banner
    assert banner is not None
    assert (banner.kind, banner.lines) == (BannerKind.NOTE, ("The pad was unplugged.",))
    bench.act(Act.DISMISS)
    assert bench.notes == CAUTIONS
    scene.plays = False
    banner = bench.view().window.banner
    assert banner is not None
    assert (banner.kind, banner.lines) == (BannerKind.CAUTION, CAUTIONS)
    bench.act(Act.DISMISS)
    assert bench.notes == ()
    assert bench.kept[-1].cautions_seen


def test_what_is_wrong_with_the_records_is_said_while_nothing_else_is_and_no_key_takes_it_away() -> None:
    bench, scene = watched()
    bench.context.notes.standing = "the records cannot be written."
    banner = bench.view().window.banner
    assert banner is not None
    assert (banner.kind, banner.lines) == (BannerKind.PROBLEM, ("The records cannot be written.",))
    assert bench.context.notes.shown(in_time=False) == ()
    scene.plays = True
    assert bench.view().window.banner == banner
    bench.context.say("The pad was unplugged.")
    banner = bench.view().window.banner
    assert banner is not None
    assert banner.lines == ("The pad was unplugged.",)


def test_a_scene_taken_out_from_below_falls_silent_and_the_one_on_top_stays() -> None:
    bench, below = watched()
    above = Watching()
    bench.open(lambda: above)
    below.seen.clear()
    bench.context.navigation.drop(below)
    assert bench.top is above
    assert (below.seen, above.seen) == (["left"], [])
    bench.context.navigation.drop(below)  # it is there no more
    assert below.seen == ["left"]
    bench.act(Act.BACK)
    assert bench.scene == "library"


def test_the_scene_that_is_up_falls_silent_when_the_program_ends() -> None:
    bench, scene = watched()
    bench.app.end()
    assert scene.seen == ["left"]


def test_the_library_says_what_it_has_done_itself_and_leaves_the_rest_to_others() -> None:
    bench = Bench()
    for act in (Act.SELECT, Act.PASSES, Act.TEMPO, Act.SHELF):
        assert bench.top.act(Action(act=act, value=0), 0), act
    assert not bench.top.act(Action(act=Act.UNDO), 0)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("the pad is back.", "The pad is back."),
        ("takes.sqlite is damaged.", "takes.sqlite is damaged."),
        ("/home/ann cannot be written.", "/home/ann cannot be written."),
        ("folder/file is gone.", "folder/file is gone."),
        ("C:\\takes is gone.", "C:\\takes is gone."),
        ("", ""),
    ],
)
def test_a_sentence_begins_with_a_capital_letter_and_a_files_name_stays_as_it_is(
    words: str, said: str
) -> None:
    assert sentence(words) == said


def test_nothing_to_say_leaves_what_is_shown() -> None:
    bench, _scene = watched()
    bench.context.say("The pad was unplugged.")
    bench.view()
    bench.context.say("", "")
    assert bench.notes == ("The pad was unplugged.",)
