"""Hold a turn of a pupil, and the board that it belongs to: one figure at one level, one tempo, one day.

A turn that was disturbed is kept, and counts only by the teacher's word; then it stays marked.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Verdict
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand

MOST_DOTS = 200  # of a turn, on the board
LEAST_JUDGED = Fraction(3, 4)  # of the strokes; with fewer the sound stood still for too much of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Board:
    """What turns are compared with one another.

    Attributes:
        pattern: the figure's name; a break's holds its level.
        bpm: beats a minute.
        day: the teacher's own date as a proleptic ordinal; None where an older file does not say.
    """

    pattern: str
    bpm: Fraction
    day: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What one turn of one player came to.

    Attributes:
        uid: what tells it from every other; that of its take in the records where there is one.
        begun: when, UTC, ISO 8601; empty in an older file.
        day, pattern, bpm: as its board has them; ``title`` and ``level`` are the pattern's.
        asked, clean: strokes judged, and those as asked.
        mean_s, spread_s: of the placements, late positive; None with too few taps.
        rushed, touched: gaps cut short and skips touched; ``not_judged`` strokes beside a stall.
        reading: how it was played as a whole, in a few words; empty for as asked.
        disturbed: why it does not count by itself; empty when it does.
        by_word: whether it counts by the teacher's word all the same.
        together: whether several played at once.
        placements_s: where the taps fell, in order; ``verdicts`` what was made of the same strokes.
    """

    uid: str = ""
    begun: str = ""
    day: int | None = None
    pattern: str
    title: str = ""
    level: str = ""
    bpm: Fraction
    asked: int
    clean: int
    mean_s: float | None
    spread_s: float | None
    rushed: int
    touched: int
    not_judged: int = 0
    reading: str = ""
    disturbed: str = ""
    by_word: bool = False
    together: bool = False
    placements_s: tuple[float, ...] = ()
    verdicts: tuple[Verdict, ...] = ()

    @property
    def board(self) -> Board:
        """The board it belongs to."""
        return Board(pattern=self.pattern, bpm=self.bpm, day=self.day)

    @property
    def counts(self) -> bool:
        """Whether it counts, by itself or by the teacher's word."""
        return not self.disturbed or self.by_word

    @property
    def share(self) -> str:
        """The strokes as asked of those judged."""
        return f"{self.clean} of {self.asked}"

    @property
    def besides(self) -> str:
        """What there is to say besides the share, in a few words; empty for nothing."""
        words = [self.reading] if self.reading else []
        counted = ((self.touched, "touched"), (self.rushed, "rushed"), (self.not_judged, "not judged"))
        words += [f"{count} {word}" for count, word in counted if count]
        return ", ".join(words)


def turn_of(
    judgement: Judgement,
    *,
    pattern: Pattern,
    bpm: Fraction,
    day: int | None = None,
    begun: str = "",
    uid: str = "",
    disturbed: str = "",
    together: bool = False,
) -> Turn:
    """Return what a take came to, by the click; the other arguments are those of :class:`Turn`.

    Where the sound stood still beside more than a quarter of the strokes, that is why it does not count.
    """
    summary = summarise(judgement)
    counts = dict(summary.counts)
    # What the left hand sounds is not judged either where nothing hears it, whatever the sound did.
    picked = [o for o in judgement.outcomes if o.target.stroke.hand is not Hand.LEFT]
    not_judged = sum(1 for o in picked if o.verdict is Verdict.NOT_JUDGED)
    if not disturbed and len(picked) - not_judged < LEAST_JUDGED * len(picked):
        disturbed = f"the sound stood still beside {not_judged} of {len(picked)} strokes"
    placed = [(o.placement_s, o.verdict) for o in judgement.outcomes if o.placement_s is not None][:MOST_DOTS]
    return Turn(
        uid=uid,
        begun=begun,
        day=day,
        pattern=pattern.name,
        title=pattern.title,
        level=pattern.level.value,
        bpm=bpm,
        asked=summary.asked,
        clean=summary.clean,
        mean_s=summary.placement.mean_s,
        spread_s=summary.placement.spread_s,
        rushed=summary.rushed_gaps,
        touched=counts.get(Verdict.TOUCHED, 0),
        not_judged=not_judged,
        reading=_reading_words(judgement),
        disturbed=disturbed,
        together=together,
        placements_s=tuple(placement for placement, _ in placed),
        verdicts=tuple(verdict for _, verdict in placed),
    )


def boards_of(turns: Iterable[Turn]) -> tuple[Board, ...]:
    """Return the boards of some turns, in the order in which they were opened; those without a day first."""
    opened: dict[Board, tuple[int, str]] = {}
    for turn in turns:
        when = (turn.day or 0, turn.begun)
        opened[turn.board] = min(when, opened.get(turn.board, when))
    return tuple(sorted(opened, key=lambda board: opened[board]))


def _reading_words(judgement: Judgement) -> str:
    reading = judgement.reading
    if reading is None:
        return ""
    kinds = [kind for kind in (reading.kind, *reading.also) if not kind.is_as_asked]
    return ", ".join(kind.value for kind in kinds)
