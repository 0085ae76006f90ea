"""`thumbfall checkup`: words, numbers and exit codes, on a machine that has nothing and on a made-up one."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.practice.checkups import GOOD, NOWHERE
from trainer import checking
from trainer.cli import main
from trainer.practice.checkup import Checkup

TOP = Path(__file__).parents[2]
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Let a good machine be found at once; return the seconds asked for."""
    seconds: list[float] = []

    def check(for_s: float) -> Checkup:
        seconds.append(for_s)
        return GOOD

    monkeypatch.setattr(checking, "check", check)
    return seconds


def test_the_verdict_is_the_first_line(asked: list[float], capsys: Capture) -> None:
    assert main(("checkup",)) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "MIDI pads to 1 ms, keys to 6 ms, sound steady, picture steady."
    assert len(lines) == 5
    assert asked == [60.0]


def test_the_numbers_are_one_json_object(asked: list[float], capsys: Capture) -> None:
    assert main(("checkup", "--seconds", "12", "--json")) == 0
    assert json.loads(capsys.readouterr().out)["looks"]["n"] == 9000
    assert asked == [12.0]


@pytest.mark.parametrize("seconds", ["4", "3601", "long", "nan", "-10"])
def test_seconds_out_of_reach_are_refused_in_a_sentence(
    seconds: str, asked: list[float], capsys: Capture
) -> None:
    assert main(("checkup", f"--seconds={seconds}")) == 2
    said = capsys.readouterr()
    assert seconds in said.err
    assert "--seconds" in said.err
    assert said.out == ""
    assert asked == []


def test_a_machine_without_anything_is_an_answer_and_no_failure(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    monkeypatch.setattr(checking, "check", lambda _seconds: NOWHERE)
    assert main(("checkup",)) == 0
    assert capsys.readouterr().out.splitlines()[0] == "Nothing could be measured here."


def test_other_commands_load_neither_the_window_nor_the_devices_for_it() -> None:
    code = (
        "import sys; from trainer.cli import main; main(('checkup', '--seconds', 'x'));"
        "sys.exit(bool({'pygame', 'rtmidi', 'trainer.app.loop', 'trainer.checking'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True, check=False)
    assert done.returncode == 0
