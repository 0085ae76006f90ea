"""What is asked at the first start, and who plays."""

import pytest

from tests.app.bench import MS, Bench
from trainer.app.scenes.first_start import FirstStartController, Question
from trainer.app.scenes.naming import NOBODY, NamingController, written
from trainer.practice.settings import LONGEST_NAME, Settings
from trainer.screen.actions import Act
from trainer.screen.draw import Text
from trainer.screen.scenes.asking import AskingView


def shown(bench: Bench) -> AskingView:
    view = bench.view()
    assert isinstance(view, AskingView)
    return view


def first_start(*ports: str) -> Bench:
    bench = Bench(*ports, settings=Settings())
    bench.open(lambda: FirstStartController(bench.context))
    return bench


def test_at_most_three_questions_are_asked_and_the_answers_hold() -> None:
    bench = first_start("Pad 20:0")
    asked = []
    for row in (0, 2):
        asked.append(shown(bench).question)
        bench.act(Act.SELECT, row)
        bench.act(Act.START)
    asked.append(shown(bench).question)
    assert bench.top.wants_text
    bench.top.typed("Ada")
    bench.act(Act.START)
    assert asked == [question.value for question in Question]
    assert bench.scene == "library"
    kept = bench.kept[-1]
    assert (kept.theme, kept.text_size, kept.player, kept.cautions_seen) == (
        "projector",
        "large",
        "Ada",
        True,
    )


def test_a_pad_that_another_program_holds_is_said_and_the_question_stays() -> None:
    bench = first_start("Pad 20:0")
    bench.system.refuses = True
    bench.act(Act.SELECT, 1)
    bench.act(Act.START)
    view = shown(bench)
    assert view.question == Question.INPUT.value
    assert bench.preferences.settings.input_name == ""
    assert view.window.banner is not None
    words = " ".join(
        item.text for panel in view.scene().panels for item in panel.items if isinstance(item, Text)
    )
    assert "another program may hold the pad" in words


def test_with_nothing_but_keys_to_tap_on_it_is_not_asked_what_to_tap_on() -> None:
    bench = first_start()
    assert shown(bench).question == Question.PICTURE.value
    assert shown(bench).title.endswith("1 of 2")


def test_it_can_be_skipped_at_once_and_is_not_asked_again() -> None:
    bench = first_start("Pad 20:0")
    bench.act(Act.BACK)
    assert bench.scene == "library"
    assert bench.kept[-1] == Settings(cautions_seen=True)


def test_the_cautions_stand_under_every_question_and_nowhere_twice() -> None:
    bench = first_start()
    assert bench.notes == ()
    for _ in range(2):
        assert len(shown(bench).remarks) == 3
        bench.act(Act.START)


def test_a_port_is_taught_on_the_spot_and_the_next_question_follows() -> None:
    bench = first_start("Pad 20:0")
    bench.act(Act.SELECT, 1)
    bench.act(Act.START)
    assert shown(bench).prompt == "Touch the pad for your nail"
    touch(bench, 36)
    assert "thumb" in shown(bench).prompt
    bench.act(Act.UNDO)
    assert "nail" in shown(bench).prompt
    touch(bench, 36)
    touch(bench, 38)
    bench.act(Act.BACK)  # enough: what was taught is kept
    assert bench.preferences.settings.pads == {"Pad": "nail=36,thumb=38"}
    assert shown(bench).question == Question.PICTURE.value


def touch(bench: Bench, note: int) -> None:
    bench.system.ns += 500 * MS
    bench.system.send(0x99, note, 90)
    bench.app.poll()


def test_one_can_go_back_a_question() -> None:
    bench = first_start("Pad 20:0")
    assert not shown(bench).can_go_back
    bench.act(Act.START)
    bench.act(Act.UNDO)
    assert shown(bench).question == Question.INPUT.value


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
        ("x" * 99, "x" * LONGEST_NAME),
    ],
)
def test_a_name_is_one_printable_line(more: str, line: str) -> None:
    assert written("", more) == line
