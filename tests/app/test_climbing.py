"""Each ladder climbs in a drill that is played, and the tempo to begin with next time is kept."""

from fractions import Fraction

import pytest

from tests.app.bench import Bench, keys_for
from trainer.practice.ladder import AlternatingLadder, HomingLadder
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.scenes.drill import DrillView


def drilled(kind: str, seconds: float) -> tuple[Bench, set[Fraction]]:
    """Play a drill as asked for some seconds from its first beat; the tempi that were played."""
    bench = Bench(settings=Settings(cautions_seen=True, ladder=kind, tempi={"figure": "60"}))
    bench.act(Act.START)
    tempi = set()
    now = bench.speaker.song_s(bench.system.ns) or 0.0
    while bench.scene == "drill" and now < seconds:
        bench.until(now + 0.5, {at: key for at, key in keys_for(bench).items() if now < at <= now + 0.5})
        now = bench.speaker.song_s(bench.system.ns) or seconds
        if bench.scene == "drill":
            tempi.add(bench.running.moment.bpm)
    return bench, tempi


def test_the_ladder_that_homes_in_climbs_with_each_clean_pass_while_it_searches() -> None:
    """By hand: 60 times 1.08 is 64.8, and in whole beats a minute 65, 70, 76."""
    bench, tempi = drilled("homing in", 60.0)
    assert bench.running.tempo.climb is not None
    assert isinstance(bench.running.tempo.climb.ladder, HomingLadder)
    assert {60, 65, 70, 76} <= tempi
    assert "homing in" in bench.seen(DrillView).climb


def test_the_alternating_ladder_goes_to_the_goal_and_back_and_keeps_the_slow_tempo() -> None:
    bench, tempi = drilled("alternating", 60.0)
    assert bench.running.tempo.climb is not None
    assert isinstance(bench.running.tempo.climb.ladder, AlternatingLadder)
    assert {60, 63, 120} <= tempi
    slow = bench.running.tempo.climb.ladder.slow
    bench.act(Act.STOP)
    assert bench.kept[-1].tempi["figure"] == str(float(slow))
    assert 63 <= slow < 120


@pytest.mark.parametrize("kind", ["plain", "homing in", "alternating"])
def test_a_tempo_changed_by_hand_is_where_the_ladder_goes_on(kind: str) -> None:
    bench, _ = drilled(kind, 2.0)
    bench.act(Act.TEMPO, 1)
    assert bench.running.tempo.climb is not None
    assert bench.running.tempo.climb.ladder.bpm == 65


def test_as_long_as_the_ladder_stays_on_a_rung_nothing_is_asked_of_the_tempo() -> None:
    """Clean passes in a row are needed before it climbs; in between the stream goes on as it is."""
    bench, tempi = drilled("plain", 3.0)
    assert bench.running.tempo.climb is not None
    assert tempi == {60}
    assert len(bench.running.drill.timeline.spans) == 1
