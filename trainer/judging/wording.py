"""Hold the words of the advice: one sentence for each thing that can limit a player.

A sentence says what was found, with its numbers, and what to do next. It praises and blames nobody.
"""

from __future__ import annotations

import enum


class Fault(enum.Enum):
    """What can limit a player, the more fundamental first: the hand, then the gap, then the timing.

    Before all of them comes the reading of the whole take, which brings its own sentence.
    """

    READING = "played otherwise"
    MISSED = "many strokes missed"
    MISSED_KIND = "one kind of stroke missed"
    WRONG_HAND = "wrong hand"
    TOUCHED_SKIP = "skips touched"
    STRAY = "taps nobody asked for"
    RUSHED_GAP = "gap rushed"
    DRAGGED_GAP = "gap dragged"
    LATE_AFTER_CHANGE = "late after a change"
    LATE_CHANGE = "late after one change"
    EARLY_AFTER_CHANGE = "early after a change"
    UNEVEN = "unsteady"
    KIND_EARLY = "one kind early"
    KIND_LATE = "one kind late"
    WRONG_STRING = "wrong string"
    DRIFT_AHEAD = "drifting ahead"
    DRIFT_BEHIND = "drifting behind"
    AHEAD = "all ahead"
    BEHIND = "all behind"


# Fields: hits and n count, ms is a size without sign, kind a stroke's name, limit the spread allowed in ms,
# change a change of chord and change_ms what that one costs.
LATE_MOST_AT = (
    "After a chord change you come in {ms:.0f} ms later than inside a chord, most in the change {change} "
    "({change_ms:.0f} ms); loop its two bars."
)
WORDING: dict[Fault, str] = {
    Fault.MISSED: "{hits} of {n} strokes did not sound; play a fifth slower and keep the hand falling.",
    Fault.MISSED_KIND: (
        "{hits} of {n} {kind} strokes did not sound; play that one alone, beat after beat, then put it back."
    ),
    Fault.WRONG_HAND: (
        '{hits} of {n} strokes came from the other side of the hand; say "nail" and "thumb" aloud, slowly.'
    ),
    Fault.TOUCHED_SKIP: (
        "{hits} of {n} skips were touched; play the skip alone, the hand falling all the way "
        "but clear of the strings."
    ),
    Fault.STRAY: (
        "{hits} taps fell where none was asked, beside {n} strokes; play slower, each move on purpose."
    ),
    Fault.RUSHED_GAP: (
        "After a skip you come in {ms:.0f} ms earlier than elsewhere; "
        "play the gap alone and count the skip aloud."
    ),
    Fault.DRAGGED_GAP: (
        "After a skip you come in {ms:.0f} ms later than elsewhere; "
        "leave the hand moving through the skip as if it struck."
    ),
    Fault.LATE_AFTER_CHANGE: (
        "After a chord change you come in {ms:.0f} ms later than inside a chord; "
        "move the left hand sooner, the right hand going on."
    ),
    Fault.LATE_CHANGE: (
        "The change {change} comes {ms:.0f} ms later than strokes inside a chord; "
        "loop its two bars, the left hand moving sooner."
    ),
    Fault.EARLY_AFTER_CHANGE: (
        "After a chord change you come in {ms:.0f} ms earlier than inside a chord; "
        "let the old chord ring to its end."
    ),
    Fault.UNEVEN: (
        "Your strokes scatter by {ms:.0f} ms around their own places, {limit:.0f} ms would fit the pocket; "
        "play a tenth slower."
    ),
    Fault.KIND_EARLY: (
        "Your {kind} comes {ms:.0f} ms before your other strokes; play it in turn with one of them, slowly."
    ),
    Fault.KIND_LATE: (
        "Your {kind} comes {ms:.0f} ms after your other strokes; play it in turn with one of them, slowly."
    ),
    Fault.WRONG_STRING: "{hits} of {n} strokes met another string; play the change of string alone, slowly.",
    Fault.DRIFT_AHEAD: (
        "From first to last stroke you move {ms:.0f} ms ahead; count every beat aloud with the click."
    ),
    Fault.DRIFT_BEHIND: (
        "From first to last stroke you move {ms:.0f} ms behind; play a tenth slower, or fewer passes at once."
    ),
    Fault.AHEAD: (
        "On average you sit {ms:.0f} ms ahead of the click; if both sound together to you, "
        "measure the delay, else wait for the click."
    ),
    Fault.BEHIND: (
        "On average you sit {ms:.0f} ms behind the click; if that is meant, move the target there, "
        "else measure the delay."
    ),
}
