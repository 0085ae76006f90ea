"""A broken pad that floods the program: no tap is lost or judged otherwise; what is drawn is held back."""

from tests.app.bench import WINDOW, Bench
from trainer.devices.midi import FLOOD, MOST_A_LOOK
from trainer.judging.verdicts import judge
from trainer.practice.drill import MOST_SHOWN
from trainer.practice.settings import Settings
from trainer.screen.actions import Act

STEP_NS = 100_000  # ten thousand a second


def flooded(notes: int) -> Bench:
    bench = Bench("Pad A", settings=Settings(cautions_seen=True, passes=0, input_name="Pad A"))
    bench.act(Act.START)
    bench.until(0.0)
    for n in range(notes):
        bench.system.ns += STEP_NS
        bench.system.send(0x90 + n // 128 % 16, n % 128, 90, port="Pad A")
    return bench


def test_one_look_takes_in_so_many_and_the_next_ones_the_rest_in_order() -> None:
    bench = flooded(1000)
    drill = bench.running.drill
    assert bench.inputs.is_behind
    bench.app.poll()
    assert len(drill.taps) == MOST_A_LOOK
    while bench.inputs.is_behind:
        bench.app.poll()
    bench.app.poll()
    assert len(drill.taps) == 1000
    at_s = [tap.song_s for tap in drill.taps]
    assert at_s == sorted(at_s)
    assert abs((at_s[-1] - at_s[0]) - 999 * STEP_NS / 1e9) < 1e-6, "the times are those of the arrival"


def test_what_two_hands_play_is_no_flood() -> None:
    assert not flooded(FLOOD // 2).inputs.is_behind


def test_of_a_flood_all_taps_are_judged_and_only_the_latest_shown() -> None:
    bench = flooded(4000)
    drill = bench.running.drill
    while bench.inputs.is_behind:
        bench.app.poll()
    bench.app.poll()
    bench.app.tick(bench.system.ns)
    recent = drill.recent(-10.0)
    assert (len(recent.taps), recent.taps[-1]) == (MOST_SHOWN, drill.taps[-1])
    assert len(recent.strays) <= MOST_SHOWN
    bench.app.view(WINDOW).scene()
    bench.act(Act.STOP)
    judgement = bench.result.judgement
    assert len(judgement.taps) == 4000
    whole = judge([o.target for o in judgement.outcomes], judgement.taps)
    assert [o.verdict for o in whole.outcomes] == [o.verdict for o in judgement.outcomes]
