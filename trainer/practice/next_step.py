"""Say what a take came to in one line, and the one thing to do next, with its number and why.

Chosen from what was found, the more fundamental first: whether the take counts, whether anything was heard,
whether the devices are late, how it was read as a whole, whether it was clean, and then what limited it.
Steps are up by a twentieth as the plain ladder climbs, down by a tenth, or by a fifth where most did not
sound (common practice, no source).
"""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.judging.advice import Finding
from trainer.judging.readings import Reading, ReadingKind
from trainer.judging.wording import Fault
from trainer.music.pattern import Pattern
from trainer.practice.ladder import STEP
from trainer.practice.next_words import WHY, again_words, finding_clause, tempo_words
from trainer.practice.passes import spread_limit_s
from trainer.practice.single_out import has_gap

LEAST_BPM = 30  # slower, and the ear no longer joins the beats: Repp 2006, about 1800 ms
TENTH, FIFTH = Fraction(9, 10), Fraction(4, 5)
DELAY_FROM_S = 0.020  # people tap ahead of a click, not behind (Repp 2005); so steadily late are devices
LEAST_TAPS_FOR_DELAY = 16
SURE_DELAY_S = 0.010
CHOSEN = "The tempo that you have chosen."


class Todo(enum.Enum):
    """What the next step is."""

    AGAIN = "again"  # the same, at the tempo of the step
    GAP = "gap"  # the skip and the stroke after it alone
    BARS = "bars"  # some bars alone
    WHOLE = "whole"  # what this was cut out of
    NEXT = "next"  # another figure, break or level
    EXCHANGE = "exchange"  # nail and thumb of the input, and then again
    MEASURE = "measure"  # the delay of the devices
    REST = "rest"


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """What comes after this in the course, or for a change in the session."""

    pattern: str
    title: str
    bpm: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class LastDrill:
    """What the choice hangs on.

    Attributes:
        pattern, bpm: what was asked, at its last tempo.
        strokes: that were asked until the end; ``taps`` that were heard.
        clean_bpm: the fastest tempo of this take that was held clean; None for none.
        clean_passes: passes in a row that were clean at the end, of ``needed``.
        why: what was not clean in the last pass, in a few words.
        reading, findings: of the whole take, as in the advice.
        mean_s, half_interval_s, spread_s: placements from the click; None with too few taps.
        delay_is_known: whether a delay was measured for this input and output.
        change_bar: bar of the chord change that costs most, from 0; None for none.
        ladder_bpm: the tempo that the ladder goes on from; None without one.
        whole_title, whole_bpm: what this was cut out of; None where it is whole.
        following: the next in the course; None for none.
        for_a_change: another figure that the session would have now; None as long as it would not.
        rest: for how many minutes to rest now; 0 for not.
        not_graded: why the take does not count; empty when it does.
    """

    pattern: Pattern
    bpm: Fraction
    strokes: int
    taps: int
    clean_bpm: Fraction | None = None
    clean_passes: int = 0
    needed: int = 2
    why: str = ""
    reading: Reading | None = None
    findings: tuple[Finding, ...] = ()
    mean_s: float | None = None
    half_interval_s: float | None = None
    spread_s: float | None = None
    delay_is_known: bool = False
    change_bar: int | None = None
    ladder_bpm: Fraction | None = None
    whole_title: str | None = None
    whole_bpm: Fraction | None = None
    following: Following | None = None
    for_a_change: Following | None = None
    rest: int = 0
    not_graded: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What happened, and the one thing to do.

    Attributes:
        happened: what the take came to, a sentence.
        todo: what to do, ``words`` the same for the screen; the tempo is in them where there is one.
        why: a sentence, or empty where the words say it.
        bpm: of what is drilled next; None where nothing is.
        pattern: its name, for NEXT; bars from 0 to play alone, for BARS.
        clean: whether the take was clean.
        told: how many of the findings the first line and the reason speak of.
    """

    happened: str
    todo: Todo
    words: str
    why: str = ""
    bpm: Fraction | None = None
    pattern: str = ""
    bars: tuple[int, int] | None = None
    clean: bool = False
    told: int = 0


def next_step(played: LastDrill) -> NextStep:
    """Return what happened, and what to do next."""
    for choose in (_nothing_to_judge, _devices_late, _read_otherwise):
        step = choose(played)
        if step is not None:
            return step
    if played.clean_bpm is not None and played.clean_bpm >= played.bpm:
        return _after_clean(played)
    return _after_faults(played)


def retimed(step: NextStep, bpm: Fraction) -> NextStep:
    """Return a step with a tempo of the player's own; one without a tempo becomes playing the same again."""
    if step.bpm is None or step.todo not in (Todo.AGAIN, Todo.GAP, Todo.BARS):
        return replace(step, todo=Todo.AGAIN, words=again_words(bpm), why=CHOSEN, bpm=bpm)
    head = step.words.removesuffix(tempo_words(step.bpm))
    return replace(step, words=head + tempo_words(bpm), why=CHOSEN, bpm=bpm)


