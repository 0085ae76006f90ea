"""Small takes for the judging tests."""

import itertools
from collections.abc import Sequence

from trainer.judging.matching import Priced, Touch, pair_cost
from trainer.judging.take import Tap
from trainer.music.layout import Target, lay_out
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline

HEAD = """title = "Figure"
level = "skips"
step = 1
meter = "2/4"
slots_per_beat = 2
slow_bpm = 40
goal_bpm = 120
"""
SKIP_FIGURE = "skip, drop-thumb 2, brush, thumb"
BASIC_FIGURE = "strike 3, rest, brush, thumb"


def pattern_of(*bars: str, slots_per_beat: int = 2) -> Pattern:
    lines = "\n".join(bars)
    head = HEAD.replace("slots_per_beat = 2", f"slots_per_beat = {slots_per_beat}")
    return read_pattern(f'{head}bars = """\n{lines}\n"""\n', name="figure")


def targets_of(*bars: str, bpm: int = 60, passes: int = 1) -> tuple[Target, ...]:
    return lay_out(pattern_of(*bars), Timeline.steady(bpm), passes=passes)


def tap(song_s: float, hand: Hand | None = None, string: int | None = None, **more: float) -> Tap:
    return Tap(song_s=song_s, hand=hand, string=string, uncertainty_s=more.get("uncertainty_s", 0.0))


def as_asked(targets: Sequence[Target], *, late_s: float = 0.0) -> list[Tap]:
    """The taps of a player who does exactly what is asked, all by the same amount late."""
    return [
        Tap(song_s=t.song_s + late_s, hand=t.stroke.hand, string=t.stroke.strings[0])
        for t in targets
        if t.stroke.kind.sounds
    ]


def cost_of(targets: Sequence[Priced], touches: Sequence[Touch], pairs: Sequence[int | None]) -> int:
    """The total price of a pairing, by the rules in words, with one stray price."""
    paired = sum(pair_cost(t, touches[p]) for t, p in zip(targets, pairs, strict=True) if p is not None)
    missed = sum(t.miss_us for t, p in zip(targets, pairs, strict=True) if p is None)
    used = {p for p in pairs if p is not None}
    return paired + missed + targets[0].stray_us * (len(touches) - len(used))


def best_by_trying_all(targets: Sequence[Priced], touches: Sequence[Touch]) -> int:
    """The least price over every order-preserving pairing, found by trying each."""
    best = None
    for n in range(min(len(targets), len(touches)) + 1):
        for chosen in itertools.combinations(range(len(targets)), n):
            for taps in itertools.combinations(range(len(touches)), n):
                pairs: list[int | None] = [None] * len(targets)
                for at, taken in zip(chosen, taps, strict=True):
                    pairs[at] = taken
                cost = cost_of(targets, touches, pairs)
                best = cost if best is None else min(best, cost)
    assert best is not None
    return best
