"""Everything a person can do in the window, without a window: time, keys and pads are handed in."""

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.app.bench import MS, WINDOW, Bench, keys_for
from tests.judging.helpers import BASIC_FIGURE, pattern_of
from tests.practice.schemas import hold
from trainer.app.application import Application
from trainer.app.drill_request import DrillRequest
from trainer.app.key_input import KEYS_NAME
from trainer.app.notes import CAUTIONS
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.result_files import write_report, write_taps
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker, SpeakerState
from trainer.errors import StoreProblem
from trainer.judging.pocket import Pocket
from trainer.judging.take import Verdict
from trainer.music.strokes import Hand, Kind, Motion
from trainer.practice.faults import Faults
from trainer.practice.ladder import PlainLadder
from trainer.practice.report_schema import DEVICES, GRADE
from trainer.practice.settings import Settings
from trainer.records.library import Entry, Library
from trainer.records.midifile import read_take
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.library import LibraryView
from trainer.screen.scenes.review import ReviewView
from trainer.sound.volumes import FIRST_VOLUME, volume_db


def test_a_drill_by_keys_runs_from_count_in_to_review() -> None:
    bench = Bench()
    bench.act(Act.START)
    assert bench.scene == "drill"
    bench.until(99.0, keys_for(bench))
    assert bench.scene == "review"
    played = bench.result
    assert played is not None
    assert (played.passes, played.not_graded, played.messages) == (2, "", 12)
    assert all(o.verdict.is_clean for o in played.judgement.outcomes)
    assert bench.seen(ReviewView).slots == played.slots


def test_each_tap_carries_its_uncertainty() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(1.0, keys_for(bench))
    assert bench.seen(DrillView).uncertainty_s == pytest.approx(0.001 + 0.004)


def test_stopping_early_reviews_what_was_played_and_nothing_goes_back() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(1.3, keys_for(bench))
    bench.act(Act.STOP)
    assert bench.scene == "review"
    bench.act(Act.AGAIN)
    assert bench.scene == "drill"
    bench.until(-1.0)
    bench.act(Act.BACK)
    assert bench.scene == "review"
    bench.act(Act.BACK)
    assert bench.scene == "library"


def test_a_pad_port_is_taught_by_touch_and_then_tells_hands() -> None:
    bench = Bench("Pad 20:0")
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.INPUT, 1)
    assert bench.inputs.teaching is not None
    for note in (36, 38):
        bench.system.send(0x99, note, 90)
        bench.app.poll()
        bench.system.ns += 500 * MS
    for _ in range(4):
        bench.act(Act.SKIP_PROMPT)
    assert bench.inputs.teaching is None
    assert bench.kept[-1].pads == {"Pad": "nail=36,thumb=38"}
    bench.act(Act.BACK)
    bench.act(Act.START)
    bench.until(0.5)
    bench.system.send(0x99, 38, 70)
    bench.app.poll()
    (tap,) = bench.running.drill.taps
    assert (tap.hand, tap.velocity) == (Hand.THUMB, 70)


def test_keys_do_not_tap_while_a_port_is_open_and_do_when_it_was_unplugged() -> None:
    bench = Bench(
        "Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail=36"})
    )
    bench.act(Act.START)
    assert not bench.app.key_down("f", host_ns=0, looked_ns=0)
    bench.inputs.keys.up("f")
    bench.system.ports.clear()
    bench.until(0.2)
    assert bench.inputs.midi.open_name == ""
    bench.act(Act.GO_ON)
    bench.until(0.2)
    assert bench.app.key_down("f", host_ns=bench.system.ns, looked_ns=bench.system.ns)


def test_an_unplugged_input_pauses_the_drill_marks_what_was_played_and_loses_nothing() -> None:
    bench = Bench("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", passes=1))
    bench.act(Act.START)
    bench.until(0.1)
    bench.system.send(0x90, 60, 80)
    bench.app.poll()
    bench.system.ports.clear()
    bench.until(99.0)
    assert bench.scene == "drill"
    banner = bench.view().window.banner
    assert banner is not None
    assert "Pad was unplugged" in banner.lines[0]
    bench.act(Act.STOP)
    assert bench.scene == "review"
    played = bench.result
    assert played.not_graded == "the input was unplugged"
    assert played.messages == 1


def test_a_sound_device_lost_before_the_first_stroke_is_said_in_the_review(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bench = Bench()
    bench.act(Act.START)
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    bench.app.tick(bench.system.ns)
    assert bench.seen(ReviewView).not_graded == "the sound device was lost"


def test_a_lost_sound_device_ends_the_take_as_not_graded(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(1.2, keys_for(bench))
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda _self: SpeakerState.LOST))
    bench.app.tick(bench.system.ns)
    played = bench.result
    assert played is not None
    assert played.not_graded == "the sound device was lost"
    assert len(played.judgement.taps) == 1


