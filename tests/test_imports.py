"""Walk every import of the program and hold it to the table of the house.

Pure rooms compute from their arguments: numpy, the plain part of the standard library, and the rooms below
them; no clock, file, chance or print. Devices, painter and records never import each other. Only the
command line prints, and only the module that starts window and ports imports inside functions, so that
grading needs neither.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeGuard

import pytest

STANDARD = set(sys.stdlib_module_names)
PACKAGE = Path(__file__).parent.parent / "trainer"

# What may be imported from the standard library by a module that only computes.
PURE_STANDARD = {
    "__future__", "abc", "array", "bisect", "collections", "contextlib", "dataclasses", "decimal", "difflib",
    "enum", "fractions", "functools", "heapq", "itertools", "json", "math", "numbers", "operator", "re",
    "statistics", "string", "struct", "textwrap", "tomllib", "types", "typing", "unicodedata",
}  # fmt: skip
NEVER_CALLED_IN_PURE = {"print", "open", "input", "exec", "eval", "compile", "__import__", "breakpoint"}
# numpy's ways to the disk and to chance; a Generator handed in is no source of its own.
NEVER_USED_OF_NUMPY = {
    "load", "save", "savez", "savez_compressed", "loadtxt", "savetxt", "genfromtxt", "fromfile", "tofile",
    "memmap", "seed", "RandomState", "rand", "randn", "randint",
}  # fmt: skip


@dataclass(frozen=True)
class Room:
    """What the modules of one room may import besides errors and themselves."""

    rooms: frozenset[str]
    pure: bool = True
    libraries: frozenset[str] = frozenset()
    lazy: frozenset[str] = frozenset()


def pure(*rooms: str) -> Room:
    return Room(frozenset(rooms), libraries=frozenset({"numpy"}))


def impure(*rooms: str, libraries: tuple[str, ...] = (), lazy: tuple[str, ...] = ()) -> Room:
    return Room(frozenset(rooms), pure=False, libraries=frozenset(libraries), lazy=frozenset(lazy))


BELOW = ("music", "judging", "practice")
WORLD = ("devices", "records", "shipped")
BEHIND = (*BELOW, *WORLD, "sound", "hearing", "screen", "opening")  # what is behind the window may use
EVERYWHERE = ("errors", "plain_text")
TABLE = {
    "errors": pure(),
    "files": impure(libraries=("platformdirs",)),
    "sdl": impure(libraries=("pygame",)),
    "plain_text": pure(),
    "music": pure(),
    "judging": pure("music"),
    "practice": pure("music", "judging"),
    "sound": pure("music"),
    "hearing": pure("music", "judging", "sound"),
    "screen": pure(*BELOW),
    "screen.painter": impure(*BELOW, "screen", "sdl", libraries=("numpy",)),
    # Paper is written without a window, by whichever library is there.
    "screen.paper": impure(
        *BELOW, "screen", "screen.painter", "files", "shipped", "sdl", libraries=("fpdf",)
    ),
    "devices": impure(*BELOW, "sound", "sdl", libraries=("pygame", "rtmidi", "rtmidi2", "numpy")),
    "records": impure(*BELOW, "files", "shipped", libraries=("mido",)),
    "shipped": impure(),
    "version": impure(),
    "opening": impure(),  # a value; only its paths are no plain numbers and words
    "app": impure(*BEHIND, libraries=("numpy",)),
    "app.scenes": impure(*BEHIND, "app", libraries=("numpy",), lazy=("screen.paper",)),
    # A scene is loaded when it is first shown, so that the first picture comes at once.
    "app.scene_table": impure("app", "screen", "opening", lazy=("app", "app.scenes")),
    "app.application": impure(*BEHIND, "app", "app.scene_table", "app.scenes"),
    "app.display": impure("devices", "sdl"),
    "app.loop": impure(
        *BEHIND,
        "screen.painter",
        "app",
        "app.application",
        "app.display",
        "app.scene_table",
        "sdl",
    ),
    "checking": impure(*BELOW, *WORLD, "sound", "app", "app.application", "app.loop", "opening"),
    # Window, sound and ports are loaded inside the commands that need them, so that the others start at once.
    "commands": impure(
        *BELOW,
        "records",
        "shipped",
        "opening",
        "version",
        "commands.window",
        libraries=("numpy",),
        lazy=(
            "app",
            "app.loop",
            "checking",
            "commands.heard_takes",
            "devices",
            "sound",
            "screen",
            "screen.painter",
            "screen.paper",
        ),
    ),
    "commands.heard_takes": impure(
        *BELOW, "hearing", "sound", "commands", libraries=("numpy",), lazy=("devices",)
    ),
    "commands.window": impure("records", "opening", lazy=("app.loop",)),
    # The commands are loaded when there is a word; without one the window opens.
    "cli": impure("commands", "commands.window", "opening", "files", lazy=("commands", "version")),
    "__init__": impure(),
    "__main__": impure("cli"),
}
MAY_PRINT = {"cli"}


@dataclass(frozen=True)
class Imported:
    """One import: the dotted name, the line, and whether it stands inside a function."""

    name: str
    line: int
    lazy: bool


def module_name(path: Path, package: Path) -> str:
    parts = path.relative_to(package).with_suffix("").parts
    return ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    """The most special entry of the table that a module belongs to."""
    parts = module.split(".")
    for length in range(len(parts), 0, -1):
        name = ".".join(parts[:length])
        if name in TABLE:
            return name
    raise LookupError(f"the table has no room for {module}")


def imports_of(tree: ast.Module) -> Iterator[Imported]:
    inside = {
        id(node)
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for node in ast.walk(function)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Imported(alias.name, node.lineno, id(node) in inside)
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                yield Imported("." * node.level + (node.module or ""), node.lineno, id(node) in inside)
            elif (node.module or "").partition(".")[0] == "trainer":
                for name in sorted({named_module(node.module or "", alias.name) for alias in node.names}):
                    yield Imported(name, node.lineno, id(node) in inside)
            else:
                yield Imported(node.module or "", node.lineno, id(node) in inside)


def named_module(package: str, name: str) -> str:
    """The module that ``from package import name`` loads: the name itself where it is one."""
    inner = f"{package}.{name}"
    return inner if package == "trainer" or inner.removeprefix("trainer.") in MODULES else package


def import_faults(module: str, tree: ast.Module) -> Iterator[str]:
    name = room_of(module)
    room = TABLE[name]
    for each in imports_of(tree):
        where = f"{module}:{each.line}: imports {each.name}"
        top, _, rest = each.name.partition(".")
        if not top:
            yield f"{where}, a relative name"
        elif top == "trainer":
            target = room_of(rest) if rest else "__init__"
            allowed = {name, *EVERYWHERE, "__init__"} | room.rooms | (room.lazy if each.lazy else set())
            if target not in allowed:
                yield f"{where}, which {name} may not"
        elif top not in room.libraries and room.pure and top not in PURE_STANDARD:
            yield f"{where}, and {name} only computes"
        elif not room.pure and top not in room.libraries and top not in STANDARD:
            yield f"{where}, a library that {name} may not use"
        if each.lazy and (top != "trainer" or room_of(rest) not in room.lazy):
            yield f"{where} inside a function"


def imported_modules(module: str, tree: ast.Module, known: Collection[str]) -> set[str]:
    """Which modules of the program a module imports; in "from a import b" either may be one."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "trainer":
            base = (node.module or "").removeprefix("trainer").removeprefix(".")
            for alias in node.names:
                inside = f"{base}.{alias.name}" if base else alias.name
                found.add(inside if inside in known else base)
        elif isinstance(node, ast.Import):
            found |= {a.name.removeprefix("trainer.") for a in node.names if a.name.startswith("trainer.")}
    return {name for name in found if name in known and name != module}


