"""Weigh a take against all the ways in which it may have been played.

A learner who is one bar late, at another tempo or on exchanged pads has not missed and touched what a judge
finds who knows of one grid only. So a take is held against several versions of what may have been played
(:mod:`trainer.judging.reading_search` guesses them, :mod:`trainer.judging.reading_fit` weighs them), and
the best is taken: what was asked, unless another gains ``MARGIN_NATS``.

The margin: of twenty takes about one is played otherwise, and there are about a hundred ways to do so, so
each has prior odds of 1 : 2000, log 2000 = 7.6; and to say it wrongly is worse than not to say it, by odds
of 10 : 1, log 10 = 2.3. Together 9.9. (Kass & Raftery 1995, JASA 90:773-795, call 5 nats very strong; from
memory.)
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from trainer.judging.reading_grid import Asked, Grid
from trainer.judging.reading_loose import without_figure
from trainer.judging.reading_scale import Scale, Weighed
from trainer.judging.reading_search import (
    FIGURES_BY_STRING,
    MOST_TAPS,
    Guess,
    guesses,
    jumping,
    tempi,
)
from trainer.judging.take import Tap
from trainer.music.pattern import Pattern

MARGIN_NATS = 10.0
NEAR_BEST = 60.0  # nats of the quick look: what lies further behind is not weighed
MOST_WEIGHED = 8
LEAST_MOVED = 0.4  # of a slot: a tempo that moves less over the take is a drift
LEAST_HITS = 5  # strokes; fewer tell of no way of playing
LONG_TAKE = 1500  # taps; longer ones are looked at in their beginning
LONG_SPAN = 2500  # slots, the same
LOOKED_AT = 600  # slots looked at for tempo and shift
EVEN_ROW = 10.0  # nats that another figure must gain over a row of even taps by one hand
UNEXPLAINED = 8.0  # nats that taps of no figure must gain over the figure asked, however played
UNEXPLAINED_OTHER = 3.0  # and over another


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """All that was weighed for a take.

    Attributes:
        best: the version that holds; None when nothing fits or nothing was played.
        as_asked: what was asked, weighed.
        margin: nats by which what holds is better than the best other way (negative when what was asked is
            kept although another gains a little).
        taps_a_second: of a take that nothing fits.
        even: whether its taps come in an even row.
    """

    best: Weighed | None
    as_asked: Weighed
    margin: float
    taps_a_second: float = 0.0
    even: bool = False


def weigh_take(asked: Asked, taps: Sequence[Tap], others: Sequence[Pattern] = ()) -> Weighing:
    """Weigh a take against all the ways in which it may have been played; see :func:`weighing_steps`."""
    *_, last = weighing_steps(asked, taps, others)
    assert last is not None
    return last


def taps_weighed(asked: Asked, taps: Sequence[Tap]) -> int:
    """Return how many taps, from the first on, are weighed: not all of a long take, or one mostly silent."""
    grid = Grid(asked.timeline, asked.pattern.slots_per_beat)
    slots = grid.slots(np.array([tap.song_s for tap in taps[:LONG_TAKE]]))
    return int(np.searchsorted(slots, slots[0] + LONG_SPAN, side="right"))


def weighing_steps(
    asked: Asked, taps: Sequence[Tap], others: Sequence[Pattern] = ()
) -> Iterator[Weighing | None]:
    """Weigh a take in steps of a few milliseconds, for a caller who has a picture to draw in between.

    Args:
        taps: in order of time, at least one.
        others: figures that may have been played instead; those that come before it count as likelier.

    Yields:
        None until the last step, then the weighing.
    """
    weighed = taps[: taps_weighed(asked, taps)]
    if len(weighed) < len(taps):
        taps = weighed
        asked = replace(asked, until_s=min(asked.until_s or math.inf, taps[-1].song_s))
    scale = Scale(asked, taps, others)
    yield None
    plain = scale.plain()
    found: list[Weighed] = [scale.trimmed(plain, scale.touches)]
    yield None
    likely: list[Guess] = []
    for chosen in _likely(scale):
        likely = chosen
        yield None
    for guess in likely:
        found.append(scale.weigh(guess))
        yield None
    yield _weighed(scale, plain, [w for w in found if _is_told_apart(w) and w.fit.hits >= LEAST_HITS])


def _weighed(scale: Scale, plain: Weighed, found: Sequence[Weighed]) -> Weighing:
    """Return what holds of all that was weighed."""
    asked = scale.asked
    best = max(found, key=lambda w: w.nats, default=plain)
    loose, even = without_figure(scale.touches, scale.seconds)
    if even and scale.is_one_hand and scale.heard.knows_hand:
        best = _asked_by_one_hand(scale, found, loose) or best
    another = best.guess.pattern.name != asked.pattern.name
    # An even row by one hand is some figure or other; to name one would be a guess.
    loose += (
        EVEN_ROW
        if even and another and scale.is_one_hand
        else -(UNEXPLAINED_OTHER if another else UNEXPLAINED)
    )
    others_nats = [w.nats for w in found if not _same_way(w, plain) or w.begun or w.ended]
    if loose > best.nats and loose > plain.nats + MARGIN_NATS:
        span_s = (scale.touches[-1].at_us - scale.touches[0].at_us) / 1e6
        rate = (scale.n - 1) / span_s if span_s > 0 else float(scale.n)
        return Weighing(best=None, as_asked=plain, margin=loose - best.nats, taps_a_second=rate, even=even)
    if best.nats <= plain.nats + MARGIN_NATS:
        return Weighing(best=plain, as_asked=plain, margin=plain.nats - max([*others_nats, loose]))
    rest = [w.nats for w in found if w is not best and not _same_way(w, best)]
    return Weighing(best=best, as_asked=plain, margin=best.nats - max([*rest, loose, plain.nats]))


def _asked_by_one_hand(scale: Scale, found: Sequence[Weighed], loose: float) -> Weighed | None:
    """Return the figure asked, as one hand plays it, where it explains an even row; None where it does not.

    What one hand plays of a figure may be an even row, and that is what another figure is made of.
    """
    own = [w for w in found if w.guess.only is not None and w.guess.pattern.name == scale.asked.pattern.name]
    best = max(own, key=lambda w: w.nats, default=None)
    return best if best is not None and best.nats > loose - UNEXPLAINED else None


def _same_way(one: Weighed, other: Weighed) -> bool:
    a, b = one.guess, other.guess
    return (
        a.pattern.name == b.pattern.name
        and a.exchanged == b.exchanged
        and a.only == b.only
        and abs(a.course.start - b.course.start) < 0.5
        and abs(a.course.rate - b.course.rate) < 0.02
    )


def _likely(scale: Scale) -> Iterator[list[Guess]]:
    """Look for the guesses worth weighing, tempo by tempo; the last list holds them."""
    heard = scale.heard
    asked, others = scale.asked.pattern, scale.others
    n = min(MOST_TAPS, int(np.searchsorted(heard.u, heard.u[0] + LOOKED_AT, side="right")))
    part = replace(heard, u=heard.u[:n], hand=heard.hand[:n])
    found: list[Guess] = []
    for at, (rate, drift) in enumerate(tempi(part.u)):
        here = guesses(part, asked, others, rate=rate, drift=drift, with_others=at <= 1)
        # Scores are densities in the figure's own slots; those of two tempi compare in the click's slots.
        found += [replace(g, score=g.score - len(part.u) * math.log(rate)) for g in here]
        yield []
    found.sort(key=lambda g: -g.score)
    near = [g for g in found if g.score >= found[0].score - NEAR_BEST]
    chosen = [g for g in near if g.pattern is asked and g.only is None][:MOST_WEIGHED]
    most = FIGURES_BY_STRING if heard.knows_string else MOST_WEIGHED // 2
    chosen += [g for g in near if g.pattern is not asked][:most]
    chosen += [g for g in found if g.only is not None][:1]
    for exchanged in [False, True] if heard.knows_hand else [False]:
        chosen += jumping(part, asked, exchanged=exchanged)
    yield chosen


def _is_told_apart(weighed: Weighed) -> bool:
    """Return whether a tempo differs so much from what was asked that it is one, not a drift."""
    course = weighed.guess.course
    if course.rate == 1.0 and not course.bend:
        return True
    j = [float(t.beat) * weighed.version.slots_per_beat for t in weighed.version.targets]
    if not j:
        return False
    along = np.array([j[0], (j[0] + j[-1]) / 2, j[-1]])
    moved = course.at(along) - along
    return float(moved.max() - moved.min()) >= LEAST_MOVED