def test_tempo_changes_are_kept_for_the_pattern_and_begin_with_a_later_pass() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=0))
    bench.act(Act.TEMPO, 2)
    assert bench.preferences.bpm == 50
    bench.act(Act.START)
    bench.until(1.0)
    bench.act(Act.TEMPO, 4)
    assert bench.running.tempo.next_bpm == 70
    assert bench.running.moment.bpm == 50
    bench.until(12.0, {4.0: "f", 8.0: "f"})
    assert bench.running.moment.bpm == 70
    assert bench.running.tempo.next_bpm is None
    assert bench.kept[-1].tempi == {"figure": "70.0"}


def test_simulated_hands_play_with_faults_and_say_so() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=0))
    pattern = bench.preferences.pattern
    assert pattern is not None
    run = DrillRequest(pattern=pattern, bpm=pattern.slow_bpm, passes=0, hands=Faults(rush_gap_s=0.15))
    bench.start(run)
    assert bench.running.is_simulated
    assert not bench.app.key_down("f", host_ns=0, looked_ns=0)
    bench.until(99.0)
    played = bench.result
    assert played is not None
    assert played.passes == 4
    assert any(o.rushed_gap for o in played.judgement.outcomes)
    assert bench.seen(ReviewView).simulated


def test_cautions_are_shown_once_and_dismissed_for_good() -> None:
    bench = Bench(settings=Settings())
    assert bench.notes == CAUTIONS
    bench.act(Act.DISMISS)
    assert bench.notes == ()
    assert bench.kept[-1].cautions_seen


def test_settings_that_cannot_be_kept_still_hold_and_are_said() -> None:
    bench = Bench(refuse=True)
    bench.step("pocket", 1)
    assert bench.preferences.pocket is Pocket.WIDE
    assert bench.notes == ("the disk is full; free some space.",)


def test_a_key_can_be_given_to_the_other_hand() -> None:
    bench = Bench()
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.NAIL_KEY)
    assert bench.app.key_down("k", host_ns=0, looked_ns=0)
    assert (bench.kept[-1].nail_key, bench.kept[-1].thumb_key) == ("k", "j")


def test_settings_change_what_is_heard() -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.step("click_volume", -2)
    bench.step("click")
    assert not bench.context.sound_settings().click
    assert bench.context.sound_settings().click_db == volume_db(FIRST_VOLUME - 2)
    bench.step("tap_sound")
    assert not bench.preferences.settings.tap_sound
    bench.act(Act.THEME)
    assert bench.kept[-1].theme == "projector"


def test_passes_step_through_the_choices_to_until_stopped() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=5))
    for steps, passes in ((1, 8), (1, 16), (1, 0), (1, 0), (-1, 16)):
        bench.act(Act.PASSES, steps)
        assert bench.preferences.settings.passes == passes


def test_the_library_is_walked_to_its_ends_and_the_choice_kept() -> None:
    bench = Bench()
    bench.act(Act.SELECT, 7)
    assert bench.preferences.selected == 1
    bench.act(Act.SCROLL, -5)
    assert bench.preferences.selected == 0
    assert bench.kept[-1].pattern == "figure"


def test_an_empty_library_says_so() -> None:
    app = Application(
        preferences=Preferences(Settings(cautions_seen=True), Library(entries=()), keep_nothing),
        speaker=SilentSpeaker(),
        midi=MidiInputs([]),
    )
    app.act(Action(act=Act.START), 0)
    assert isinstance(app.view(WINDOW), LibraryView)
    assert "no pattern" in app.context.notes.lines[0]
    assert app.context.preferences.bpm == Fraction(60)


def test_a_drill_is_written_as_report_and_as_a_take_that_grades_the_same(tmp_path: Path) -> None:
    bench = Bench()
    bench.act(Act.START)
    bench.until(99.0, keys_for(bench))
    played = bench.result
    assert played is not None
    write_report(played, tmp_path / "report.json", input_name=KEYS_NAME, sound="sound off")
    write_taps(played, tmp_path / "take.mid")
    take = read_take(tmp_path / "take.mid")
    taps = take.taps(offset_s=take.beat_0_s)
    assert [t.song_s for t in taps] == pytest.approx([t.song_s for t in played.drill.taps], abs=3e-5)
    report = json.loads((tmp_path / "report.json").read_text(encoding="utf-8"))
    hold(report, (*GRADE.fields, *DEVICES), is_full=False)
    assert report["devices"]["taps_received"] == 12
    assert report["bpm"] == float(played.drill.settings.bpm)
    with pytest.raises(StoreProblem, match="cannot be written"):
        write_report(played, tmp_path / "no" / "report.json", input_name="", sound="")