def cycles(graph: Mapping[str, set[str]]) -> list[list[str]]:
    """Return each knot of modules that import each other, however long the way round: Tarjan 1972."""
    order: dict[str, int] = {}
    lowest: dict[str, int] = {}
    waiting: list[str] = []
    found: list[list[str]] = []

    def visit(name: str) -> None:
        order[name] = lowest[name] = len(order)
        waiting.append(name)
        for other in sorted(graph[name]):
            if other not in order:
                visit(other)
                lowest[name] = min(lowest[name], lowest[other])
            elif other in waiting:
                lowest[name] = min(lowest[name], order[other])
        if lowest[name] == order[name]:
            knot = waiting[waiting.index(name) :]
            del waiting[-len(knot) :]
            if len(knot) > 1:
                found.append(sorted(knot))

    for name in sorted(graph):
        if name not in order:
            visit(name)
    return found


def call_faults(module: str, tree: ast.Module) -> Iterator[str]:
    name = room_of(module)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Name | ast.Attribute):
            continue
        if isinstance(node, ast.Name) and node.id == "print" and name not in MAY_PRINT:
            yield f"{module}:{node.lineno}: prints"
        elif TABLE[name].pure and isinstance(node, ast.Name) and node.id in NEVER_CALLED_IN_PURE:
            yield f"{module}:{node.lineno}: uses {node.id}"
        elif TABLE[name].pure and isinstance(node, ast.Attribute) and node.attr in NEVER_USED_OF_NUMPY:
            yield f"{module}:{node.lineno}: uses .{node.attr}"
    unseeded = [node for node in ast.walk(tree) if is_unseeded(node)] if TABLE[name].pure else []
    for call in unseeded:
        yield f"{module}:{call.lineno}: uses .default_rng without a seed"


