"""Hold a take as it is kept for good: all that is needed to judge it again, and its summary.

The summary and the rungs follow from the rest; they are kept beside it so that progress over years can be
shown without judging every take again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from trainer.judging.matching import microseconds
from trainer.judging.offset import passes_reached
from trainer.judging.pocket import Pocket
from trainer.judging.spared import Span
from trainer.judging.statistics import placement_of, summarise, timed_placements
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import NO_FEEL, Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.passes import PassPlayed, passes_needed, passes_played
from trainer.practice.placed_by import PlacedBy

MOST_SLOTS = 200_000  # of one take: 14 hours of eighths at 120 beats a minute; more would not fit the memory


@dataclass(frozen=True, slots=True, kw_only=True)
class RungPlayed:
    """Passes played one after another at one tempo.

    Attributes:
        bpm: beats a minute.
        passes, clean_passes: whole passes, and how many of them were clean; a last pass that was broken off
            counts in neither.
        clean_in_a_row: most clean passes one after another.
        held: whether these were as many as the ladder needs to go up, so that the tempo counts as clean.
        asked, clean: strokes and skips that could be judged, and how many of them were as asked.
        taps: taps given to strokes that should sound; ``mean_s`` and ``spread_s`` are over these.
        mean_s: mean placement in seconds, late positive; None without a tap.
        spread_s: standard deviation in seconds; None below three taps.
    """

    bpm: Fraction
    passes: int
    clean_passes: int
    clean_in_a_row: int
    held: bool
    asked: int
    clean: int
    taps: int
    mean_s: float | None
    spread_s: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTake:
    """One take of one player.

    Attributes:
        id: its number in the records; None before it is kept.
        uid: what tells it from every other take anywhere; empty before it is kept.
        player: who played; empty when nobody said.
        begun: when the count-in began, UTC, ISO 8601 to the microsecond with a final Z.
        day: the player's own date then, as a proleptic ordinal (1 is 1 January of year 1).
        pattern: what was asked, as it was then.
        timeline: tempo and all its changes.
        passes: passes begun.
        slots_asked: slots of all passes that were asked before the end, rests included.
        feel, pocket, knows_left: how it is judged.
        input_name, sound: the devices, in words.
        delay_ms: what was taken off each tap already.
        placed_by: what its strokes were placed against.
        click_off: the click was off from the first stroke on.
        spared: where the sound stalled, in seconds from beat 0, as :func:`~trainer.judging.spared.joined`
            gives it; nothing is judged there.
        simulated: simulated hands played; such a take never counts as progress.
        not_graded: why it does not count, or an empty text.
        by_word: why it was disturbed, of a turn in a class that counts by the teacher's word all the same.
        seconds_played: from the first beat to the last tap.
        taps: every touch, in order of time; ``song_s`` and ``uncertainty_s`` are whole microseconds.
        rungs: in the order played.
        asked, clean, mean_s, spread_s: of the whole take, as in :class:`RungPlayed`.
    """

    id: int | None = None
    uid: str = ""
    player: str = ""
    begun: str
    day: int
    pattern: Pattern
    timeline: Timeline
    passes: int
    slots_asked: int
    feel: Feel = NO_FEEL
    pocket: Pocket = Pocket.MIDDLE
    input_name: str = ""
    sound: str = ""
    delay_ms: int = 0
    placed_by: PlacedBy = PlacedBy.TAPS
    click_off: bool = False
    knows_left: bool = False
    spared: tuple[Span, ...] = ()
    simulated: bool = False
    not_graded: str = ""
    by_word: str = ""
    seconds_played: float = 0.0
    taps: tuple[Tap, ...] = ()
    rungs: tuple[RungPlayed, ...] = ()
    asked: int = 0
    clean: int = 0
    mean_s: float | None = None
    spread_s: float | None = None

    @property
    def placed_words(self) -> str:
        """What strokes that a microphone heard were placed against; empty of taps."""
        by_delay = f"placed by the delay kept, {self.delay_ms} ms"
        return {PlacedBy.CLICK: "placed by the heard click", PlacedBy.DELAY: by_delay}.get(self.placed_by, "")

    @property
    def counts(self) -> bool:
        """Whether it says something about a player's progress."""
        return not self.simulated and not self.why_not

    @property
    def why_not(self) -> str:
        """Why it does not count; empty where it does, by itself or by the teacher's word."""
        return "" if self.by_word else self.not_graded

    @property
    def fastest_clean(self) -> Fraction | None:
        """The fastest tempo held clean; None when there was none, or the take does not count."""
        held = [rung.bpm for rung in self.rungs if rung.held]
        return max(held) if held and self.counts else None

    @property
    def fastest_played(self) -> Fraction:
        """The fastest tempo of the take, clean or not; the first one when nothing was asked."""
        return max((rung.bpm for rung in self.rungs), default=self.timeline.spans[0].bpm)


