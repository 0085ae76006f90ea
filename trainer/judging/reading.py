"""Read a take: say how it was played as a whole, and judge its strokes under that.

The strokes are judged as asked when they were played as asked. Under another reading every stroke is judged
against the place where that reading expects it, so that a player who was one bar late and otherwise clean is
found clean. Strokes that the reading says were never begun (before joining in, after stopping, in a bar left
out) are not judged. When nothing fits, no stroke is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from trainer.judging.pocket import Pocket
from trainer.judging.reading_fit import Version
from trainer.judging.reading_grid import Asked, FigureLaying, Grid
from trainer.judging.reading_scale import Weighed
from trainer.judging.reading_weigh import Weighing, taps_weighed, weigh_take
from trainer.judging.reading_words import SHIFTS, Facts, bars_in_words, sentence_of
from trainer.judging.readings import Reading, ReadingKind
from trainer.judging.spared import is_spared
from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import Target
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline, count_in_beats

MOST_AHEAD_S = 0.080  # 20 to 80 ms ahead are usual: Aschersleben 2002, Repp 2005 (from memory)
MOST_BEHIND_S = 0.060
LEAST_SAID_S = 0.015  # a steady lead or lag below is nobody's concern
STEADY_SHARE = 0.1  # of a slot: the spread of a place that can be called steady
LEAST_SWING = 1.15  # times the swing asked; less is a lean of the thumb
LEAST_TIMED = 8
SLOT_SHARE, BEAT_SHARE = 0.12, 0.27  # of a slot: so near to a slot, or to a beat and more, a shift is one
SWING_NATS = -2.0  # a swing may be no better than leans of its strokes; it says the same in fewer words
TIME_NAMES = {0.5: ReadingKind.DOUBLE_TIME, 2.0: ReadingKind.HALF_TIME}
TIME_REACH = 0.03  # of the rate: so near to half or double


def reading_of(
    asked: Asked,
    targets: Sequence[Target],
    taps: Sequence[Tap],
    *,
    others: Sequence[Pattern] = (),
    pocket: Pocket = Pocket.MIDDLE,
) -> Judgement:
    """Read a take and judge it under its reading.

    Args:
        targets: what was asked, laid out as ``asked`` says.
        taps: in any order.
        others: figures that may have been played instead.

    Returns:
        A judgement with its ``reading``. Its outcomes are those of ``targets`` without rests, in their order;
        where another figure was played, those of that figure.
    """
    ordered = tuple(sorted(taps, key=lambda tap: tap.song_s))
    heard = _heard(asked, ordered)
    if not heard or not any(t.stroke.kind.sounds for t in targets):
        kind = ReadingKind.AS_ASKED if heard else ReadingKind.NOTHING_PLAYED
        reading = Reading(kind=kind, sentence=sentence_of(Facts(kind=kind)))
        if not heard:
            return replace(_nothing_judged(targets, ordered, pocket), reading=reading)
        return replace(_judged(targets, ordered, asked, pocket), reading=reading)
    return told(weigh_take(asked, heard, others), asked, targets, ordered, pocket=pocket)


def told(
    weighing: Weighing, asked: Asked, targets: Sequence[Target], taps: tuple[Tap, ...], *, pocket: Pocket
) -> Judgement:
    """Return the judgement of a take that was weighed, with its reading."""
    best = weighing.best
    if best is None:
        facts = Facts(kind=ReadingKind.NOTHING_FITS, amount=weighing.taps_a_second, even=weighing.even)
        reading = Reading(
            kind=facts.kind,
            sentence=sentence_of(facts),
            amount=weighing.taps_a_second,
            unit="taps a second",
            margin=weighing.margin,
        )
        return replace(_nothing_judged(targets, taps, pocket), reading=reading)
    kinds, amount, unit, moved_s = _kinds(best, asked)
    if kinds:
        judgement = _under(best, asked, targets, taps, kinds, moved_s, pocket)
    else:
        judgement = _judged(targets, taps, asked, pocket, constant_s=best.fit.constant_s)
    facts = _facts(best, asked, kinds, amount, unit, judgement)
    reading = Reading(
        kind=facts.kind,
        sentence=sentence_of(facts),
        amount=amount,
        unit=unit,
        margin=weighing.margin,
        also=facts.also,
        figure=best.guess.pattern.name if facts.kind is ReadingKind.ANOTHER_FIGURE else "",
    )
    return replace(judgement, reading=reading)


def _heard(asked: Asked, taps: Sequence[Tap]) -> tuple[Tap, ...]:
    """Return the taps that are read: not those beside a stall of the sound, nor those of the side pad."""
    return tuple(tap for tap in taps if tap.hand is not Hand.NONE and not is_spared(asked.spans, tap.song_s))


def _judged(
    targets: Sequence[Target],
    taps: Sequence[Tap],
    asked: Asked,
    pocket: Pocket,
    *,
    constant_s: float = 0.0,
) -> Judgement:
    """Judge, with what all taps have in common taken off before they are paired, if it is worth it."""
    most_s = max(MOST_AHEAD_S, MOST_BEHIND_S)
    constant_s = max(-most_s, min(most_s, constant_s))
    return judge(
        targets,
        taps,
        pocket=pocket,
        knows_left=asked.knows_left,
        marks_skips=asked.marks_skips,
        spans=asked.spans,
        constant_s=constant_s if abs(constant_s) >= LEAST_SAID_S else 0.0,
    )


def _kinds(best: Weighed, asked: Asked) -> tuple[list[ReadingKind], float | None, str, float]:
    """Return what the best version amounts to, the main thing first, with its size.

    Returns:
        The kinds (none for a take as asked with nothing to say), the amount and unit of the first, and the
        seconds by which the version's strokes are to be moved before they are judged.
    """
    found: list[tuple[ReadingKind, float | None, str]] = []
    guess, fit = best.guess, best.fit
    course = guess.course
    moved_s = 0.0
    if guess.pattern.name != asked.pattern.name:
        found.append((ReadingKind.ANOTHER_FIGURE, None, ""))
    bpm = _steady_bpm(asked.timeline)
    own_tempo = course.rate != 1.0 or bool(course.bend)
    if own_tempo:
        first, last = _end_rates(best)
        kind = next((k for by, k in TIME_NAMES.items() if abs(first / by - 1) < TIME_REACH), None)
        if course.bend:
            found.append((ReadingKind.DRIFTING_TEMPO, bpm and bpm / last, "beats a minute"))
        else:
            found.append((kind or ReadingKind.OTHER_TEMPO, bpm and bpm / course.rate, "beats a minute"))
    if guess.jumps:
        found += _jump_kinds(best, asked)
    slot_s = Grid(asked.timeline, asked.pattern.slots_per_beat).slot_s
    shift_s = course.start * slot_s + fit.constant_s
    if own_tempo:
        # Where a tempo of its own begins is no lag; a whole bar late is one.
        bar_s = asked.pattern.slots_per_bar * slot_s
        late = not asked.is_part and 0.75 * bar_s < abs(shift_s) < 2.25 * bar_s
        shift_s = shift_s if late else 0.0
    if guess.pattern.name == asked.pattern.name or abs(course.start) >= 0.5:
        shift, moved_s = _shift_kind(shift_s, slot_s, asked, own_tempo=own_tempo, bars_known=best)
        found += shift
    if guess.exchanged:
        found.append((ReadingKind.PADS_EXCHANGED, None, ""))
    if guess.only is not None:
        found.append((ReadingKind.ONE_HAND_ONLY, None, ""))
    shifted = any(
        kind in SHIFTS and kind not in (ReadingKind.EARLY, ReadingKind.LATE) for kind, _, _ in found
    )
    if best.begun and not shifted and not own_tempo and not asked.is_part:
        found.append((ReadingKind.BEGUN_LATE, float(best.begun), "bars"))
    whole = asked.passes is not None and not asked.is_part
    if best.ended and not shifted and not own_tempo and whole:
        found.append((ReadingKind.STOPPED_EARLY, float(best.ended), "bars"))
    if not found or all(kind in (ReadingKind.BEGUN_LATE, ReadingKind.STOPPED_EARLY) for kind, _, _ in found):
        ratio = _swing(best, asked, slot_s)
        if ratio is not None:
            found.append((ReadingKind.SWUNG, ratio, "to 1"))
    if not found:
        steady = fit.spread_s <= STEADY_SHARE * slot_s and fit.hits >= LEAST_TIMED
        if abs(fit.constant_s) >= LEAST_SAID_S and steady:
            return [], fit.constant_s * 1000, "ms", 0.0
        return [], None, "", 0.0
    kind, amount, unit = found[0]
    return [k for k, _, _ in found], amount, unit if amount is not None else "", moved_s


def _shift_kind(
    shift_s: float, slot_s: float, asked: Asked, *, own_tempo: bool, bars_known: Weighed
) -> tuple[list[tuple[ReadingKind, float | None, str]], float]:
    """Return how a shift is called, and by how much the version's strokes must still be moved."""
    course, constant_s = bars_known.guess.course, bars_known.fit.constant_s
    slots = round(shift_s / slot_s)
    rest_s = shift_s - slots * slot_s
    share = SLOT_SHARE if abs(slots) < asked.pattern.slots_per_beat else BEAT_SHARE
    near = -MOST_AHEAD_S <= rest_s <= MOST_BEHIND_S and abs(rest_s) <= share * slot_s
    # A whole shift is taken off whole, so that a lead or lag beside it stays to be seen.
    to_whole_s = slots * slot_s - course.start * slot_s
    if slots and (near or own_tempo):
        spb, bar = asked.pattern.slots_per_beat, asked.pattern.slots_per_bar
        late = slots > 0
        names = (
            (2 * bar, ReadingKind.TWO_BARS_LATE, ReadingKind.TWO_BARS_EARLY, 2.0, "bars"),
            (bar, ReadingKind.BAR_LATE, ReadingKind.BAR_EARLY, 1.0, "bars"),
            (spb, ReadingKind.BEAT_LATE, ReadingKind.BEAT_EARLY, 1.0, "beats"),
            (1, ReadingKind.SLOT_LATE, ReadingKind.SLOT_EARLY, 1.0, "slots"),
        )
        moved_s = 0.0 if own_tempo else to_whole_s
        for size, when_late, when_early, amount, unit in names:
            if abs(slots) == size:
                signed = amount if late else -amount
                return [(when_late if late else when_early, signed, unit)], moved_s
        kind = ReadingKind.LATE if late else ReadingKind.EARLY
        if abs(slots) > 2 * bar:
            return [(ReadingKind.BEGUN_LATE, float(-slots) / bar, "bars")], moved_s
        if slots % spb == 0:
            return [(kind, slots / spb, "beats")], moved_s
        return [(kind, float(slots), "slots")], moved_s
    if own_tempo:
        return [], 0.0
    if shift_s < -MOST_AHEAD_S or shift_s > MOST_BEHIND_S:
        kind = ReadingKind.LATE if shift_s > 0 else ReadingKind.EARLY
        return [(kind, shift_s * 1000, "ms")], constant_s
    return [], to_whole_s


