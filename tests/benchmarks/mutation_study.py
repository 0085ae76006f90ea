"""Change the program in small ways and see whether its own tests notice.

Each mutant is one change in one place: a comparison turned round, a number moved by one, a condition taken
for true, a call left out, and so on. It is run against the tests that reach the changed line, as coverage.py
says which do. A mutant is killed when one of them fails or takes far too long. They are drawn by a seed, so
that anyone gets the same ones from the same text.

    python -m tests.benchmarks.mutation_study --record        # 400 by seed 1: about half an hour on two cores
    python -m tests.benchmarks.mutation_study --mutants 40 --only trainer/app    # as recorded before

What is never changed: docstrings, annotations, imports, assertions, texts of three words and more (they are
for people), names of fields and slots. Of the tests that reach a line 30 are run first, those of its own test
module before others, and up to 370 more where those notice nothing. What runs only in another process counts
as not reached.

Needs coverage.py and an operating system that forks.
"""

from __future__ import annotations

import argparse
import ast
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import re
import select
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

TOP = Path(__file__).parents[2]
USUAL_PATHS = ("trainer/app", "trainer/records", "trainer/practice/settings.py",
               "trainer/practice/setting_changes.py", "trainer/practice/setting_kinds.py",
               "trainer/practice/delays.py", "trainer/files.py")  # fmt: skip