def is_unseeded(node: ast.AST) -> TypeGuard[ast.Call]:
    """A generator with a fixed seed always gives the same numbers; one without asks the system."""
    if not isinstance(node, ast.Call) or node.args:
        return False
    return isinstance(node.func, ast.Attribute) and node.func.attr == "default_rng"


def faults(module: str, text: str) -> list[str]:
    tree = ast.parse(text)
    return [*import_faults(module, tree), *call_faults(module, tree)]


MODULES = {module_name(path, PACKAGE): path for path in sorted(PACKAGE.rglob("*.py"))}


@pytest.mark.parametrize("module", MODULES)
def test_a_module_keeps_to_the_table(module: str) -> None:
    assert faults(module, MODULES[module].read_text(encoding="utf-8")) == []


def test_the_whole_program_is_walked() -> None:
    assert {"cli", "music.notation", "judging.matching", "practice.hands", "records.library"} <= set(MODULES)


def test_no_modules_import_each_other_in_a_circle() -> None:
    """Neither between rooms nor inside one, and not for types alone either."""
    trees = {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in MODULES.items()}
    graph = {name: imported_modules(name, tree, MODULES.keys()) for name, tree in trees.items()}
    assert sum(len(others) for others in graph.values()) > 500, "the walk finds no imports any more"
    assert cycles(graph) == []


@pytest.mark.parametrize(
    ("graph", "knots"),
    [
        ({"a": {"b"}, "b": {"c"}, "c": set()}, []),
        ({"a": {"b"}, "b": {"a"}}, [["a", "b"]]),
        ({"a": {"b"}, "b": {"c"}, "c": {"b", "d"}, "d": set()}, [["b", "c"]]),
        ({"a": {"b", "d"}, "b": {"c"}, "c": {"a"}, "d": {"e"}, "e": {"d"}}, [["d", "e"], ["a", "b", "c"]]),
    ],
)
def test_circles_of_any_length_are_found(graph: dict[str, set[str]], knots: list[list[str]]) -> None:
    assert cycles(graph) == knots


TESTS = sorted(Path(__file__).parent.rglob("*.py"))


