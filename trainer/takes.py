"""Answer the commands about takes: grade one, have one played, show both.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from trainer.commands import Answer, has_display, open_window, read_number
from trainer.errors import BadSettings, DeviceProblem, StoreProblem
from trainer.judging.offset import OffsetFound, find_offset, passes_reached
from trainer.judging.pocket import Pocket
from trainer.judging.statistics import summarise
from trainer.judging.take import Tap
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline, as_tempo, count_in_beats
from trainer.opening import Opening
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN, DEMO_SEED
from trainer.practice.hands import Faults, simulate
from trainer.practice.pads import PadMap, read_pads
from trainer.practice.report import COLUMNS, GradedTake, report_dict, report_lines
from trainer.practice.truth import truth_dict
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import RecordedTake, read_take, write_take

FARTHEST_OFFSET_S = 86_400.0
NO_FAULTS = Faults()


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeOrder:
    """What ``thumbfall grade`` was asked, in the words of the command line; None where nothing was said."""

    pattern: str
    take: str
    bpm: str | None = None
    passes: int | None = None
    pads: str | None = None
    offset: str | None = None
    pocket: str | None = None
    swing: str = "1"
    lay_back_s: tuple[tuple[Kind, float], ...] = ()
    click_off: bool = False
    goal: float | None = None
    as_json: bool = False


def grade(order: GradeOrder) -> Answer:
    """Grade a recorded take.

    Raises:
        TrainerError: the pattern, the take or an option cannot be used.
    """
    pattern = open_pattern(order.pattern, load_library())
    feel = Feel(swing=_swing(order.swing), layback_s=order.lay_back_s)
    take = read_take(Path(order.take))
    pocket = Pocket.named(order.pocket or take.pocket or Pocket.MIDDLE.value)
    pads = take.pads() if order.pads is None else read_pads(order.pads)
    taps = take.taps(pads, offset_s=0.0)
    if not taps:
        raise BadSettings("no note of the take comes from the pads named", "check the notes given to --pads")
    bpm = take_tempo(take, pattern) if order.bpm is None else as_tempo(order.bpm)
    timeline = Timeline.steady(bpm)
    knows_left = _knows_left(taps, pads, named=order.pads is not None)
    notes: list[str] = []
    if order.offset == "auto":
        found = find_offset(pattern, timeline, taps, feel=feel, knows_left=knows_left)
        offset_s = found.offset_s
        notes += offset_words(found)
    else:
        offset_s = take.beat_0_s if order.offset is None else _offset(order.offset)
    taps = take.taps(pads, offset_s=offset_s)
    passes = order.passes or passes_reached(pattern, timeline, taps[-1].song_s)
    targets = lay_out(pattern, timeline, passes=passes, feel=feel)
    graded = GradedTake(
        pattern=pattern,
        bpm=bpm,
        passes=passes,
        pocket=pocket,
        swing=feel.swing,
        source=Path(order.take).name,
        offset_s=offset_s,
        click_off=order.click_off,
        judgement=judge(targets, taps, pocket=pocket, knows_left=knows_left),
    )
    report = report_dict(graded)
    lines = (json.dumps(report, indent=1, ensure_ascii=False),) if order.as_json else report_lines(graded)
    below = order.goal is not None and not _reaches(graded, order.goal)
    return Answer(lines=lines, notes=tuple(notes), exit_code=1 if below else 0)


def take_tempo(take: RecordedTake, pattern: Pattern) -> Fraction:
    """Return a take's own tempo in beats of a pattern's meter.

    A MIDI file holds whole microseconds to the quarter note. The roundest tempo that is written in that way
    is taken, so that 97 comes back as 97 and does not wander off over a long take.

    Raises:
        BadSettings: the file names no tempo, or one that cannot be used.
    """
    if take.bpm is None:
        raise BadSettings("the take names no tempo", "give it with --bpm")
    quarters = pattern.meter.beat_quarters
    tempo_us = round(60e6 / take.bpm)
    exact = Fraction(60_000_000, tempo_us) / quarters
    for parts in (1, 2, 3, 4, 10, 100, 1000):
        rounded = Fraction(round(exact * parts), parts)
        if rounded > 0 and round(60_000_000 / (rounded * quarters)) == tempo_us:
            return as_tempo(rounded)
    return as_tempo(exact)


def offset_words(found: OffsetFound) -> list[str]:
    """Return what is said about an offset that was found, not given."""
    words = [
        f"Beat 0 was found at {found.offset_s:.3f} s of the take ({found.paired} of the first "
        f"{found.looked_at} taps fit a stroke). An early or late lean common to all strokes cannot be told "
        "from it."
    ]
    if not found.is_clear and found.next_s is not None:
        words.append(f"{found.next_s:.3f} s fits nearly as well; give --offset if you know better.")
    return words


@dataclass(frozen=True, slots=True, kw_only=True)
class HandsOrder:
    """What ``thumbfall hands`` was asked."""

    pattern: str
    bpm: str
    to: str
    passes: int = 4
    swing: str = "1"
    seed: int = 1
    faults: Faults = NO_FAULTS


def play_hands(order: HandsOrder) -> Answer:
    """Write the take of a simulated player, and the truth beside it.

    Raises:
        TrainerError: the pattern or an option cannot be used, or a file cannot be written.
    """
    pattern = open_pattern(order.pattern, load_library())
    bpm, swing = as_tempo(order.bpm), _swing(order.swing)
    timeline = Timeline.steady(bpm)
    targets = lay_out(pattern, timeline, passes=order.passes, feel=Feel(swing=swing))
    take = simulate(targets, order.faults, np.random.default_rng(order.seed))
    if not take.taps:
        raise BadSettings("the simulated player touched nothing", "choose a lower --miss or another pattern")
    # A MIDI file has no time before its start, so an early first stroke needs room in front.
    early = take.taps[0].song_s < 0
    lead_s = timeline.seconds(Fraction(count_in_beats(pattern.meter))) if early else 0.0
    path = Path(order.to)
    write_take(path, take.taps, timeline, pattern.meter, title=pattern.title, lead_s=lead_s)
    truth = truth_dict(
        take,
        targets,
        order.faults,
        pattern=pattern.name,
        bpm=bpm,
        passes=order.passes,
        swing=swing,
        seed=order.seed,
        offset_s=lead_s,
    )
    truth_path = path.with_suffix(".truth.json")
    try:
        truth_path.write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")
    except OSError as err:
        raise StoreProblem(
            f"{truth_path} cannot be written ({err.strerror})", "choose another place"
        ) from err
    lead = f"; beat 0 lies at {lead_s:.3f} s and is marked in the file" if early else ""
    return Answer(
        lines=(
            f"{path}: {len(take.taps)} taps{lead}.",
            f"{truth_path}: what the simulated player really did.",
        )
    )


def demo() -> Answer:
    """Show a simulated player being graded: in the window, or in words where there is none."""
    notes: tuple[str, ...] = ()
    if has_display():
        try:
            return Answer(exit_code=open_window(Opening(demo=True)))
        except DeviceProblem as err:
            notes = (str(err),)
    return Answer(lines=demo_lines(), notes=notes)


def demo_lines() -> tuple[str, ...]:
    """Return the demonstration in words."""
    pattern = load_library().find(DEMO_PATTERN).pattern
    targets = lay_out(pattern, Timeline.steady(DEMO_BPM), passes=DEMO_PASSES)
    take = simulate(targets, DEMO_FAULTS, np.random.default_rng(DEMO_SEED))
    graded = GradedTake(
        pattern=pattern,
        bpm=DEMO_BPM,
        passes=DEMO_PASSES,
        source="a simulated player",
        judgement=judge(targets, take.taps, knows_left=True),
    )
    told = (
        f"A simulated player was given this figure and these faults: {fault_words(DEMO_FAULTS)}. "
        "The judge, who knows only the taps, found:"
    )
    return (*textwrap.wrap(told, COLUMNS), "", *report_lines(graded))


def fault_words(faults: Faults) -> str:
    """Return the faults of a simulated player as a list in words; those it does not have are left out."""
    words = [
        f"{kind.value} {abs(seconds) * 1000:.0f} ms {'late' if seconds > 0 else 'early'}"
        for kind, seconds in faults.lean_s
        if seconds
    ]
    if faults.rush_gap_s:
        words.append(f"the stroke after a skip {faults.rush_gap_s * 1000:.0f} ms early")
    if faults.jitter_s:
        words.append(f"every stroke off by {faults.jitter_s * 1000:.0f} ms (standard deviation)")
    shares = (
        (faults.touch_skips, "of skips touched"),
        (faults.miss, "of strokes left out"),
        (faults.wrong_hand, "of strokes by the wrong hand"),
        (faults.stray, "of slots with an extra tap"),
        (faults.double, "of taps doubled"),
    )
    words += [f"{100 * share:.0f} % {what}" for share, what in shares if share]
    return ", ".join(words) or "none"


def _offset(text: str) -> float:
    return read_number(text, "the offset", -FARTHEST_OFFSET_S, FARTHEST_OFFSET_S)


def _swing(text: str) -> Fraction:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        raise BadSettings(f'found "{text}" for the swing', "write long to short, such as 1.5 or 2") from None


def _knows_left(taps: Sequence[Tap], pads: PadMap, *, named: bool) -> bool:
    """Return whether the left hand can be judged.

    A file of our own has a place for the left hand whether or not the player had a pad for it, so there it
    counts as heard only once it has been.
    """
    return pads.knows_left and (named or any(tap.hand is Hand.LEFT for tap in taps))


def _reaches(graded: GradedTake, goal: float) -> bool:
    summary = summarise(graded.judgement)
    return summary.asked > 0 and 100 * summary.clean >= goal * summary.asked
