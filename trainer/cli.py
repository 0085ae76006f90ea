"""The command line: read the words, run the command, print its answer, return its exit code.

Exit codes: 0 done, 1 a take below ``--goal``, 2 wrong usage, pattern or take, 3 a device, 4 a file
or folder of the user's, 70 a fault of the program itself (a report is written), 130 stopped by the user.
This is the only module that prints, and beside the window the only one that catches a TrainerError.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import platform
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from platformdirs import user_data_dir

from trainer import commands, takes
from trainer.commands import Answer, read_number
from trainer.errors import BadSettings, StoreProblem, TrainerError
from trainer.music.source import nearest
from trainer.music.strokes import Kind
from trainer.music.timeline import as_tempo
from trainer.opening import Opening
from trainer.practice.hands import LARGEST_MS, Faults
from trainer.version import version

OUR_FAULT = 70
STOPPED = 130
MOST_PASSES = 2000

Command = Callable[[argparse.Namespace], Answer]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Args:
        argv: the words after the program's name; None takes them from the system.
    """
    _print_anything()
    try:
        options = build_parser().parse_args(argv)
        command: Command = options.command
        return _say(command(options))
    except SystemExit as stop:
        # Only --help and --version end in this way.
        return int(stop.code or 0)
    except TrainerError as problem:
        return _say(Answer(notes=(str(problem),), exit_code=problem.exit_code))
    except KeyboardInterrupt:
        return STOPPED
    except Exception:  # noqa: BLE001 - the last wall: a fault of ours is written down, not thrown at the user
        return _own_fault(traceback.format_exc())


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    parser = _Parser(
        prog="thumbfall",
        description="Drill down-picked banjo figures against a click and see where every stroke landed.",
        epilog="Without a command the window opens. Start with: thumbfall demo",
    )
    parser.add_argument("--version", action="version", version=f"thumbfall {version()}")
    parser.set_defaults(command=lambda _options: Answer(exit_code=commands.open_window(Opening())))
    each = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=_Parser)
    _add_patterns(each)
    _add_check(each)
    _add_devices(each)
    _add_drill(each)
    _add_grade(each)
    _add_hands(each)
    _add_demo(each)
    return parser


class _Parser(argparse.ArgumentParser):
    """A parser whose complaints are one sentence, raised like every other."""

    def __init__(self, **options: object) -> None:
        super().__init__(allow_abbrev=False, **options)  # type: ignore[arg-type]

    def error(self, message: str) -> NoReturn:
        raise BadSettings(message.strip().rstrip("."), f"see {self.prog} --help")


_Commands = argparse._SubParsersAction  # argparse has no public name for it


