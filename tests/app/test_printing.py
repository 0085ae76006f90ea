"""A page for a printer, written by a process of its own."""

import time
from dataclasses import replace
from pathlib import Path

import pytest

from tests.shipped import shipped
from trainer.app.printing import Printing
from trainer.errors import StoreProblem
from trainer.records.library import open_pattern

pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
FIGURE = open_pattern("skip-figure", shipped())


def waited(printing: Printing) -> Path:
    while (path := printing.poll()) is None:
        time.sleep(0.02)
    return path


def test_the_page_is_written_into_its_folder(tmp_path: Path) -> None:
    path = waited(Printing(FIGURE, folder=tmp_path / "sheets"))
    assert path.parent == tmp_path / "sheets"
    assert path.stem == "skip-figure"
    assert path.stat().st_size > 1000


def test_a_pattern_that_cannot_be_opened_again_is_one_sentence(tmp_path: Path) -> None:
    printing = Printing(replace(FIGURE, name="no/such figure"), folder=tmp_path)
    assert printing.path.parent == tmp_path
    with pytest.raises(StoreProblem, match="the page was not written"):
        waited(printing)


def test_what_is_given_up_leaves_nothing(tmp_path: Path) -> None:
    Printing(FIGURE, folder=tmp_path).give_up()
    assert list(tmp_path.iterdir()) == []
