"""Answer the commands about patterns, devices and the window; only :mod:`trainer.cli` prints the words.

Window, sound and MIDI ports are imported where they are needed and nowhere else, so that listing, checking
and grading start at once and work where those libraries are missing.
"""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from trainer.commands.explain import explanation
from trainer.commands.parsing import Answer, Commands, JoinedWords, add_bpm, add_pattern, whole
from trainer.commands.tune_words import backup_lines, break_lines, pattern_lines
from trainer.commands.window import has_display, open_window
from trainer.errors import BadSettings, DeviceProblem, StoreProblem, TrainerError
from trainer.music.backup import BackupChart
from trainer.music.breaks import Break
from trainer.music.keys import read_key
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.sense import doubtful_names, doubts
from trainer.music.timeline import as_tempo
from trainer.music.tune_files import Tune
from trainer.music.tuning import HIGHEST_CAPO
from trainer.opening import Opening
from trainer.records.asked_tune import lay, retuned
from trainer.records.library import Library, find_asked, load_library, open_pattern, user_patterns_folder
from trainer.records.tune_file import read_tune_text, try_read


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_patterns(each)
    _add_check(each)
    _add_devices(each)
    _add_drill(each)


def list_patterns() -> Answer:
    """List the library: patterns, breaks, charts."""
    library = load_library()
    names = [p.name for p in library.patterns]
    names += [e.brk.name for e in library.breaks] + [e.backup.name for e in library.charts]
    width = max(len(name) for name in names)
    lines = [f"{'step':>4}  {'name':<{width}}  {'level':<9}  {'tempo':<7}  title"]
    for p in library.patterns:
        tempo = f"{float(p.slow_bpm):g}-{float(p.goal_bpm):g}"
        lines.append(f"{p.step:>4}  {p.name:<{width}}  {p.level.value:<9}  {tempo:<7}  {p.title}")
    if library.breaks:
        levels = ", ".join(level.value for level in Level)
        lines.append(f"Breaks, each at {levels}; drill one with: NAME at LEVEL")
    for brk in (e.brk for e in library.breaks):
        tempo = f"{float(brk.slow_bpm):g}-{float(brk.goal_bpm):g}"
        lines.append(f"{brk.step:>4}  {brk.name:<{width}}  {brk.meter.value:<9}  {tempo:<7}  {brk.title}")
    if library.charts:
        lines.append("Charts to play backup over; drill one with: NAME with PATTERN")
    for backup in (e.backup for e in library.charts):
        key = f"key {backup.chart.key}"
        lines.append(f"{'':>4}  {backup.name:<{width}}  {backup.meter.value:<9}  {key:<7}  {backup.title}")
    with contextlib.suppress(StoreProblem):  # the library has said so already
        lines.append(f"Your own go into {user_patterns_folder()}")
    return Answer(lines=tuple(lines), notes=_library_notes(library))


def show_pattern(name: str, *, key: str | None = None, capo: int | None = None) -> Answer:
    """Show a pattern, a break or a chart in words, a break or a chart also in another key.

    Raises:
        TrainerError: nothing is called so, or it cannot be shown in that way.
    """
    library = load_library()
    tune, asked = find_asked(name, library)
    if isinstance(tune, Pattern):
        if key is not None or capo is not None:
            raise BadSettings(f"{tune.name} is a pattern and has no key to move", "name a break or a chart")
        return Answer(lines=pattern_lines(open_pattern(name, library)))
    moved = retuned(tune, key or asked.key, capo)
    if asked.level is None and asked.figure is None:
        return Answer(lines=break_lines(moved) if isinstance(moved, Break) else backup_lines(moved))
    laid = lay(moved, replace(asked, key=None), lambda figure: open_pattern(figure, library))
    return Answer(lines=pattern_lines(laid))


