"""A lesson's file is read, shown and written out by the command."""

import shutil
import subprocess
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.records.takes import a_take
from trainer.cli import main
from trainer.commands.lesson import EXAMPLE
from trainer.music.excerpt import excerpt
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import StoredTake, summarised
from trainer.records.lesson_file import read_lesson
from trainer.records.library import load_library, open_pattern
from trainer.records.store import Store

Capture = pytest.CaptureFixture[str]
DAY = date(2026, 11, 24)


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path / "home"


@pytest.fixture
def lesson(tmp_path: Path) -> Path:
    path = tmp_path / "first.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    return path


def run(capsys: Capture, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def played(player: str, pattern: Pattern, bpm: int, *, day: int = DAY.toordinal()) -> StoredTake:
    timeline = Timeline.steady(Fraction(bpm))
    targets = lay_out(pattern, timeline, passes=2)
    taps = simulate(
        targets, Faults(jitter_s=0.01), np.random.default_rng(len(player)), chart=pattern.chart
    ).taps
    take = replace(
        a_take(pattern=pattern), uid=f"{player[:4]}{bpm}{day}{len(pattern.name)}", player=player, day=day,
        timeline=timeline, passes=2, slots_asked=2 * len(pattern.strokes), taps=taps, knows_left=True,
    )  # fmt: skip
    return summarised(take)


def test_the_example_of_the_guide_is_a_good_lesson(lesson: Path) -> None:
    found = read_lesson(lesson, load_library())
    assert found.title == "First skips"
    assert [step.pattern.name for step in found.steps] == [
        "basic-figure", "skip-figure", "barn-lantern at skips bars 3 to 6",
    ]  # fmt: skip
    assert [step.bpm for step in found.steps] == [60, 50, 50]
    assert found.steps[1].words == "let the hand fall as if it struck"
    assert found.steps[2].passes_for(8) == 4


def test_it_is_explained_and_shown_without_a_window(lesson: Path, capsys: Capture) -> None:
    code, out, err = run(capsys, "lesson", "--explain")
    assert (code, err) == (0, "")
    assert EXAMPLE in out
    code, out, err = run(capsys, "lesson", lesson, "--show")
    assert (code, err) == (0, "")
    assert out.startswith("First skips: 3 steps, 11 minutes\n  1  The basic figure (basic-figure), 60 bpm")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "skip-figure, 50",
            "skip-figur, 50",
            '5:1: found no pattern called "skip-figur"; did you mean skip-figure',
        ),
        ("bars 3 to 6", "bars 3 to 66", "6:24: found bars 3 to 66 of barn-lantern at skips, which has 16"),
        ("at skips", "at skip", '6:1: found "skip" for a level; did you mean skips'),
    ],
)
def test_a_step_that_names_what_there_is_not_is_pointed_at(
    old: str, new: str, said: str, lesson: Path, capsys: Capture
) -> None:
    lesson.write_text(EXAMPLE.replace(old, new), encoding="utf-8")
    code, _, err = run(capsys, "lesson", lesson, "--show")
    assert code == 2
    assert err.startswith(f"{lesson}:{said}")
    assert err.rstrip().endswith("^")


def test_the_pages_hold_the_takes_of_the_day_and_tempo_and_no_others(
    lesson: Path, tmp_path: Path, capsys: Capture
) -> None:
    pytest.importorskip("fpdf")
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (Debian: poppler-utils) reads the page back, and is not installed")
    library = load_library()
    basic, skips = (open_pattern(name, library) for name in ("basic-figure", "skip-figure"))
    bars = excerpt(open_pattern("barn-lantern at skips", library), 2, 5)
    takes = [
        played("Anna (class)", basic, 60),
        played("Anna (class)", bars, 50),
        played("Bela (class)", skips, 50),
        played("Cora", skips, 90),  # another tempo
        played("Dora", skips, 50, day=DAY.toordinal() - 1),  # another day
    ]
    store = Store.open(tmp_path / "r" / "takes.sqlite")
    store.keep_all(takes)
    store.close()
    to = tmp_path / "lesson.pdf"
    words = ("lesson", lesson, "--results", to, "--on", DAY.isoformat(), "--records", tmp_path / "r")
    code, out, err = run(capsys, *words)
    assert (code, err) == (0, "")
    assert "Anna, Bela" in out
    pages = subprocess.run(["pdftotext", "-layout", str(to), "-"], capture_output=True, text=True, check=True)
    of_class, anna, bela, *rest = pages.stdout.split("\f")
    assert rest == [""]
    for take in takes[:3]:
        assert f"{take.clean} of {take.asked} as asked" in of_class
    assert "Anna: First skips" in anna
    assert "Bela: First skips" in bela
    assert "Cora" not in pages.stdout
    assert "Dora" not in pages.stdout
    assert of_class.count("no turn") == 3
