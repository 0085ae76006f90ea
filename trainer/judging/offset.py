"""Find where in a recording beat 0 lies, when nobody wrote it down.

Offset: second of the recording at which beat 0 lies, so song seconds = recording seconds - offset.

Method: each of the first taps is tried on each of the first strokes; each such alignment is priced by the
matching of :mod:`trainer.judging.matching` over the beginning of the take, and the cheapest is taken. A price
grows with the sum of distances, so the cheapest lays a middling tap on its stroke, as a median does. The
pattern is taken to begin with the take: strokes of the first pass that have no tap cost what missed strokes
cost. Taps on the beats before beat 0 are a count-in tapped along and cost little; other taps before it cost
what strays cost.

An offset found in this way takes up any steady earliness or lateness of the player: only differences
between strokes are left to judge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.errors import BadTake
from trainer.judging.matching import Priced, Touch, match, microseconds, pair_cost, price, touch_of
from trainer.judging.take import Tap
from trainer.music.layout import MOST_PASSES, NO_FEEL, Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline

HEAD_TAPS = 64  # enough to tell bars apart; more would only cost time
LEAST_ROW = 8  # taps in one go that are a beginning
SILENT_BARS = 4  # longer, and what was before is another attempt
LONGEST_HEAD_US = 120_000_000
SEED_TAPS = 12  # a count-in tapped along, or strays, may come first
SEED_STROKES = 24
COUNT_IN_TAPS = 8
COUNT_IN_SHARE = 0.25  # of a stray
NEAR_BEAT_SHARE = 0.125  # of a beat: how far off a beat a tap of the count-in may fall
CLEAR_MARGIN = 1.5  # strokes: more than one miss must lie between the best place and the next
# Beat 0 is plainly elsewhere where the place that was held leaves so many more strokes missed or taps over,
# at least and as a share of the taps looked at, and nearly all taps find a stroke at the other.
ELSEWHERE_MARGIN, ELSEWHERE_SHARE = 4.0, 0.2
FITS_SHARE = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetFound:
    """Where beat 0 was found.

    Attributes:
        offset_s: second of the recording.
        paired: how many of the taps looked at were given to a stroke.
        looked_at: how many taps were looked at.
        next_s: the next best place, at least half a slot away; None when there is no other.
        margin: by how many missed strokes the next best place is worse; None with ``next_s``.
    """

    offset_s: float
    paired: int
    looked_at: int
    next_s: float | None
    margin: float | None

    @property
    def is_clear(self) -> bool:
        """Whether no other place comes near."""
        return self.margin is None or self.margin > CLEAR_MARGIN


@dataclass(frozen=True, slots=True)
class _Fit:
    offset_us: int
    cost_us: int
    paired: int


def passes_reached(pattern: Pattern, timeline: Timeline, last_tap_s: float) -> int:
    """Return how many passes a take reaches, at least one.

    A closing tap on the beat after the last pass opens no new pass.

    Args:
        last_tap_s: song second of the last tap.
    """
    half_slot = 0.5 / pattern.slots_per_beat
    passes = math.ceil((timeline.beat(last_tap_s) - half_slot) / pattern.beats)
    return min(max(1, passes), MOST_PASSES)


def find_offset(
    pattern: Pattern,
    timeline: Timeline,
    taps: Sequence[Tap],
    *,
    feel: Feel = NO_FEEL,
    knows_left: bool = False,
) -> OffsetFound:
    """Find the offset at which a take fits a pattern best.

    Args:
        timeline: the tempo, from beat 0.
        taps: with recording seconds in ``song_s``, in any order.
        knows_left: whether the input can hear the left hand.

    Raises:
        BadTake: there is no tap.
    """
    return _told(_ranked(pattern, timeline, taps, feel=feel, knows_left=knows_left))


def found_elsewhere(
    pattern: Pattern,
    timeline: Timeline,
    taps: Sequence[Tap],
    at_s: float,
    *,
    feel: Feel = NO_FEEL,
    knows_left: bool = False,
) -> OffsetFound | None:
    """Return where beat 0 lies when it is plainly not at ``at_s``; None where that place may well be right.

    A lean of less than half a slot is the player's, not the recording's; so are some strokes missed.

    Args:
        at_s: second of the recording that is taken for beat 0.
        taps, timeline, feel, knows_left: as in :func:`find_offset`.

    Raises:
        BadTake: there is no tap.
    """
    at_us = microseconds(at_s)
    ranked = _ranked(pattern, timeline, taps, feel=feel, knows_left=knows_left, also_us=(at_us,))
    best = ranked.fits[0]
    if best.paired < FITS_SHARE * ranked.looked_at:
        return None
    held = min(f.cost_us for f in ranked.fits if abs(f.offset_us - at_us) <= ranked.half_slot_us)
    worse = (held - best.cost_us) / ranked.stray_us
    bar_us = microseconds(timeline.seconds(Fraction(pattern.meter.beats)))
    first_us = min(microseconds(tap.song_s) for tap in taps)
    if min(first_us, best.offset_us) - at_us >= bar_us - ranked.half_slot_us:
        enough = CLEAR_MARGIN  # nobody has begun there: the first bar is silent
    else:
        enough = max(ELSEWHERE_MARGIN, ELSEWHERE_SHARE * ranked.looked_at)
    if worse < enough:
        return None
    return _told(ranked)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ranked:
    """Places tried, the cheapest first, and what their prices are counted in."""

    fits: tuple[_Fit, ...]
    looked_at: int
    half_slot_us: int
    stray_us: int


def _told(ranked: _Ranked) -> OffsetFound:
    best, fits = ranked.fits[0], ranked.fits
    others = [f for f in fits if abs(f.offset_us - best.offset_us) >= ranked.half_slot_us]
    second = min(others, key=lambda f: f.cost_us, default=None)
    return OffsetFound(
        offset_s=best.offset_us / 1e6,
        paired=best.paired,
        looked_at=ranked.looked_at,
        next_s=None if second is None else second.offset_us / 1e6,
        margin=None if second is None else (second.cost_us - best.cost_us) / ranked.stray_us,
    )


def _ranked(
    pattern: Pattern,
    timeline: Timeline,
    taps: Sequence[Tap],
    *,
    feel: Feel,
    knows_left: bool,
    also_us: tuple[int, ...] = (),
) -> _Ranked:
    if not taps:
        raise BadTake("there is no tap in the take", "record one, or name another file")
    silence_us = microseconds(timeline.seconds(Fraction(SILENT_BARS * pattern.meter.beats)))
    head = _beginning(sorted((touch_of(tap) for tap in taps), key=lambda touch: touch.at_us), silence_us)
    priced = _strokes_for(head, pattern, timeline, feel=feel, knows_left=knows_left)
    beat_us = microseconds(timeline.seconds(Fraction(1)))
    seeds = {
        touch.at_us - stroke.at_us
        for touch in head[:SEED_TAPS]
        for stroke in [p for p in priced if p.miss_us][:SEED_STROKES]
    } | set(also_us)
    # Equal prices go to the earliest place: the take begins with the pattern.
    fits = sorted(
        (_fit(seed, priced, head, beat_us) for seed in seeds), key=lambda f: (f.cost_us, f.offset_us)
    )
    return _Ranked(
        fits=tuple(fits),
        looked_at=len(head),
        half_slot_us=priced[0].unit_us // 2,
        stray_us=priced[0].stray_us,
    )


def _beginning(touches: Sequence[Touch], silence_us: int) -> list[Touch]:
    """Return the first taps that were played in one go, so that hours without a tap cost nothing.

    Taps before a long silence are passed over when they are few and more come after it: somebody tried the
    pads.
    """
    rows: list[list[Touch]] = [[]]
    for touch in touches:
        row = rows[-1]
        if row and touch.at_us - row[-1].at_us > silence_us:
            if len(row) >= LEAST_ROW:
                break
            rows.append([])
        rows[-1].append(touch)
        if len(rows[-1]) == HEAD_TAPS:
            break
    row = rows[-1] if len(rows[-1]) >= LEAST_ROW else list(touches)
    return [touch for touch in row if touch.at_us - row[0].at_us <= LONGEST_HEAD_US]


def _strokes_for(
    head: Sequence[Touch], pattern: Pattern, timeline: Timeline, *, feel: Feel, knows_left: bool
) -> list[Priced]:
    """Return the strokes that the taps can reach wherever beat 0 lies, in order of time."""
    span_s = (head[-1].at_us - head[0].at_us) / 1e6
    passes = 1 + passes_reached(pattern, timeline, span_s)
    targets = lay_out(pattern, timeline, passes=passes, feel=feel)
    priced = [p for p in (price(t, knows_left=knows_left) for t in targets) if p is not None]
    if not any(p.miss_us for p in priced):
        raise BadTake("the pattern asks for nothing that can be heard", "name a pattern with strokes in it")
    last_us = microseconds(span_s) + priced[-1].at_us // passes + priced[0].unit_us
    return sorted((p for p in priced if p.at_us <= last_us), key=lambda p: p.at_us)


def _fit(offset_us: int, priced: Sequence[Priced], head: Sequence[Touch], beat_us: int) -> _Fit:
    """Price one offset: pairs, missed strokes up to the last tap, and taps left over."""
    moved = [Touch(touch.at_us - offset_us, touch.hand, touch.string) for touch in head]
    end_us = moved[-1].at_us + priced[0].unit_us // 2
    asked = [p for p in priced if p.at_us <= end_us]
    cost = 0
    paired = 0
    for stroke, at in zip(asked, match(asked, moved), strict=True):
        if at is None:
            cost += stroke.miss_us
        else:
            cost += pair_cost(stroke, moved[at])
            paired += 1
    first_us = priced[0].at_us - priced[0].unit_us // 2
    counted_in = sum(1 for touch in moved if touch.at_us < first_us and _is_near_beat(touch.at_us, beat_us))
    cheap = min(counted_in, COUNT_IN_TAPS, len(moved) - paired)
    strays = len(moved) - paired - cheap
    cost += int((strays + COUNT_IN_SHARE * cheap) * priced[0].stray_us)
    return _Fit(offset_us, cost, paired)


def _is_near_beat(at_us: int, beat_us: int) -> bool:
    off_us = at_us % beat_us
    return min(off_us, beat_us - off_us) <= NEAR_BEAT_SHARE * beat_us