def _jump_kinds(best: Weighed, asked: Asked) -> list[tuple[ReadingKind, float | None, str]]:
    jumps = best.guess.jumps
    spb, bar = asked.pattern.slots_per_beat, asked.pattern.slots_per_bar
    moved = jumps[1].late - jumps[0].late
    if moved % bar == 0:
        kind = ReadingKind.BAR_REPEATED if moved > 0 else ReadingKind.BAR_DROPPED
        return [(kind, float(abs(moved) // bar), "bars")]
    if moved % spb == 0:
        return [(ReadingKind.LOST_PLACE, moved / spb, "beats")]
    return [(ReadingKind.LOST_PLACE, float(moved), "slots")]


def _end_rates(best: Weighed) -> tuple[float, float]:
    """Return the rates at the first and the last stroke of a version."""
    course, version = best.guess.course, best.version
    spb = version.slots_per_beat
    j = [float(t.beat) * spb for t in version.targets]
    return course.rate + 2 * course.bend * j[0], course.rate + 2 * course.bend * j[-1]


def _swing(best: Weighed, asked: Asked, slot_s: float) -> float | None:
    """Return the swing played, long to short; None where it is none or that which was asked."""
    fit = best.fit
    if not fit.swing_s or fit.swing_gain < SWING_NATS or fit.hits < LEAST_TIMED:
        return None
    long = 2 * slot_s * float(asked.feel.swing / (1 + asked.feel.swing)) + fit.swing_s
    short = 2 * slot_s - long
    if short <= 0:
        return None
    ratio = long / short
    by = ratio / float(asked.feel.swing)
    if by >= LEAST_SWING or (by <= 1 / LEAST_SWING and asked.feel.swing > 1):
        return ratio
    return None


def _steady_bpm(timeline: Timeline) -> float | None:
    return float(timeline.spans[0].bpm) if len(timeline.spans) == 1 else None


def _under(
    best: Weighed,
    asked: Asked,
    targets: Sequence[Target],
    taps: tuple[Tap, ...],
    kinds: Sequence[ReadingKind],
    moved_s: float,
    pocket: Pocket,
) -> Judgement:
    """Judge under a version; what it leaves out of what was asked is not judged."""
    version, swing_s = _whole(best, asked, taps), 0.0
    if ReadingKind.SWUNG in kinds:
        swing_s = best.fit.swing_s
    spb = version.slots_per_beat
    moved = [
        replace(
            target,
            song_s=at_s + moved_s + (swing_s if target.slot % spb % 2 == 1 else 0.0),
            slot_s=target.slot_s * version.rate,
        )
        for target, at_s in zip(version.targets, version.at_s, strict=True)
    ]
    played = tuple(_other_hand(tap) for tap in taps) if best.guess.exchanged else taps
    found = _judged(moved, played, asked, pocket, constant_s=best.fit.constant_s - moved_s)
    rows = [
        (outcome, pocket_s)
        for at, (outcome, pocket_s) in enumerate(zip(found.outcomes, found.pocket_s, strict=True))
        if at not in version.copies
    ]
    if best.guess.pattern.name == asked.pattern.name:
        there = {outcome.target.index for outcome, _ in rows}
        rows += [
            (_not_judged(target), pocket.half_width_s(target.slot_s))
            for target in targets
            if target.index not in there and target.stroke.kind is not Kind.REST
        ]
        rows.sort(key=lambda row: row[0].target.index)
    return Judgement(
        outcomes=tuple(outcome for outcome, _ in rows),
        strays=found.strays,
        taps=found.taps,
        pocket_s=tuple(pocket_s for _, pocket_s in rows),
    )


def _whole(best: Weighed, asked: Asked, taps: Sequence[Tap]) -> Version:
    """Return a version as far as the take goes, when only its beginning was weighed."""
    heard = _heard(asked, taps)
    if taps_weighed(asked, heard) == len(heard):
        return best.version
    grid = Grid(asked.timeline, asked.pattern.slots_per_beat)
    layer = FigureLaying(asked, grid, float(grid.slots(np.array([heard[-1].song_s]))[0]))
    guess = best.guess
    return layer.version(guess.pattern, guess.course, jumps=guess.jumps, only=guess.only)


def _nothing_judged(targets: Sequence[Target], taps: tuple[Tap, ...], pocket: Pocket) -> Judgement:
    asked = [target for target in targets if target.stroke.kind is not Kind.REST]
    return Judgement(
        outcomes=tuple(_not_judged(target) for target in asked),
        strays=(),
        taps=taps,
        pocket_s=tuple(pocket.half_width_s(target.slot_s) for target in asked),
    )


def _not_judged(target: Target) -> Outcome:
    return Outcome(target=target, tap=None, tap_index=None, placement_s=None, verdict=Verdict.NOT_JUDGED)


def _other_hand(tap: Tap) -> Tap:
    other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
    return tap if tap.hand is None else replace(tap, hand=other.get(tap.hand, tap.hand))


def _facts(
    best: Weighed,
    asked: Asked,
    kinds: Sequence[ReadingKind],
    amount: float | None,
    unit: str,
    judgement: Judgement,
) -> Facts:
    guess = best.guess
    timed = [o for o in judgement.outcomes if o.placement_s is not None and o.verdict is not Verdict.TOUCHED]
    widths = dict(zip((o.target.index for o in judgement.outcomes), judgement.pocket_s, strict=True))
    own = [abs((o.placement_s or 0.0) - best.fit.constant_s) <= widths[o.target.index] for o in timed]
    bpm = asked.timeline.spans[0].bpm if len(asked.timeline.spans) == 1 else None
    first, last = _end_rates(best)
    return Facts(
        kind=kinds[0] if kinds else ReadingKind.AS_ASKED,
        also=tuple(kinds[1:]),
        amount=amount,
        unit=unit,
        bpm=bpm,
        rate=guess.course.rate,
        bpm_first=float(bpm) / first if bpm else 0.0,
        bpm_last=float(bpm) / last if bpm else 0.0,
        clean_share=summarise(judgement).clean_share,
        in_time=sum(own),
        timed=len(own),
        where=_where(best, asked, kinds[0] if kinds else None),
        hand=guess.only,
        title=guess.pattern.title,
        count_in=count_in_beats(asked.pattern.meter),
    )


def _where(best: Weighed, asked: Asked, kind: ReadingKind | None) -> str:
    """Return where a reading happened, in passes and bars from 1."""
    targets = best.version.targets
    if kind in (ReadingKind.BAR_DROPPED, ReadingKind.BAR_REPEATED, ReadingKind.LOST_PLACE):
        slot = max(0, round(best.guess.jumps[1].since) - best.guess.jumps[0].late)
        bar = slot // asked.pattern.slots_per_bar
        bars = len(asked.pattern.bars)
        return bars_in_words([(bar // bars, bar % bars)])
    if kind is ReadingKind.BEGUN_LATE:
        return bars_in_words([(targets[0].pass_index, targets[0].bar)])
    if kind is ReadingKind.STOPPED_EARLY:
        return bars_in_words([(targets[-1].pass_index, targets[-1].bar)])
    return ""
