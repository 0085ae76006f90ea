"""Make taps of what was heard of a banjo, so that they are judged as a pad's taps are.

The string is told by what the stroke added to the sound, among the places where each string is stopped at
that moment. A stroke on the fifth string was the thumb's; on strings 1 to 4 nobody can hear whether nail or
thumb sounded it, so the hand is not known there, and no verdict claims it.

Soft sounds count only where something is asked for: near a stroke, for a soft one is still that stroke, and
near a skip, where a touch is what the drill is about: there the newness of a sound counts as well, which
tells far softer ones. Near a stroke the newness tells a hammer-on that hardly rises from noise that does.
Elsewhere soft sounds are the room's.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from trainer.hearing.listening import HeardStroke
from trainer.hearing.onsets import NEW_THRESHOLD, THRESHOLD, WEAK_THRESHOLD
from trainer.hearing.strings import StringEar
from trainer.judging.take import Tap
from trainer.music.layout import Target
from trainer.music.strokes import Hand, Kind
from trainer.music.tuning import STRINGS

SOFT_THRESHOLD = 0.14  # rise of a soft sound beside a stroke
TOUCH_THRESHOLD = 0.016  # strength of a touch at a skip; noise that changes its colour reaches that
BESIDE_CLICK_S = 0.025
CLICK_MARGIN = 1.25  # what rises by more than this times a lone click was played
LONE_MARGIN = 1.4  # the same for the strength of a touch, that a few clicks tell less surely
UNKNOWN_CLICK_RISE, UNKNOWN_CLICK_STRENGTH = 0.25, 0.05
BRUSH_UNCERTAINTY_S = 0.010
DRONE = 5
LOUDEST_DB, DB_A_STEP = -6.0, 0.4  # velocity 127 at -6 dB, 1 at -56 dB


@dataclass(frozen=True, slots=True, kw_only=True)
class BesideClicks:
    """What clicks do to the hearing of soft sounds.

    Attributes:
        times_s: seconds of the recording, in order.
        rise, strength: what stands out less than this beside a click may be the click itself.
    """

    times_s: tuple[float, ...]
    rise: float
    strength: float = 0.0

    def near(self, time_s: float) -> bool:
        """Return whether a moment of the recording lies beside a click."""
        at = bisect_left(self.times_s, time_s - BESIDE_CLICK_S)
        return at < len(self.times_s) and self.times_s[at] <= time_s + BESIDE_CLICK_S


def heard_taps(
    strokes: Sequence[HeardStroke],
    targets: Sequence[Target],
    ear: StringEar,
    *,
    beat_0_s: float,
    clock: float = 1.0,
    soft_threshold: float = SOFT_THRESHOLD,
    touch_threshold: float | None = TOUCH_THRESHOLD,
    beside_clicks: BesideClicks | None = None,
) -> tuple[Tap, ...]:
    """Return what was heard as taps, in song seconds.

    Args:
        strokes: in order of time, heard with thresholds no higher than these.
        targets: what was asked, in order; rests may be among them.
        ear: what tells the strings.
        beat_0_s: second of the recording at which beat 0 lies.
        clock: seconds of the song to a second of the recording.
        soft_threshold: rises of less are not counted even where a stroke is asked.
        touch_threshold: touches of less strength are not counted where a skip is asked; None where newness
            says nothing, and they are told by their rise.
        beside_clicks: where clicks were heard, and how much they stand out by themselves.
    """
    asked = [each for each in targets if each.stroke.kind is not Kind.REST]
    times = [each.song_s for each in asked]
    taps = []
    for stroke in strokes:
        song_s = (stroke.time_s - beat_0_s) * clock
        beside = beside_clicks if beside_clicks is not None and beside_clicks.near(stroke.time_s) else None
        tap = heard_tap(
            stroke,
            song_s,
            target_at(asked, times, song_s),
            ear,
            soft_threshold=soft_threshold,
            touch_threshold=touch_threshold,
            click_rise=0.0 if beside is None else beside.rise,
            click_strength=0.0 if beside is None else beside.strength,
        )
        if tap is not None:
            taps.append(tap)
    return tuple(taps)


def lone_click_strength(strengths: Sequence[float], touch_threshold: float) -> float:
    """Return how strong a touch has to be beside a click.

    Args:
        strengths: of what was heard beside the clicks of a count-in, over which nobody plays; a click that
            was not heard at all is not among it. One of them may be the hand that takes its place.
    """
    heard = sorted(strengths)[-2] if len(strengths) > 1 else 0.0
    return LONE_MARGIN * max(heard, touch_threshold)  # a click that was not heard may be as strong as that


def heard_tap(
    stroke: HeardStroke,
    song_s: float,
    target: Target | None,
    ear: StringEar,
    *,
    soft_threshold: float = SOFT_THRESHOLD,
    touch_threshold: float | None = TOUCH_THRESHOLD,
    click_rise: float = 0.0,
    click_strength: float = 0.0,
    placed_within_s: float = 0.0,
) -> Tap | None:
    """Return what was heard as a tap; None where it is too soft to count.

    Args:
        song_s: its second of the song.
        target: the one that lies there, by :func:`target_at`; None without one.
        click_rise, click_strength: a click sounds at this moment, and what stands out less than this may be
            the click; 0 where none does.
        placed_within_s: how far off ``song_s`` may be besides the stroke's own uncertainty.
    """
    # Where nothing should sound but the click, the click itself must not be taken for a touch.
    if target is None:
        counts = stroke.rise >= max(THRESHOLD, soft_threshold, click_rise)
    elif target.stroke.kind.sounds:
        new = max(NEW_THRESHOLD, touch_threshold or 0.0, click_strength)
        is_new = touch_threshold is not None and stroke.newness >= new
        counts = stroke.rise >= (WEAK_THRESHOLD if is_new else soft_threshold)
    elif touch_threshold is None:
        counts = stroke.rise >= max(soft_threshold, click_rise)
    else:
        counts = stroke.touch_strength >= max(touch_threshold, click_strength)
    if not counts:
        return None
    string = _string(stroke, target, ear)
    return Tap(
        song_s=song_s,
        hand=_hand(string, target),
        string=string,
        velocity=velocity(stroke.level_db),
        uncertainty_s=_uncertainty_s(stroke, target) + placed_within_s,
    )


def _hand(string: int | None, target: Target | None) -> Hand | None:
    """Return the thumb for the fifth string, which is its own; where another hand was asked for and the fifth
    string sounded, the string was wrong, and whose it was nobody can hear.
    """
    if string != DRONE:
        return None
    other = target is not None and target.stroke.kind.hand in (Hand.NAIL, Hand.LEFT)
    return None if other else Hand.THUMB


def _uncertainty_s(stroke: HeardStroke, target: Target | None) -> float:
    """Return how far off a stroke may be: those of a brush follow one another, any may stand out."""
    brushed = target is not None and len(target.stroke.strings) > 1
    return max(stroke.uncertainty_s, BRUSH_UNCERTAINTY_S) if brushed else stroke.uncertainty_s


def target_at(targets: Sequence[Target], times: Sequence[float], song_s: float) -> Target | None:
    """Return the target nearest a moment; None where it is more than half a slot off."""
    at = bisect_left(times, song_s)
    beside = [each for each in (at - 1, at) if 0 <= each < len(targets)]
    if not beside:
        return None
    near = min(beside, key=lambda each: abs(times[each] - song_s))
    return targets[near] if abs(song_s - times[near]) <= targets[near].slot_s / 2 else None


def velocity(level_db: float) -> int:
    """Return a loudness as MIDI has it, 1 to 127."""
    return min(127, max(1, round(127 + (level_db - LOUDEST_DB) / DB_A_STEP)))


def _string(stroke: HeardStroke, target: Target | None, ear: StringEar) -> int | None:
    """Return the string that sounded; None where it cannot be told or several did."""
    frets = dict.fromkeys(range(1, STRINGS + 1), 0)
    asked = None
    if target is not None and target.stroke.strings:
        frets.update(zip(target.stroke.strings, target.stroke.all_frets, strict=True))
        asked = target.stroke.strings[0]
    if target is not None and len(target.stroke.strings) > 1:
        return None
    return ear.which(stroke.colour, frets, asked).string
