"""Run the tests that reach a changed line, one process for each change, and see whether they notice.

Warm: one process loads the program and gathers all tests once; for each mutant it forks, and the child puts
the changed code into the functions that are already there. That costs hardly more than the tests. It cannot
be done for what runs when a module is loaded, and what such code has computed before stays as it was, so
whatever survives is run once more from cold: in a process that has loaded nothing of the program.
"""

from __future__ import annotations

import functools
import gc
import importlib.abc
import importlib.machinery
import importlib.util
import os
import resource
import select
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType, MappingProxyType

import pytest

from tests.benchmarks.mutants import TOP, Mutant

LONGEST_CPU_S = (
    40  # for one test, by the processor's clock: a busy machine is no reason to call a mutant killed
)
LONGEST_S = 600.0  # by the wall: what waits without end
OURS, COLD = 70, 71  # the study itself has failed; the change can only be made from cold
# What pytest leaves with: 2 or 4 where a module cannot be loaded any more, so that a test is not even found.
VERDICTS = {0: "survived", 1: "killed", 2: "killed", 4: "killed", 5: "not reached", COLD: "from cold only"}
OPTIONS = ("-x", "-q", "-s", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov")


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of a mutant: killed, killed by time, survived or not reached."""

    mutant: Mutant
    what: str
    tests: int
    took_s: float

    @property
    def is_killed(self) -> bool:
        """Whether the tests noticed."""
        return self.what.startswith("killed")


# Warm


class Warm:
    """A plugin that runs mutants instead of the tests, each in a child of its own."""

    def __init__(self, chosen: Sequence[tuple[Mutant, Sequence[str]]], pipe: int) -> None:
        self._chosen = chosen
        self._pipe = pipe
        self._is_child = False

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Fork for each mutant and hand on what became of it, a line each."""
        items = {item.nodeid: item for item in session.items}
        functions = functions_of_the_program()
        caches = [each for each in gc.get_objects() if isinstance(each, functools._lru_cache_wrapper)]
        gc.collect()
        gc.freeze()  # so that children share these pages
        for mutant, tests in self._chosen:
            mine = [items[test] for test in tests if test in items]
            began, what = time.monotonic(), "not reached"
            if mine:
                pid = os.fork()
                if pid == 0:
                    for cache in caches:
                        cache.cache_clear()
                    self._run(session, mutant, mine, functions)
                what = outcome_of(pid, began)
            os.write(self._pipe, f"{len(mine)} {time.monotonic() - began:.2f} {what}\n".encode())
        return True

    def _run(
        self,
        session: pytest.Session,
        mutant: Mutant,
        items: Sequence[pytest.Item],
        functions: dict[tuple[str, int, str], list[FunctionType]],
    ) -> None:
        self._is_child = True
        code = OURS
        try:
            lonely()
            if not changed_in_place(mutant, functions):
                os._exit(COLD)
            for at, item in enumerate(items):
                following = items[at + 1] if at + 1 < len(items) else None
                session.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            code = 0
        finally:
            os._exit(code)

    def pytest_runtest_logstart(self) -> None:
        """Give every test its own time."""
        if self._is_child:
            limit_computing()

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Leave at the first test that fails."""
        if self._is_child and report.failed:
            os._exit(1)


def functions_of_the_program() -> dict[tuple[str, int, str], list[FunctionType]]:
    """Return every function of the program that is there, by file, first line and name."""
    found: dict[tuple[str, int, str], list[FunctionType]] = {}
    root = str(TOP / "trainer")
    gc.unfreeze()  # what is frozen is not listed, and whatever has opened a window has frozen all
    for each in gc.get_objects():
        if type(each) is FunctionType and each.__code__.co_filename.startswith(root):
            code = each.__code__
            found.setdefault((code.co_filename, code.co_firstlineno, code.co_qualname), []).append(each)
    return found


def changed_in_place(mutant: Mutant, functions: dict[tuple[str, int, str], list[FunctionType]]) -> bool:
    """Give the functions that a change stands in the changed code; return whether there are any."""
    if mutant.at_import:
        return False
    path = str(TOP / mutant.path)
    before = code_of(
        compile((TOP / mutant.path).read_text(encoding="utf-8"), path, "exec", dont_inherit=True)
    )
    after = code_of(compile(mutant.text(), path, "exec", dont_inherit=True))
    is_changed = False
    for place, code in after.items():
        if place not in before or before[place] == code:
            continue
        for function in functions.get((path, *place), ()):
            try:
                function.__code__ = code
            except ValueError:  # it holds on to other variables than before
                return False
            is_changed = True
    return is_changed or mutant.after == mutant.before


def code_of(code: CodeType) -> dict[tuple[int, str], CodeType]:
    """Return the code of every function in a module's, by first line and name."""
    found: dict[tuple[int, str], CodeType] = {}
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            found |= {(inner.co_firstlineno, inner.co_qualname): inner, **code_of(inner)}
    return found


def run_warm(chosen: Sequence[tuple[Mutant, Sequence[str]]]) -> Iterator[Verdict]:
    """Run mutants, each against its tests, from one process that has loaded all of them."""
    files = sorted({test.split("::")[0] for _, tests in chosen for test in tests})
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(reading)
        os.chdir(TOP)
        nowhere()
        pytest.main([*OPTIONS, *files], plugins=[Warm(chosen, writing)])
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, encoding="utf-8") as lines:
        for (mutant, _tests), line in zip(chosen, lines, strict=False):
            n, took_s, what = line.split(maxsplit=2)
            yield Verdict(mutant=mutant, what=what.strip(), tests=int(n), took_s=float(took_s))
    os.waitpid(pid, 0)