def test_every_scene_has_a_view() -> None:
    bench = Bench("Pad 20:0")
    seen = [type(bench.view()).__name__]
    bench.act(Act.OPEN_SETTINGS)
    seen.append(type(bench.view()).__name__)
    bench.act(Act.BACK)
    bench.act(Act.START)
    seen.append(type(bench.view()).__name__)
    bench.until(99.0)
    seen.append(type(bench.view()).__name__)
    assert seen == ["LibraryView", "SettingsView", "DrillView", "ReviewView"]
    assert Verdict.MISSED in {outcome.verdict for outcome in bench.result.judgement.outcomes}
    assert bench.result.advice[0].startswith("Nothing was heard;")


def test_a_steady_lag_can_be_taken_for_the_delay_and_is_gone_the_next_time() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=4, tempi={"figure": "120"}))
    bench.act(Act.START)
    late = {at + 0.046: key for at, key in keys_for(bench).items()}
    bench.until(99.0, late)
    played = bench.result
    assert played is not None
    assert played.can_be_delay
    assert played.summary.placement.mean_s == pytest.approx(0.046, abs=0.005)
    bench.act(Act.ADOPT_DELAY)
    assert bench.preferences.delay_ms == pytest.approx(46, abs=5)
    assert "taken off each tap" in bench.notes[0]
    bench.act(Act.AGAIN)
    bench.until(99.0, late)
    assert bench.result.summary.placement.mean_s == pytest.approx(0.0, abs=0.003)


def test_a_delay_belongs_to_its_input() -> None:
    bench = Bench("Pad 20:0")
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.DELAY, 4)
    assert bench.preferences.delay_ms == 20
    bench.act(Act.INPUT, 1)
    assert bench.preferences.delay_ms == 0
    bench.act(Act.INPUT, 0)
    assert bench.preferences.delay_ms == 20


def test_too_few_taps_are_no_delay() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1))
    bench.act(Act.START)
    bench.until(99.0, keys_for(bench))
    assert not bench.result.can_be_delay
    bench.act(Act.ADOPT_DELAY)
    assert bench.preferences.delay_ms == 0


def test_the_swing_that_was_played_can_become_the_target() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=4, tempi={"figure": "120"}))
    bench.act(Act.START)
    # Two to one: the up slots come a sixth of a beat later than straight ones.
    beat_s = float(60 / bench.preferences.bpm)
    swung = {
        t.song_s + (beat_s / 6 if t.motion is Motion.UP else 0.0): "f" if t.stroke.hand is Hand.NAIL else "j"
        for t in bench.running.drill.targets
        if t.stroke.kind.sounds
    }
    bench.until(99.0, swung)
    played = bench.result
    assert played is not None
    assert played.swing is not None
    assert played.swing.ratio == pytest.approx(2.0, abs=0.05)
    bench.act(Act.ADOPT_SWING)
    assert float(bench.preferences.feel.swing) == pytest.approx(2.0, abs=0.05)
    assert bench.notes == (f"The target now swings {float(bench.preferences.feel.swing):g} to 1.",)
    bench.act(Act.AGAIN)
    bench.until(99.0, swung)
    assert all(o.verdict.is_clean for o in bench.result.judgement.outcomes)


def test_lay_back_moves_the_target_and_not_the_click() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1, lay_back_ms=20))
    bench.act(Act.START)
    assert bench.speaker.plan is not None
    first = next(t for t in bench.running.drill.targets if t.stroke.kind.sounds)
    assert first.song_s == pytest.approx(bench.running.drill.timeline.seconds(first.beat) + 0.020)
    assert bench.speaker.plan.frame_of(Fraction(0)) == bench.speaker.plan.origin_frame


def test_a_take_without_the_click_tells_clock_from_hand_or_says_that_it_cannot() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=4, click=False, tempi={"figure": "120"}))
    bench.act(Act.START)
    bench.until(99.0, keys_for(bench))
    assert bench.result.click_off
    assert bench.result.levels is not None
    assert "without the click" in bench.seen(ReviewView).standing


def test_a_click_heard_in_between_leaves_clock_and_hand_together() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1, click=False))
    bench.act(Act.START)
    bench.step("click")
    bench.go(0.01)
    bench.step("click")
    bench.until(99.0, keys_for(bench))
    assert not bench.result.click_off


