"""Guess which pad of a recorded take is whose, from the strokes that its touches fit.

The take is first laid over the pattern by its times alone; then each pad is given to the hand whose strokes
it plays. Nothing is guessed where a pad plays strokes of both hands, or where nail and thumb are not both
found: then only the timing can be judged.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from trainer.judging.take import Tap
from trainer.judging.verdicts import judge
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind
from trainer.practice.pads import Pad, PadMap, write_pads

LEAST_TOUCHES = 3  # of a pad: fewer are no habit
LEAST_SHARE = 0.8  # of a pad's touches that must fall on strokes of one hand
MOST_PADS = 32
_HAND_WORDS = {Hand.NAIL: "the nail", Hand.THUMB: "the thumb", Hand.LEFT: "the left hand"}


@dataclass(frozen=True, slots=True, kw_only=True)
class PadGuess:
    """Which pad is whose, as far as the take tells.

    Attributes:
        pads: the map; empty where nothing can be told, so that only the timing is judged.
        sentence: what was guessed and how sure that is, or why nothing was; empty for a single pad.
    """

    pads: PadMap
    sentence: str

    @property
    def words(self) -> str:
        """The guess in a few words."""
        return f"pads {write_pads(self.pads)}" if self.pads.pads else "timing only"


def guess_pads(targets: Sequence[Target], touched: Mapping[tuple[int, int], Sequence[Tap]]) -> PadGuess:
    """Return whose each pad is.

    Args:
        targets: what was asked, rests included.
        touched: the taps of each pad, by its channel (from 0) and note; seconds from beat 0.
    """
    if len(touched) == 1:
        return PadGuess(pads=PadMap(), sentence="")  # the grading says that the hand is not judged
    if len(touched) > MOST_PADS:
        return _nothing(f"the take has {len(touched)} of them")
    taps_in_order = sorted((tap for taps in touched.values() for tap in taps), key=lambda tap: tap.song_s)
    judged = judge(tuple(targets), tuple(taps_in_order), knows_left=True)
    # A touch on a skip may be anybody's.
    silent = {o.tap.song_s for o in judged.outcomes if o.tap and o.target.stroke.kind is Kind.SKIP}
    hand_at = {o.tap.song_s: o.target.stroke.hand for o in judged.outcomes if o.tap}
    pads, facts = [], []
    for (channel, note), all_taps in sorted(touched.items()):
        taps = [tap for tap in all_taps if tap.song_s not in silent]
        if len(taps) < LEAST_TOUCHES:
            continue
        hands = Counter(hand_at[tap.song_s] for tap in taps if tap.song_s in hand_at)
        hand, fits = hands.most_common(1)[0] if hands else (Hand.NONE, 0)
        if fits < LEAST_SHARE * len(taps) or hand not in _HAND_WORDS:
            return _nothing(f"note {note} plays strokes of either hand")
        pads.append(Pad(note=note, channel=channel, hand=hand))
        facts.append(f"note {note} for {_HAND_WORDS[hand]} ({fits} of its {len(taps)} touches fit)")
    found = PadMap(pads=tuple(pads))
    if not found.knows_hand:
        return _nothing("they do not part into nail and thumb")
    words = f"{', '.join(facts[:-1])} and {facts[-1]}"
    return PadGuess(
        pads=found,
        sentence=f"The pads are guessed: {words}. Where that is wrong, name them: --pads {write_pads(found)}",
    )


def _nothing(why: str) -> PadGuess:
    return PadGuess(
        pads=PadMap(),
        sentence=f"Whose the pads are cannot be told ({why}), so only the timing is judged; "
        "name them with --pads nail=N,thumb=N.",
    )
