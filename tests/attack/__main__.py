"""Attack the program with spoilt input and print what came of it.

Run it with: python -m tests.attack --seconds 50            every kind for its share of the time
             python -m tests.attack --cases 100000 midi     so many of one kind
             python -m tests.attack --one midi:4711         one case again, with its traceback

Each case follows from its kind and number alone. Rules: nothing but a sentence, no case longer than a second,
no more than 500 MB. Each kind runs in a process of its own; one that hangs or dies is named by its case.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

from tests.attack.targets import TARGETS
from tests.attack.working import attack_kind, run_case

COSTS = {"audio": 3.0, "json": 1.5, "csv": 1.5, "journals": 1.5, "databases": 1.5}  # shares of the time
MOST_SHOWN = 5


def main(arguments: list[str]) -> int:
    """Attack, print, and return 1 when a rule was broken."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("kinds", nargs="*", choices=[*TARGETS, []], help=" ".join(TARGETS))
    parser.add_argument("--cases", type=int, default=10**9, help="of each kind at most")
    parser.add_argument("--seconds", type=float, default=10**9, help="in all at most")
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--one", metavar="KIND:NUMBER")
    options = parser.parse_args(arguments)
    if options.one:
        os.environ.update(SDL_VIDEODRIVER="dummy", SDL_AUDIODRIVER="dummy")
        kind, _, number = options.one.partition(":")
        with tempfile.TemporaryDirectory() as folder:
            run_case(kind, int(number), Path(folder))
        return 0
    kinds = options.kinds or list(TARGETS)
    whole = sum(COSTS.get(kind, 1.0) for kind in kinds)
    bad = total = 0
    print(f"{'kind':<10} {'cases':>8}  {'longest':>9}  {'memory':>7}  first case {options.first}")
    for kind in kinds:
        share_s = options.seconds * COSTS.get(kind, 1.0) / whole
        report = attack_kind(kind, options.first, options.cases, share_s)
        total += report.cases
        bad += not report.is_good
        print(
            f"{kind:<10} {report.cases:>8}  {report.longest_s * 1000:>6.0f} ms  {report.peak_mib:>4} MB"
            f"  {'' if report.is_good else 'BROKEN'}", flush=True,
        )  # fmt: skip
        for number in report.slow[:MOST_SHOWN]:
            print(f"    slow: --one {kind}:{number}")
        for where, number in list(report.broken.items())[:MOST_SHOWN]:
            print(f"    --one {kind}:{number}\n        " + where.replace("\n", "\n        "))
    print(f"{total} cases, {bad} of {len(kinds)} kinds broke a rule")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