def test_a_key_for_the_left_hand_is_given_judged_and_taken_away() -> None:
    bench = Bench()
    assert bench.context.sound_settings().left_hand
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.LEFT_KEY)
    assert bench.app.key_down("d", host_ns=0, looked_ns=0)
    assert bench.kept[-1].left_key == "d"
    assert not bench.context.sound_settings().left_hand
    bench.act(Act.BACK)
    bench.act(Act.START)
    assert bench.running.drill.settings.knows_left
    bench.act(Act.BACK)
    bench.act(Act.OPEN_SETTINGS)
    bench.act(Act.LEFT_KEY)
    assert bench.app.key_down("backspace", host_ns=0, looked_ns=0)
    assert bench.kept[-1].left_key == ""


def test_one_kind_alone_can_lie_back() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1, lay_back_ms=20))
    bench.step("lay_back_of", 2)
    assert bench.kept[-1].lay_back_of == "brush"
    bench.act(Act.START)
    moved = {
        t.stroke.kind: round(t.song_s - bench.running.drill.timeline.seconds(t.beat), 6)
        for t in bench.running.drill.targets
        if t.stroke.kind.sounds
    }
    assert moved.pop(Kind.BRUSH) == 0.020
    assert set(moved.values()) == {0.0}


def test_the_ladder_climbs_while_the_playing_is_clean_and_is_remembered() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=1, ladder="plain", tempi={"figure": "60"}))
    bench.act(Act.START)
    assert bench.running.tempo.climb is not None
    assert isinstance(bench.running.tempo.climb.ladder, PlainLadder)
    assert bench.running.tempo.climb.ladder.needed == 3
    while bench.scene == "drill" and bench.speaker.song_s(bench.system.ns) < 60:  # type: ignore[operator]
        now = bench.speaker.song_s(bench.system.ns) or 0.0
        ahead = {at: key for at, key in keys_for(bench).items() if now < at <= now + 0.5}
        bench.until(now + 0.5, ahead)
    assert bench.running.moment.bpm > 60
    tempo = bench.running.tempo.climb.ladder.bpm
    climb = bench.seen(DrillView).climb
    assert "clean" in climb
    bench.act(Act.STOP)
    assert bench.kept[-1].tempi["figure"] == str(float(tempo))
    assert tempo >= 66


def test_the_ladder_stays_down_while_next_to_nothing_is_played() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, ladder="plain", tempi={"figure": "60"}))
    bench.act(Act.START)
    bench.until(60.0, {float(at): "f" for at in range(1, 60, 3)})
    assert bench.running.tempo.climb is not None
    assert bench.running.tempo.climb.ladder.bpm < 60


def test_after_a_review_the_very_next_figure_is_chosen() -> None:
    figures = tuple(
        Entry(
            pattern=replace(pattern_of(BASIC_FIGURE), name=name, step=at), path=Path("x.toml"), shipped=True
        )
        for at, name in enumerate(("one", "two", "three"), 1)
    )
    bench = Bench(library=Library(entries=figures))
    bench.act(Act.START)
    bench.until(1.3, keys_for(bench))
    bench.act(Act.STOP)
    assert bench.scene == "review"
    bench.act(Act.NEXT)
    assert (bench.scene, bench.preferences.selected) == ("library", 1)


def test_keys_of_ones_own_make_a_drill_slower_and_faster_and_its_end_is_silent() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=8, tempi={"figure": "100"}))
    bench.act(Act.START)
    bench.until(0.5, keys_for(bench))
    bench.app.act(bench.running.gestures["slower"], bench.system.ns)
    assert bench.running.tempo.next_bpm == 95
    bench.app.act(bench.running.gestures["faster"], bench.system.ns)
    assert bench.running.tempo.next_bpm == 100
    assert bench.speaker.state is SpeakerState.PLAYING
    bench.act(Act.STOP)
    assert bench.scene == "review"
    assert str(bench.speaker.state) == str(SpeakerState.STOPPED)


def test_the_tempo_goes_by_one_and_to_half_exactly_and_no_lower_than_can_be_used() -> None:
    bench = Bench(settings=Settings(cautions_seen=True, passes=0, tempi={"figure": "95"}))
    bench.key("x")
    assert bench.preferences.bpm == Fraction(95, 2)
    bench.key("shift x")
    bench.key("shift right")
    assert bench.preferences.bpm == 96
    bench.act(Act.START)
    bench.key("shift left")
    assert bench.running.tempo.next_bpm == 95
    for _ in range(5):
        bench.key("x")
    assert bench.running.tempo.next_bpm == 20
