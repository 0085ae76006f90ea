"""Find out which tests reach the places that are to be changed.

The text of each module is loaded with a call before every statement in which a change stands, and all tests
are run once. That costs next to nothing, where watching every line costs several times the tests themselves.
"""

from __future__ import annotations

import ast
import json
import os
import random
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import CodeType

import pytest

from tests.benchmarks.mutant_runs import ChangedModule, load_libraries, nowhere
from tests.benchmarks.mutants import TOP, Mutant

PROBE = "__reached__"
LEFT_OUT = "system or slow"


class Reached:
    """Which tests reach which change, as it was noted in a file."""

    def __init__(self, file: Path, *, first: Sequence[str] = ()) -> None:
        self._tests: dict[str, list[str]] = json.loads(file.read_text(encoding="utf-8"))
        self._first = tuple(first)
        self._breadth = Counter(test for tests in self._tests.values() for test in tests)
        self._in_file = Counter(
            (name.split(" ")[0], test) for name, tests in self._tests.items() for test in tests
        )

    def tests_of(self, mutant: Mutant) -> list[str]:
        """Return node ids, the likeliest to notice first.

        The first files' come before the module's own and these before others, one case of each test before
        another, and those that reach little but this module before those that play whole evenings.
        """
        own = f"test_{Path(mutant.path).stem}.py"
        mixed = sorted(self._tests.get(mutant.name, ()))
        random.Random(mutant.name).shuffle(mixed)
        mixed.sort(key=lambda test: -self._in_file[mutant.path, test] / self._breadth[test])
        cases: Counter[str] = Counter()
        nth = {}
        for test in mixed:
            function = test.split("[")[0]
            nth[test] = cases[function]
            cases[function] += 1
        return sorted(mixed, key=lambda test: (not test.startswith(self._first), own not in test, nth[test]))


class Noting:
    """A plugin that notes for each test what has been reached since it began, unless it fails."""

    def __init__(self, seen: set[str]) -> None:
        self.tests: dict[str, list[str]] = {}
        self.failed: list[str] = []
        self.loaded: frozenset[str] = frozenset()
        self._seen = seen

    def pytest_collection_finish(self) -> None:
        """Remember what has run while the program was loaded."""
        self.loaded = frozenset(self._seen)

    def pytest_runtest_logstart(self) -> None:
        """Begin anew."""
        self._seen.clear()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember which tests fail as things are: they can tell nothing."""
        if report.failed:
            self.failed.append(report.nodeid)

    def pytest_runtest_logfinish(self, nodeid: str) -> None:
        """Note what was reached."""
        if nodeid not in self.failed:
            for name in self._seen:
                self.tests.setdefault(name, []).append(nodeid)


def note_reached(
    file: Path, mutants: Sequence[Mutant], tests: Sequence[str], *, is_added: bool = False
) -> None:
    """Run tests once and write which changes each of them reaches, or add it to what is written."""
    load_libraries()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            _note(file, mutants, tests, is_added=is_added)
            code = 0
        finally:
            os._exit(code)
    if os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]):
        raise SystemExit("the tests could not be run")
    print(file.with_suffix(".failed").read_text(encoding="utf-8"), end="")


def _note(file: Path, mutants: Sequence[Mutant], tests: Sequence[str], *, is_added: bool) -> None:
    nowhere()
    os.chdir(TOP)
    seen: set[str] = set()
    for path in sorted({mutant.path for mutant in mutants}):
        mine = [mutant for mutant in mutants if mutant.path == path]
        sys.meta_path.insert(0, ChangedModule(path, _probed(path, mine), {PROBE: seen.update}))
    noting = Noting(seen)
    options = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", f"not ({LEFT_OUT})"]
    pytest.main([*options, *tests], plugins=[noting])
    for mutant in mutants:
        if mutant.name in noting.loaded and mutant.name not in noting.tests:
            # It runs when the module is loaded: whatever runs one of its functions may notice.
            noting.tests[mutant.name] = sorted(
                {test for m in mutants if m.path == mutant.path for test in noting.tests.get(m.name, ())}
            )
    known = json.loads(file.read_text(encoding="utf-8")) if is_added else {}
    found = {
        mutant.name: sorted({*known.get(mutant.name, ()), *noting.tests.get(mutant.name, ())})
        for mutant in mutants
    }
    file.write_text(json.dumps(found, indent=0), encoding="utf-8")
    failed = "".join(f"left out, as it fails without a change: {test}\n" for test in noting.failed)
    file.with_suffix(".failed").write_text(failed, encoding="utf-8")


def _probed(path: str, mutants: Sequence[Mutant]) -> CodeType:
    """Return the module's code with a call before each statement that is to be changed.

    What runs when the module is loaded counts as reached by whatever runs one of its functions.
    """
    tree = ast.parse((TOP / path).read_text(encoding="utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    inside = {id(each) for function in functions for stmt in function.body for each in ast.walk(stmt)}
    wanted: dict[int, list[str]] = {}
    for mutant in mutants:
        statement = _statement(tree, mutant)
        if id(statement) in inside:
            wanted.setdefault(id(statement), []).append(mutant.name)
            continue
        for function in functions:
            first = function.body[1 if ast.get_docstring(function) and len(function.body) > 1 else 0]
            wanted.setdefault(id(first), []).append(mutant.name)
    for node in list(ast.walk(tree)):
        for field in ("body", "orelse", "finalbody"):
            if isinstance(body := getattr(node, field, None), list):
                setattr(node, field, [each for statement in body for each in _with_call(statement, wanted)])
    return compile(ast.fix_missing_locations(tree), str(TOP / path), "exec", dont_inherit=True)


def _statement(tree: ast.Module, mutant: Mutant) -> ast.stmt:
    """Return the innermost statement around a change."""
    around = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt)
        and (node.lineno, node.col_offset) <= mutant.begin
        and mutant.end <= (node.end_lineno or 0, node.end_col_offset or 0)
    ]
    return max(around, key=lambda node: (node.lineno, node.col_offset))


def _with_call(statement: ast.stmt, wanted: dict[int, list[str]]) -> Iterable[ast.stmt]:
    """Put the call before a statement, on its own line, so that no other line moves."""
    if id(statement) in wanted:
        names = ast.Tuple([ast.Constant(name) for name in wanted[id(statement)]], ast.Load())
        call = ast.Expr(ast.Call(ast.Name(PROBE, ast.Load()), [names], []))
        for node in ast.walk(call):
            ast.copy_location(node, statement)
        yield call
    yield statement
