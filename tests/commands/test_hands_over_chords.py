"""Simulated hands that wait at chord changes or speed up: written, graded and told of again."""

import json
from pathlib import Path

import pytest

from trainer.cli import main

Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")


def graded(capsys: Capture, lantern: Path, take: Path, *faults: str) -> tuple[dict[str, object], str]:
    words = ["hands", str(lantern), "--bpm", "90", "--passes", "6", "--jitter", "8", "--to", str(take)]
    assert main([*words, *faults]) == 0
    capsys.readouterr()
    assert main(["grade", str(lantern), str(take), "--json"]) == 0
    report = json.loads(capsys.readouterr().out)
    assert main(["grade", str(lantern), str(take)]) == 0
    return report, " ".join(capsys.readouterr().out.split())


def test_a_hand_that_waits_at_changes_is_found_out(capsys: Capture, lantern: Path, tmp_path: Path) -> None:
    report, words = graded(capsys, lantern, tmp_path / "t.mid", "--late-change", "40")
    changes = report["breakdown"]["changes"]  # type: ignore[index]
    assert changes["difference"]["later_by_ms"] == pytest.approx(40, abs=8)
    assert [f["fault"] for f in report["advice"]] == ["late after a change"]  # type: ignore[attr-defined]
    assert "After a chord change: mean" in words
    assert "The change that costs most: from" in words
    truth = json.loads((tmp_path / "t.truth.json").read_text(encoding="utf-8"))
    assert truth["faults"]["late_change_ms"] == 40
    assert sum(stroke["late_change"] for stroke in truth["strokes"]) > 20


def test_a_hand_that_speeds_up_is_found_drifting_ahead(
    capsys: Capture, lantern: Path, tmp_path: Path
) -> None:
    report, _ = graded(capsys, lantern, tmp_path / "t.mid", "--speed-up", "1.5")
    assert "drifting ahead" in [f["fault"] for f in report["advice"]]  # type: ignore[attr-defined]
    truth = json.loads((tmp_path / "t.truth.json").read_text(encoding="utf-8"))
    assert truth["faults"]["speed_up"] == pytest.approx(0.015)


def test_a_pattern_without_chords_has_no_change_to_be_late_at(capsys: Capture, tmp_path: Path) -> None:
    to = str(tmp_path / "t.mid")
    assert main(["hands", "skip-figure", "--bpm", "90", "--late-change", "30", "--to", to]) == 2
    assert "skip-figure has no chord change" in capsys.readouterr().err
