"""pygame is loaded without what it does not need, and what it did without can be loaded afterwards."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("pygame", reason="pygame has no wheel for this Python")

ROOT = Path(__file__).parents[1]


def said(code: str, folder: Path) -> str:
    """What a process says that finds a pkg_resources of ours first, which greets when it is loaded."""
    (folder / "pkg_resources.py").write_text(
        "print('loaded')\nresource_exists = lambda *_: False\nresource_stream = None\n"
    )
    path = f"import sys; sys.path[:0] = [{str(folder)!r}, {str(ROOT)!r}]; "
    done = subprocess.run([sys.executable, "-c", path + code], capture_output=True, text=True, check=True)
    return done.stdout


def test_pygame_itself_would_load_what_we_leave_out(tmp_path: Path) -> None:
    code = "import os; os.environ['PYGAME_HIDE_SUPPORT_PROMPT'] = '1'; import pygame; print('done')"
    assert said(code, tmp_path) == "loaded\ndone\n"


@pytest.mark.parametrize("module", ["trainer.sdl", "trainer.devices.midi", "trainer.screen.painter"])
def test_through_our_module_it_does_not(tmp_path: Path, module: str) -> None:
    assert said(f"import {module}; print('done')", tmp_path) == "done\n"


def test_others_can_load_it_afterwards(tmp_path: Path) -> None:
    assert said("import trainer.sdl; import pkg_resources; print('done')", tmp_path) == "loaded\ndone\n"


def test_where_it_is_loaded_already_it_stays(tmp_path: Path) -> None:
    code = "import pkg_resources as p, trainer.sdl; print(sys.modules['pkg_resources'] is p)"
    assert said(code, tmp_path) == "loaded\nTrue\n"


def test_without_pygame_the_reason_is_kept(tmp_path: Path) -> None:
    code = (
        "sys.modules['pygame'] = None; from trainer import sdl; print(sdl.pygame, type(sdl.WHY_NOT).__name__)"
    )
    assert said(code, tmp_path) == "None ModuleNotFoundError\n"


def test_the_font_that_pygame_brings_along_is_still_found(tmp_path: Path) -> None:
    # pygame's own way to a file beside it, which is what it would have asked the other for.
    code = "from trainer.sdl import pygame; pygame.font.init(); print(pygame.font.Font(None, 12).size('a'))"
    assert said(code, tmp_path).startswith("(")
