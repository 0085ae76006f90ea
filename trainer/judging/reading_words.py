"""Say a reading in one sentence: what was played, and one thing to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.readings import ReadingKind
from trainer.music.strokes import Hand

LEAST_PACE = 0.3  # taps a second
OTHERWISE_CLEAN = 0.9  # of the strokes; nine of ten in time
NEAR_TEMPO = 0.12  # of the tempo asked: a player who has lost the click, not one who chose another tempo


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What a sentence needs to know.

    Attributes:
        kind, also, amount, unit: as in :class:`trainer.judging.readings.Reading`.
        bpm: the tempo asked; None when it changes.
        rate: length of a slot as a share of the length asked.
        bpm_first, bpm_last: the tempi of a tempo that drifts.
        clean_share: of the strokes under this reading; None when nothing could be judged.
        in_time, timed: strokes in time from the player's own place, and all that have a tap.
        where: where something happened, as "bar 3"; empty where it is nowhere in particular.
        hand: the only hand that played.
        title: of the figure that was played, where it is another.
        count_in: beats of the count-in.
        bars: how many bars the take has.
        even: of a take that nothing fits: whether the taps come in an even row.
    """

    kind: ReadingKind
    also: tuple[ReadingKind, ...] = ()
    amount: float | None = None
    unit: str = ""
    bpm: Fraction | None = None
    rate: float = 1.0
    bpm_first: float = 0.0
    bpm_last: float = 0.0
    clean_share: float | None = None
    in_time: int = 0
    timed: int = 0
    where: str = ""
    hand: Hand | None = None
    title: str = ""
    count_in: int = 0
    bars: int = 0
    even: bool = False


def sentence_of(facts: Facts) -> str:
    """Return the sentence of a reading."""
    kind = facts.kind
    if kind is ReadingKind.AS_ASKED:
        return _as_asked(facts)
    if kind is ReadingKind.NOTHING_PLAYED:
        return "Nothing was heard; check that the input named is the one you play on."
    if kind is ReadingKind.NOTHING_FITS:
        return _nothing_fits(facts)
    also = "".join(f", and {ALSO[k]}" for k in facts.also if k in ALSO)
    head = _head(facts) + also
    if kind in SHIFTS and not also and (facts.clean_share or 0.0) >= OTHERWISE_CLEAN:
        head += ", and otherwise clean"
    return f"{head}; {_remedy(facts)}."


SHIFTS = {
    ReadingKind.SLOT_EARLY: "one slot early",
    ReadingKind.SLOT_LATE: "one slot late",
    ReadingKind.BEAT_EARLY: "one beat early",
    ReadingKind.BEAT_LATE: "one beat late",
    ReadingKind.BAR_EARLY: "one bar early",
    ReadingKind.BAR_LATE: "one bar late",
    ReadingKind.TWO_BARS_EARLY: "two bars early",
    ReadingKind.TWO_BARS_LATE: "two bars late",
    ReadingKind.EARLY: "",
    ReadingKind.LATE: "",
}
ALSO = {
    ReadingKind.PADS_EXCHANGED: "your pads are exchanged",
    ReadingKind.BEGUN_LATE: "you came in late",
    ReadingKind.STOPPED_EARLY: "you stopped before the end",
    ReadingKind.SWUNG: "you swung",
    **{k: f"you were {words}" for k, words in SHIFTS.items() if words},
    ReadingKind.LATE: "you were late",
    ReadingKind.EARLY: "you were early",
    ReadingKind.OTHER_TEMPO: "at another tempo than the click",
    ReadingKind.HALF_TIME: "at half the tempo",
    ReadingKind.DOUBLE_TIME: "at twice the tempo",
    ReadingKind.DRIFTING_TEMPO: "at a tempo that drifted",
    ReadingKind.ONE_HAND_ONLY: "with one hand only",
}


def _as_asked(facts: Facts) -> str:
    if facts.amount is None:
        return "You played what was asked, with the click."
    way = "ahead of" if facts.amount < 0 else "behind"
    why = (
        "a habit of most people, or the devices' delay" if facts.amount < 0 else "or it is the devices' delay"
    )
    own = f", {facts.in_time} of {facts.timed} in time from there" if facts.timed else ""
    return f"You sat {abs(facts.amount):.0f} ms {way} the click, steadily{own}; {why}."


def _nothing_fits(facts: Facts) -> str:
    if (facts.amount or 0.0) < LEAST_PACE:
        return (
            "Your taps are too few and far between to fit what was asked; nothing is counted. "
            "Play one bar slowly, stroke by stroke."
        )
    pace = _number(facts.amount or 0.0)
    if facts.even:
        return (
            f"Your taps come evenly, {pace} a second, whatever was asked; nothing is counted. "
            "Play one bar slowly, stroke by stroke."
        )
    return (
        "Your taps fit nothing that was asked, and no figure near it; nothing is counted. "
        "Play one bar slowly, stroke by stroke."
    )


