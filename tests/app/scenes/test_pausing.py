"""A drill that nobody can play just now waits: what was played is kept, and it goes on with a count-in."""

import pytest

from tests.app.bench import MS, Bench
from trainer.devices.speaker import SpeakerState
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.drill import DrillView
from trainer.screen.window import BannerKind

PADS = Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "nail=36,thumb=38"}, passes=2)


def played(*ports: str, settings: Settings | None = None, beats: float = 5.0) -> Bench:
    """A drill of two passes of four beats at 50 bpm, some beats of it played."""
    bench = Bench(*ports, settings=settings)
    bench.act(Act.START)
    bench.until(beats * 60 / float(bench.running.request.bpm))
    return bench


def standing(bench: Bench) -> str:
    """What stands over the drill while it is paused."""
    banner = bench.view().window.banner
    assert banner is not None
    assert banner.kind is BannerKind.PROBLEM
    return " ".join(banner.lines)


@pytest.mark.parametrize("tell", ["hidden", "unfocused"])
def test_a_drill_on_the_keys_falls_silent_and_says_how_to_go_on(tell: str) -> None:
    bench = played()
    getattr(bench.top, tell)()
    assert bench.speaker.state is SpeakerState.STOPPED
    said = standing(bench)
    assert said.startswith("Paused: ")
    assert said.endswith("Space goes on with a count-in, Esc stops.")
    assert bench.seen(DrillView).paused
    stands = bench.seen(DrillView).song_s
    bench.system.ns += 5_000 * MS
    bench.app.tick(bench.system.ns)
    assert bench.seen(DrillView).song_s == stands
    assert not bench.press("f")


def test_with_pads_a_click_elsewhere_pauses_nothing_and_minimising_does() -> None:
    bench = played("Pad 20:0", settings=PADS)
    bench.top.unfocused()
    assert bench.running.paused is None
    bench.top.hidden()
    assert bench.running.paused is not None


def test_it_goes_on_with_a_count_in_and_the_passes_that_were_left() -> None:
    bench = played()
    assert bench.running.moment.pass_index == 1
    bench.top.hidden()
    first = bench.running.paused
    assert first is not None
    asked = len(first.judgement.outcomes)
    assert asked > 0
    bench.key("space")
    assert bench.running.paused is None
    assert bench.running.request.passes == 1
    assert bench.running.moment.count == 1
    assert bench.notes == ()
    bench.until(99.0)
    assert bench.scene == "review"
    assert bench.result is not first
    assert {outcome.target.pass_index for outcome in bench.result.judgement.outcomes} == {0}
    assert len(first.judgement.outcomes) == asked


def test_it_can_be_stopped_instead_and_what_was_played_is_shown() -> None:
    bench = played()
    bench.top.hidden()
    kept = bench.running.paused
    bench.key("escape")
    assert bench.scene == "review"
    assert bench.result is kept


def test_a_pause_in_the_count_in_asks_nothing() -> None:
    bench = played(beats=-1.0)
    bench.top.hidden()
    assert bench.running.paused is not None
    assert bench.running.paused.judgement.outcomes == ()
    bench.key("space")
    assert bench.running.request.passes == 2
    bench.top.hidden()
    bench.key("escape")
    assert bench.scene == "review"


def test_an_unplugged_pad_pauses_and_until_it_is_back_the_keys_tap() -> None:
    bench = played("Pad 20:0", settings=PADS)
    bench.system.unplug("Pad 20:0")
    bench.system.ns += 600 * MS
    bench.app.tick(bench.system.ns)
    assert bench.running.paused is not None
    assert "Pad was unplugged" in standing(bench)
    bench.key("space")
    assert bench.running.paused is None
    assert bench.notes == ("Pad is still unplugged: until it is back, tap on the computer's keys.",)
    bench.system.ports.append("Pad 21:0")
    bench.until(99.0)
    assert bench.result.not_graded == ""


def test_pads_go_on_by_themselves_as_they_start() -> None:
    bench = played("Pad 20:0", settings=PADS)
    bench.top.hidden()
    for _ in range(2):
        bench.system.send(0x90, 36, 90)
        bench.app.poll()
        bench.system.ns += 150 * MS
    for _ in range(60):
        bench.system.ns += 16 * MS
        bench.app.tick(bench.system.ns)
    assert bench.running.paused is None


def test_the_strip_of_keys_says_what_they_do_now() -> None:
    bench = played()
    bench.top.hidden()
    assert {use.action.act for use in bench.view().scene().keys} >= {Act.GO_ON, Act.STOP}
    assert Act.AGAIN not in {use.action.act for use in bench.view().scene().keys}
