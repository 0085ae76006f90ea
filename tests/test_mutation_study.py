"""The study of what the tests notice makes the changes that it says, and only those."""

import ast
import gc

import pytest

from tests.benchmarks.mutants import TOP, Mutant, changes, drawn, files_of, mutants_of, walked


def made_of(text: str) -> set[str]:
    """Every change of a text, as it would read."""
    found = set()
    for node, inside, _function, _at_import in walked(ast.parse(text)):
        for changed in changes(node, inside):
            found.add(
                changed if isinstance(changed, str) else ast.unparse(ast.fix_missing_locations(changed))
            )
    return found


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("x = a < b", {"a <= b"}),
        ("x = a is None", {"a is not None"}),
        ("x = a + b", {"a - b"}),
        ("x = 'a' + b", {"'ax'"}),
        ("x = a and b", {"a or b", "a", "b"}),
        ("x = not a", {"a"}),
        ("x = 2", {"3"}),
        ("x = True", {"False"}),
        ("x = a if b else c", {"a", "c", "True", "False"}),
        ("f(a)", {"pass"}),
        ("x.y = a", {"pass"}),
        ("def f():\n    return a", {"return None"}),
        ("if a:\n    f()", {"True", "False", "pass"}),
        ('def f():\n    """A docstring of words."""', set()),
        ("x: int = a", set()),
        ("assert a < b", set()),
        ("raise E('what was found there')", {"pass"}),
        ("import a", set()),
    ],
)
def test_each_kind_of_place_is_changed_in_its_ways(text: str, changed: set[str]) -> None:
    assert made_of(text) == changed


def test_a_change_moves_no_other_line() -> None:
    path = "trainer/practice/setting_changes.py"
    before = (TOP / path).read_text(encoding="utf-8").split("\n")
    found = list(mutants_of(path))
    assert len(found) > 50
    for mutant in found:
        after = mutant.text().split("\n")
        assert len(after) == len(before)
        differ = [at for at, (one, other) in enumerate(zip(before, after, strict=True), 1) if one != other]
        assert set(differ) <= set(range(mutant.begin[0], mutant.end[0] + 1))
        assert isinstance(mutant, Mutant)


def test_a_seed_draws_the_same_ones_again() -> None:
    paths = ("trainer/practice/setting_kinds.py",)
    assert drawn(paths, 20, 3) == drawn(paths, 20, 3)
    assert drawn(paths, 20, 3) != drawn(paths, 20, 4)
    assert files_of(("trainer/records",))


def test_a_change_is_put_into_the_functions_that_are_there() -> None:
    """Where the module was loaded long before, who holds the function already, and a window froze all."""
    pytest.importorskip("resource", reason="the study forks, which this system does not")
    from tests.benchmarks.mutant_runs import changed_in_place, functions_of_the_program
    from trainer.practice.setting_kinds import Switch

    gc.freeze()
    path = "trainer/practice/setting_kinds.py"
    stepped, before = Switch.stepped, Switch.stepped.__code__
    mutant = next(m for m in mutants_of(path) if m.before == "not now" and m.after == "(now)")
    try:
        assert changed_in_place(mutant, functions_of_the_program())
        assert stepped(Switch(), True, 1) is True
    finally:
        stepped.__code__ = before
    assert stepped(Switch(), True, 1) is False
