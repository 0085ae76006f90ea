"""Find every small change that can be made in a file of the program, and draw some of them by a seed.

A change is known by its file, its function and what it changes there, not by its line, and is drawn by a
number made of these: whoever changes one function leaves the draw from all the others as it was.

What is never changed: docstrings, annotations, imports, assertions, texts of three words and more (they are
for people), names of fields and slots.
"""

from __future__ import annotations

import ast
import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).parents[2]
COMPARED = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
}  # fmt: skip
COUNTED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}  # fmt: skip
Located = ast.expr | ast.stmt
SENTENCE = re.compile(r"\S+\s+\S+\s+\S+")


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One change: what stands at a place of a file, and what is put there instead."""

    path: str
    function: str
    nth: int
    line: int
    begin: tuple[int, int]
    end: tuple[int, int]
    before: str
    after: str
    at_import: bool

    @property
    def name(self) -> str:
        """The change in one line, the same as long as its function is."""
        before, after = (" ".join(text.split())[:70] for text in (self.before, self.after))
        count = f" #{self.nth}" if self.nth > 1 else ""
        return f"{self.path} {self.function or 'module'}: {before}  ->  {after}{count}"

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
    lines = [line.encode() for line in text.split("\n")]
    seen: Counter[tuple[str, str, str]] = Counter()
    for node, inside, function, at_import in walked(tree):
        for changed in changes(node, inside):
            after = changed if isinstance(changed, str) else ast.unparse(ast.fix_missing_locations(changed))
            if "\n" in after:
                continue
            assert node.end_lineno is not None
            assert node.end_col_offset is not None
            before = segment(lines, node)
            if isinstance(node, ast.expr) and not isinstance(node, ast.Constant | ast.Name):
                after = f"({after})"
            seen[function, before, after] += 1
            yield Mutant(
                path=path, function=function, nth=seen[function, before, after], line=node.lineno,
                begin=(node.lineno, node.col_offset),
                end=(node.end_lineno, node.end_col_offset), before=before, after=after, at_import=at_import,
            )  # fmt: skip


def segment(lines: Sequence[bytes], node: Located) -> str:
    """Return the text of a node; columns of a syntax tree count bytes."""
    first, last = node.lineno - 1, (node.end_lineno or node.lineno) - 1
    if first == last:
        return lines[first][node.col_offset : node.end_col_offset].decode()
    whole = [lines[first][node.col_offset :], *lines[first + 1 : last], lines[last][: node.end_col_offset]]
    return b"\n".join(whole).decode()


def walked(tree: ast.Module) -> Iterator[tuple[Located, ast.AST, str, bool]]:
    """Each expression and statement that may be changed: in what, in which function, whether at import."""

    def visit(
        node: ast.AST, inside: ast.AST, function: str, at_import: bool
    ) -> Iterator[tuple[Located, ast.AST, str, bool]]:
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert | ast.JoinedStr):
            return
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            return
        if isinstance(node, ast.expr | ast.stmt):
            yield node, inside, function, at_import
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            function = f"{function}.{node.name}".lstrip(".")
        runs = isinstance(node, ast.FunctionDef | ast.Lambda | ast.AsyncFunctionDef)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "type_comment", "decorator_list"):
                continue
            if isinstance(node, ast.FunctionDef) and name == "args":
                for usual in (*node.args.defaults, *node.args.kw_defaults):
                    if usual is not None:
                        yield from visit(usual, node.args, function, at_import)
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    yield from visit(child, node, function, at_import and not (runs and name == "body"))

    yield from visit(tree, tree, "", True)


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
    """Return so many mutants as they are drawn: every place as likely as any other, one at a place."""
    places: dict[tuple[object, ...], list[Mutant]] = {}
    for mutant in (mutant for path in files_of(paths) for mutant in mutants_of(path)):
        places.setdefault((mutant.path, mutant.begin, mutant.end), []).append(mutant)

    def number(of_what: str) -> bytes:
        return hashlib.sha256(f"{seed} {of_what}".encode()).digest()

    def place_name(mutants: Sequence[Mutant]) -> str:
        first = mutants[0]
        return f"{first.path} {first.function} {first.before} {first.nth}"

    chosen: list[Mutant] = []
    for mutants in sorted(places.values(), key=lambda each: number(place_name(each))):
        possible = sorted((m for m in mutants if is_python(m)), key=lambda m: number(m.name))
        chosen += possible[:1]
        if len(chosen) == n:
            break
    possible_changes = sum(map(len, places.values()))
    print(f"{possible_changes} changes are possible at {len(places)} places")
    print(f"{len(chosen)} drawn by seed {seed}")
    return chosen


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
