"""Live verdicts: what is said while playing is what is said of the whole take."""

import random
from fractions import Fraction

import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from tests.judging.live_takes import STEP_S, sloppy_take
from trainer.judging.live import LiveJudge
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind


def run_live(targets: tuple[Target, ...], taps: list[Tap]) -> tuple[list[Outcome], list[int], Judgement]:
    judge_live = LiveJudge()
    judge_live.expect(targets)
    told: list[Outcome] = []
    strays: list[int] = []
    waiting = sorted(taps, key=lambda t: t.song_s)
    for step in range(-100, int((targets[-1].song_s + 1.5) / STEP_S)):
        now_s = step * STEP_S
        while waiting and waiting[0].song_s <= now_s:
            judge_live.add_tap(waiting.pop(0))
        view = judge_live.view(now_s)
        told += view.settled
        strays += view.strays
    view = judge_live.finish()
    return [*told, *view.settled], [*strays, *view.strays], judge_live.judgement()


@pytest.mark.parametrize("seed", range(24))
def test_live_and_whole_take_say_the_same_of_every_stroke(seed: int) -> None:
    rng = random.Random(seed)
    bpm = rng.choice([40, 60, 90, 140, 200])
    targets = targets_of(SKIP_FIGURE, BASIC_FIGURE, bpm=bpm, passes=8)
    taps = sloppy_take(targets, rng)
    told, strays, judged_live = run_live(targets, taps)
    whole = judge(targets, taps)
    assert tuple(told) == whole.outcomes
    assert tuple(strays) == whole.strays
    assert judged_live == whole


def test_a_tap_has_a_provisional_verdict_at_once() -> None:
    targets = targets_of(BASIC_FIGURE)
    live = LiveJudge()
    live.expect(targets)
    live.add_tap(tap(0.004, Hand.NAIL))
    view = live.view(0.006)
    assert view.settled == ()
    assert [o.verdict for o in view.provisional] == [Verdict.IN_TIME]


def test_a_clean_stroke_is_settled_soon_after_its_slot() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    live = LiveJudge()
    live.expect(targets)
    for each in as_asked(targets)[:2]:
        live.add_tap(each)
    view = live.view(targets[2].song_s + 0.6)
    assert [o.target.index for o in view.settled] == [0, 2]


def test_a_skip_is_said_silent_only_after_the_next_stroke() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    live = LiveJudge()
    live.expect(targets)
    for each in as_asked(targets)[:4]:
        live.add_tap(each)
    told = live.view(targets[5].song_s + 0.02).settled
    assert all(o.target.stroke.kind is not Kind.SKIP for o in told)
    live.add_tap(as_asked(targets)[4])
    told += live.view(targets[6].song_s + 0.7).settled
    assert Verdict.KEPT_SILENT in [o.verdict for o in told]


def test_a_tap_reported_late_is_still_heard() -> None:
    targets = targets_of(BASIC_FIGURE)
    live = LiveJudge()
    live.expect(targets)
    unit_s = 0.5
    live.view(targets[0].song_s + unit_s + 0.050)
    live.add_tap(tap(0.002, Hand.NAIL))
    assert live.finish().settled[0].verdict is Verdict.IN_TIME


def test_targets_are_taken_back_only_before_they_are_judged() -> None:
    targets = targets_of(BASIC_FIGURE, passes=4)
    live = LiveJudge()
    live.expect(targets)
    told = live.view(4.9).settled
    live.retract(Fraction(6))
    with pytest.raises(ValueError, match="being judged already"):
        live.retract(Fraction(2))
    told += live.finish().settled
    assert {o.target.pass_index for o in told} == {0, 1, 2}