# Cold


class ChangedModule(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives changed code for one module, and names besides; leaves the others to Python."""

    def __init__(self, path: str, code: CodeType, names: Mapping[str, object] = MappingProxyType({})) -> None:
        parts = Path(path).with_suffix("").parts
        self._name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        self._path = str(TOP / path)
        self._is_package = parts[-1] == "__init__"
        self._code = code
        self._names = names

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
        vars(module).update(self._names)
        exec(self._code, vars(module))


class OwnTime:
    """A plugin that gives every test its own time."""

    def pytest_runtest_logstart(self) -> None:
        """Count anew."""
        limit_computing()


def run_cold(chosen: Sequence[tuple[Mutant, Sequence[str]]]) -> Iterator[Verdict]:
    """Run mutants, each against its tests, each in a process that loads the program anew."""
    load_libraries()
    for mutant, tests in chosen:
        if not tests:
            yield Verdict(mutant=mutant, what="not reached", tests=0, took_s=0.0)
            continue
        began = time.monotonic()
        pid = os.fork()
        if pid == 0:
            _run_cold(mutant, tests)
        what = outcome_of(pid, began)
        yield Verdict(mutant=mutant, what=what, tests=len(tests), took_s=time.monotonic() - began)


def _run_cold(mutant: Mutant, tests: Sequence[str]) -> None:
    code = OURS
    try:
        nowhere()
        lonely()
        changed = compile(mutant.text(), str(TOP / mutant.path), "exec", dont_inherit=True)
        sys.meta_path.insert(0, ChangedModule(mutant.path, changed))
        os.chdir(TOP)
        code = int(pytest.main([*OPTIONS, *tests], plugins=[OwnTime()]))
    finally:
        os._exit(code)


def load_libraries() -> None:
    """Load what every run needs before forking; nothing of the program's own."""
    os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
    os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
    import mido
    import numpy
    import pygame

    # Not hypothesis: pytest wants to load its own plugins.
    assert all((mido, numpy, pygame))
    assert not [name for name in sys.modules if name.split(".")[0] == "trainer"]


# Both


def nowhere() -> None:
    """Let nothing be written to the study's own output."""
    null = os.open(os.devnull, os.O_RDWR)
    for descriptor in (0, 1, 2):
        os.dup2(null, descriptor)


def lonely() -> None:
    """Be a child that can be ended with all its own children, and that ends when it computes for too long."""
    os.setpgid(0, 0)
    limit_computing()
    os.environ["PYTEST_DEBUG_TEMPROOT"] = folder = folder_of(os.getpid())
    Path(folder).mkdir(exist_ok=True)


def folder_of(pid: int) -> str:
    """Return where a child's tests may write: in memory where there is room for it, for they flush."""
    return f"{'/dev/shm' if Path('/dev/shm').is_dir() else tempfile.gettempdir()}/mutant-{pid}"


def limit_computing() -> None:
    """Let this process compute for so long from now on, and end it then."""
    used_s = int(time.process_time())
    resource.setrlimit(resource.RLIMIT_CPU, (used_s + LONGEST_CPU_S, resource.RLIM_INFINITY))


def outcome_of(pid: int, began: float) -> str:
    """Wait for a child and say what became of its mutant."""
    handle = os.pidfd_open(pid)
    try:
        left = max(0.0, LONGEST_S - (time.monotonic() - began))
        in_time = bool(select.select([handle], [], [], left)[0])
        if not in_time:
            os.killpg(pid, signal.SIGKILL)
        code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    finally:
        os.close(handle)
        subprocess.run(["rm", "-rf", folder_of(pid)], check=False)
    if not in_time or code in (-signal.SIGXCPU, -signal.SIGKILL):
        return "killed by time"
    return VERDICTS.get(code, f"not run (left with {code})")
