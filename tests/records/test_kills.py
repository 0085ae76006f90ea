"""A program killed while it saves; tests.benchmarks.kill_study does the same 2,000 times."""

import sys
from pathlib import Path

import pytest

from tests.benchmarks.kill_study import TAPS, Found, look, study
from trainer.records.store import Store


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix")
def test_twelve_kills_lose_no_finished_take_and_damage_nothing(tmp_path: Path) -> None:
    found = study(12, 7, tmp_path)
    assert found.kills == 12
    assert found.finished >= 12
    assert (found.finished_lost, found.in_saving_lost, found.in_saving_taps_lost) == (0, 0, 0)
    assert (found.damaged, found.notes) == (0, [])


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of Unix")
def test_a_kill_while_the_records_are_copied_moved_mended_or_changed_loses_no_take(tmp_path: Path) -> None:
    found = study(3, 5, tmp_path, ("backup", "move", "mend", "upgrade"))
    assert found.kills == 12
    assert (found.stored_lost, found.damaged, found.notes) == (0, 0, [])


def test_the_study_sees_what_is_lost(tmp_path: Path) -> None:
    Store.open(tmp_path / "takes.sqlite").close()
    found = Found()
    look(tmp_path / "takes.sqlite", [["kept", "a"], ["saving", "b"], ["failed", "c"]], found)
    assert (found.finished_lost, found.in_saving_lost, found.in_saving_taps_lost) == (1, 1, TAPS)
    assert found.notes == ["c failed without a kill"]
