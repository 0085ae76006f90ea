"""The first minute: keys that light up, a bar to watch and to tap, pads to take instead; and who plays."""

import pytest

from tests.app.bench import MS, Bench, keys_for
from tests.screen.pages import words_on
from trainer.app.notes import CAUTIONS
from trainer.app.scene_table import show_first_start
from trainer.app.scenes.first_start import FirstStartController
from trainer.app.scenes.naming import NOBODY, NamingController, written
from trainer.music.strokes import Hand
from trainer.practice.settings import LONGEST_NAME, Settings
from trainer.records.library import Library
from trainer.screen.actions import Act
from trainer.screen.scenes.asking import AskingView
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.first_bar import FirstBarView, Stage
from trainer.screen.scenes.library import LibraryView
from trainer.screen.scenes.review import ReviewView


def shown(bench: Bench) -> AskingView:
    view = bench.view()
    assert isinstance(view, AskingView)
    return view


def first_start(*ports: str) -> Bench:
    bench = Bench(*ports, settings=Settings())
    bench.open(lambda: FirstStartController(bench.context))
    return bench


def bar(bench: Bench) -> FirstBarView:
    return bench.seen(FirstBarView)


def go_to(bench: Bench, stage: Stage) -> None:
    for _ in range(3000):
        if bar(bench).stage is stage:
            return
        bench.go(0.008)
    raise AssertionError(f"never came to {stage}")


def lit(bench: Bench) -> list[str]:
    return [key.words for key in bench.view().window.taps if key.lit]


def words_of(bench: Bench) -> str:
    return " ".join(words_on(bench.view().scene()))


def test_a_key_lights_up_for_a_moment_when_it_is_touched() -> None:
    bench = first_start()
    bench.go(0.1)
    assert lit(bench) == []
    bench.press("f")
    bench.go(0.05)
    assert lit(bench) == ["nail"]
    bench.go(0.3)
    bench.press("j")
    bench.go(0.05)
    assert lit(bench) == ["thumb"]


def test_the_hand_plays_the_bar_first_and_the_keys_show_whose_each_stroke_is() -> None:
    bench = first_start()
    bench.key("return")
    go_to(bench, Stage.WATCH)
    seen: list[str] = []
    while bar(bench).stage is Stage.WATCH:
        bench.go(0.016)
        now = lit(bench)
        if now and (not seen or now[0] != seen[-1]):
            seen += now
    assert {"nail", "thumb"} == set(seen)
    assert bar(bench).tapped == ()


def test_what_is_tapped_leaves_a_picture_and_no_verdict_and_then_comes_the_library() -> None:
    bench = first_start()
    bench.key("return")
    go_to(bench, Stage.TAP)
    bench.press("f")
    bench.go(1.0)
    bench.press("j")
    go_to(bench, Stage.DONE)
    (first, at), (second, _) = bar(bench).tapped
    assert (first, second) == (Hand.NAIL, Hand.THUMB)
    assert at == pytest.approx(0.0, abs=0.05)

    bench.key("return")
    assert bench.scene == "library"
    assert bench.kept[-1].cautions_seen
    assert bench.context.store is None, "nothing was kept of it"


def test_nothing_heard_is_said_and_the_bar_can_be_had_again() -> None:
    bench = first_start()
    bench.key("return")
    go_to(bench, Stage.DONE)
    assert "Nothing was heard" in words_of(bench)
    bench.key("space")
    assert bar(bench).stage is Stage.COUNT


def test_it_can_be_left_at_once_and_never_comes_back_by_itself() -> None:
    bench = first_start("Pad 20:0")
    bench.key("escape")
    assert bench.scene == "library"
    assert bench.kept[-1] == Settings(cautions_seen=True)


def test_from_the_start_of_the_program_to_the_first_stroke_in_time_it_is_three_touches() -> None:
    bench = first_start()
    touches = ["escape", "return"]
    for key in touches:
        bench.key(key)
    first = next(t for t in bench.running.drill.targets if t.stroke.kind.sounds)
    bench.until(first.song_s + 1.0, {first.song_s: "f" if first.stroke.hand is Hand.NAIL else "j"})
    assert len(touches) + 1 == 3
    outcome = next(o for o in bench.running.drill.outcomes if o.target.song_s == first.song_s)
    assert outcome.verdict.is_clean


def test_without_a_single_figure_the_library_comes_at_once_and_the_cautions_are_said() -> None:
    bench = Bench(settings=Settings(), library=Library(entries=()))
    show_first_start(bench.context)
    assert bench.scene == "library"
    assert bench.notes == CAUTIONS


def test_the_cautions_stand_there_and_nowhere_twice() -> None:
    bench = first_start()
    assert bench.notes == ()
    assert len(bar(bench).remarks) == 3


@pytest.mark.parametrize("scene", [LibraryView, DrillView, ReviewView])
def test_what_to_tap_is_shown_wherever_one_taps(scene: type[LibraryView | DrillView | ReviewView]) -> None:
    bench = Bench()
    if scene is not LibraryView:
        bench.key("return")
    if scene is ReviewView:
        bench.key("escape")
    bench.context.say("A note takes nothing of it away.")
    assert [(key.label, key.words) for key in bench.seen(scene).window.taps] == [
        ("F", "nail"),
        ("J", "thumb"),
    ]
    words = words_of(bench)
    for word in ("F", "nail", "J", "thumb"):
        assert word in words.split()