def check_files(files: Sequence[str]) -> Answer:
    """Say of each file whether it is a good pattern, break or chart, and what a hand would doubt in it.

    The exit code is 2 when one cannot be read; doubts leave it at 0.
    """
    lines: list[str] = []
    notes: list[str] = []
    library = load_library()
    meters = {pattern.name: pattern.meter for pattern in library.patterns}
    is_bad = False
    for file in files:
        path = Path(file)
        read = try_read(path)
        if isinstance(read, TrainerError):
            notes.append(str(read))
            is_bad = True
            continue
        text = read_tune_text(path)
        found = [*doubts(text, name=path.stem, source=file), *doubtful_names(text, read, meters, source=file)]
        notes += [f"Doubtful: {each}" for each in found]
        more = f"; {len(found)} doubt{'s' if len(found) > 1 else ''}" if found else ""
        lines.append(f"{file}: good: {read.title}, {_size_words(read)}{more}.")
    return Answer(lines=tuple(lines), notes=tuple(notes), exit_code=2 if is_bad else 0)


def _size_words(tune: Tune) -> str:
    if isinstance(tune, Break):
        levels = ", ".join(level.value for level in Level)
        return f"a break of {_bars(len(tune.melody), tune.meter)} in {tune.chart.key_words}, at {levels}"
    if isinstance(tune, BackupChart):
        return f"a chart of {_bars(tune.bars, tune.meter)} in {tune.chart.key_words}"
    return f"{_bars(len(tune.bars), tune.meter)}, {len(tune.strokes)} slots"


def _bars(count: int, meter: Meter) -> str:
    return f"{count} bar{'s' if count != 1 else ''} of {meter.value}"


def devices() -> Answer:
    """Say which inputs and outputs there are, and of each that is missing why."""
    from trainer.devices.midi import MidiInputs  # loads the MIDI library
    from trainer.devices.missing import window_libraries_missing
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
    lines.append(f"Window: {_window_words(window_libraries_missing())}.")
    lines.append("Keys: f for the nail and j for the thumb in the window, unless changed there.")
    return Answer(lines=tuple(lines))


def _window_words(missing: str) -> str:
    if not has_display():
        return "there is no display to open it on"
    return missing or "there is a display"


def _library_notes(library: Library) -> tuple[str, ...]:
    return (*(str(problem) for problem in library.problems), *library.remarks)


def _add_patterns(each: Commands) -> None:
    parser = each.add_parser("patterns", help="list patterns, breaks and charts, or show one in words")
    parser.add_argument(
        "pattern", nargs="*", action=JoinedWords, metavar="PATTERN",
        help="name in the library, or path of a file; a break may have a level (NAME at skips), a chart a "
        "figure (NAME with PATTERN)",
    )  # fmt: skip
    parser.add_argument("--key", metavar="K", help="show a break or a chart as it sounds in this key")
    parser.add_argument("--capo", metavar="N", help="show it with the capo at this fret")
    parser.add_argument(
        "--explain", action="store_true", help="say what each key of a file means, with an example"
    )

    def run(o: argparse.Namespace) -> Answer:
        if o.explain:
            return Answer(lines=explanation())
        key = None if o.key is None else read_key(o.key)
        capo = None if o.capo is None else whole(o.capo, "--capo", 0, most=HIGHEST_CAPO)
        if o.pattern is None:
            if key is not None or capo is not None:
                raise BadSettings("--key and --capo need a break or a chart", "name one before them")
            return list_patterns()
        return show_pattern(o.pattern, key=key, capo=capo)

    parser.set_defaults(command=run)


def _add_check(each: Commands) -> None:
    parser = each.add_parser(
        "check", help="say whether pattern, break and chart files are good, and if not, where"
    )
    parser.add_argument("files", nargs="+", metavar="FILE")
    parser.set_defaults(command=lambda o: check_files(o.files))


def _add_devices(each: Commands) -> None:
    parser = each.add_parser("devices", help="list MIDI inputs, and say whether there is sound and a display")
    parser.set_defaults(command=lambda _options: devices())


def _add_drill(each: Commands) -> None:
    parser = each.add_parser("drill", help="open the window straight into a drill")
    add_pattern(parser)
    add_bpm(parser)
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
