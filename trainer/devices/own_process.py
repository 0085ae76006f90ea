"""Start a part of this program in a process of its own, which cannot hold up the window nor take it down."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping


def started(module: str, *words: str, more: Mapping[str, str] = {}) -> subprocess.Popen[bytes]:
    """Start a module of this program as ``python -m`` does; its output and what it says come through pipes.

    Args:
        words: what stands after the module's name.
        more: for the environment besides.

    Raises:
        OSError, ValueError: it cannot be started.
    """
    command = [sys.executable, "-P", "-m", module, *words]
    # The child finds the program and its libraries where this process found them, installed or not.
    env = {**os.environ, **more, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    return subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=env,
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
    )
