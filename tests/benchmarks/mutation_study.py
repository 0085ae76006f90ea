"""Change the program in small ways and see whether its own tests notice.

Each mutant is one change in one place: a comparison turned round, a number moved by one, a condition taken
for true, a call left out, and so on (:mod:`tests.benchmarks.mutants`). It is run against the tests that
reach the changed statement (:mod:`tests.benchmarks.mutant_reach` finds out which do). A mutant is killed when
one of them fails or computes far too long. They are drawn by a seed, so that anyone gets the same ones from
the same text.

    python -m tests.benchmarks.mutation_study --record        # 400 by seed 1
    python -m tests.benchmarks.mutation_study --mutants 40 --only trainer/app    # as recorded before
    python -m tests.benchmarks.mutation_study --results FILE  # written as they come; those there are kept
    python -m tests.benchmarks.mutation_study --results FILE --again --added tests/app/test_new.py
                        # what survived, once more: these tests are new, and go first

Of the tests that reach a line up to 50 are run: those of its own test module before others, and one case of
each test before another (:mod:`tests.benchmarks.mutant_runs` says how). What runs only in another process
counts as not reached.

Who has judged a survivor the same program, because nobody could tell the two apart, writes its line into
mutation_survivors.txt after "same:"; both figures are given, with these and without.

Needs an operating system that forks.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from tests.benchmarks.mutant_reach import Reached, note_reached
from tests.benchmarks.mutant_runs import Verdict, run_cold, run_warm
from tests.benchmarks.mutants import TOP, Mutant, drawn

USUAL_PATHS = ("trainer/app", "trainer/records", "trainer/practice/settings.py",
               "trainer/practice/setting_changes.py", "trainer/practice/setting_kinds.py",
               "trainer/practice/delays.py", "trainer/files.py")  # fmt: skip
TESTS = ("tests/app", "tests/records", "tests/practice", "tests/commands", "tests/test_files.py")
SURVIVORS = Path(__file__).with_name("mutation_survivors.txt")
COLD_TESTS = 30
PART = 100  # so many are run from one process that has loaded all tests

NOT_YET = "from cold only"
Run = Callable[[Sequence[tuple[Mutant, Sequence[str]]]], Iterator[Verdict]]


class Results:
    """What became of each mutant, by its name; written as it comes, where there is a file for it."""

    def __init__(self, file: Path | None) -> None:
        self._file = file
        self._found: dict[str, Verdict] = {}
        self._kept: dict[str, tuple[str, int]] = {}
        if file is not None and file.exists():
            for line in file.read_text(encoding="utf-8").splitlines():
                kept = json.loads(line)
                self._kept[kept["name"]] = kept["what"], kept["tests"]

    def of(self, mutant: Mutant) -> Verdict | None:
        """Return what became of it, in this run or an earlier one."""
        what, tests = self._kept.get(mutant.name, (NOT_YET, 0))
        if mutant.name not in self._found and what != NOT_YET:
            self._found[mutant.name] = Verdict(mutant=mutant, what=what, tests=tests, took_s=0.0)
        return self._found.get(mutant.name)

    def add(self, verdict: Verdict) -> None:
        """Keep what has become of one for good."""
        self._found[verdict.mutant.name] = verdict
        if self._file is not None:
            kept = {"name": verdict.mutant.name, "what": verdict.what, "tests": verdict.tests}
            with self._file.open("a", encoding="utf-8") as lines:
                lines.write(json.dumps(kept, ensure_ascii=False) + "\n")


def study(chosen: Sequence[tuple[Mutant, Sequence[str]]], run: Run) -> Iterator[Verdict]:
    """Run every mutant against its tests, and print a mark for each."""
    for verdict in run(chosen):
        mark = "." if verdict.is_killed else "S" if verdict.what == "survived" else "-"
        print(mark, end="", flush=True)
        yield verdict
    print(flush=True)


def judge(
    mutants: Sequence[Mutant], reached: Reached, results: Results, *, most_tests: int, again: bool
) -> None:
    """Find out what becomes of each: noticed warm, or else from cold.

    Args:
        most_tests: so many of those that reach it are run.
        again: whether what survives warm is run from cold too; what it has computed when it was loaded is
            found only so.
    """
    tests = {mutant: reached.tests_of(mutant) for mutant in mutants}
    cold = [m for m in mutants if m.at_import]
    for verdict in study([(m, by_file(tests[m][:most_tests])) for m in mutants if not m.at_import], run_warm):
        results.add(verdict)
        if verdict.what == NOT_YET or (again and verdict.what == "survived"):
            cold.append(verdict.mutant)
    for verdict in study([(m, tests[m][:COLD_TESTS]) for m in cold], run_cold):
        results.add(verdict)


def by_file(tests: Sequence[str]) -> list[str]:
    """Return tests with those of a file together: what they share is made once."""
    files = list(dict.fromkeys(test.split("::")[0] for test in tests))
    return sorted(tests, key=lambda test: files.index(test.split("::")[0]))


def told(found: Sequence[Verdict]) -> Iterator[str]:
    """Say how many were noticed, and which were not."""
    lines = SURVIVORS.read_text(encoding="utf-8").splitlines()
    alike = {line.removeprefix("same: ").strip() for line in lines if line.startswith("same: ")}
    killed = sum(each.is_killed for each in found)
    same = sum(not each.is_killed and each.mutant.name in alike for each in found)
    yield f"{dict(Counter(each.what for each in found))}"
    yield f"killed {killed} of {len(found)}: {killed / max(len(found), 1):.1%}"
    yield f"{same} judged the same program; without these {killed / max(len(found) - same, 1):.1%}"
    for each in sorted(found, key=lambda v: (v.what, v.mutant.name)):
        if not each.is_killed:
            what = "judged the same" if each.mutant.name in alike else each.what
            yield f"{what} ({each.tests} tests): {each.mutant.name}  (line {each.mutant.line})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--mutants", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=list(USUAL_PATHS), help="files or folders to change")
    parser.add_argument("--tests", nargs="*", default=list(TESTS), help="what --record runs")
    parser.add_argument("--reached", type=Path, default=TOP / ".coverage-mutants.json")
    parser.add_argument("--record", action="store_true", help="run the tests first and note what they reach")
    parser.add_argument(
        "--added", nargs="*", default=[], help="tests to note besides, and to run before others"
    )
    parser.add_argument("--first", nargs="*", default=[], help="tests to run before others")
    parser.add_argument("--most-tests", type=int, default=50, help="of those that reach a change")
    parser.add_argument("--results", type=Path, help="where what became of each is kept")
    parser.add_argument("--again", action="store_true", help="run what survived before once more")
    options = parser.parse_args()
    mutants = drawn(options.only, options.mutants, options.seed)
    if options.record or not options.reached.exists():
        note_reached(options.reached, mutants, options.tests)
    if options.added:
        note_reached(options.reached, mutants, options.added, is_added=True)
    reached = Reached(options.reached, first=[*options.added, *options.first])
    results = Results(options.results)
    nothing = [(replace(m, after=m.before), reached.tests_of(m)[:COLD_TESTS]) for m in mutants[:2]]
    for run in (run_warm, run_cold):
        if any(each.is_killed for each in study(nothing, run)):
            raise SystemExit("the tests fail without a change: mend them first")
    began = time.monotonic()
    left = [m for m in mutants if (v := results.of(m)) is None or (options.again and not v.is_killed)]
    for begin in range(0, len(left), PART):
        part = left[begin : begin + PART]
        judge(part, reached, results, most_tests=options.most_tests, again=options.again)
    print(f"{len(left)} run in {time.monotonic() - began:.0f} s")
    for line in told([v for m in mutants if (v := results.of(m)) is not None]):
        print(line)


if __name__ == "__main__":
    main()
