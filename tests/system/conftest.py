"""Real devices for the system tests: a virtual screen, a JACK server with a dummy driver, SDL's disk driver.

With THUMBFALL_SYSTEM_TESTS=required a missing program fails the test instead of skipping it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.virtual_screen import NoScreen, virtual_screen

READY_S = 15.0
SERVER_NAMES = 4


def needed(program: str) -> str:
    """Return the path of a program, or skip (or fail, where system tests are required)."""
    path = shutil.which(program)
    if path is None:
        if os.environ.get("THUMBFALL_SYSTEM_TESTS") == "required":
            pytest.fail(f"{program} is not installed")
        pytest.skip(f"{program} is not installed")
    return path


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """SDL's disk driver: what is played goes nowhere, what is recorded comes from the file yielded."""
    heard = tmp_path / "heard.raw"
    heard.write_bytes(b"")
    monkeypatch.setenv("SDL_AUDIODRIVER", "disk")
    monkeypatch.setenv("SDL_DISKAUDIOFILE", str(tmp_path / "played.raw"))
    monkeypatch.setenv("SDL_DISKAUDIOFILEIN", str(heard))
    kept = sys.getswitchinterval()
    sys.setswitchinterval(0.0005)
    yield heard
    sys.setswitchinterval(kept)


@pytest.fixture(scope="module")
def jack_server() -> Iterator[str]:
    """Run a JACK server with the dummy driver, make it this process's server, and yield its name."""
    monkeypatch = pytest.MonkeyPatch()
    monkeypatch.setenv("JACK_NO_START_SERVER", "1")
    name, server = started_server()
    monkeypatch.setenv("JACK_DEFAULT_SERVER", name)
    try:
        yield name
    finally:
        server.terminate()
        try:
            server.wait(10)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait(10)
        monkeypatch.undo()


def started_server() -> tuple[str, subprocess.Popen[bytes]]:
    """Start a server under the first name that is free; return the name and its process.

    JACK keeps a register of eight servers, and a name that was never used before takes a new line of it for
    good when its server ends badly; a few names used again and again do not fill it.
    """
    jackd = needed("jackd")
    for number in range(SERVER_NAMES):
        name = f"thumbfall-test-{number}"
        command = [jackd, "-n", name, "-r", "-S", "-d", "dummy", "-r", "48000", "-p", "256"]
        server = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        if _takes_clients(name, server):
            return name, server
        server.kill()
        server.wait(10)
    pytest.fail("no JACK server could be started")


def _takes_clients(name: str, server: subprocess.Popen[bytes]) -> bool:
    """Wait until the server takes clients: it says so nowhere but to a client that tries."""
    tool = shutil.which("jack_wait")
    end = time.monotonic() + READY_S
    while time.monotonic() < end and server.poll() is None:
        if tool is None:
            time.sleep(2.0)
            return server.poll() is None
        done = subprocess.run([tool, "-s", name, "-w", "-t", "5"], capture_output=True, check=False)
        if done.returncode == 0 and b"server is available" in done.stdout and server.poll() is None:
            return True
        time.sleep(0.2)
    return False


@pytest.fixture
def screen() -> Iterator[str]:
    """Yield the DISPLAY of a virtual screen of 1920 by 1080, or the one that THUMBFALL_SCREEN names."""
    if given := os.environ.get("THUMBFALL_SCREEN"):
        yield given
        return
    try:
        with virtual_screen("1920x1080x24", program=needed("Xvfb")) as number:
            yield f":{number}"
    except NoScreen as err:
        pytest.fail(str(err))
