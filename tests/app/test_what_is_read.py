"""Every scene gone through by its keys: what there is to read, line by line, is what was read before."""

import difflib

import pytest

from tests.app.tour import READ, WAYS, kept, read_on


@pytest.mark.parametrize("way", WAYS)
def test_what_is_read_on_the_way_is_what_was_read_before(way: str) -> None:
    before, now = kept()[way], read_on(way)
    difference = "\n".join(difflib.unified_diff(before.splitlines(), now.splitlines(), n=1, lineterm=""))
    assert now == before, f"{difference}\nIf all of this is meant: python -m tests.app.tour"


def test_nothing_is_kept_of_a_way_that_nobody_goes() -> None:
    assert list(kept()) == list(WAYS), READ
