"""Print how long the program takes from its start to its first picture, beside a bare window.

Run it on a display (or a virtual one) with: python -m tests.benchmarks.start_bench [RUNS]. The peer is a
window of the same library with nothing in it: import, open, flip. Both are new processes, in turn, timed by
one clock.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOP = Path(__file__).parents[2]
OURS = """
import os, sys, time
from trainer.app import loop
from trainer.opening import Opening
from trainer.screen import painter
shown = painter.Painter.flip
def flip(self):
    shown(self)
    print(time.perf_counter(), flush=True)
    os._exit(0)
painter.Painter.flip = flip
loop.open_window(Opening())
"""
BARE = """
import os, time, pygame
pygame.display.init()
pygame.display.set_mode((1280, 720), pygame.RESIZABLE)
pygame.display.flip()
print(time.perf_counter(), flush=True)
os._exit(0)
"""


def once(code: str, home: Path) -> float:
    """Return the seconds from starting a process to what it prints."""
    env = {**os.environ, "HOME": str(home), "PYTHONPATH": str(TOP), "PYGAME_HIDE_SUPPORT_PROMPT": "1"}
    # Both find their modules compiled, as on every start but the first, whatever this process was told.
    env["PYTHONPYCACHEPREFIX"] = str(home / "compiled")
    for name in ("XDG_CONFIG_HOME", "PYTHONDONTWRITEBYTECODE"):
        env.pop(name, None)
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    return float(done.stdout.split()[-1]) - start


def main(runs: int) -> None:
    """Print medians and their ratio."""
    with tempfile.TemporaryDirectory() as home:
        for first in (OURS, BARE):
            once(first, Path(home))
        pairs = [(once(OURS, Path(home)), once(BARE, Path(home))) for _ in range(runs)]
    ours = statistics.median(pair[0] for pair in pairs)
    bare = statistics.median(pair[1] for pair in pairs)
    print(
        f"start to first picture, median of {runs}: {ours:.2f} s; "
        f"a bare window {bare:.2f} s; ratio {ours / bare:.1f}"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
