"""The feeder, on a card and a clock of the test's own: no device, no thread, no waiting."""

from fractions import Fraction

import numpy as np
import pytest

from tests.devices.fake_card import NS, FakeCard
from tests.sound.helpers import plan_of
from trainer.devices.feeder import BLOCK_FRAMES, BUFFER_FRAMES, Feeder
from trainer.errors import NoSound
from trainer.sound.plan import RATE, StreamPlan
from trainer.sound.render import render

OVERSLEEP_S = 0.0001


def feeder_on(card: FakeCard) -> Feeder:
    return Feeder(card, rate=RATE, clock=card.clock, threaded=False)


def run(feeder: Feeder, card: FakeCard, seconds: float) -> int:
    """Let the feeder look and sleep as it asks for a while; return how often it looked."""
    until_ns, looks = card.now_ns + round(seconds * NS), 0
    while card.now_ns < until_ns:
        card.now_ns += round((feeder.look() + OVERSLEEP_S) * NS)
        looks += 1
    return looks


def heard_s(feeder: Feeder, plan: StreamPlan, host_ns: int) -> float:
    assert feeder.line is not None
    return plan.song_s(feeder.line.frame(host_ns / 1e9))


@pytest.mark.parametrize("speed", [1.0, 1.0001, 1.052])
def test_what_is_heard_is_the_plan_without_a_gap(speed: float) -> None:
    card, plan = FakeCard(speed=speed), plan_of("97.3", changes=((4, "133"),))
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 10)
    assert card.gaps == 0
    stream = card.stream()
    assert len(stream) > 9 * RATE
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def test_the_line_tells_the_frame_that_the_card_plays() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    for _ in range(100):
        run(feeder, card, 0.05)
        exact_s = plan.song_s((card.now_ns - card.begin_ns) / NS * RATE)
        if card.now_ns - card.begin_ns > NS // 2:
            assert heard_s(feeder, plan, card.now_ns) == pytest.approx(exact_s, abs=0.0002)
    assert feeder.line is not None
    assert feeder.line.restarts == 0


def test_it_sleeps_most_of_the_time_once_it_knows_the_card() -> None:
    card = FakeCard()
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    run(feeder, card, 3)
    looks = run(feeder, card, 10)
    assert looks < 10 * 480, "fewer than every two milliseconds"


def test_a_busy_frame_of_forty_milliseconds_starves_nothing() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    for _ in range(50):
        run(feeder, card, 0.060)
        card.now_ns += 40_000_000
    assert card.gaps == 0
    assert feeder.line is not None
    assert feeder.line.restarts == 0


def test_looks_held_up_by_busy_frames_move_the_line_by_less_than_a_millisecond() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    for n in range(400):
        run(feeder, card, 0.006)
        card.now_ns += 10_000_000
        if n > 100:
            exact_s = plan.song_s((card.now_ns - card.begin_ns) / NS * RATE)
            assert heard_s(feeder, plan, card.now_ns) == pytest.approx(exact_s, abs=0.001)
    assert card.gaps == 0


def test_a_look_in_the_instant_between_two_blocks_pushes_no_block_out() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    card.between_ns = 2_000_000
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 10)
    assert card.gaps == 0
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def test_an_audio_thread_held_up_between_two_blocks_for_long_has_not_run_dry() -> None:
    """On a busy machine the instant has lasted tens of milliseconds; the card had its buffer meanwhile."""
    card, plan = FakeCard(), plan_of("97.3")
    card.between_ns = 9_000_000
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 10)
    assert card.gaps == 0
    assert feeder.line is not None
    assert feeder.line.restarts == 0
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def test_a_block_that_was_left_waiting_for_ever_is_played_after_all() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 2)
    card.forgets = True
    run(feeder, card, 2)
    assert card.gaps == 1
    assert not feeder.stuck
    assert feeder.line is not None
    assert feeder.line.restarts == 1
    stream = card.stream()
    assert len(stream) > 3.8 * RATE
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def test_running_dry_is_counted_and_the_song_goes_on_where_it_stopped() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 2)
    card.now_ns += 300_000_000
    run(feeder, card, 2)
    assert card.gaps == 1
    assert feeder.line is not None
    assert feeder.line.restarts == 1
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def test_a_stalled_device_recovers_within_a_fifth_of_a_second_and_is_marked() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 3)
    card.stall(0.020)
    run(feeder, card, 0.2)
    exact_s = plan.song_s((card.now_ns - card.begin_ns - 20_000_000) / NS * RATE)
    assert heard_s(feeder, plan, card.now_ns) == pytest.approx(exact_s, abs=0.001)
    assert feeder.line is not None
    assert feeder.line.restarts == 1
    assert not feeder.stuck


def test_a_device_that_pauses_while_it_gets_under_way_marks_nothing() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 0.1)
    card.stall(0.050)
    run(feeder, card, 3)
    assert feeder.line is not None
    assert feeder.line.restarts == 0
    exact_s = plan.song_s((card.now_ns - 50_000_000 - card.begin_ns) / NS * RATE)
    assert heard_s(feeder, plan, card.now_ns) == pytest.approx(exact_s, abs=0.001)


