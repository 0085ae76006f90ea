"""Judge while the player plays, and never say later what was not said now.

The same pairing as :mod:`trainer.judging.matching`, carried on target by target. A stroke is settled when
every best path that is still open gives it the same tap; no later tap can then change it, so the settled
outcomes are those of the whole take (the path convergence known from Viterbi decoding). Until
then the best guess is shown as provisional.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from trainer.judging.matching import (
    LONGEST_UNIT_US,
    MISSED_SHARE,
    CostRow,
    Priced,
    Touch,
    agreed_pairs,
    best_end,
    first_row,
    next_row,
    price,
    strays_among,
    touch_of,
    walk_back,
)
from trainer.judging.matching import microseconds as us
from trainer.judging.pocket import Pocket
from trainer.judging.spared import Span, is_spared, joined, spared
from trainer.judging.take import Judgement, Outcome, Tap
from trainer.judging.verdicts import first_outcome, in_context
from trainer.music.layout import Target
from trainer.music.strokes import Kind

LATENESS_S = 0.060  # a tap may usually reach the judge this long after it happened and still be heard
LARGEST_MISS_US = int(LONGEST_UNIT_US * MISSED_SHARE)
MOST_GUESSED = 600  # taps within reach; of a flood nothing is guessed, only settled
MOST_OPEN_ROWS = 64  # paths always meet long before; past this the best one is taken


@dataclass(frozen=True, slots=True, kw_only=True)
class LiveView:
    """What can be said at one moment.

    Attributes:
        settled: outcomes that became final with this call, in order of time.
        provisional: the best guess for targets not settled yet that have a tap or lie in the past.
        strays: indices of taps that became certain strays with this call.
    """

    settled: tuple[Outcome, ...]
    provisional: tuple[Outcome, ...]
    strays: tuple[int, ...]


class LiveJudge:
    """Judges a growing take; not for use from several threads at once."""

    def __init__(
        self,
        *,
        pocket: Pocket = Pocket.MIDDLE,
        knows_left: bool = False,
        marks_skips: bool = False,
        lateness_s: float = LATENESS_S,
    ) -> None:
        self._pocket = pocket
        self._knows_left = knows_left
        self._marks_skips = marks_skips
        self._lateness_s = lateness_s
        self._targets: list[Priced] = []
        self._taps: list[Tap] = []
        self._touches: list[Touch] = []
        self._times_us: list[int] = []
        self._before = first_row()  # the row before the first open one
        self._open: list[CostRow] = []  # final rows of targets whose outcome is still open
        self._raw: list[Outcome] = []  # paired for good, one for each target so far
        self._told = 0  # outcomes of _raw already given out
        self._strays_from = 0  # taps before this one are paired or given out as strays
        self._used: set[int] = set()
        self._expected = 0  # how often targets were added or taken back
        self._settled_at = (0, 0)
        self.spans: tuple[Span, ...] = ()

    @property
    def taps(self) -> tuple[Tap, ...]:
        """All taps so far in order of time."""
        return tuple(self._taps)

    def taps_since(self, song_s: float, *, most: int) -> tuple[Tap, ...]:
        """Return the taps from a moment on, in order of time; of more than so many the latest."""
        first = max(bisect_left(self._times_us, us(song_s)), len(self._taps) - most)
        return tuple(self._taps[first:])

    def tap(self, at: int) -> Tap:
        """Return a tap by its place in the take."""
        return self._taps[at]

    def expect(self, targets: Sequence[Target]) -> None:
        """Add targets that follow those already expected; rests are passed over."""
        prices = (price(t, knows_left=self._knows_left, marks_skips=self._marks_skips) for t in targets)
        priced = [p for p in prices if p is not None]
        self._expected += 1
        self._targets.extend(sorted(priced, key=lambda p: p.at_us))

    def retract(self, from_beat: Fraction) -> None:
        """Take back the targets from a beat on, for the tempo is about to change there.

        Only targets that no tap can reach yet may be taken back; the caller changes tempo far enough ahead.
        """
        kept = [p for p in self._targets if p.target.beat < from_beat]
        if len(kept) < len(self._raw) + len(self._open):
            raise ValueError(f"targets from beat {from_beat} on are being judged already")
        self._expected += 1
        self._targets = kept

    def spare(self, first_s: float, last_s: float) -> None:
        """Judge nothing between two seconds, but what was said already; ``spans`` holds what became of it."""
        said_us = [self._targets[self._told - 1].at_us] if self._told else []
        said_us += self._times_us[self._strays_from - 1 : self._strays_from] if self._strays_from else []
        first_us = max([us(first_s), *(at_us + 1 for at_us in said_us)])
        self.spans = joined((*self.spans, (first_us / 1e6, last_s)))

    def add_tap(self, tap: Tap) -> int:
        """Take in one tap and return its place in the take.

        Taps may come a little out of order; one older than what is settled already is put at the front of
        what is open, and counts as a stray if nothing there wants it.
        """
        at = max(bisect_right(self._times_us, us(tap.song_s)), self._consumed())
        self._taps.insert(at, tap)
        self._touches.insert(at, touch_of(tap))
        self._times_us.insert(at, us(tap.song_s))
        return at

    def view(self, now_s: float) -> LiveView:
        """Say what is settled and what is likely at a moment, in seconds from beat 0."""
        self._close_rows(us(now_s - self._lateness_s))
        self._settle()
        return LiveView(
            settled=self._tell(), provisional=self._provisional(us(now_s)), strays=self._tell_strays()
        )

    def finish(self) -> LiveView:
        """Settle everything: no more taps will come."""
        self._close_rows(None)
        self._settle(finished=True)
        settled = self._tell(finished=True)
        strays = self._told_strays(
            at for at in range(self._strays_from, len(self._taps)) if at not in self._used
        )
        self._strays_from = len(self._taps)
        return LiveView(settled=settled, provisional=(), strays=strays)

    def judgement(self) -> Judgement:
        """Return all that is settled so far as a whole take, in order of slots."""
        told = sorted(
            (self._said(self._raw, at) for at in range(self._told)),
            key=lambda o: o.target.index,
        )
        return Judgement(
            outcomes=tuple(told),
            strays=self._told_strays(self._unused(0, self._strays_from)),
            taps=tuple(self._taps),
            pocket_s=tuple(self._pocket.half_width_s(o.target.slot_s) for o in told),
        )

    def _said(self, raw: Sequence[Outcome], at: int) -> Outcome:
        return spared(in_context(raw, at, pocket=self._pocket), self.spans)

    def _told_strays(self, strays: Iterable[int]) -> tuple[int, ...]:
        return tuple(at for at in strays if not is_spared(self.spans, self._taps[at].song_s))

    def _unused(self, start: int, stop: int) -> tuple[int, ...]:
        """Return the taps of a range that no stroke took, those of the count-in left out."""
        return strays_among(self._targets, self._times_us, self._used, start, stop)

    def _consumed(self) -> int:
        """Taps that a final row has already taken account of."""
        return (self._open[-1] if self._open else self._before).last

    def _close_rows(self, known_until_us: int | None) -> None:
        at = len(self._raw) + len(self._open)
        while at < len(self._targets):
            priced = self._targets[at]
            if known_until_us is not None and priced.at_us + priced.unit_us >= known_until_us:
                return
            row = self._open[-1] if self._open else self._before
            self._open.append(next_row(row, priced, self._touches, self._times_us))
            at += 1

    def _settle(self, *, finished: bool = False) -> None:
        # Without another row or another target ahead it is settled already as far as it can be.
        known = (len(self._raw) + len(self._open), self._expected)
        if not self._open or (known == self._settled_at and not finished):
            return
        self._settled_at = known
        row = self._open[-1]
        if finished or len(self._open) > MOST_OPEN_ROWS:
            stray_us = self._targets[len(self._raw) + len(self._open) - 1].stray_us
            pairs = walk_back(self._open, best_end(row, len(self._taps), stray_us))
        else:
            pairs = agreed_pairs(self._open, self._hopeful(row))
        for tap in pairs:
            self._raw.append(self._outcome(self._targets[len(self._raw)], tap))
            if tap is not None:
                self._used.add(tap)
        if pairs:
            self._before = self._open[len(pairs) - 1]
            self._open = self._open[len(pairs) :]

    def _hopeful(self, row: CostRow) -> list[int]:
        """Return the states of the last final row that a best path may still come from.

        A state that holds taps back can gain from each at most the price of a missed stroke less the way
        to the next target; one that has already lost more than that against another state is given up.
        """
        states = list(range(row.kept, row.last + 1))
        at = len(self._raw) + len(self._open)
        if at == len(self._targets):
            return states
        next_us = self._targets[at].at_us
        gain = (max(0, LARGEST_MISS_US - (next_us - t)) for t in self._times_us[row.kept : row.last])
        # Each state is looked at once: a broken pad can send hundreds of taps within a stroke's reach.
        costs = row.costs[row.kept - row.first :]
        owed = [cost + gained for cost, gained in zip(costs, accumulate(gain, initial=0), strict=True)]
        hopeful, least = [], owed[-1]
        for state in reversed(states):
            if owed[state - row.kept] <= least:
                least = owed[state - row.kept]
                hopeful.append(state)
        return hopeful[::-1]

    def _outcome(self, priced: Priced, tap_index: int | None) -> Outcome:
        return first_outcome(
            priced.target,
            tap_index,
            self._taps,
            pocket=self._pocket,
            knows_left=self._knows_left,
            marks_skips=self._marks_skips,
        )

    def _tell(self, *, finished: bool = False) -> tuple[Outcome, ...]:
        ready = len(self._raw)
        if not finished:
            # A skip's verdict waits for the stroke after it: a stopped hand keeps every skip silent.
            while ready > self._told and self._raw[ready - 1].target.stroke.kind is Kind.SKIP:
                ready -= 1
        told = tuple(self._said(self._raw, at) for at in range(self._told, ready))
        self._told = max(ready, self._told)
        return told

    def _tell_strays(self) -> tuple[int, ...]:
        settled = len(self._raw)
        if settled == 0:
            return ()
        if settled < len(self._targets):
            ahead = self._targets[settled]
            safe = bisect_right(self._times_us, ahead.at_us - ahead.unit_us - 1)
        else:
            safe = self._strays_from
        safe = min(safe, self._consumed())
        strays = self._told_strays(self._unused(self._strays_from, safe))
        self._strays_from = max(safe, self._strays_from)
        return strays

    def _provisional(self, now_us: int) -> tuple[Outcome, ...]:
        # A settled skip that waits for the stroke after it is as good as said.
        held = [self._said(self._raw, at) for at in range(self._told, len(self._raw))]
        rows = list(self._open)
        row = rows[-1] if rows else self._before
        if len(self._taps) - row.kept > MOST_GUESSED:
            return tuple(held)
        settled = len(self._raw)
        at = settled + len(rows)
        while at < len(self._targets) and self._targets[at].at_us - self._targets[at].unit_us <= now_us:
            row = next_row(row, self._targets[at], self._touches, self._times_us)
            rows.append(row)
            at += 1
        if not rows:
            return tuple(held)
        # What an input tells late is not called missed before it can have come.
        past_us = now_us - max(0, us(self._lateness_s - LATENESS_S))
        path = walk_back(rows, best_end(row, len(self._taps), self._targets[at - 1].stray_us))
        guesses = [self._outcome(self._targets[settled + k], tap) for k, tap in enumerate(path)]
        raw = [*self._raw[-8:], *guesses]
        first = len(raw) - len(guesses)
        shown = held
        for k, guess in enumerate(guesses):
            past = self._targets[settled + k].at_us + self._targets[settled + k].unit_us // 2 < past_us
            if guess.tap is not None or past:
                shown.append(self._said(raw, first + k))
        return tuple(shown)
