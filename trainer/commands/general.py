"""Answer the commands about patterns, devices and the window; only :mod:`trainer.cli` prints the words.

Window, sound and MIDI ports are imported where they are needed and nowhere else, so that listing, checking
and grading start at once and work where those libraries are missing.
"""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_pattern, whole
from trainer.errors import DeviceProblem, TrainerError
from trainer.music.notation import stroke_words
from trainer.music.timeline import as_tempo
from trainer.opening import Opening
from trainer.practice.report import COLUMNS
from trainer.records.library import Library, load_library, open_pattern, try_read, user_patterns_folder


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_patterns(each)
    _add_check(each)
    _add_devices(each)
    _add_drill(each)


def list_patterns() -> Answer:
    """List the library."""
    library = load_library()
    width = max(len(p.name) for p in library.patterns)
    lines = [f"{'step':>4}  {'name':<{width}}  {'level':<9}  {'tempo':<7}  title"]
    for p in library.patterns:
        tempo = f"{float(p.slow_bpm):g}-{float(p.goal_bpm):g}"
        lines.append(f"{p.step:>4}  {p.name:<{width}}  {p.level.value:<9}  {tempo:<7}  {p.title}")
    lines.append(f"Your own patterns go into {user_patterns_folder()}")
    return Answer(lines=tuple(lines), notes=_library_notes(library))


def show_pattern(name: str) -> Answer:
    """Show one pattern in words."""
    pattern = open_pattern(name, load_library())
    grid = f"{pattern.meter.value}, {pattern.slots_per_beat} slots to a beat"
    tempo = f"{float(pattern.slow_bpm):g} to {float(pattern.goal_bpm):g} beats a minute"
    lines = [
        f"{pattern.title} ({pattern.name})",
        f"step {pattern.step}, level {pattern.level.value}, {grid}, {tempo}",
    ]
    if pattern.needs:
        lines += textwrap.wrap(f"first clean: {', '.join(pattern.needs)}", COLUMNS, break_on_hyphens=False)
    lines += textwrap.wrap(pattern.teacher, COLUMNS)
    for number, bar in enumerate(pattern.bars, start=1):
        lines.append(f"bar {number}")
        lines += [
            f"  slot {slot}  {way.value:<4}  {stroke_words(stroke)}"
            for slot, (way, stroke) in enumerate(zip(pattern.motion, bar, strict=True), start=1)
        ]
    return Answer(lines=tuple(lines))


def check_files(files: Sequence[str]) -> Answer:
    """Say of each file whether it is a good pattern; the exit code is 2 when one is not."""
    lines, notes = [], []
    for file in files:
        read = try_read(Path(file))
        if isinstance(read, TrainerError):
            notes.append(str(read))
            continue
        bars = f"{len(read.bars)} bar{'s' if len(read.bars) != 1 else ''} of {read.meter.value}"
        lines.append(f"{file}: good: {read.title}, {bars}, {len(read.strokes)} slots.")
    return Answer(lines=tuple(lines), notes=tuple(notes), exit_code=2 if notes else 0)


def devices() -> Answer:
    """Say which inputs and outputs there are, and of each that is missing why."""
    from trainer.devices.midi import MidiInputs  # loads the MIDI library
    from trainer.devices.speaker import Speaker  # loads the window library

    inputs = MidiInputs()
    lines = [f"MIDI input: {port}" for port in inputs.ports()]
    if not lines:
        lines = [f"{inputs.note}." if inputs.note else "MIDI input: none is plugged in."]
    inputs.end()
    try:
        Speaker().close()
        lines.append("Sound: the system's default device, 48 kHz 16-bit stereo.")
    except DeviceProblem as err:
        lines.append(f"Sound: {err}")
    lines.append(f"Window: {'there is a display' if has_display() else 'there is no display to open it on'}.")
    lines.append("Keys: f for the nail and j for the thumb in the window, unless changed there.")
    return Answer(lines=tuple(lines))


def open_window(opening: Opening) -> int:
    """Open the window and return the exit code when it is closed.

    Raises:
        NoDisplay: there is no window library or no display.
        TrainerError: the pattern, the tempo or the input cannot be used.
    """
    if opening.pattern is not None:
        open_pattern(opening.pattern, load_library())  # a wrong name is said before the lack of a display
    from trainer import app  # loads the window library

    return app.open_window(opening)


def has_display() -> bool:
    """Return whether the system says that there is a display to open a window on."""
    if sys.platform.startswith("linux") or "bsd" in sys.platform:
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True


def _library_notes(library: Library) -> tuple[str, ...]:
    return (*(str(problem) for problem in library.problems), *library.remarks)


def _add_patterns(each: Commands) -> None:
    parser = each.add_parser("patterns", help="list the patterns, or show one in words")
    parser.add_argument(
        "pattern", nargs="?", metavar="PATTERN", help="name in the library, or path of a file"
    )
    parser.set_defaults(command=lambda o: show_pattern(o.pattern) if o.pattern else list_patterns())


def _add_check(each: Commands) -> None:
    parser = each.add_parser("check", help="say whether pattern files are good, and if not, where")
    parser.add_argument("files", nargs="+", metavar="FILE")
    parser.set_defaults(command=lambda o: check_files(o.files))


def _add_devices(each: Commands) -> None:
    parser = each.add_parser("devices", help="list MIDI inputs, and say whether there is sound and a display")
    parser.set_defaults(command=lambda _options: devices())


def _add_drill(each: Commands) -> None:
    parser = each.add_parser("drill", help="open the window straight into a drill")
    add_pattern(parser)
    parser.add_argument("--bpm", metavar="N", help="beats a minute (default: the pattern's slow tempo)")
    parser.add_argument(
        "--passes", metavar="N", help="how often to play the pattern; 0 goes on until stopped"
    )
    parser.add_argument("--input", metavar="NAME", help="MIDI input, by name or a part of it")
    parser.add_argument("--report", metavar="FILE.json", help="write the graded take here when it is over")
    parser.add_argument("--take", metavar="FILE.mid", help="write the taps here when it is over")
    parser.add_argument("--leave", action="store_true", help="close the window when the drill is over")

    def run(o: argparse.Namespace) -> Answer:
        passes = None if o.passes is None else whole(o.passes, "--passes", 0)
        opening = Opening(
            pattern=o.pattern,
            bpm=None if o.bpm is None else float(as_tempo(o.bpm)),
            passes=passes,
            input_name=o.input,
            report=None if o.report is None else Path(o.report),
            take=None if o.take is None else Path(o.take),
            leave=o.leave,
        )
        return Answer(exit_code=open_window(opening))

    parser.set_defaults(command=run)