def slower(bpm: Fraction, share: Fraction = TENTH) -> Fraction:
    """Return a tempo that is a share of another in whole beats, but not below what the ear joins."""
    return max(Fraction(math.floor(bpm * share)), min(bpm, Fraction(LEAST_BPM)))


# Whether anything can be said


def _nothing_to_judge(played: LastDrill) -> NextStep | None:
    if played.not_graded:
        return _again(
            played, f"This take does not count: {played.not_graded}.", "Nothing of it is kept against you."
        )
    if not played.strokes:
        return _again(played, "Stopped before the first stroke.")
    if not played.taps:
        return _again(played, "Nothing was heard.", "What you tap on lights up here when it is heard.")
    return None


def is_delay(played: LastDrill) -> bool:
    """Return whether the taps are late all alike, and so most likely the devices.

    Late by more than a listener forgives, the mean sure, and no more spread than a clean pass may have: bad
    spread is nobody's delay.
    """
    mean_s, half_s, spread_s = played.mean_s, played.half_interval_s, played.spread_s
    if mean_s is None or half_s is None or spread_s is None or played.taps < LEAST_TAPS_FOR_DELAY:
        return False
    slot_s = 60 / (float(played.bpm) * played.pattern.slots_per_beat)
    return mean_s >= DELAY_FROM_S and half_s <= SURE_DELAY_S and spread_s <= spread_limit_s(slot_s)


def _devices_late(played: LastDrill) -> NextStep | None:
    if played.clean_bpm == played.bpm or not is_delay(played) or played.mean_s is None:
        return None
    if _kinds(played) & _NOT_THE_DEVICES:
        return None
    ms = round(played.mean_s * 1000)
    if played.delay_is_known:
        happened = f"Not yet: all your taps come {ms} ms late, though the delay measured is taken off."
        why = "Other headphones need a delay of their own; measured anew, it is told from the hand."
    else:
        happened = f"Your taps come {ms} ms late, all alike: most likely the delay of the devices."
        why = "Sixteen taps with a click tell it; then it is taken off, and what is left is yours."
    return NextStep(happened=happened, todo=Todo.MEASURE, words="Measure the delay", why=why, told=1)


# How it was played as a whole


def _read_otherwise(played: LastDrill) -> NextStep | None:
    reading = played.reading
    if reading is None or reading.kind in (ReadingKind.AS_ASKED, ReadingKind.SWUNG):
        return None
    happened, _, remedy = reading.sentence.partition("; ")
    happened = happened.rstrip(".") + "."
    why = f"{remedy[:1].upper()}{remedy[1:]}"
    if ReadingKind.PADS_EXCHANGED in _kinds(played):
        return NextStep(
            happened=happened,
            todo=Todo.EXCHANGE,
            words=f"Exchange nail and thumb, again at {tempo_words(played.bpm)}",
            bpm=played.bpm,
            told=1,
        )
    if reading.kind in (ReadingKind.OTHER_TEMPO, ReadingKind.HALF_TIME) and reading.amount is not None:
        bpm = max(Fraction(round(reading.amount)), min(played.bpm, Fraction(LEAST_BPM)))
        return _again(played, happened, "That is the tempo your hand took; go on from there.", bpm, told=1)
    if reading.kind in _TOO_MUCH:
        return _again(played, happened, why, slower(played.bpm), told=1)
    return _again(played, happened, why, told=1)


_TOO_MUCH = (
    ReadingKind.NOTHING_FITS,
    ReadingKind.LOST_PLACE,
    ReadingKind.BAR_DROPPED,
    ReadingKind.BAR_REPEATED,
    ReadingKind.DRIFTING_TEMPO,
    ReadingKind.DOUBLE_TIME,
    ReadingKind.ONE_HAND_ONLY,
)
# Under these the mean is from somewhere else than the click.
_NOT_THE_DEVICES = frozenset(ReadingKind) - {
    ReadingKind.AS_ASKED,
    ReadingKind.SWUNG,
    ReadingKind.LATE,
    ReadingKind.STOPPED_EARLY,
    ReadingKind.BEGUN_LATE,
}


def _kinds(played: LastDrill) -> frozenset[ReadingKind]:
    reading = played.reading
    return frozenset((reading.kind, *reading.also)) if reading is not None else frozenset()


# Clean


