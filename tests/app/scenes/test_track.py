"""Setting the beat of a track in the window: a file, a tempo typed, or taps along with it."""

from fractions import Fraction
from pathlib import Path

import pytest

from tests.app.bench import MS, WINDOW, Bench
from tests.app.reading_tracks import MARK, reader
from trainer.app.own_track import OwnTrack, typed_seconds, typed_tempo
from trainer.app.scenes.track import BAR, BEAT_1, CHECK, FILE, SPEED, TAP, TEMPO, VOLUME, TrackController
from trainer.errors import BadSettings
from trainer.records.library import Library
from trainer.records.tracks import read_track_note
from trainer.screen.actions import Act
from trainer.sound.gain import LEAST_DB
from trainer.sound.plan import RATE


class Shop:
    """A bench with the track's scene open."""

    def __init__(self, folder: Path, *, seconds: float = 60.0) -> None:
        self.bench = Bench("Pad 20:0")
        self.folder = folder
        self.own = OwnTrack(read=reader(seconds), folder=folder)
        self.bench.context.own_track = self.own
        self.controller = TrackController(self.bench.context, self.own)
        self.bench.open(lambda: self.controller)

    def act(self, act: Act, value: int = 0) -> None:
        self.bench.act(act, value)

    def write(self, row: int, text: str) -> None:
        self.act(Act.SELECT, row)
        self.controller.typed(text)
        self.act(Act.START)

    def opened(self) -> "Shop":
        self.write(FILE, "/music/porch.ogg")
        return self

    @property
    def said(self) -> str:
        view = self.controller.view(WINDOW)
        view.scene()
        return " ".join(view.sentences)

    def to(self, song_s: float) -> int:
        """Let time go on to a second of the song; return the host time."""
        system, speaker = self.bench.system, self.bench.speaker
        while (speaker.song_s(system.ns) or 0.0) < song_s:
            system.ns += MS
            self.bench.app.tick(system.ns)
            if not self.controller.in_time:
                break
        return system.ns


