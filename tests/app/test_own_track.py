"""Drills to the player's own track: its tempo, its passes, its volume, and no silence to judge."""

from fractions import Fraction
from pathlib import Path

from tests.app.bench import Bench, keys_for
from tests.app.reading_tracks import reader
from trainer.app.own_track import OwnTrack
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.draw import Text
from trainer.screen.scenes.library import LibraryView
from trainer.screen.scenes.review import ReviewView
from trainer.sound.plan import RATE

THINNED = Settings(cautions_seen=True, passes=2, thinning="off for N bars in M", thin_off=1, thin_of=2)


def bench_with_track(folder: Path, *, seconds: float = 60.0, settings: Settings | None = None) -> Bench:
    """A stage with a track of 120 beats a minute from second 2 on."""
    bench = Bench(settings=settings)
    own = OwnTrack(read=reader(seconds), folder=folder)
    own.open(Path("porch.ogg"), RATE)
    own.set_beat(Fraction(120), 2.0)
    bench.context.own_track = own
    return bench


def test_a_drill_takes_the_tracks_tempo_and_keeps_it(tmp_path: Path) -> None:
    bench = bench_with_track(tmp_path)
    bench.act(Act.START)
    plan = bench.speaker.plan
    assert plan is not None
    assert plan.backing is not None
    assert plan.timeline.spans[0].bpm == 120
    bench.act(Act.TEMPO, 1)
    assert bench.notes == ("The tempo is that of your track: B slows it down, or puts it away.",)
    assert bench.speaker.plan == plan


def test_the_step_after_a_drill_to_a_track_is_at_the_tracks_tempo(tmp_path: Path) -> None:
    bench = bench_with_track(tmp_path)
    bench.act(Act.START)
    bench.until(3.0, keys_for(bench))
    bench.act(Act.STOP)
    assert bench.seen(ReviewView).step_words.endswith(" at 120")
    bench.key("return")
    assert bench.running.request.bpm == 120


def test_the_library_shows_the_tracks_name_and_tempo(tmp_path: Path) -> None:
    bench = bench_with_track(tmp_path)
    view = bench.seen(LibraryView)
    assert (view.bpm, view.track) == (120, "porch.ogg at 120 bpm")
    words = [item.text for panel in view.scene().panels for item in panel.items if isinstance(item, Text)]
    assert any("porch.ogg at 120 bpm" in each for each in words)
    bench.context.own_track.forget()
    assert bench.seen(LibraryView).track == ""


def test_a_drill_without_end_ends_with_the_track(tmp_path: Path) -> None:
    """116 beats are left from beat 1 on: 29 passes of the four beats."""
    bench = bench_with_track(tmp_path, settings=Settings(cautions_seen=True, passes=0))
    bench.act(Act.START)
    assert bench.running.request.passes == 29


def test_a_track_too_short_for_one_pass_is_said_so_and_the_drill_goes_without(tmp_path: Path) -> None:
    bench = bench_with_track(tmp_path, seconds=3.6)
    bench.act(Act.START)
    assert bench.scene == "drill"
    assert bench.notes[0] == (
        "from bar 1 on the track has 3 beats, and Figure takes 4; "
        "begin further in front; this drill goes without the track."
    )
    assert bench.speaker.plan is not None
    assert bench.speaker.plan.backing is None


def test_the_track_has_its_own_volume(tmp_path: Path) -> None:
    bench = bench_with_track(tmp_path)
    bench.context.own_track.louder(-2)
    bench.act(Act.START)
    assert bench.speaker.plan is not None
    assert bench.speaker.plan.settings.backing_db == bench.context.own_track.volume_db == -15.0


def test_no_bar_is_called_silent_while_a_track_plays(tmp_path: Path) -> None:
    with_track = bench_with_track(tmp_path, settings=THINNED)
    without = Bench(settings=THINNED)
    for bench in (with_track, without):
        bench.act(Act.START)
        keys = {t.song_s: "f" for t in bench.running.drill.targets if t.stroke.kind.sounds}
        bench.until(99.0, keys)
    assert without.result.in_silence != ""
    assert with_track.result.in_silence == ""


def test_a_track_in_words_is_its_name_its_tempo_and_how_far_it_is_read(tmp_path: Path) -> None:
    own = OwnTrack(read=reader(60.0), folder=tmp_path)
    assert (own.words, own.share_read) == ("", 1.0)
    own.open(Path("/music/2.ogg"), RATE)
    assert (own.words, own.share_read) == ("2.ogg: 25 % read", 0.25)
    for _ in range(2):
        assert own.tick() == ""
    assert (own.words, own.share_read) == ("2.ogg, no tempo yet", 1.0)
    own.set_beat(Fraction("97.3"), 2.0)
    assert own.words == "2.ogg at 97.3 bpm"
    own.slow_to(1)
    own.tick()
    own.tick()
    assert own.words == "2.ogg at 48.65 bpm, slowed to 50 %"


def test_a_file_that_proves_to_be_none_is_said_once_over_whichever_scene_is_up(tmp_path: Path) -> None:
    bench = Bench()
    bench.context.own_track = own = OwnTrack(read=reader(), folder=tmp_path)
    own.open(Path("/music/2/none.wav"), RATE)
    bench.go(0.1)
    assert bench.notes == ("none.wav cannot be read; look at its name.",)
    bench.act(Act.DISMISS)
    bench.go(0.1)
    assert bench.notes == ()
    assert own.problem == "none.wav cannot be read; look at its name."
    own.open(Path("/music/porch.ogg"), RATE)
    assert own.problem == ""


def test_a_track_that_is_read_is_remembered_for_the_next_start(tmp_path: Path) -> None:
    bench = Bench()
    bench.context.own_track = OwnTrack(read=reader(), folder=tmp_path)
    bench.context.own_track.open(Path("/music/2.ogg"), RATE)
    bench.go(0.1)
    assert [each.own_track for each in bench.kept] == ["/music/2.ogg"]
