"""Answer the command that grades a recorded take.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_pattern, by_kind, read_number, read_swing, whole
from trainer.errors import BadSettings
from trainer.judging.offset import OffsetFound, find_offset, passes_reached
from trainer.judging.pocket import Pocket
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.statistics import summarise
from trainer.judging.take import Tap
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline, as_tempo
from trainer.practice.pads import PadMap, read_pads
from trainer.practice.reading_so_far import figures_beside
from trainer.practice.report import GradedTake, report_dict, report_lines
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import read_take

SOUND_ENDINGS = (".wav", ".flac", ".ogg", ".mp3")
FARTHEST_OFFSET_S = 86_400.0


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_grade(each)


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
    library = load_library()
    pattern = open_pattern(order.pattern, library)
    feel = Feel(swing=read_swing(order.swing), layback_s=order.lay_back_s)
    path = Path(order.take)
    source = (
        _heard(path, pattern, order, feel)
        if path.suffix.lower() in SOUND_ENDINGS
        else _recorded(path, pattern, order)
    )
    timeline = Timeline.steady(source.bpm)
    notes = list(source.notes)
    offset_s = source.beat_0_s if order.offset in (None, "auto") else _offset(str(order.offset))
    if order.offset == "auto" or offset_s is None:
        found = find_offset(pattern, timeline, source.plain, feel=feel, knows_left=source.knows_left)
        offset_s = found.offset_s
        notes += offset_words(found)
    taps, bpm, knows_left = source.taps(offset_s), source.bpm, source.knows_left
    pocket = Pocket.named(order.pocket or source.pocket or Pocket.MIDDLE.value)
    if not taps:
        raise BadSettings("nothing was played after beat 0", "look at --offset")
    passes = order.passes or passes_reached(pattern, timeline, taps[-1].song_s)
    targets = lay_out(pattern, timeline, passes=passes, feel=feel)
    asked = Asked(pattern=pattern, timeline=timeline, passes=order.passes, feel=feel, knows_left=knows_left)
    graded = GradedTake(
        pattern=pattern,
        bpm=bpm,
        passes=passes,
        pocket=pocket,
        swing=feel.swing,
        source=Path(order.take).name,
        offset_s=offset_s,
        click_off=order.click_off,
        judgement=reading_of(
            asked, targets, taps, others=figures_beside(pattern, library.patterns), pocket=pocket
        ),
    )
    report = report_dict(graded)
    lines = (json.dumps(report, indent=1, ensure_ascii=False),) if order.as_json else report_lines(graded)
    below = order.goal is not None and not _reaches(graded, order.goal)
    return Answer(lines=lines, notes=tuple(notes), exit_code=1 if below else 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """What is graded, wherever it comes from.

    Attributes:
        plain: the taps in seconds of the file.
        taps: gives them with beat 0 at a second of the file.
        beat_0_s: where the file says that beat 0 lies; None where it does not.
    """

    bpm: Fraction
    plain: tuple[Tap, ...]
    taps: Callable[[float], tuple[Tap, ...]]
    knows_left: bool
    beat_0_s: float | None
    pocket: str = ""
    notes: tuple[str, ...] = ()


def _recorded(path: Path, pattern: Pattern, order: GradeOrder) -> _Source:
    take = read_take(path)
    pads = take.pads() if order.pads is None else read_pads(order.pads)
    plain = take.taps(pads, offset_s=0.0)
    if not plain:
        raise BadSettings("no note of the take comes from the pads named", "check the notes given to --pads")
    return _Source(
        bpm=take_tempo(take.bpm, pattern) if order.bpm is None else as_tempo(order.bpm),
        plain=plain,
        taps=lambda offset_s: take.taps(pads, offset_s=offset_s),
        knows_left=_knows_left(plain, pads, named=order.pads is not None),
        beat_0_s=take.beat_0_s,
        pocket=take.pocket,
    )


def _heard(path: Path, pattern: Pattern, order: GradeOrder, feel: Feel) -> _Source:
    from trainer.commands.heard_takes import hear_take

    if order.pads is not None:
        raise BadSettings("--pads was given for a sound file, in which no pad is heard", "leave it out")
    asked_bpm = None if order.bpm is None else as_tempo(order.bpm)
    take = hear_take(path, pattern, bpm=asked_bpm, feel=feel)
    bpm = asked_bpm or take_tempo(take.bpm, pattern)
    return _Source(
        bpm=bpm,
        plain=take.plain_taps(),
        taps=lambda offset_s: take.taps(bpm, offset_s=offset_s),
        knows_left=True,  # what the left hand sounds is heard like any stroke
        beat_0_s=take.beat_0_s,
        notes=take.notes,
    )


def take_tempo(quarters_a_minute: float | None, pattern: Pattern) -> Fraction:
    """Return a take's own tempo in beats of a pattern's meter.

    A MIDI file holds whole microseconds to the quarter note. The roundest tempo that is written in that way
    is taken, so that 97 comes back as 97 and does not wander off over a long take.

    Raises:
        BadSettings: the file names no tempo, or one that cannot be used.
    """
    if quarters_a_minute is None:
        raise BadSettings("the take names no tempo", "give it with --bpm")
    quarters = pattern.meter.beat_quarters
    tempo_us = round(60e6 / quarters_a_minute)
    exact = Fraction(60_000_000, tempo_us) / quarters
    for parts in (1, 2, 3, 4, 10, 100, 1000):
        rounded = Fraction(round(exact * parts), parts)
        if rounded > 0 and round(60_000_000 / (rounded * quarters)) == tempo_us:
            return as_tempo(rounded)
    return as_tempo(exact)


def offset_words(found: OffsetFound) -> list[str]:
    """Return what is said about an offset that was found, not given."""
    words = [
        f"Beat 0 was found at {found.offset_s:.3f} s of the take ({found.paired} of the {found.looked_at} "
        "taps looked at fit a stroke). An early or late lean common to all strokes cannot be told from it."
    ]
    if not found.is_clear and found.next_s is not None:
        words.append(f"{found.next_s:.3f} s fits nearly as well; give --offset if you know better.")
    return words


def _offset(text: str) -> float:
    return read_number(text, "the offset", -FARTHEST_OFFSET_S, FARTHEST_OFFSET_S)


def _knows_left(taps: Sequence[Tap], pads: PadMap, *, named: bool) -> bool:
    """Return whether the left hand can be judged.

    A file of our own has a place for the left hand whether or not the player had a pad for it, so there it
    counts as heard only once it has been.
    """
    return pads.knows_left and (named or any(tap.hand is Hand.LEFT for tap in taps))


def _reaches(graded: GradedTake, goal: float) -> bool:
    """Return whether enough was played as asked; what was played otherwise does not count, however clean."""
    if graded.judgement.reading is not None and not graded.judgement.reading.kind.is_as_asked:
        return False
    summary = summarise(graded.judgement)
    return summary.asked > 0 and 100 * summary.clean >= goal * summary.asked


def _add_grade(each: Commands) -> None:
    parser = each.add_parser("grade", help="grade a recorded take, a Standard MIDI File")
    add_pattern(parser)
    parser.add_argument("take", metavar="TAKE.mid")
    parser.add_argument("--bpm", metavar="N", help="beats a minute (default: the file's tempo)")
    parser.add_argument(
        "--passes", metavar="N", help="how often it was played (default: as far as the take goes)"
    )
    parser.add_argument(
        "--pads", metavar="PADS", help="notes of the pads: nail=36,thumb=38 (default: timing only)"
    )
    parser.add_argument(
        "--offset", metavar="S", help="second of the file at which beat 0 lies, or auto (default: 0)"
    )
    parser.add_argument(
        "--pocket", metavar="NAME", help="narrow, middle or wide (default: the take's own, else middle)"
    )
    parser.add_argument("--swing", metavar="R", default="1", help="long to short, 1 (default) is straight")
    parser.add_argument(
        "--lay-back", metavar="KIND=MS", action="append", default=[],
        help="a kind of stroke was meant to lie behind the beat; all=MS for every kind; may be repeated",
    )  # fmt: skip
    parser.add_argument(
        "--click-off", action="store_true", help="the click was off after the count-in: split clock and hand"
    )
    parser.add_argument(
        "--goal", metavar="PERCENT", help="exit with 1 when less than this was played as asked"
    )
    parser.add_argument("--json", action="store_true", help="print numbers for programs instead of words")

    def run(o: argparse.Namespace) -> Answer:
        return grade(
            GradeOrder(
                pattern=o.pattern,
                take=o.take,
                bpm=o.bpm,
                passes=None if o.passes is None else whole(o.passes, "--passes", 1),
                pads=o.pads,
                offset=o.offset,
                pocket=o.pocket,
                swing=o.swing,
                lay_back_s=by_kind(o.lay_back, "--lay-back"),
                click_off=o.click_off,
                goal=None if o.goal is None else read_number(o.goal, "--goal", 0, 100),
                as_json=o.json,
            )
        )

    parser.set_defaults(command=run)