def _add_patterns(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("patterns", help="list the patterns, or show one in words")
    parser.add_argument(
        "pattern", nargs="?", metavar="PATTERN", help="name in the library, or path of a file"
    )
    parser.set_defaults(
        command=lambda o: commands.show_pattern(o.pattern) if o.pattern else commands.list_patterns()
    )


def _add_check(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("check", help="say whether pattern files are good, and if not, where")
    parser.add_argument("files", nargs="+", metavar="FILE")
    parser.set_defaults(command=lambda o: commands.check_files(o.files))


def _add_devices(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("devices", help="list MIDI inputs, and say whether there is sound and a display")
    parser.set_defaults(command=lambda _options: commands.devices())


def _add_drill(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("drill", help="open the window straight into a drill")
    _add_pattern(parser)
    parser.add_argument("--bpm", metavar="N", help="beats a minute (default: the pattern's slow tempo)")
    parser.add_argument(
        "--passes", metavar="N", help="how often to play the pattern; 0 goes on until stopped"
    )
    parser.add_argument("--input", metavar="NAME", help="MIDI input, by name or a part of it")
    parser.add_argument("--report", metavar="FILE.json", help="write the graded take here when it is over")
    parser.add_argument("--take", metavar="FILE.mid", help="write the taps here when it is over")
    parser.add_argument("--leave", action="store_true", help="close the window when the drill is over")

    def run(o: argparse.Namespace) -> Answer:
        passes = None if o.passes is None else _whole(o.passes, "--passes", 0)
        opening = Opening(
            pattern=o.pattern,
            bpm=None if o.bpm is None else float(as_tempo(o.bpm)),
            passes=passes,
            input_name=o.input,
            report=None if o.report is None else Path(o.report),
            take=None if o.take is None else Path(o.take),
            leave=o.leave,
        )
        return Answer(exit_code=commands.open_window(opening))

    parser.set_defaults(command=run)


def _add_grade(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("grade", help="grade a recorded take, a Standard MIDI File")
    _add_pattern(parser)
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
        return takes.grade(
            takes.GradeOrder(
                pattern=o.pattern,
                take=o.take,
                bpm=o.bpm,
                passes=None if o.passes is None else _whole(o.passes, "--passes", 1),
                pads=o.pads,
                offset=o.offset,
                pocket=o.pocket,
                swing=o.swing,
                lay_back_s=_by_kind(o.lay_back, "--lay-back"),
                click_off=o.click_off,
                goal=None if o.goal is None else read_number(o.goal, "--goal", 0, 100),
                as_json=o.json,
            )
        )

    parser.set_defaults(command=run)


def _add_hands(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("hands", help="write the take of a simulated player with the faults you name")
    _add_pattern(parser)
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
        return takes.play_hands(
            takes.HandsOrder(
                pattern=o.pattern,
                bpm=o.bpm,
                to=o.to,
                passes=_whole(o.passes, "--passes", 1),
                swing=o.swing,
                seed=_whole(o.seed, "--seed", 0, most=2**32 - 1),
                faults=read_faults(o),
            )
        )

    parser.set_defaults(command=run)


def _add_demo(each: _Commands[_Parser]) -> None:
    parser = each.add_parser("demo", help="watch a simulated player being graded (start here)")
    parser.set_defaults(command=lambda _options: takes.demo())


def _add_pattern(parser: _Parser) -> None:
    parser.add_argument("pattern", metavar="PATTERN", help="name in the library, or path of a file")


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
        lean_s=tuple((kind, -late_s) for kind, late_s in _by_kind(options.early, "--early")),
        jitter_s=seconds(options.jitter, "--jitter"),
        rush_gap_s=seconds(options.rush_gap, "--rush-gap"),
        clock_sd_s=seconds(options.clock, "--clock"),
        motor_sd_s=seconds(options.motor, "--motor"),
        touch_skips=share("touch_skips"),
        miss=share("miss"),
        stray=share("stray"),
        wrong_hand=share("wrong_hand"),
        double=share("double"),
        one_pad=options.one_pad,
    )


def _by_kind(words: Sequence[str], option: str) -> tuple[tuple[Kind, float], ...]:
    """Return seconds by kind of stroke from words such as ``brush=20`` (ms); a later word wins.

    Raises:
        BadSettings: no kind of stroke that sounds, or no number.
    """
    sounding = [kind for kind in Kind if kind.sounds]
    kinds = {kind.value: [kind] for kind in sounding} | {"all": sounding}
    found: dict[Kind, float] = {}
    for each in words:
        word, equals, amount = each.partition("=")
        if not equals or word not in kinds:
            near = nearest(word, tuple(kinds))
            hint = f"did you mean {near}" if near and equals else "write a kind and ms, such as drop-thumb=25"
            raise BadSettings(f'found "{each}" for {option}', hint)
        second = read_number(amount, f"{option} {word}", -LARGEST_MS, LARGEST_MS) / 1000
        found.update(dict.fromkeys(kinds[word], second))
    return tuple(found.items())


def _whole(text: str, what: str, least: int, *, most: int = MOST_PASSES) -> int:
    value = read_number(text, what, least, most)
    if value != int(value):
        raise BadSettings(f'found "{text}" for {what}', f"write a whole number from {least} to {most}")
    return int(value)


def _say(answer: Answer) -> int:
    """Print an answer; a reader that has gone away has had enough, a full disk is said."""
    try:
        for line in answer.notes:
            print(line, file=sys.stderr)
        for line in answer.lines:
            print(line)
        sys.stdout.flush()
    except BrokenPipeError:
        # Otherwise Python complains once more while it shuts down.
        with contextlib.suppress(OSError, io.UnsupportedOperation):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except OSError as err:
        problem = StoreProblem(
            f"the output cannot be written ({err.strerror})", "make room or write elsewhere"
        )
        print(problem, file=sys.stderr)
        with contextlib.suppress(OSError, io.UnsupportedOperation):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return problem.exit_code
    return answer.exit_code


def _print_anything() -> None:
    """Let a terminal without Unicode show an escape instead of stopping the program."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _own_fault(trace: str) -> int:
    """Write down a fault of the program and say where."""
    name = f"fault-{time.strftime('%Y%m%d-%H%M%S')}-{os.getpid()}.txt"
    report = f"thumbfall {version()}, Python {platform.python_version()}, {platform.platform()}\n\n{trace}"
    for folder in (Path(user_data_dir("thumbfall", appauthor=False)) / "faults", Path(tempfile.gettempdir())):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(report, encoding="utf-8", errors="backslashreplace")
        except OSError:
            continue
        print(
            f"Thumbfall has met a fault of its own; what it was doing is written in {folder / name}.",
            file=sys.stderr,
        )
        return OUR_FAULT
    print(f"Thumbfall has met a fault of its own, and could not write it down.\n{trace}", file=sys.stderr)
    return OUR_FAULT