TESTS = ("tests/app", "tests/records", "tests/practice", "tests/commands", "tests/test_files.py")
FIRST_TESTS, OTHER_TESTS = slice(0, 30), slice(30, 400)
LONGEST_S = 90.0
PARALLEL = 2
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}  # fmt: skip
# What pytest leaves with: 2 or 4 where a module cannot be loaded any more, so that a test is not even found.
OURS = 70  # the study itself has failed
VERDICTS = {0: "survived", 1: "killed", 2: "killed", 4: "killed", 5: "not reached"}
SENTENCE = re.compile(r"\S+\s+\S+\s+\S+")


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One change: what stands at a place of a file, and what is put there instead."""

    path: str
    line: int
    begin: tuple[int, int]
    end: tuple[int, int]
    before: str
    after: str
    at_import: bool

    @property
    def words(self) -> str:
        """The place and the change, in one line."""
        before, after = (" ".join(text.split())[:70] for text in (self.before, self.after))
        return f"{self.path}:{self.line}: {before}  ->  {after}"

    def text(self) -> str:
        """The file with the change in it; as it is where nothing is changed."""
        whole = (TOP / self.path).read_text(encoding="utf-8")
        if self.after == self.before:
            return whole
        lines = whole.split("\n")
        (first, left), (last, right) = self.begin, self.end
        # Columns of a syntax tree count bytes.
        head = lines[first - 1].encode()[:left].decode()
        tail = lines[last - 1].encode()[right:].decode()
        # What it replaces may span lines: as many are left behind, so that no other line moves.
        lines[first - 1 : last] = [head + self.after + tail, *[""] * (last - first)]
        return "\n".join(lines)


def mutants_of(path: str) -> Iterator[Mutant]:
    """Every change that can be made in a file."""
    text = (TOP / path).read_text(encoding="utf-8")
    tree = ast.parse(text)
    for node, inside, at_import in walked(tree):
        for changed in changes(node, inside):
            after = changed if isinstance(changed, str) else ast.unparse(ast.fix_missing_locations(changed))
            if "\n" in after:
                continue
            assert node.end_lineno is not None
            assert node.end_col_offset is not None
            before = ast.get_source_segment(text, node) or ""
            if isinstance(node, ast.expr) and not isinstance(node, ast.Constant | ast.Name):
                after = f"({after})"
            yield Mutant(
                path=path, line=node.lineno, begin=(node.lineno, node.col_offset),
                end=(node.end_lineno, node.end_col_offset), before=before, after=after, at_import=at_import,
            )  # fmt: skip


Located = ast.expr | ast.stmt


def walked(tree: ast.Module) -> Iterator[tuple[Located, ast.AST, bool]]:
    """Each expression and statement that may be changed, what it stands in, and whether it runs at import."""

    def visit(node: ast.AST, inside: ast.AST, at_import: bool) -> Iterator[tuple[Located, ast.AST, bool]]:
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert | ast.JoinedStr):
            return
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            return
        if isinstance(node, ast.expr | ast.stmt):
            yield node, inside, at_import
        runs = isinstance(node, ast.FunctionDef | ast.Lambda | ast.AsyncFunctionDef)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "type_comment", "decorator_list"):
                continue
            if isinstance(node, ast.FunctionDef) and name == "args":
                for usual in (*node.args.defaults, *node.args.kw_defaults):
                    if usual is not None:
                        yield from visit(usual, node.args, at_import)
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from visit(child, node, at_import and not (runs and name == "body"))

    yield from visit(tree, tree, True)


def changes(node: ast.AST, inside: ast.AST) -> Iterator[ast.AST | str]:
    """What can stand in a node's place."""
    if isinstance(node, ast.Compare) and len(node.ops) == 1:
        yield ast.Compare(node.left, [COMPARED[type(node.ops[0])]()], node.comparators)
    elif isinstance(node, ast.Compare):
        for at, op in enumerate(node.ops):
            ops = [*node.ops[:at], COMPARED[type(op)](), *node.ops[at + 1 :]]
            yield ast.Compare(node.left, ops, node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in COUNTED:
        if not any(
            isinstance(each, ast.Constant | ast.JoinedStr)
            and not isinstance(getattr(each, "value", ""), int | float)
            for each in (node.left, node.right)
        ):
            yield ast.BinOp(node.left, COUNTED[type(node.op)](), node.right)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.And() if isinstance(node.op, ast.Or) else ast.Or(), node.values)
        yield node.values[0]
        yield node.values[-1]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield node.operand
    elif isinstance(node, ast.IfExp):
        yield node.body
        yield node.orelse
    elif isinstance(node, ast.If | ast.While):
        pass  # their conditions are changed as expressions
    elif isinstance(node, ast.Constant) and not isinstance(inside, ast.Expr):
        yield from other_constants(node)
    elif isinstance(node, ast.Return) and node.value is not None and not is_none(node.value):
        yield "return None"
    elif (isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)) or (
        isinstance(node, ast.Assign | ast.AugAssign) and is_attribute(node)
    ):
        yield "pass"
    elif isinstance(node, ast.Continue):
        yield "break"
    elif isinstance(node, ast.Raise):
        yield "pass"
    elif isinstance(node, ast.Call) and node.keywords and isinstance(node.func, ast.Name):
        for at, word in enumerate(node.keywords):
            if word.arg is not None and node.func.id[:1].islower():
                yield ast.Call(node.func, node.args, [*node.keywords[:at], *node.keywords[at + 1 :]])
    if isinstance(inside, ast.If | ast.While | ast.IfExp) and node is inside.test:
        if not isinstance(inside, ast.While):
            yield "True"
        yield "False"


def other_constants(node: ast.Constant) -> Iterator[ast.AST | str]:
    value = node.value
    if isinstance(value, bool):
        yield str(not value)
    elif isinstance(value, int | float):
        yield repr(value + 1)
        if abs(value) > 2:
            yield repr(value * 3)
    elif isinstance(value, str) and not SENTENCE.search(value):
        yield repr(value + "x" if value else "x")
    elif value is None:
        return


