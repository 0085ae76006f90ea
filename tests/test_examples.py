"""The examples in the docstrings of the rooms that compute are true."""

import doctest
import importlib
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "trainer"
ROOMS = ("music", "judging", "practice", "sound", "screen")
PAINTING = ("painter", "paper")


def modules_with_examples() -> list[str]:
    files = (path for room in ROOMS for path in sorted((PACKAGE / room).rglob("*.py")))
    return [
        ".".join(("trainer", *path.relative_to(PACKAGE).with_suffix("").parts))
        for path in files
        if path.stem not in PAINTING and ">>> " in path.read_text(encoding="utf-8")
    ]


@pytest.mark.parametrize("name", modules_with_examples())
def test_the_examples_of_a_module_are_true(name: str) -> None:
    found = doctest.testmod(importlib.import_module(name), optionflags=doctest.FAIL_FAST)
    assert found.attempted > 0
    assert found.failed == 0, f"python -m doctest says which one: {name}"


def test_every_room_that_computes_has_examples() -> None:
    rooms = {name.split(".")[1] for name in modules_with_examples()}
    assert rooms == set(ROOMS)
