"""Every verdict has a mark of its own, whatever its colour, and a word."""

from itertools import combinations

import numpy as np
import pytest

from trainer.judging.take import Verdict
from trainer.screen.draw import Item
from trainer.screen.scenes.marks import LOOKS, mark, verdict_colour
from trainer.screen.theme import PROJECTOR, ROOM, Theme


def test_every_verdict_can_be_drawn_and_said() -> None:
    """If this fails, a verdict is new: give it a look in trainer/screen/scenes/marks.py."""
    assert set(LOOKS) == set(Verdict)
    assert all(verdict.value for verdict in Verdict)
    assert [verdict for verdict, look in LOOKS.items() if not look.in_legend] == [Verdict.NOT_JUDGED]


def shape(verdict: Verdict) -> str:
    """A mark without its colour, as text."""
    items: tuple[Item, ...] = mark(verdict, 100.0, 100.0, 20.0, ROOM)
    return repr([str(item).replace(str(verdict_colour(verdict, ROOM)), "") for item in items])


def test_no_two_marks_have_one_shape() -> None:
    assert [(a, b) for a, b in combinations(Verdict, 2) if shape(a) == shape(b)] == []


@pytest.mark.parametrize("theme", [ROOM, PROJECTOR])
def test_a_marks_colour_is_one_of_the_theme(theme: Theme) -> None:
    for verdict in Verdict:
        assert np.shape(verdict_colour(verdict, theme)) == (3,)