def targets_of(take: StoredTake) -> tuple[Target, ...]:
    """Return what was asked, rests included, up to where the take ended."""
    passes = -(-take.slots_asked // len(take.pattern.strokes))
    laid = lay_out(take.pattern, take.timeline, passes=min(take.passes, passes), feel=take.feel)
    return laid[: take.slots_asked]


def judgement_of(take: StoredTake) -> Judgement:
    """Judge a take again: what was made of it when it was played.

    Marks of skips are passed over: they were an exercise of its own, and what is kept is what the hands did.
    """
    taps = tuple(tap for tap in take.taps if tap.hand is not Hand.NONE)
    return judge(targets_of(take), taps, pocket=take.pocket, knows_left=take.knows_left, spans=take.spared)


def whole_us(tap: Tap) -> Tap:
    """Return a tap with its times in whole microseconds, in which they are judged and kept."""
    return replace(
        tap,
        song_s=microseconds(tap.song_s) / 1e6,
        uncertainty_s=microseconds(tap.uncertainty_s) / 1e6,
    )


def summarised(take: StoredTake, judgement: Judgement | None = None) -> StoredTake:
    """Return a take with its taps in whole microseconds, its summary and its rungs.

    Args:
        judgement: what was made of it; None to judge it now.
    """
    taps = sorted((whole_us(tap) for tap in take.taps), key=lambda tap: tap.song_s)
    take = replace(take, taps=tuple(taps))
    judgement = judgement or judgement_of(take)
    summary = summarise(judgement)
    last_s = take.taps[-1].song_s if take.taps else 0.0
    return replace(
        take,
        seconds_played=min(max(0.0, last_s), _end_s(take)),
        rungs=rungs_of(judgement, take),
        asked=summary.asked,
        clean=summary.clean,
        mean_s=summary.placement.mean_s,
        spread_s=summary.placement.spread_s,
    )


def reached(take: StoredTake) -> StoredTake:
    """Return a take that ends with its last tap, for one whose end nobody saw.

    Strokes asked after the last tap are taken as never asked: the player may have stopped there.
    """
    last_s = max((tap.song_s for tap in take.taps), default=0.0)
    most = MOST_SLOTS // len(take.pattern.strokes)
    passes = min(passes_reached(take.pattern, take.timeline, last_s), most)
    laid = lay_out(take.pattern, take.timeline, passes=passes, feel=take.feel)
    # Half a slot, because the last stroke may have been played before its time.
    asked = [at for at, target in enumerate(laid) if target.song_s <= last_s + target.slot_s / 2]
    return replace(take, passes=passes, slots_asked=asked[-1] + 1 if asked else 0)


def rungs_of(judgement: Judgement, take: StoredTake) -> tuple[RungPlayed, ...]:
    """Return the groups of passes at one tempo, in the order played."""
    beats = take.pattern.beats
    whole = passes_played(judgement, take.timeline, take.pattern)
    at_tempo = groupby(
        judgement.outcomes,
        key=lambda o: take.timeline.span_at(Fraction(o.target.pass_index * beats)).bpm,
    )
    return tuple(_rung(take.pattern, bpm, list(outcomes), whole) for bpm, outcomes in at_tempo)


def pooled_spread_s(rungs: Sequence[tuple[int, float | None]]) -> float | None:
    """Return the spread of several groups about their own means: sqrt(sum (n-1) s**2 / sum (n-1)).

    The pooled variance of any textbook of statistics.

    Args:
        rungs: taps and spread in seconds of each; groups without a spread are left out.
    """
    known = [(n, spread) for n, spread in rungs if spread is not None and n > 1]
    freedom = sum(n - 1 for n, _ in known)
    if not freedom:
        return None
    return math.sqrt(sum((n - 1) * spread**2 for n, spread in known) / freedom)


def _rung(
    pattern: Pattern, bpm: Fraction, outcomes: Sequence[Outcome], whole: Mapping[int, PassPlayed]
) -> RungPlayed:
    passes = sorted({o.target.pass_index for o in outcomes} & whole.keys())
    runs = [len(list(group)) for clean, group in groupby(whole[at].clean for at in passes) if clean]
    placement = placement_of(timed_placements(outcomes))
    in_a_row = max(runs, default=0)
    return RungPlayed(
        bpm=bpm,
        passes=len(passes),
        clean_passes=sum(runs),
        clean_in_a_row=in_a_row,
        held=in_a_row >= passes_needed(pattern),
        asked=sum(1 for o in outcomes if o.verdict is not Verdict.NOT_JUDGED),
        clean=sum(1 for o in outcomes if o.verdict.is_clean),
        taps=placement.n,
        mean_s=placement.mean_s,
        spread_s=placement.spread_s,
    )


def _end_s(take: StoredTake) -> float:
    """Return the second at which the last slot asked ends, 0 when nothing was asked."""
    return take.timeline.seconds(Fraction(take.slots_asked, take.pattern.slots_per_beat))
