"""Answer the commands in which simulated hands play: write their take, or show them being graded.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
import json
import textwrap
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from trainer.commands.parsing import (
    Answer,
    Commands,
    add_pattern,
    by_kind,
    midi_name_notes,
    read_number,
    read_swing,
    whole,
)
from trainer.commands.window import has_display, open_window
from trainer.errors import BadSettings, DeviceProblem, StoreProblem
from trainer.judging.changes import first_after_changes
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, lay_out
from trainer.music.timeline import Timeline, as_tempo, count_in_beats
from trainer.opening import Opening
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN, DEMO_SEED
from trainer.practice.faults import LARGEST_MS, LARGEST_SPEED_UP, Faults
from trainer.practice.hands import simulate
from trainer.practice.report import COLUMNS, GradedTake, report_lines
from trainer.practice.truth import truth_dict
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take

NO_FAULTS = Faults()
LARGEST_PERCENT = 100 * LARGEST_SPEED_UP


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_hands(each)
    _add_demo(each)


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
    bpm, swing = as_tempo(order.bpm), read_swing(order.swing)
    timeline = Timeline.steady(bpm)
    targets = lay_out(pattern, timeline, passes=order.passes, feel=Feel(swing=swing))
    if order.faults.late_change_s and not first_after_changes(targets, pattern.chart):
        raise BadSettings(
            f"{pattern.name} has no chord change that --late-change could follow",
            "leave the option out or choose a pattern with chords",
        )
    take = simulate(targets, order.faults, np.random.default_rng(order.seed), chart=pattern.chart)
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
        ),
        notes=midi_name_notes(path),
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
    if faults.late_change_s:
        words.append(f"the stroke after a chord change {faults.late_change_s * 1000:.0f} ms late")
    if faults.speed_up:
        words.append(f"{100 * faults.speed_up:g} % faster with each pass")
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


def _add_hands(each: Commands) -> None:
    parser = each.add_parser("hands", help="write the take of a simulated player with the faults you name")
    add_pattern(parser)
    parser.add_argument("--bpm", metavar="N", required=True, help="beats a minute")
    parser.add_argument(
        "--passes", metavar="N", default="4", help="how often it plays the pattern (default: 4)"
    )
    parser.add_argument(
        "--to", metavar="TAKE.mid", required=True, help="file to write; TAKE.truth.json comes too"
    )
    parser.add_argument("--swing", metavar="R", default="1", help="long to short, 1 (default) is straight")
    parser.add_argument(
        "--early", metavar="KIND=MS", action="append", default=[],
        help="a kind of stroke comes early, late when negative; all=MS for every kind; may be repeated",
    )  # fmt: skip
    parser.add_argument("--jitter", metavar="MS", default="0", help="standard deviation of every stroke")
    parser.add_argument("--rush-gap", metavar="MS", default="0", help="the stroke after a skip comes early")
    parser.add_argument(
        "--late-change", metavar="MS", default="0", help="the stroke after a chord change comes late"
    )
    parser.add_argument(
        "--speed-up", metavar="PERCENT", default="0", help="the inner clock goes faster with each pass"
    )
    parser.add_argument("--touch-skips", metavar="P", default="0", help="probability of touching on a skip")
    parser.add_argument("--miss", metavar="P", default="0", help="probability of leaving out a stroke")
    parser.add_argument("--stray", metavar="P", default="0", help="probability of an extra tap after a slot")
    parser.add_argument(
        "--wrong-hand", metavar="P", default="0", help="probability of thumb for nail, or back"
    )
    parser.add_argument("--double", metavar="P", default="0", help="probability of a pad that bounces")
    parser.add_argument(
        "--clock", metavar="MS", default="0", help="standard deviation of the inner timekeeper"
    )
    parser.add_argument("--motor", metavar="MS", default="0", help="standard deviation of the motor delay")
    parser.add_argument("--one-pad", action="store_true", help="all taps come from one pad")
    parser.add_argument(
        "--seed", metavar="N", default="1", help="the same seed gives the same take (default: 1)"
    )

    def run(o: argparse.Namespace) -> Answer:
        return play_hands(
            HandsOrder(
                pattern=o.pattern,
                bpm=o.bpm,
                to=o.to,
                passes=whole(o.passes, "--passes", 1),
                swing=o.swing,
                seed=whole(o.seed, "--seed", 0, most=2**32 - 1),
                faults=read_faults(o),
            )
        )

    parser.set_defaults(command=run)


def _add_demo(each: Commands) -> None:
    parser = each.add_parser("demo", help="watch a simulated player being graded (start here)")
    parser.set_defaults(command=lambda _options: demo())


def read_faults(options: argparse.Namespace) -> Faults:
    """Return the faults that the options of ``hands`` name.

    Raises:
        BadSettings: one of them is no number, or no hand can do it.
    """

    def seconds(text: str, what: str) -> float:
        return read_number(text, what, -LARGEST_MS, LARGEST_MS) / 1000

    def share(name: str) -> float:
        return read_number(getattr(options, name), f"--{name.replace('_', '-')}", 0, 1)

    return Faults(
        lean_s=tuple((kind, -late_s) for kind, late_s in by_kind(options.early, "--early")),
        jitter_s=seconds(options.jitter, "--jitter"),
        rush_gap_s=seconds(options.rush_gap, "--rush-gap"),
        late_change_s=seconds(options.late_change, "--late-change"),
        speed_up=read_number(options.speed_up, "--speed-up", -LARGEST_PERCENT, LARGEST_PERCENT) / 100,
        clock_sd_s=seconds(options.clock, "--clock"),
        motor_sd_s=seconds(options.motor, "--motor"),
        touch_skips=share("touch_skips"),
        miss=share("miss"),
        stray=share("stray"),
        wrong_hand=share("wrong_hand"),
        double=share("double"),
        one_pad=options.one_pad,
    )
