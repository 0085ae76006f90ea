"""Answer the command that writes a pattern, a break or a chart as a Standard MIDI File."""

from __future__ import annotations

import argparse
from pathlib import Path

from trainer.commands.parsing import (
    Answer,
    Commands,
    add_bpm,
    add_pattern,
    midi_name_notes,
    read_swing,
    whole,
)
from trainer.errors import BadSettings
from trainer.music.layout import Feel
from trainer.music.timeline import as_tempo, slot_in_beat
from trainer.records.library import load_library, open_pattern
from trainer.records.midiscore import score_notes, write_score

MOST_NOTES = 500_000  # a file of some 4 MB


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("midi", help="write a pattern, a break or a chart as a Standard MIDI File")
    add_pattern(parser)
    add_bpm(parser)
    parser.add_argument("--passes", metavar="N", default="1", help="how often it is played (default: 1)")
    parser.add_argument("--swing", metavar="R", default="1", help="long to short, 1 (default) is straight")
    parser.add_argument("--to", metavar="FILE.mid", required=True, help="file to write")

    def run(o: argparse.Namespace) -> Answer:
        return write_midi(o.pattern, to=o.to, bpm=o.bpm, passes=whole(o.passes, "--passes", 1), swing=o.swing)

    parser.set_defaults(command=run)


def write_midi(
    pattern_name: str, *, to: str, bpm: str | None = None, passes: int = 1, swing: str = "1"
) -> Answer:
    """Write a pattern as a Standard MIDI File.

    Raises:
        TrainerError: the pattern or an option cannot be used, or the file cannot be written.
    """
    pattern = open_pattern(pattern_name, load_library())
    tempo = pattern.slow_bpm if bpm is None else as_tempo(bpm)
    ratio = read_swing(swing)
    slot_in_beat(pattern.slots_per_beat, 0, ratio)  # a ratio out of bounds is said before anything is written
    strings = sum(len(stroke.strings) for stroke in pattern.strokes)
    if strings * passes > MOST_NOTES:
        raise BadSettings(
            f"{passes} passes of {pattern.name} have more than {MOST_NOTES} notes",
            f"write at most {MOST_NOTES // strings} passes",
        )
    feel = Feel(swing=ratio)
    path = Path(to)
    write_score(path, pattern, tempo, passes=passes, feel=feel)
    notes = len(score_notes(pattern, passes=passes, feel=feel))
    bars = passes * len(pattern.bars)
    return Answer(
        lines=(f"{path}: {pattern.title}, {bars} bars at {float(tempo):g} beats a minute, {notes} notes.",),
        notes=midi_name_notes(path),
    )