def test_a_file_is_opened_by_its_path_and_refused_in_a_sentence(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    assert shop.controller.wants_text
    shop.write(FILE, "/music/none.wav")
    assert shop.said == "none.wav cannot be read; look at its name."
    assert shop.controller.view(WINDOW).typed == "/music/none.wav", "what was written is not lost"
    shop.act(Act.SELECT, FILE)
    shop.opened()
    assert shop.controller.view(WINDOW).title == "porch.ogg"
    assert not shop.own.is_ready


def test_a_file_that_takes_its_time_is_waited_for_without_holding_anything_up(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.write(FILE, "/music/3.ogg")
    for _frame in range(3):
        assert shop.said == "Being read: 25 %. You can go on meanwhile."
        assert shop.own.track is None
        shop.bench.app.tick(shop.bench.system.ns)
    assert shop.own.track is not None
    assert shop.controller.view(WINDOW).focus == TAP
    shop.write(FILE, "/music/9.ogg")
    shop.controller.leave()
    assert shop.own.is_reading, "it is read on while something else is done"
    shop.own.give_up()
    assert shop.own.track.path.name == "3.ogg", "what was there before stays"


def test_a_home_that_nobody_has_is_said_so(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.write(FILE, "~nouser-at-all/x.wav")
    assert shop.said == "found no home folder for ~nouser-at-all/x.wav; write the whole path."


def test_tempo_and_beat_1_can_be_typed_and_are_remembered(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.write(BEAT_1, "3")
    assert shop.said == "Type the tempo first, or tap along: it finds both."
    shop.write(TEMPO, "97,3")
    shop.write(BEAT_1, "0:03.25")
    assert (shop.own.bpm, shop.own.beat_1_s) == (Fraction("97.3"), 3.25)
    note = read_track_note(MARK, tmp_path)
    assert note is not None
    assert (note.name, note.bpm, note.beat_1_s) == ("porch.ogg", Fraction("97.3"), 3.25)
    again = Shop(tmp_path).opened()
    assert (again.own.bpm, again.own.beat_1_s) == (Fraction("97.3"), 3.25)


def test_what_is_typed_wrong_is_said_and_changes_nothing(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.write(TEMPO, "97.3")
    shop.write(TEMPO, "fast")
    assert shop.said == 'found "fast" for a tempo; write a number of beats a minute.'
    shop.write(BEAT_1, "75")
    assert "beat 1 at 75 s lies outside the track, which is 60.0 s long" in shop.said
    assert (shop.own.bpm, shop.own.beat_1_s) == (Fraction("97.3"), 0.0)


@pytest.mark.parametrize("by", ["key", "space", "pad"])
def test_tapping_along_finds_the_beat_which_is_then_taken(tmp_path: Path, by: str) -> None:
    """At 120 from second 2 on, each tap on its beat; the delay of 20 ms is taken off."""
    shop = Shop(tmp_path).opened()
    if by == "pad":
        shop.bench.inputs.use("Pad")
        shop.bench.inputs.leave()
    shop.bench.preferences.set_delay(20)
    shop.act(Act.SELECT, TAP)
    shop.act(Act.START)
    assert shop.controller.in_time
    for n in range(16):
        ns = shop.to(2.0 + n * 0.5 + 0.020)
        if by == "pad":
            shop.bench.system.send(0x90, 40, 90)
            shop.bench.app.poll()
        else:
            key = "f" if by == "key" else "space"
            assert shop.bench.app.key_down(key, host_ns=ns, looked_ns=ns)
            shop.bench.inputs.keys.up(key)
    view = shop.controller.view(WINDOW)
    assert (view.taps, view.can_use) == (16, True)
    assert "120.00 beats a minute, give or take 0.0" in shop.said
    assert "At the end of the track the beat may be off by" in shop.said
    shop.act(Act.USE)
    assert not shop.controller.in_time
    assert float(shop.own.bpm or 0) == pytest.approx(120.0, abs=0.02)
    assert shop.own.beat_1_s == pytest.approx(2.0, abs=0.002)
    assert read_track_note(MARK, tmp_path) is not None


def test_taps_without_a_beat_are_not_taken(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.act(Act.SELECT, TAP)
    shop.act(Act.START)
    for song_s in (1.0, 1.5, 2.0):
        ns = shop.to(song_s)
        shop.bench.app.key_down("space", host_ns=ns, looked_ns=ns)
        shop.bench.inputs.keys.up("space")
    assert shop.said == "3 taps; tap at least 8 beats, from beat 1 on."
    shop.act(Act.USE)
    assert not shop.own.is_ready


def test_the_track_ends_listening_when_it_is_over_and_leaving_falls_silent(tmp_path: Path) -> None:
    shop = Shop(tmp_path, seconds=3.0).opened()
    shop.act(Act.SELECT, TAP)
    shop.act(Act.START)
    shop.to(10.0)
    assert not shop.controller.in_time
    assert shop.bench.speaker.plan is None
    shop.act(Act.START)
    shop.bench.context.navigation.back()
    assert shop.bench.speaker.plan is None


def test_while_listening_nothing_of_the_track_and_no_click_is_missing_or_added(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.act(Act.SELECT, TAP)
    shop.act(Act.START)
    plan = shop.bench.speaker.plan
    assert plan is not None
    assert plan.backing is not None
    assert (plan.backing.start_frame, plan.settings.click, plan.settings.count_in) == (0, False, False)


def test_the_beat_can_be_heard_with_the_click(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.write(TEMPO, "120")
    shop.write(BEAT_1, "2")
    shop.act(Act.SELECT, BAR)
    shop.act(Act.TRACK_STEP, 4)
    shop.act(Act.SELECT, CHECK)
    shop.act(Act.START)
    plan = shop.bench.speaker.plan
    assert plan is not None
    assert plan.backing is not None
    assert plan.settings.click
    assert plan.backing.start_frame == (2 + 8 * 0.5) * RATE, "bar 5 of 2/4 at 120"
    shop.to(1.0)
    assert shop.controller.view(WINDOW).place_s == pytest.approx(7.0, abs=0.01)


def test_the_first_bar_stays_inside_the_track_and_the_volume_inside_its_steps(tmp_path: Path) -> None:
    """60 s at 120 from second 2 on: 116 beats, 58 bars of 2/4."""
    shop = Shop(tmp_path).opened()
    shop.write(TEMPO, "120")
    shop.write(BEAT_1, "2")
    shop.act(Act.SELECT, BAR)
    shop.act(Act.TRACK_STEP, -1)
    assert shop.own.first_bar == 1
    for _ in range(9):
        shop.act(Act.TRACK_STEP, 8)
    assert shop.own.first_bar == 58
    shop.own.backing(2)
    shop.act(Act.SELECT, VOLUME)
    for _ in range(12):
        shop.act(Act.TRACK_STEP, -1)
    assert (shop.own.volume, shop.own.volume_db) == (0, LEAST_DB)


def test_the_track_can_be_put_away(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    shop.write(TEMPO, "120")
    shop.act(Act.REMOVE)
    assert shop.own.track is None
    assert not shop.own.is_ready
    with pytest.raises(BadSettings, match="there is no track; choose a file first"):
        shop.own.backing(2)


@pytest.mark.parametrize(
    ("text", "seconds"), [("3.25", 3.25), ("3,25", 3.25), ("1:03.5", 63.5), (" 0:07 ", 7.0), ("75", 75.0)]
)
def test_a_place_is_read_in_seconds_or_minutes(text: str, seconds: float) -> None:
    assert typed_seconds(text) == seconds


@pytest.mark.parametrize("text", ["", "x", "1:75", "-1", "nan", "inf", "1:-3", "1:2:3"])
def test_what_is_no_place_is_refused(text: str) -> None:
    with pytest.raises(
        BadSettings, match=r"for a place in the track; write seconds such as 3\.25 or 1:03\.25"
    ):
        typed_seconds(text)


def test_a_tempo_is_read_with_point_or_comma() -> None:
    assert typed_tempo("97,3") == typed_tempo(" 97.3 ") == Fraction("97.3")


def test_space_and_pads_are_taps_only_while_one_taps_along(tmp_path: Path) -> None:
    shop = Shop(tmp_path).opened()
    assert not shop.bench.press("space")
    assert shop.controller.view(WINDOW).taps == 0


class TestSlowed:
    """The file has 120 beats a minute from second 2 on."""

    def slowed(self, folder: Path, speed: int) -> Shop:
        shop = Shop(folder).opened()
        shop.own.set_beat(Fraction(120), 2.0)
        shop.act(Act.SELECT, SPEED)
        while shop.own.speed > speed:
            shop.act(Act.TRACK_STEP, -1)
            shop.bench.app.tick(shop.bench.system.ns)
        return shop

    def test_the_beat_lies_further_apart_and_the_marks_stay_those_of_the_file(self, tmp_path: Path) -> None:
        own = self.slowed(tmp_path, 75).own
        assert own.track is not None
        assert (own.track.speed, own.track.seconds) == (75, 80.0)
        assert (own.bpm, own.beat_1_s, own.played_bpm) == (120, 2.0, 90)
        backing = own.backing(2)
        assert (backing.bpm, backing.beat_1_s) == (90, pytest.approx(2.0 / 0.75))
        assert own.words == "porch.ogg at 90 bpm, slowed to 75 %"

    def test_it_goes_no_slower_than_half_and_no_faster_than_itself(self, tmp_path: Path) -> None:
        shop = self.slowed(tmp_path, 50)
        shop.act(Act.TRACK_STEP, -1)
        assert shop.own.speed == 50
        for _ in range(20):
            shop.act(Act.TRACK_STEP, 8)
            shop.bench.app.tick(shop.bench.system.ns)
        assert shop.own.speed == 100
        assert shop.own.played_bpm == 120

    def test_taps_along_with_the_slowed_track_find_the_beat_of_the_file(self, tmp_path: Path) -> None:
        own = self.slowed(tmp_path, 75).own
        own.set_heard_beat(Fraction(60), 4.0)
        assert (own.bpm, own.beat_1_s) == (80, 3.0)

    def test_the_speed_and_the_first_bar_are_remembered_with_the_marks(self, tmp_path: Path) -> None:
        shop = self.slowed(tmp_path, 75)
        shop.own.step_bar(3, 2)
        again = OwnTrack(read=reader(60.0), folder=tmp_path)
        again.open(Path("/music/porch.ogg"), RATE)
        again.tick()
        assert again.track is not None
        assert (again.track.speed, again.played_bpm, again.first_bar) == (75, 90, 4)

    def test_a_drill_has_the_tempo_that_is_heard(self, tmp_path: Path) -> None:
        shop = self.slowed(tmp_path, 75)
        shop.act(Act.BACK)
        shop.act(Act.START)
        plan = shop.bench.speaker.plan
        assert plan is not None
        assert plan.timeline.spans[0].bpm == 90


def test_the_track_is_remembered_and_read_anew_at_the_next_start(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.write(FILE, "/music/2.ogg")
    while shop.own.is_reading:
        shop.bench.app.tick(shop.bench.system.ns)
    assert shop.bench.preferences.settings.own_track == "/music/2.ogg"
    later = Bench(settings=shop.bench.preferences.settings)
    later.context.own_track = OwnTrack(read=reader(60.0), folder=tmp_path)
    later.app.recall_track()
    while later.context.own_track.is_reading:
        later.app.tick(later.system.ns)
    assert later.context.own_track.track is not None
    shop.act(Act.REMOVE)
    assert shop.bench.preferences.settings.own_track == ""


def test_a_dropped_file_is_taken_from_wherever_one_is_but_a_drill(tmp_path: Path) -> None:
    bench = Bench()
    bench.context.own_track = OwnTrack(read=reader(60.0), folder=tmp_path)
    bench.app.dropped(Path("/music/porch.ogg"))
    assert bench.scene == "track"
    assert bench.context.own_track.track is not None
    bench.act(Act.BACK)
    bench.act(Act.START)
    bench.app.dropped(Path("/music/3.ogg"))
    assert bench.scene == "drill"
    assert not bench.context.own_track.is_reading


def test_a_file_that_proves_to_be_none_later_is_said_beside_its_name(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    shop.write(FILE, "/music/3/none.wav")
    assert shop.said == "Being read: 25 %. You can go on meanwhile."
    for _ in range(4):
        shop.bench.app.tick(shop.bench.system.ns)
    assert shop.said == "none.wav cannot be read; look at its name."
    assert shop.controller.view(WINDOW).focus == FILE
    assert shop.bench.notes == (), "it is said on the scene already"


def test_without_a_figure_bars_are_those_of_the_clicks(tmp_path: Path) -> None:
    bench = Bench(library=Library(entries=()))
    own = OwnTrack(read=reader(60.0), folder=tmp_path)
    own.open(Path("/music/porch.ogg"), RATE)
    own.set_beat(Fraction(120), 2.0)
    controller = TrackController(bench.context, own)
    bench.open(lambda: controller)
    assert controller.view(WINDOW).rows[BAR].value == "1 of 58", "116 beats, two to a bar"