@pytest.mark.parametrize("path", TESTS, ids=lambda path: str(path.relative_to(Path(__file__).parent)))
def test_no_test_leans_on_another_tests_module(path: Path) -> None:
    """What tests share stands in modules of helpers: a test can be changed without a look at others."""
    names = [each.name for each in imports_of(ast.parse(path.read_text(encoding="utf-8")))]
    assert [name for name in names if any(part.startswith("test_") for part in name.split(".")[:-1])] == []
    assert [name for name in names if name.split(".")[-1].startswith("test_")] == []


FORBIDDEN = [
    ("music.strokes", "import time", "and music only computes"),
    ("music.strokes", "import random", "and music only computes"),
    ("judging.take", "import os.path", "and judging only computes"),
    ("practice.drill", "from pathlib import Path", "and practice only computes"),
    ("sound.clicks", "import pygame", "and sound only computes"),
    ("screen.window", "import pygame.draw", "and screen only computes"),
    ("music.strokes", "from trainer.judging.take import Tap", "which music may not"),
    ("judging.take", "import trainer.practice.drill", "which judging may not"),
    ("sound.plan", "from trainer.judging import take", "which sound may not"),
    ("practice.pads", "from trainer import records", "which practice may not"),
    ("devices.midi", "from trainer.records import library", "which devices may not"),
    ("devices.midi", "from trainer.screen.painter import x", "which devices may not"),
    ("records.library", "import trainer.devices.midi", "which records may not"),
    ("screen.painter", "import trainer.records.library", "which screen.painter may not"),
    ("screen.painter", "import trainer.devices.clock", "which screen.painter may not"),
    ("screen.window", "from trainer.screen.painter import x", "which screen may not"),
    ("records.library", "import pygame", "a library that records may not use"),
    ("app.playback", "import pygame", "a library that app may not use"),
    ("app.context", "import trainer.app.scenes.drill", "which app may not"),
    ("app.scenes.drill", "import trainer.app.loop", "which app.scenes may not"),
    ("cli", "import trainer.app.loop", "which cli may not"),
    ("commands.general", "import trainer.app.loop", "which commands may not"),
    ("commands.takes", "import pygame", "a library that commands may not use"),
    ("music.strokes", "from . import pattern", "a relative name"),
    ("judging.take", "def f():\n    import math", "inside a function"),
    ("judging.take", "print('x')", "prints"),
    ("devices.midi", "print('x')", "prints"),
    ("judging.take", "open('x')", "uses open"),
    ("practice.hands", "import numpy as np\nnp.random.default_rng()", "uses .default_rng without a seed"),
    ("sound.clicks", "import numpy as np\nnp.save('x', 1)", "uses .save"),
]


@pytest.mark.parametrize(("module", "text", "words"), FORBIDDEN)
def test_the_check_catches_what_it_should(module: str, text: str, words: str) -> None:
    found = faults(module, text)
    assert len(found) == 1
    assert words in found[0]


@pytest.mark.parametrize(
    ("module", "text"),
    [
        ("judging.take", "import math\nimport numpy as np\nfrom trainer.music.layout import Target"),
        ("practice.hands", "def f(rng):\n    return rng.random()"),
        ("commands.general", "def f():\n    from trainer.app import loop\n    return loop"),
        ("commands.general", "def f():\n    from trainer.devices.speaker import x\n    return x"),
        ("devices.speaker", "import time\nimport pygame"),
        ("cli", "import sys\nprint('x')"),
        ("records.library", "from trainer.errors import BadNotation"),
    ],
)
def test_the_check_lets_through_what_is_allowed(module: str, text: str) -> None:
    assert faults(module, text) == []


def test_no_two_public_classes_share_a_name() -> None:
    """One name for one thing: what two rooms call alike would be the same."""
    found: dict[str, list[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                found.setdefault(node.name, []).append(path.name)
    assert {name: paths for name, paths in found.items() if len(paths) > 1} == {}
