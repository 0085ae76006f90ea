"""Leave out what nobody could have played in time: the strokes beside a stall of the sound.

A span is (first second, last second), both included, from beat 0 and counted in whole microseconds.
A stroke inside one is not judged and a tap inside one is no stray; everything else is paired and judged as if
there were no span.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence

from trainer.judging.matching import microseconds
from trainer.judging.take import Outcome, Verdict

Span = tuple[float, float]


def is_spared(spans: Sequence[Span], song_s: float) -> bool:
    """Return whether a second lies inside one of the spans, which are as :func:`joined` gives them."""
    if not spans:
        return False
    at_us = microseconds(song_s)
    near = bisect_right(spans, at_us, key=lambda span: microseconds(span[0])) - 1
    return near >= 0 and at_us <= microseconds(spans[near][1])


def joined(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return spans in order, in microseconds, those that meet made into one; empty ones are dropped."""
    found: list[Span] = []
    for start_s, end_s in sorted((microseconds(a) / 1e6, microseconds(b) / 1e6) for a, b in spans):
        if start_s > end_s:
            continue
        if found and start_s <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end_s))
        else:
            found.append((start_s, end_s))
    return tuple(found)


def spared(outcome: Outcome, spans: Sequence[Span]) -> Outcome:
    """Return an outcome, not judged when its stroke lies inside one of the spans."""
    if not is_spared(spans, outcome.target.song_s):
        return outcome
    return Outcome(
        target=outcome.target, tap=None, tap_index=None, placement_s=None, verdict=Verdict.NOT_JUDGED
    )
