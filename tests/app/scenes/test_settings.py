"""A change of the settings can be taken back, one at a time, and what hangs on it follows."""

import pytest

from tests.app.bench import MS, Bench, keys_for
from trainer.app.undoing import MOST_CHANGES
from trainer.music.strokes import Hand
from trainer.practice.settings import TABLE, Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.setting_rows import rows_of
from trainer.screen.scenes.settings import SettingsView

NEVER_TAKEN_BACK = {
    "class_list", "full_screen", "pattern", "tempi", "passes", "cautions_seen", "signs_seen", "own_track",
    "records_folder",
    "delays_ms",
    "rooms",
    "sound_depths",
}  # fmt: skip


def test_every_setting_is_either_taken_back_or_named_here() -> None:
    assert {name for name, spec in TABLE.items() if not spec.undo} == NEVER_TAKEN_BACK


def test_changes_are_taken_back_one_at_a_time_latest_first() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    for setting in ("swing", "swing", "pocket"):
        bench.step(setting)
    assert (bench.preferences.settings.swing, bench.preferences.settings.pocket) == ("11/10", "wide")
    bench.act(Act.UNDO)
    assert (bench.preferences.settings.swing, bench.preferences.settings.pocket) == ("11/10", "middle")
    bench.act(Act.UNDO)
    assert bench.preferences.settings.swing == "21/20"
    bench.act(Act.UNDO)
    before = bench.kept[-1]
    bench.act(Act.UNDO)
    assert before.swing == "1"
    assert bench.preferences.settings == before


def test_what_is_taken_back_leaves_later_choices_alone() -> None:
    bench = Bench()
    bench.act(Act.THEME)
    bench.act(Act.SELECT, 1)
    bench.act(Act.TEMPO, 2)
    kept = bench.preferences.settings
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.UNDO)
    after = bench.preferences.settings
    assert (after.theme, after.pattern, after.tempi) == ("room", kept.pattern, kept.tempi)


def test_a_change_to_the_same_value_is_nothing_to_take_back() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.THEME)
    bench.step("lay_back_ms", -1)  # none already
    bench.act(Act.UNDO)
    assert bench.preferences.settings.theme == "room"


def test_only_the_last_twenty_are_kept() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    for _ in range(MOST_CHANGES + 5):
        bench.step("tap_sound")
    for _ in range(MOST_CHANGES):
        assert bench.preferences.undoing.last is not None
        bench.act(Act.UNDO)
    assert bench.preferences.undoing.last is None


def test_the_settings_go_to_the_row_that_was_taken_back_and_say_what_comes_next() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.step("swing", 1)
    bench.step("click_volume", -3)
    view = bench.view()
    assert isinstance(view, SettingsView)
    assert view.undo == "the volume"
    bench.act(Act.UNDO)
    bench.act(Act.UNDO)
    view = bench.view()
    assert isinstance(view, SettingsView)
    assert rows_of(view)[view.focus].label == "Swing"
    assert view.undo == ""


def test_elsewhere_it_is_said_what_was_taken_back() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1))
    bench.step("swing", 1)
    bench.act(Act.START)
    bench.until(99.0)
    bench.act(Act.UNDO)
    assert bench.notes == ("Taken back: the swing.",)


def test_an_adopted_delay_can_be_taken_back() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=4, tempi={"figure": "120"}))
    bench.act(Act.START)
    bench.until(99.0, {at + 0.046: key for at, key in keys_for(bench).items()})
    bench.act(Act.ADOPT_DELAY)
    assert bench.preferences.delay_ms > 30
    bench.act(Act.UNDO)
    assert bench.preferences.delay_ms == 0


def test_the_click_is_heard_again_when_its_end_is_taken_back() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.step("click")
    assert not bench.context.sound_settings().click
    bench.act(Act.UNDO)
    assert bench.context.sound_settings().click


