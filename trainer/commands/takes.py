"""Answer the command that grades a recorded take.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_pattern, by_kind, read_number, read_swing, whole
from trainer.commands.recordings import PlacedRecording, RecordingAsked, read_recording
from trainer.judging.offset import passes_reached
from trainer.judging.pocket import Pocket
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.statistics import summarise
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.practice.reading_so_far import figures_beside
from trainer.practice.report import GradedTake, report_dict, report_lines
from trainer.records.library import Library, load_library, open_pattern


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
    asked_for = RecordingAsked(bpm=order.bpm, pads=order.pads, offset=order.offset)
    take = read_recording(Path(order.take), pattern, asked_for, feel)
    found = graded(
        pattern,
        library,
        take,
        source=Path(order.take).name,
        passes=order.passes,
        pocket=order.pocket,
        feel=feel,
        click_off=order.click_off,
    )
    report = report_dict(found)
    lines = (json.dumps(report, indent=1, ensure_ascii=False),) if order.as_json else report_lines(found)
    below = order.goal is not None and not _reaches(found, order.goal)
    return Answer(lines=lines, notes=take.notes, exit_code=1 if below else 0)


def graded(
    pattern: Pattern,
    library: Library,
    take: PlacedRecording,
    *,
    source: str,
    passes: int | None,
    pocket: str | None,
    feel: Feel,
    click_off: bool = False,
) -> GradedTake:
    """Return a recorded take with its judgement.

    Args:
        passes: how often the pattern was asked; None for as far as the take goes.
        pocket: its name; None for the take's own, else the middle one.

    Raises:
        BadSettings: no such pocket.
    """
    timeline = Timeline.steady(take.bpm)
    by = Pocket.named(pocket or take.pocket or Pocket.MIDDLE.value)
    reached = passes or passes_reached(pattern, timeline, take.taps[-1].song_s)
    targets = lay_out(pattern, timeline, passes=reached, feel=feel)
    asked = Asked(pattern=pattern, timeline=timeline, passes=passes, feel=feel, knows_left=take.knows_left)
    others = figures_beside(pattern, library.patterns)
    return GradedTake(
        pattern=pattern,
        bpm=take.bpm,
        passes=reached,
        pocket=by,
        swing=feel.swing,
        source=source,
        offset_s=take.offset_s,
        click_off=click_off,
        placed_by=take.placed_by,
        judgement=reading_of(asked, targets, take.taps, others=others, pocket=by),
    )


def _reaches(graded: GradedTake, goal: float) -> bool:
    """Return whether enough was played as asked; what was played otherwise does not count, however clean."""
    if graded.judgement.reading is not None and not graded.judgement.reading.kind.is_as_asked:
        return False
    summary = summarise(graded.judgement)
    return summary.asked > 0 and 100 * summary.clean >= goal * summary.asked


def _add_grade(each: Commands) -> None:
    parser = each.add_parser("grade", help="grade a recorded take: a MIDI file, or the sound of a banjo")
    add_pattern(parser)
    parser.add_argument("take", metavar="TAKE", help="TAKE.mid, or TAKE.wav (also FLAC, Ogg, MP3)")
    parser.add_argument("--bpm", metavar="N", help="beats a minute (default: the file's tempo)")
    parser.add_argument(
        "--passes", metavar="N", help="how often it was played (default: as far as the take goes)"
    )
    parser.add_argument(
        "--pads",
        metavar="PADS",
        help="notes of the pads: nail=36,thumb=38 (default: guessed from what they play, and said)",
    )
    parser.add_argument(
        "--offset",
        metavar="S",
        help="second of the file at which beat 0 lies, or auto (default: the file's beginning, unless it "
        "plainly lies elsewhere)",
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
