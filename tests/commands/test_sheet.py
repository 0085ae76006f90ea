"""The page from the command line: written without a display, wrong words said in one sentence."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from trainer.cli import main

pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
pypdf = pytest.importorskip("pypdf")
Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")


def test_a_pdf_in_another_key_names_the_shapes_and_the_capo(
    capsys: Capture, lantern: Path, tmp_path: Path
) -> None:
    to = tmp_path / "page.pdf"
    assert main(["sheet", str(lantern), "--to", str(to), "--key", "b♭", "--paper", "letter"]) == 0
    assert "in Bb: shapes of A, capo 1, for letter paper" in capsys.readouterr().out
    text = pypdf.PdfReader(to).pages[0].extract_text()
    assert "in Bb: shapes of A, capo 1" in " ".join(text.split())


def test_a_figure_of_the_library_is_written_as_png_without_a_display(tmp_path: Path) -> None:
    env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "SDL_VIDEODRIVER")}
    words = [sys.executable, "-m", "trainer", "sheet", "skip-figure", "--to", str(tmp_path / "p.png")]
    done = subprocess.run(
        words, capture_output=True, text=True, check=False, env=env, cwd=Path(__file__).parents[2]
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "p.png").read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(
    ("words", "found", "code"),
    [
        (("--to", "p.gif"), "found p.gif", 2),
        (("--to", "p.png", "--paper", "a3"), 'found "a3" for the paper', 2),
        (("--to", "p.png", "--key", "G"), "skip-figure has no chords", 2),
        (("--to", "p.png", "--capo", "13"), "--capo of 13 is outside", 2),
        (("--to", "no/such/folder/p.png"), "cannot be written", 4),
        ((), "--to", 2),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence(
    capsys: Capture,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    found: str,
    code: int,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "skip-figure", *words]) == code
    said = capsys.readouterr()
    assert found in said.err
    assert len(said.err.splitlines()) == 1
    assert said.out == ""
