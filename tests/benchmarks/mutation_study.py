"""Change the program in small ways and see whether its own tests notice.

Each mutant is one change in one place: a comparison turned round, a number moved by one, a condition taken
for true, a call left out, and so on (:mod:`tests.benchmarks.mutants`). It is run against the tests that reach
the changed line, as coverage.py says which do. A mutant is killed when one of them fails or computes far too
long. They are drawn by a seed, so that anyone gets the same ones from the same text.

    python -m tests.benchmarks.mutation_study --record        # 400 by seed 1
    python -m tests.benchmarks.mutation_study --mutants 40 --only trainer/app    # as recorded before

Of the tests that reach a line 30 are run first, those of its own test module before others, and up to 170
more where those notice nothing (:mod:`tests.benchmarks.mutant_runs` says how). What runs only in another
process counts as not reached.

Needs coverage.py and an operating system that forks.
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tests.benchmarks.mutant_runs import Reached, Verdict, record, run_cold, run_warm
from tests.benchmarks.mutants import TOP, Mutant, drawn

USUAL_PATHS = ("trainer/app", "trainer/records", "trainer/practice/settings.py",
               "trainer/practice/setting_changes.py", "trainer/practice/setting_kinds.py",
               "trainer/practice/delays.py", "trainer/files.py")  # fmt: skip
TESTS = ("tests/app", "tests/records", "tests/practice", "tests/commands", "tests/test_files.py")
FIRST_TESTS, OTHER_TESTS = slice(0, 30), slice(30, 200)

Run = Callable[[Sequence[tuple[Mutant, Sequence[str]]]], Iterator[Verdict]]


def study(mutants: Iterable[Mutant], reached: Reached, tests: slice, run: Run) -> dict[Mutant, Verdict]:
    """Run every mutant against some of the tests that reach it, and print a mark for each."""
    chosen = [(mutant, reached.tests_of(mutant)[tests]) for mutant in mutants]
    found: dict[Mutant, Verdict] = {}
    for verdict in run(chosen):
        found[verdict.mutant] = verdict
        mark = "." if verdict.is_killed else "S" if verdict.what == "survived" else "-"
        print(mark, end="" if len(found) % 80 else "\n", flush=True)
    print()
    return found


def judged(mutants: Sequence[Mutant], reached: Reached) -> list[Verdict]:
    """Return what became of each: noticed warm, or else by more tests, or else from cold."""
    found = study([m for m in mutants if not m.at_import], reached, FIRST_TESTS, run_warm)
    left = [m for m, v in found.items() if v.what == "survived" and reached.tests_of(m)[OTHER_TESTS]]
    found |= study(left, reached, OTHER_TESTS, run_warm)
    cold = [m for m in mutants if m not in found or found[m].what in ("survived", "from cold only")]
    return [*(found | study(cold, reached, FIRST_TESTS, run_cold)).values()]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--mutants", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=list(USUAL_PATHS), help="files or folders to change")
    parser.add_argument("--tests", nargs="*", default=list(TESTS), help="what --record runs")
    parser.add_argument("--coverage", type=Path, default=TOP / ".coverage-mutation")
    parser.add_argument("--record", action="store_true", help="run the tests first and note what they reach")
    parser.add_argument("--skip", type=int, default=0, help="leave out so many of those drawn")
    parser.add_argument("--take", type=int, default=None, help="run only so many of those drawn")
    options = parser.parse_args()
    if options.record or not options.coverage.exists():
        record(options.coverage, options.tests, options.only)
    mutants = drawn(options.only, options.mutants, options.seed)
    random.Random(options.seed).shuffle(mutants)
    mutants = mutants[options.skip : None if options.take is None else options.skip + options.take]
    reached = Reached(options.coverage)
    nothing = [replace(mutant, after=mutant.before) for mutant in mutants[:2]]
    for run in (run_warm, run_cold):
        if any(each.is_killed for each in study(nothing, reached, FIRST_TESTS, run).values()):
            raise SystemExit("the tests fail without a change: mend them first")
    began = time.monotonic()
    found = judged(mutants, reached)
    counts = Counter(each.what for each in found)
    killed = sum(each.is_killed for each in found)
    print(f"{dict(counts)} in {time.monotonic() - began:.0f} s")
    print(f"killed {killed} of {len(found)}: {killed / max(len(found), 1):.1%}")
    for each in sorted(found, key=lambda v: (v.what, v.mutant.path, v.mutant.line)):
        if not each.is_killed:
            print(f"{each.what} ({each.tests} tests): {each.mutant.words}")


if __name__ == "__main__":
    main()