def test_keys_follow_when_they_are_taken_back() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.NAIL_KEY)
    bench.app.key_down("k", host_ns=0, looked_ns=0)
    assert bench.inputs.keys.keys.hand("k") is Hand.NAIL
    bench.act(Act.UNDO)
    assert bench.inputs.keys.keys.hand("k") is None
    assert bench.inputs.keys.keys.hand("f") is Hand.NAIL


def test_the_input_is_opened_and_closed_again_with_what_is_taken_back() -> None:
    bench = Bench("Pad 20:0")
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.INPUT, 1)
    assert bench.inputs.midi.open_name == "Pad"
    bench.act(Act.TEACH)  # ends teaching
    bench.act(Act.UNDO)
    assert bench.inputs.midi.open_name == ""
    assert bench.preferences.settings.input_name == ""


def test_taught_pads_can_be_taken_back_as_a_whole() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, pads={"Pad": "nail=36,thumb=38"}))
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.INPUT, 1)
    bench.act(Act.TEACH)
    touch(bench, 50)
    bench.act(Act.TEACH)
    assert bench.preferences.settings.pads == {"Pad": "any=50"}
    bench.act(Act.UNDO)
    assert bench.preferences.settings.pads == {"Pad": "nail=36,thumb=38"}


def touch(bench: Bench, note: int) -> None:
    bench.system.ns += 500 * MS
    bench.system.send(0x99, note, 90)
    bench.app.poll()


def test_while_pads_are_taught_the_last_one_is_taken_back_and_asked_for_again() -> None:
    bench = Bench("Pad 20:0")
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.INPUT, 1)
    touch(bench, 36)
    teaching = bench.inputs.teaching
    assert teaching is not None
    assert "thumb" in teaching.prompt
    view = bench.view()
    assert isinstance(view, SettingsView)
    assert view.can_unteach
    bench.act(Act.UNDO)
    assert bench.inputs.teaching is not None
    assert "nail" in bench.inputs.teaching.prompt
    assert bench.preferences.settings.input_name == "Pad"  # only the pad, not the input


@pytest.mark.parametrize("refuse", [True])
def test_a_change_taken_back_holds_even_if_it_cannot_be_kept(refuse: bool) -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.step("swing", 1)
    bench.refuse = refuse
    bench.act(Act.UNDO)
    assert bench.preferences.settings.swing == "1"
    assert any("the disk is full" in note for note in bench.notes)


def test_escape_keeps_the_pads_taught_so_far_and_those_not_asked_for_yet() -> None:
    bench = Bench(
        "Pad 20:0",
        settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail=36,thumb=38,left=40"}),
    )
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.TEACH)
    touch(bench, 50)
    bench.act(Act.BACK)
    assert bench.scene == "settings"
    assert bench.inputs.teaching is None
    assert bench.preferences.settings.pads == {"Pad": "nail=50,thumb=38,left=40"}
    assert "Kept what was taught: nail, thumb and left hand." in bench.notes


def test_a_pad_touched_anew_is_no_other_hands_any_more() -> None:
    bench = Bench(
        "Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail=36,thumb=38"})
    )
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.TEACH)
    touch(bench, 38)
    bench.act(Act.BACK)
    assert bench.preferences.settings.pads == {"Pad": "any=38"}


def test_escape_before_the_first_touch_leaves_the_pads_as_they_were() -> None:
    bench = Bench(
        "Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail=36,thumb=38"})
    )
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.TEACH)
    bench.act(Act.BACK)
    assert bench.preferences.settings.pads == {"Pad": "nail=36,thumb=38"}


@pytest.mark.parametrize(("rooms", "shown"), [({}, ""), ({"Microphone: Lid": "x"}, "set up")])
def test_of_a_banjo_it_is_shown_whether_it_was_set_up(rooms: dict[str, str], shown: str) -> None:
    bench = Bench(settings=Settings(cautions_seen=True, input_name="Microphone: Lid", rooms=rooms))
    bench.act(Act.OPEN_SETTINGS)
    assert bench.seen(SettingsView).pads == shown