def test_a_drill_in_which_nothing_is_tapped_stops_by_itself_and_shows_what_to_tap() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=8))
    bench.key("return")
    bench.until(60.0)
    view = bench.seen(ReviewView)
    assert view.passes < 8
    assert view.happened == "Nothing was heard."
    assert view.nothing_heard
    assert view.step_words.startswith("Again at ")
    bench.key("return")
    assert bench.scene == "drill"


def test_a_drill_in_which_something_is_tapped_goes_on() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=4))
    bench.key("return")
    bench.until(90.0, {float(at): "f" for at in range(0, 90, 4)})
    assert bench.seen(ReviewView).passes == 4


def test_a_drill_without_end_whose_player_has_gone_stops_by_itself() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=0))
    bench.key("return")
    bench.until(9.0, keys_for(bench))
    assert bench.scene == "drill"
    bench.until(90.0)
    assert bench.seen(ReviewView).passes < 30


# A pad plugged in later


def touch(bench: Bench, note: int) -> None:
    bench.system.ns += 500 * MS
    bench.system.send(0x99, note, 90)
    bench.app.poll()


def test_a_pad_plugged_in_later_is_announced_with_one_key_that_takes_it_and_teaches_it() -> None:
    bench = Bench()
    bench.go(1.0)
    assert bench.notes == ()
    bench.system.ports.append("Pad 20:0")
    bench.go(1.0)
    assert bench.notes == ("Pad was plugged in: F2 taps on it.",)
    bench.key("f2")
    assert shown(bench).prompt == "Touch the pad for your nail"
    touch(bench, 36)
    bench.act(Act.UNDO)
    assert "nail" in shown(bench).prompt
    touch(bench, 36)
    assert "thumb" in shown(bench).prompt
    touch(bench, 38)
    bench.key("escape")  # enough: what was taught is kept
    assert bench.scene == "library"
    assert bench.preferences.settings.pads == {"Pad": "nail=36,thumb=38"}
    bench.go(0.1)
    assert [(key.label, key.words) for key in bench.view().window.taps] == [("", "nail"), ("", "thumb")]


def test_a_pad_that_is_known_is_used_at_once() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, pads={"Pad": "nail=36,thumb=38"}))
    bench.key("f2")
    assert bench.scene == "library"
    assert bench.notes == ("From now on you tap on Pad.",)


def test_a_pad_that_another_program_holds_is_said_and_the_keys_stay() -> None:
    bench = first_start("Pad 20:0")
    assert bar(bench).other_input == "Pad"
    bench.system.refuses = True
    bench.key("f2")
    assert bench.preferences.settings.input_name == ""
    assert "another program may hold the pad" in " ".join(bench.notes)


def test_without_a_pad_the_key_for_it_says_so() -> None:
    bench = Bench()
    bench.key("f2")
    assert bench.notes == ("No other pad is plugged in.",)


# Who plays


def naming(*known: str, player: str = "") -> tuple[Bench, list[str]]:
    bench, done = Bench(settings=Settings(cautions_seen=True, player=player)), list[str]()
    bench.open(lambda: NamingController(bench.context, known, done.append))
    return bench, done


def test_a_known_name_is_picked() -> None:
    bench, done = naming("Bo", "Ada", "Bo", player="Ada")
    assert shown(bench).options == ("Bo", "Ada", NOBODY)
    assert (shown(bench).in_use, shown(bench).focus) == (1, 2)
    bench.act(Act.SELECT, 1)
    bench.act(Act.START)
    assert done == ["Bo"]
    assert bench.scene == "library"


def test_a_new_name_is_written_and_corrected() -> None:
    bench, done = naming()
    bench.top.typed("A")
    bench.top.typed("x")
    bench.app.key_down("backspace", host_ns=0, looked_ns=0)
    bench.top.typed("da")
    assert shown(bench).typed == "Ada"
    bench.act(Act.START)
    assert done == ["Ada"]


def test_nobody_is_an_answer_and_escape_is_none() -> None:
    bench, done = naming("Bo")
    bench.act(Act.SELECT, 2)
    bench.act(Act.START)
    assert done == [""]
    bench, done = naming("Bo")
    bench.act(Act.BACK)
    assert done == []


@pytest.mark.parametrize(
    ("more", "line"),
    [
        ("Zoë 鼓", "Zoë 鼓"),
        ("a\nb", "a"),
        ("\x00a\x1b[2Jb\u202e", "a[2Jb"),
        ("", ""),
        ("a\u0378b", "ab"),  # no letter has this number: the Unicode standard, version 15
        ("x" * 99, "x" * LONGEST_NAME),
    ],
)
def test_a_name_is_one_printable_line(more: str, line: str) -> None:
    assert written("", more) == line


def test_help_over_the_bar_begins_it_anew_and_over_its_end_leaves_it_there() -> None:
    bench = first_start()
    bench.act(Act.START)
    go_to(bench, Stage.WATCH)
    for key in ("f1", "escape"):
        bench.key(key)
    assert bar(bench).stage is Stage.READY
    bench.act(Act.START)
    go_to(bench, Stage.DONE)
    for key in ("f1", "escape"):
        bench.key(key)
    assert bar(bench).stage is Stage.DONE
