"""Players and days stand side by side: in words, as CSV and on a page, with the numbers of the takes.

The numbers are worked out again here with the statistics of Python's standard library.
"""

import csv
import shutil
import statistics
import subprocess
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tests.records.takes import a_take
from tests.shipped import shipped
from trainer.cli import main
from trainer.judging.take import Verdict
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import StoredTake, judgement_of, summarised
from trainer.records.store import Store

Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")
DAY = 739_000
PATTERN = shipped().find("skip-figure").pattern


def played(player: str, day: int, faults: Faults, *, bpm: int = 80, seed: int = 1) -> StoredTake:
    timeline = Timeline.steady(Fraction(bpm))
    taps = simulate(lay_out(PATTERN, timeline, passes=4), faults, np.random.default_rng(seed)).taps
    slots = 4 * len(PATTERN.strokes)
    take = a_take(pattern=PATTERN)
    return summarised(
        replace(
            take, uid=f"{player.strip('=')}{day}{seed}", player=player, day=day, timeline=timeline, passes=4,
            slots_asked=slots, taps=taps, begun=f"2024-04-{day % 28 + 1:02d}T10:00:00.000000Z",
        )
    )  # fmt: skip


TAKES = (
    played("Anna", DAY, Faults(jitter_s=0.010), seed=1),
    played("Anna", DAY + 1, Faults(jitter_s=0.008), seed=2),
    played("=Bela", DAY, Faults(jitter_s=0.02, rush_gap_s=0.09, touch_skips=0.5), seed=3),
)


@pytest.fixture
def records(tmp_path: Path) -> Path:
    store = Store.open(tmp_path / "r" / "takes.sqlite")
    store.keep_all(TAKES)
    store.close()
    return tmp_path / "r"


def run(capsys: Capture, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_players_stand_side_by_side_with_the_numbers_of_their_latest_day(
    records: Path, tmp_path: Path, capsys: Capture
) -> None:
    to = tmp_path / "beside.csv"
    code, out, _ = run(capsys, "compare", "skip-figure", "--csv", to, "--records", records)
    assert code == 0
    assert "1 =Bela" in out
    rows = {row["name"]: row for row in rows_of(to) if row["stroke"] == "all"}
    assert set(rows) == {"'=Bela", "Anna"}  # a name that a spreadsheet would run is made harmless
    for name, take in (("Anna", TAKES[1]), ("'=Bela", TAKES[2])):
        outcomes = judgement_of(take).outcomes
        sounding = [
            o.placement_s for o in outcomes if o.placement_s is not None and o.verdict is not Verdict.TOUCHED
        ]
        assert float(rows[name]["mean_ms"]) == pytest.approx(1000 * statistics.mean(sounding), abs=0.051)
        assert float(rows[name]["spread_ms"]) == pytest.approx(1000 * statistics.stdev(sounding), abs=0.051)
        assert int(rows[name]["clean"]) == take.clean
        assert int(rows[name]["skips_touched"]) == sum(o.verdict is Verdict.TOUCHED for o in outcomes)


def test_one_players_days_stand_side_by_side(records: Path, capsys: Capture) -> None:
    _, out, _ = run(capsys, "compare", "skip-figure", "--player", "Anna", "--records", records)
    assert ", by day" in out
    assert out.count("2024-") == 4  # each day's name and its date


def test_all_days_of_a_player_are_taken_together_when_asked(
    records: Path, tmp_path: Path, capsys: Capture
) -> None:
    to = tmp_path / "beside.csv"
    run(capsys, "compare", "skip-figure", "--all-days", "--csv", to, "--records", records)
    rows = {row["name"]: row for row in rows_of(to) if row["stroke"] == "all"}
    assert int(rows["Anna"]["asked"]) == TAKES[0].asked + TAKES[1].asked


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (
            ("--on", "2020-01-01"),
            2,
            "no take of skip-figure is as asked for; leave out --on, --bpm or --player",
        ),
        (("--bpm", "140"), 2, "no take of skip-figure is as asked for"),
        (("--player", "Cora"), 2, 'the records have no player called "Cora"'),
        (("--page", "x.txt"), 2, "found x.txt for the page's file; let its name end with .png or .pdf."),
    ],
)
def test_what_cannot_be_compared_is_said(
    words: tuple[str, ...], code: int, said: str, records: Path, capsys: Capture
) -> None:
    found, _, err = run(capsys, "compare", "skip-figure", *words, "--records", records)
    assert found == code
    assert err.startswith(said)


def test_the_page_holds_every_name_and_a_mark_for_each_tap(
    records: Path, tmp_path: Path, capsys: Capture
) -> None:
    pytest.importorskip("fpdf")
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (Debian: poppler-utils) reads the page back, and is not installed")
    to = tmp_path / "beside.pdf"
    assert run(capsys, "compare", "skip-figure", "--page", to, "--records", records)[0] == 0
    text = subprocess.run(["pdftotext", str(to), "-"], capture_output=True, text=True, check=True).stdout
    for words in ("The skip figure", "Player by player", "Anna", "=Bela", "touched"):
        assert words in text
