"""The command line: read the words, run the command, print its answer, return its exit code.

Exit codes: 0 done, 1 a take below ``--goal``, 2 wrong usage, pattern or take, 3 a device, 4 a file
or folder of the user's, 5 damaged records (what could be read is saved), 70 a fault of the program itself
(a report is written), 130 stopped by the user.
This is the only module that prints, and beside the window the only one that catches a TrainerError. The
commands are loaded when there is a word: without one the window opens, and needs none of them.
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

from trainer.commands.parsing import Answer, Parser, with_joined_names
from trainer.commands.window import open_window
from trainer.errors import StoreProblem, TrainerError
from trainer.files import data_folder
from trainer.opening import Opening
from trainer.plain_text import visible

OUR_FAULT = 70
STOPPED = 130

Command = Callable[[argparse.Namespace], Answer]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code.

    Args:
        argv: the words after the program's name; None takes them from the system.
    """
    _print_anything()
    words = with_joined_names(sys.argv[1:] if argv is None else argv)
    try:
        if not words:
            return _say(Answer(exit_code=open_window(Opening())))
        options = build_parser().parse_args(words)
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
    from trainer.commands import (
        audio,
        calibrate,
        checkup,
        classes,
        compare,
        general,
        hands,
        history,
        importing,
        lesson,
        midi,
        record,
        records,
        sheet,
        takes,
    )

    parser = Parser(
        prog="thumbfall",
        description="Drill down-picked banjo figures against a click and see where every stroke landed.",
        epilog="Without a command the window opens. Start with: thumbfall demo",
    )
    parser.add_argument("--version", action="version", version=f"thumbfall {_version()}")
    parser.set_defaults(command=lambda _options: Answer(exit_code=open_window(Opening())))
    each = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=Parser)
    for module in (
        general, takes, hands, midi, history, compare, importing, lesson, classes, record, records, sheet,
        audio, checkup, calibrate,
    ):  # fmt: skip
        module.add_to(each)
    return parser


def _say(answer: Answer) -> int:
    """Print an answer; a reader that has gone away has had enough, a full disk is said."""
    try:
        # Names of files, players and ports are other people's: no code in them reaches the terminal.
        for line in answer.notes:
            print(visible(line), file=sys.stderr)
        for line in answer.lines:
            print(visible(line))
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
    report = f"thumbfall {_version()}, Python {platform.python_version()}, {platform.platform()}\n\n{trace}"

    def of_the_user() -> Path:
        return data_folder() / "faults"

    for made in (of_the_user, lambda: Path(tempfile.gettempdir())):
        try:
            folder = made()
            folder.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(report, encoding="utf-8", errors="backslashreplace")
        except OSError:
            continue
        written_to = visible(str(folder / name))
        print(
            f"Thumbfall has met a fault of its own; what it was doing is written in {written_to}.",
            file=sys.stderr,
        )
        return OUR_FAULT
    print(f"Thumbfall has met a fault of its own, and could not write it down.\n{trace}", file=sys.stderr)
    return OUR_FAULT


def _version() -> str:
    from trainer.version import version

    return version()