def _after_clean(played: LastDrill) -> NextStep:
    """Return what follows a clean take: back to the whole, a rest, up, or the next in the course."""
    bpm = played.bpm
    happened = f"Clean at {tempo_words(bpm)}."
    if played.rest:
        return _rest(happened, played.rest, clean=True)
    if played.whole_title is not None and played.whole_bpm is not None:
        return NextStep(
            happened=happened,
            todo=Todo.WHOLE,
            words=f"All of it again at {tempo_words(played.whole_bpm)}",
            why="What was played alone goes back to where it belongs.",
            bpm=played.whole_bpm,
            clean=True,
        )
    goal = played.pattern.goal_bpm
    if bpm >= goal and played.following is not None:
        why = (
            f"{tempo_words(bpm)} is the goal of this one."
            if bpm == goal
            else "The goal of this one is behind you."
        )
        return _next(happened, played.following, why)
    if played.for_a_change is not None:
        return _next(
            happened, played.for_a_change, "After some minutes a change keeps more than going on does."
        )
    most = goal if bpm < goal else played.pattern.fastest_bpm
    up = _up(bpm, most) if played.ladder_bpm is None else played.ladder_bpm
    if up <= bpm:
        return _again(played, happened, "That is as fast as it is played.", bpm, clean=True)
    why = "A clean tempo goes up by a twentieth." if up < most else f"{tempo_words(most)} is the goal."
    return _again(played, happened, why, up, clean=True)


def _up(bpm: Fraction, most: Fraction) -> Fraction:
    return min(Fraction(math.ceil(bpm * STEP)), max(most, bpm))


def _next(happened: str, following: Following, why: str) -> NextStep:
    return NextStep(
        happened=happened,
        todo=Todo.NEXT,
        words=f"Next: {following.title}, at {tempo_words(following.bpm)}",
        why=why,
        bpm=following.bpm,
        pattern=following.pattern,
        clean=True,
    )


def _rest(happened: str, minutes: int, *, clean: bool = False, told: int = 0) -> NextStep:
    return NextStep(
        happened=happened,
        todo=Todo.REST,
        words=f"Rest for {minutes} minutes",
        why="You have played for 25 minutes; hands and ears learn while they rest.",
        clean=clean,
        told=told,
    )


# Not clean


def _after_faults(played: LastDrill) -> NextStep:
    findings = [finding for finding in played.findings if finding.fault is not Fault.READING]
    before = len(played.findings) - len(findings)
    if played.clean_bpm is not None:
        return _between(played)
    if not findings:
        return _without_findings(played)
    finding = findings[0]
    happened = f"Not yet: {finding_clause(finding)}."
    if played.rest:
        return _rest(happened, played.rest, told=before + 1)
    return _remedied(played, finding, happened, before + 1)


def _between(played: LastDrill) -> NextStep:
    """Return what follows where the ladder has gone beyond what was clean."""
    assert played.clean_bpm is not None
    happened = f"Clean at {tempo_words(played.clean_bpm)}, not yet at {tempo_words(played.bpm)}."
    bpm = played.clean_bpm if played.ladder_bpm is None else played.ladder_bpm
    return _again(played, happened, f"In the last pass: {played.why}." if played.why else "", bpm)


def _without_findings(played: LastDrill) -> NextStep:
    if played.clean_passes:
        left = played.needed - played.clean_passes
        happened = f"Clean so far: {_passes(played.clean_passes)}."
        return _again(
            played, happened, f"{_passes(left)} more in a row, and {tempo_words(played.bpm)} is clean."
        )
    bpm = played.bpm if played.ladder_bpm is None else min(played.ladder_bpm, played.bpm)
    return _again(played, f"Not yet: {played.why or 'not enough was played'}.", bpm=bpm)


def _remedied(played: LastDrill, finding: Finding, happened: str, told: int) -> NextStep:
    fault, bpm = finding.fault, played.bpm
    less = slower(bpm)
    if fault in (Fault.RUSHED_GAP, Fault.DRAGGED_GAP, Fault.TOUCHED_SKIP) and has_gap(played.pattern):
        return NextStep(
            happened=happened,
            todo=Todo.GAP,
            words=f"The gap alone at {tempo_words(less)}",
            why=WHY[fault],
            bpm=less,
            told=told,
        )
    bar = played.change_bar
    if (
        fault in (Fault.LATE_AFTER_CHANGE, Fault.LATE_CHANGE)
        and bar is not None
        and len(played.pattern.bars) > 2
    ):
        first, last = (bar - 1, bar) if bar else (0, 1)
        return NextStep(
            happened=happened,
            todo=Todo.BARS,
            words=f"Bars {first + 1} and {last + 1} alone at {tempo_words(less)}",
            why=WHY[fault],
            bpm=less,
            bars=(first, last),
            told=told,
        )
    if fault in _SAME_TEMPO:
        return _again(played, happened, WHY[fault], bpm, told=told)
    share = FIFTH if fault is Fault.MISSED else TENTH
    return _again(played, happened, WHY[fault], slower(bpm, share), told=told)


_SAME_TEMPO = (Fault.WRONG_STRING, Fault.AHEAD, Fault.BEHIND, Fault.DRIFT_AHEAD)


def _again(
    played: LastDrill,
    happened: str,
    why: str = "",
    bpm: Fraction | None = None,
    *,
    clean: bool = False,
    told: int = 0,
) -> NextStep:
    bpm = played.bpm if bpm is None else bpm
    return NextStep(
        happened=happened, todo=Todo.AGAIN, words=again_words(bpm), why=why, bpm=bpm, clean=clean, told=told
    )


def _passes(count: int) -> str:
    return "1 pass" if count == 1 else f"{count} passes"