def test_a_device_that_plays_no_more_is_noticed_within_a_second() -> None:
    card = FakeCard()
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    run(feeder, card, 2)
    card.dead = True
    run(feeder, card, 0.5)
    assert not feeder.stuck
    run(feeder, card, 0.5)
    assert feeder.stuck
    card.dead = False
    feeder.start(plan_of("97.3"))
    assert not feeder.stuck


def test_a_device_that_fails_is_given_up_and_no_fault_of_ours() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 1)
    card.failure = NoSound("the sound device failed", "start the program again")
    run(feeder, card, 0.1)
    assert feeder.stuck
    feeder.raise_fault()
    assert feeder.plan == plan, "what was played keeps its times"
    card.failure = None
    feeder.start(plan)
    assert not feeder.stuck


def test_a_fault_of_ours_is_raised_once_in_the_app() -> None:
    card = FakeCard()
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    card.failure = RuntimeError("broken")
    run(feeder, card, 0.1)
    assert feeder.stuck
    with pytest.raises(RuntimeError, match="broken"):
        feeder.raise_fault()
    feeder.raise_fault()


def test_a_tempo_change_ahead_is_heard_on_its_bar_line() -> None:
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 3)
    later = plan.with_timeline(plan.timeline.with_tempo("133", from_beat=Fraction(8)))
    feeder.change(lambda _old, _next_frame: later)
    run(feeder, card, 8)
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(later, 0, len(stream)))
    assert feeder.plan == later


def test_the_frame_that_a_change_is_told_is_the_first_not_rendered() -> None:
    card = FakeCard()
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    told: list[int] = []

    def take_over(old: StreamPlan, next_frame: int) -> StreamPlan:
        told.append(next_frame)
        return old

    feeder.change(take_over)
    assert told == [2 * BLOCK_FRAMES]


def test_nothing_changes_and_nothing_plays_when_stopped() -> None:
    card = FakeCard()
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    run(feeder, card, 1)
    feeder.stop()
    heard = len(card.heard)
    feeder.change(lambda _old, _next_frame: plan_of("60"))
    run(feeder, card, 1)
    assert (feeder.plan, feeder.line, len(card.heard)) == (None, None, heard)


def test_starting_again_begins_with_the_first_frame() -> None:
    card, plan = FakeCard(), plan_of("133")
    feeder = feeder_on(card)
    feeder.start(plan_of("97.3"))
    run(feeder, card, 1.234)
    card.heard.clear()
    feeder.start(plan)
    run(feeder, card, 5)
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))


def stalled_s(feeder: Feeder, plan: StreamPlan) -> list[tuple[float, float]]:
    return [(plan.song_s(s.first_frame), plan.song_s(s.last_frame)) for s in feeder.stalls]


@pytest.mark.parametrize("how", ["ran dry", "stood still"])
def test_a_stall_is_told_as_the_part_of_the_song_that_it_spoilt(how: str) -> None:
    """Of ten seconds a quarter is lost; what is told holds the place and is shorter than a second."""
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 5)
    before_s = heard_s(feeder, plan, card.now_ns)
    if how == "ran dry":
        card.now_ns += 250_000_000
    else:
        card.stall(0.250)
    run(feeder, card, 5)
    [(first_s, last_s)] = stalled_s(feeder, plan)
    assert first_s <= before_s + 0.09, "at most the two blocks that were handed on already"
    assert last_s >= before_s
    assert last_s - first_s < 1.0
    feeder.start(plan)
    assert feeder.stalls == (), "a new stream begins without"


def test_taps_in_and_outside_a_stall_are_told_apart_by_it() -> None:
    """Outside the told part every moment is the one the card played; inside some are wrong."""
    card, plan = FakeCard(), plan_of("97.3")
    feeder = feeder_on(card)
    feeder.start(plan)
    run(feeder, card, 3)
    lost_ns, moments = 0, []
    for n in range(600):
        run(feeder, card, 0.010)
        if n == 300:
            card.stall(0.2)
            lost_ns = 200_000_000
        exact_s = plan.song_s((card.now_ns - card.begin_ns - lost_ns) / NS * RATE)
        moments.append((heard_s(feeder, plan, card.now_ns), exact_s))
    [(first_s, last_s)] = stalled_s(feeder, plan)
    wrong = [told for told, exact in moments if abs(told - exact) > 0.002]
    assert wrong, "or the test tests nothing"
    assert all(first_s <= told <= last_s + 0.001 for told in wrong)
    assert last_s - first_s < 0.6


@pytest.mark.parametrize("factor", [2, 4])
def test_deeper_buffers_play_the_same_and_bear_longer_absences(factor: int) -> None:
    card, plan = FakeCard(buffer_frames=BUFFER_FRAMES * factor), plan_of("97.3", changes=((4, "133"),))
    feeder = Feeder(card, rate=RATE, buffer_frames=BUFFER_FRAMES * factor, clock=card.clock, threaded=False)
    feeder.start(plan)
    for _ in range(40):
        run(feeder, card, 0.2)
        card.now_ns += round(0.030 * factor * NS)
    assert (card.gaps, feeder.stalls) == (0, ())
    stream = card.stream()
    np.testing.assert_array_equal(stream, render(plan, 0, len(stream)))
    exact_s = plan.song_s((card.now_ns - card.begin_ns) / NS * RATE)
    assert heard_s(feeder, plan, card.now_ns) == pytest.approx(exact_s, abs=0.002)
