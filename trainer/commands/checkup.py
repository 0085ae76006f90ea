"""Answer the command that measures this machine."""

from __future__ import annotations

import argparse
import json

from trainer.commands.parsing import Answer, Commands, read_number
from trainer.practice.checkup import checkup_dict, checkup_lines

SECONDS = 60.0
LEAST_SECONDS, MOST_SECONDS = 5.0, 3600.0


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("checkup", help="measure this machine and say how finely it can judge")
    parser.add_argument(
        "--seconds", metavar="N", default=f"{SECONDS:g}", help=f"how long to measure (default: {SECONDS:g})"
    )
    parser.add_argument("--json", action="store_true", help="print the numbers for programs")
    parser.set_defaults(command=run)


def run(options: argparse.Namespace) -> Answer:
    """Measure, silently, in a window where there is a display.

    Raises:
        BadSettings: the seconds are no number or out of reach.
    """
    seconds = read_number(options.seconds, "--seconds", LEAST_SECONDS, MOST_SECONDS)
    from trainer import checking  # loads the window library

    found = checking.check(seconds)
    if options.json:
        return Answer(lines=(json.dumps(checkup_dict(found), indent=2, ensure_ascii=False),))
    return Answer(lines=checkup_lines(found))