def _head(facts: Facts) -> str:
    kind = facts.kind
    amount = abs(facts.amount or 0.0)
    if kind is ReadingKind.SWUNG:
        return f"You swung {_number(facts.amount or 1.0)} to 1"
    if kind in (ReadingKind.EARLY, ReadingKind.LATE):
        way = "early" if kind is ReadingKind.EARLY else "late"
        size = f"{amount:.0f} ms" if facts.unit == "ms" else f"{_number(amount)} {facts.unit}"
        return f"You were {size} {way} throughout"
    if kind in SHIFTS:
        return f"You were {SHIFTS[kind]}"
    if kind is ReadingKind.ANOTHER_FIGURE:
        return f'You played another figure, "{facts.title}"'
    if kind in _TEMPI:
        return _tempo(facts)
    heads = {
        ReadingKind.BAR_DROPPED: f"You left out {_count(amount, 'bar')} at {facts.where} and went on",
        ReadingKind.BAR_REPEATED: f"You played {_count(amount, 'bar')} too many before {facts.where}",
        ReadingKind.LOST_PLACE: (
            f"You lost the place at {facts.where} and were {_count(amount, facts.unit.removesuffix('s'))} "
            f"{'early' if (facts.amount or 0) < 0 else 'late'} from there"
        ),
        ReadingKind.BEGUN_LATE: f"You came in at {facts.where}",
        ReadingKind.STOPPED_EARLY: f"You stopped after {facts.where}",
        ReadingKind.PADS_EXCHANGED: "Your pads are exchanged",
        ReadingKind.ONE_HAND_ONLY: f"You played only the {facts.hand.value if facts.hand else 'one hand'}",
    }
    return heads[kind]


_TEMPI = (
    ReadingKind.OTHER_TEMPO,
    ReadingKind.HALF_TIME,
    ReadingKind.DOUBLE_TIME,
    ReadingKind.DRIFTING_TEMPO,
)


def _tempo(facts: Facts) -> str:
    kind = facts.kind
    if facts.bpm is None:
        share = 100 * (1 / facts.rate - 1)
        way = "faster" if share > 0 else "slower"
        return f"You played {abs(share):.0f} % {way} than the click"
    asked = _number(float(facts.bpm))
    if kind is ReadingKind.DRIFTING_TEMPO:
        way = "sped up" if facts.bpm_last > facts.bpm_first else "slowed down"
        return f"You {way} from {facts.bpm_first:.0f} to {facts.bpm_last:.0f}, the click stayed at {asked}"
    played = _number(facts.amount or 0.0)
    if kind is ReadingKind.HALF_TIME:
        return f"You played in half time, {played} where the click was at {asked}"
    if kind is ReadingKind.DOUBLE_TIME:
        return f"You played in double time, {played} where the click was at {asked}"
    return f"You played at {played}, the click was at {asked}"


def _remedy(facts: Facts) -> str:
    kind = facts.kind
    if kind in _TEMPI:
        near = abs(1 / facts.rate - 1) <= NEAR_TEMPO
        if kind is ReadingKind.DRIFTING_TEMPO or near or facts.bpm is None or kind is ReadingKind.DOUBLE_TIME:
            return "count every beat aloud with the click"
        return f"set the click to {_number(round(facts.amount or 0.0))} and go on from there"
    if kind in (ReadingKind.EARLY, ReadingKind.LATE) and facts.unit == "ms":
        return "if stroke and click sound together to you, measure the delay"
    if kind in SHIFTS:
        return f"count the {facts.count_in} beats of the count-in aloud; the figure begins with the next"
    remedies = {
        ReadingKind.SWUNG: "if you want it so, set the swing to that, else count the halves of each beat",
        ReadingKind.ANOTHER_FIGURE: "say the strokes of the figure asked aloud before you play it",
        ReadingKind.BAR_DROPPED: "count the bars aloud",
        ReadingKind.BAR_REPEATED: "count the bars aloud",
        ReadingKind.LOST_PLACE: "loop that bar and the next",
        ReadingKind.BEGUN_LATE: "what came before is not counted, begin with the count-in next time",
        ReadingKind.STOPPED_EARLY: "what follows is not counted, choose fewer passes",
        ReadingKind.PADS_EXCHANGED: "Enter changes them",
        ReadingKind.ONE_HAND_ONLY: "check the pad of the other hand, or add its strokes slowly",
    }
    return remedies[kind]


def _count(n: float, what: str) -> str:
    words = {1: "one", 2: "two", 3: "three", 4: "four"}
    return f"{words.get(round(n), f'{n:g}')} {what}{'' if round(n) == 1 else 's'}"


def _number(value: float) -> str:
    """Return a number with at most one decimal, none where it is whole."""
    return f"{value:.1f}".removesuffix(".0")


def bars_in_words(bars: Sequence[tuple[int, int]]) -> str:
    """Return where a stroke lies: pass and bar, counted from 1."""
    return ", ".join(f"bar {bar + 1} of pass {one + 1}" for one, bar in bars)
