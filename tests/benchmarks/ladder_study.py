"""Let simulated players climb the ladders and print where they arrive.

Run it with: python -m tests.benchmarks.ladder_study --players 300
First players whose share of clean passes is known exactly (a logistic in log tempo, 2 % lapses), then hands
whose jitter grows with the tempo, heard by our own judge. A pass is one trial.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from fractions import Fraction

import numpy as np

from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.ladder import HomingLadder, Ladder, LadderKind, ladder_for
from trainer.practice.passes import PassPlayed, passes_played
from trainer.practice.staircase import EARLY_TURNS, Estimate, InARow, UpDown, Weighted, estimate_from
from trainer.records.library import load_library, open_pattern

LAPSES = 0.02
LIBRARY = load_library()
PUBLISHED = ((1, 0.5), (2, 0.7071), (3, 0.7937), (4, 0.8409))  # Levitt 1971, from memory
PASSES = (30, 60, 120)


def settled_share(rule: UpDown, trials: int, seed: int) -> float:
    """Return the mean share of clean trials where a rule went, level free, in small steps."""
    rng = np.random.default_rng(seed)
    level, shares = 0.0, []
    for chance in rng.random(trials):
        share = 1 / (1 + math.exp(level / 0.25))
        shares.append(share)
        rule = rule.after(clean=bool(chance < share))
        level += rule.moved
    return float(np.mean(shares[trials // 10 :]))


def climb(rule: UpDown, half: float, slope: float, passes: int, seed: int) -> list[HomingLadder]:
    """Let one player of a known share climb; the ladder before each pass and after the last."""
    rng = np.random.default_rng([seed, round(half), round(1000 * slope)])
    ladders = [HomingLadder(low=Fraction(30), goal=Fraction(300), bpm=Fraction(50), rule=rule)]
    for chance in rng.random(passes):
        now = ladders[-1]
        share = (1 - LAPSES) / (1 + math.exp(math.log(float(now.bpm) / half) / slope))
        ladders.append(now.after(PassPlayed(bpm=now.bpm, clean=bool(chance < share))))
    return ladders


def points(trials: int) -> None:
    """Print each rule's point beside the published one."""
    print(f"{'rule, small steps, level free':<46} {'settles at':>10} {'published':>10}")
    for needed, point in PUBLISHED:
        rule = InARow(needed=needed, step=0.02, least_step=0.02, turns=EARLY_TURNS)
        what = f"{needed} in a row up, 1 down (Levitt 1971)"
        print(f"{what:<46} {settled_share(rule, trials, 1):>10.4f} {point:>10.4f}")
    for point in (0.75, 0.8):
        weighted = Weighted(target=point, step=0.01, least_step=0.01)
        what = f"weighted for {point:g} (Kaernbach 1991)"
        print(f"{what:<46} {settled_share(weighted, trials, 2):>10.4f} {point:>10.4f}")


def homing(players: int) -> None:
    """Print how near the estimate comes after some passes, in steps that are heard and whole beats."""
    print()
    heads = f"{'passes':>7} {'said':>6} {'mean':>7} {'sd':>6} {'inside':>7}"
    print(f"{'homing in: rule, tempo of its point, slope':<46} {heads}")
    for rule in (InARow(), Weighted()):
        for half in (70.0, 110.0, 170.0):
            for slope in (0.05, 0.1):
                want = half * math.exp(-slope * math.log(rule.target / (1 - LAPSES - rule.target)))
                for passes in PASSES:
                    found = [
                        estimate_from(climb(rule, half, slope, passes, seed)[-1].turns)
                        for seed in range(players)
                    ]
                    what = f"{type(rule).__name__}, {want:.1f} bpm, {slope:g}"
                    _line(what, passes, found, want)


def _line(what: str, passes: int, found: list[Estimate | None], want: float) -> None:
    said = [e for e in found if e is not None]
    if not said:
        print(f"{what:<46} {passes:>7} {0:>5}%")
        return
    logs = np.log([e.bpm / want for e in said])
    inside = np.mean([e.low_bpm <= want <= e.high_bpm for e in said])
    share = 100 * len(said) / len(found)
    print(
        f"{what:<46} {passes:>7} {share:>5.0f}% {100 * np.mean(logs):>+6.1f}% {100 * np.std(logs):>5.1f}% "
        f"{100 * inside:>6.0f}%"
    )


def hands_and_judge(players: int) -> None:
    """Print the same for hands whose jitter grows with the tempo, through our own judge and idea of clean."""
    print()
    print("hands with jitter 16 ms * (bpm / 90)**2, skip figure and basic figure in turn, our judge:")
    pattern = open_pattern("one-basic-one-skip", LIBRARY)

    def clean_pass(bpm: Fraction, rng: np.random.Generator) -> bool:
        timeline = Timeline.steady(bpm)
        targets = lay_out(pattern, timeline)
        take = simulate(targets, Faults(jitter_s=0.016 * (float(bpm) / 90) ** 2), rng)
        return passes_played(judge(targets, take.taps), timeline, pattern)[0].clean

    shares = _shares(clean_pass)
    for bpm, share in shares.items():
        print(f"  clean at {bpm}: {100 * share:.0f} % of passes")
    want = min(shares, key=lambda bpm: abs(shares[bpm] - InARow().target))
    for kind in (LadderKind.PLAIN, LadderKind.HOMING_IN, LadderKind.ALTERNATING):
        arrived = []
        for seed in range(players):
            rng = np.random.default_rng([5, seed])
            ladder: Ladder | None = ladder_for(kind, pattern, Fraction(50))
            assert ladder is not None
            for _ in range(90):
                ladder = ladder.after(PassPlayed(bpm=ladder.bpm, clean=clean_pass(ladder.bpm, rng)))
            arrived.append(float(ladder.next_time_bpm))
        print(
            f"  {kind.value:<14} after 90 passes: {np.mean(arrived):.1f} bpm, sd {np.std(arrived):.1f}"
            f" (four passes of five clean at about {want})"
        )


def _shares(clean_pass: Callable[[Fraction, np.random.Generator], bool]) -> dict[int, float]:
    rng = np.random.default_rng(6)
    return {
        bpm: float(np.mean([clean_pass(Fraction(bpm), rng) for _ in range(200)])) for bpm in range(60, 132, 6)
    }


def main() -> None:
    """Print all tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--players", type=int, default=200)
    players = parser.parse_args().players
    points(trials=200 * players)
    homing(players)
    hands_and_judge(max(10, players // 10))


if __name__ == "__main__":
    main()
