"""Sum up several takes of one pattern, so that players, or days, can be put side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain

from trainer.judging.statistics import Placement, SlotSummary, by_slot, placement_of, timed_placements
from trainer.judging.take import Judgement, Outcome, Verdict
from trainer.practice.stored_take import StoredTake, judgement_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """What some takes of one pattern come to.

    Attributes:
        takes: how many.
        days: the first and the last day, as proleptic ordinals.
        tempi: the slowest and the fastest tempo.
        asked, clean: strokes and skips that were judged, and those as asked.
        placement: of all taps given to strokes that should sound, late positive.
        rushed, touched: gaps cut short, skips touched.
        placements_s, verdicts: where taps fell and what was made of them, in the order played.
        slots: one summary for each stroke of the pattern.
        by_word: how many of the takes were disturbed and count by the teacher's word.
        pocket_s: half-width of the pocket at the fastest tempo; 0 with nothing asked.
    """

    takes: int
    days: tuple[int, int]
    tempi: tuple[Fraction, Fraction]
    asked: int
    clean: int
    placement: Placement
    rushed: int
    touched: int
    placements_s: tuple[float, ...]
    verdicts: tuple[Verdict, ...]
    slots: tuple[SlotSummary, ...]
    pocket_s: float
    by_word: int = 0

    @property
    def clean_share(self) -> float | None:
        """Strokes as asked as a share of those judged; None when nothing was."""
        return self.clean / self.asked if self.asked else None


def tally_of(takes: Sequence[StoredTake], judged: Sequence[Judgement] | None = None) -> Tally:
    """Return what takes of one pattern come to, judged by the click, as the records keep them.

    Args:
        takes: at least one.
        judged: their judgements; None to judge them now.
    """
    found = [judgement_of(take) for take in takes] if judged is None else judged
    outcomes: tuple[Outcome, ...] = tuple(chain.from_iterable(each.outcomes for each in found))
    placed = [(o.placement_s, o.verdict) for o in outcomes if o.placement_s is not None]
    tempi = [span.bpm for take in takes for span in take.timeline.spans]
    all_in_one = Judgement(outcomes=outcomes, strays=(), taps=(), pocket_s=())
    return Tally(
        takes=len(takes),
        days=(min(take.day for take in takes), max(take.day for take in takes)),
        tempi=(min(tempi), max(tempi)),
        asked=sum(1 for o in outcomes if o.verdict is not Verdict.NOT_JUDGED),
        clean=sum(1 for o in outcomes if o.verdict.is_clean),
        placement=placement_of(timed_placements(outcomes)),
        rushed=sum(1 for o in outcomes if o.rushed_gap),
        touched=sum(1 for o in outcomes if o.verdict is Verdict.TOUCHED),
        placements_s=tuple(at for at, _ in placed),
        verdicts=tuple(verdict for _, verdict in placed),
        slots=by_slot(all_in_one),
        pocket_s=min((half for each in found for half in each.pocket_s), default=0.0),
        by_word=sum(1 for take in takes if take.by_word),
    )
