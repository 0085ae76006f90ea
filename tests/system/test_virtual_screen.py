"""The screen that nobody sees outlives the programs that come and go on it."""

from __future__ import annotations

import os
import subprocess

import pytest

from tests.system.conftest import needed
from tests.system.virtual_screen import virtual_screen

pytestmark = pytest.mark.system


def test_it_does_not_begin_anew_when_its_last_client_goes() -> None:
    """Or a program that starts just then is turned away, and a window never comes up."""
    xdotool = needed("xdotool")
    with virtual_screen("640x360x24", program=needed("Xvfb")) as number:
        env = {**os.environ, "DISPLAY": f":{number}"}
        # A server that begins anew puts the pointer back to the middle; each call is a client of its own.
        subprocess.run([xdotool, "mousemove", "11", "13"], env=env, check=True)
        found = subprocess.run(
            [xdotool, "getmouselocation"], env=env, check=True, capture_output=True, text=True
        )
    assert found.stdout.startswith("x:11 y:13 ")