def is_none(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def is_attribute(node: ast.Assign | ast.AugAssign) -> bool:
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    return any(isinstance(target, ast.Attribute | ast.Subscript) for target in targets)


def drawn(paths: Sequence[str], n: int, seed: int) -> list[Mutant]:
    """Return so many mutants, every place as likely as any other, in order of files and lines."""
    found = [mutant for path in files_of(paths) for mutant in mutants_of(path)]
    random.Random(seed).shuffle(found)
    places: set[tuple[object, ...]] = set()
    chosen = []
    for mutant in found:
        place = (mutant.path, mutant.begin, mutant.end)
        if place not in places and is_python(mutant):
            places.add(place)
            chosen.append(mutant)
        if len(chosen) == n:
            break
    print(f"{len(found)} changes are possible; {len(chosen)} drawn by seed {seed}")
    return sorted(chosen, key=lambda mutant: (mutant.path, mutant.line))


def is_python(mutant: Mutant) -> bool:
    try:
        compile(mutant.text(), mutant.path, "exec", dont_inherit=True)
    except (SyntaxError, ValueError):
        return False
    return True


def files_of(paths: Sequence[str]) -> list[str]:
    found = []
    for path in paths:
        whole = TOP / path
        files = [whole] if whole.is_file() else sorted(whole.rglob("*.py"))
        found += [str(file.relative_to(TOP)) for file in files]
    return sorted(set(found))


class Reached:
    """Which tests reach which line, as coverage.py has recorded it."""

    def __init__(self, file: Path) -> None:
        from coverage import CoverageData

        self._data = CoverageData(basename=str(file))
        self._data.read()
        self._of_file: dict[str, dict[int, list[str]]] = {}

    def tests_of(self, mutant: Mutant) -> list[str]:
        """Return node ids, those of the module's own tests first."""
        lines = self._lines(mutant.path)
        if mutant.at_import:
            found = {test for tests in lines.values() for test in tests}
        else:
            found = {
                test for line in range(mutant.begin[0], mutant.end[0] + 1) for test in lines.get(line, ())
            }
        own = f"test_{Path(mutant.path).stem}.py"
        order = random.Random(mutant.words)
        return sorted(found, key=lambda test: (own not in test, order.random()))

    def _lines(self, path: str) -> dict[int, list[str]]:
        if path not in self._of_file:
            # By the end of its path, so that another copy of the same text can be studied.
            measured = next(
                (f for f in self._data.measured_files() if f.endswith(f"/{path}")), str(TOP / path)
            )
            contexts = self._data.contexts_by_lineno(measured)
            self._of_file[path] = {
                line: sorted({context.split("|")[0] for context in found if context})
                for line, found in contexts.items()
            }
        return self._of_file[path]


def record(file: Path, tests: Sequence[str]) -> None:
    """Run the tests under coverage.py and write which line each of them reaches."""
    command = [
        sys.executable, "-m", "pytest", "-q", "-n", str(PARALLEL), "-m", "not system", "--cov=trainer",
        "-p", "no:cacheprovider", "--cov-branch", "--cov-context=test", "--cov-report=", *tests,
    ]  # fmt: skip
    subprocess.run(command, cwd=TOP, env={**os.environ, "COVERAGE_FILE": str(file)}, check=True)


class ChangedModule(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the changed text for one module, and leaves the others to Python."""

    def __init__(self, mutant: Mutant) -> None:
        parts = Path(mutant.path).with_suffix("").parts
        self._name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        self._path = str(TOP / mutant.path)
        self._is_package = parts[-1] == "__init__"
        self._text = mutant.text()

    def find_spec(
        self, fullname: str, path: object = None, target: object = None
    ) -> importlib.machinery.ModuleSpec | None:
        del path, target
        if fullname != self._name:
            return None
        return importlib.util.spec_from_file_location(
            fullname, self._path, loader=self,
            submodule_search_locations=[str(Path(self._path).parent)] if self._is_package else None,
        )  # fmt: skip

    def create_module(self, spec: importlib.machinery.ModuleSpec) -> None:
        del spec

    def exec_module(self, module: object) -> None:
        exec(compile(self._text, self._path, "exec", dont_inherit=True), vars(module))


def run_child(mutant: Mutant, tests: Sequence[str]) -> None:
    """Run tests with a mutant in this process and leave it with what pytest says; never returns."""
    import pytest

    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(nowhere, descriptor)
    os.setpgid(0, 0)
    sys.meta_path.insert(0, ChangedModule(mutant))
    os.chdir(TOP)
    code = OURS
    try:
        code = int(
            pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov", *tests])
        )
    finally:
        os._exit(code)


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of a mutant: killed, killed by time, survived or not reached."""

    mutant: Mutant
    what: str
    tests: int
    took_s: float


def study(mutants: Sequence[Mutant], reached: Reached, tests: slice = FIRST_TESTS) -> list[Verdict]:
    """Run every mutant, two at a time, against some of the tests that reach it."""
    load_libraries()
    waiting = list(mutants)
    running: dict[int, tuple[int, Mutant, int, float]] = {}
    found: list[Verdict] = []
    while waiting or running:
        while waiting and len(running) < PARALLEL:
            mutant = waiting.pop(0)
            chosen = reached.tests_of(mutant)[tests]
            if not chosen:
                found.append(Verdict(mutant=mutant, what="not reached", tests=0, took_s=0.0))
                continue
            pid = os.fork()
            if pid == 0:
                run_child(mutant, chosen)
            running[pid] = (os.pidfd_open(pid), mutant, len(chosen), time.monotonic())
        ended = select.select([handle for handle, *_ in running.values()], [], [], 1.0)[0]
        for pid, (handle, mutant, n, began) in list(running.items()):
            took_s = time.monotonic() - began
            if handle in ended:
                code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
                what = VERDICTS.get(code, f"not run (pytest says {code})")
            elif took_s > LONGEST_S:
                os.killpg(pid, signal.SIGKILL)
                os.waitpid(pid, 0)
                what = "killed by time"
            else:
                continue
            os.close(handle)
            del running[pid]
            found.append(Verdict(mutant=mutant, what=what, tests=n, took_s=took_s))
            mark = "." if what.startswith("killed") else "S" if what == "survived" else "-"
            print(mark, end="" if len(found) % 80 else "\n", flush=True)
    print()
    return found


def load_libraries() -> None:
    """Load what every run needs before forking; nothing of the program's own."""
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    import mido
    import numpy
    import pygame
    import pytest

    # Not hypothesis: pytest wants to load its own plugins.
    assert all((mido, numpy, pygame, pytest))
    assert not [name for name in sys.modules if name.split(".")[0] == "trainer"]


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
        record(options.coverage, options.tests)
    mutants = drawn(options.only, options.mutants, options.seed)
    random.Random(options.seed).shuffle(mutants)
    mutants = mutants[options.skip : None if options.take is None else options.skip + options.take]
    reached = Reached(options.coverage)
    nothing = [replace(mutant, after=mutant.before) for mutant in mutants[:PARALLEL]]
    if any(each.what.startswith("killed") for each in study(nothing, reached)):
        raise SystemExit("the tests fail without a change: mend them first")
    began = time.monotonic()
    found = study(mutants, reached)
    # What the first tests did not notice the others may.
    many = [v.mutant for v in found if v.what == "survived" and reached.tests_of(v.mutant)[OTHER_TESTS]]
    again = {v.mutant: v for v in study(many, reached, OTHER_TESTS)}
    found = [again.get(v.mutant, v) for v in found]
    counts = Counter(each.what for each in found)
    killed = counts["killed"] + counts["killed by time"]
    print(f"{dict(counts)} in {time.monotonic() - began:.0f} s")
    print(f"killed {killed} of {len(found)}: {killed / max(len(found), 1):.1%}")
    for each in sorted(found, key=lambda v: (v.what, v.mutant.path, v.mutant.line)):
        if not each.what.startswith("killed"):
            print(f"{each.what} ({each.tests} tests): {each.mutant.words}")


if __name__ == "__main__":
    main()
