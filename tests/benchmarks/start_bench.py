"""Print how long the program takes from its start to its first picture, beside a bare window.

Run it with: python -m tests.benchmarks.start_bench [RUNS]. It is started as a player starts it, by
``thumbfall`` without a word, for the first time and again after that. The peer is a window of the same
library with nothing in it: import, open, flip. All are new processes, in turn, timed by one clock, on a
virtual screen of their own (Xvfb). Beside the time on the clock stands that of computing, which the load of
other programs changes less.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.system.virtual_screen import virtual_screen

TOP = Path(__file__).parents[2]
OURS = """
import builtins, os, time
plainly = builtins.__import__
def watched(name, *rest):
    loaded = plainly(name, *rest)
    if name == "trainer.screen.painter":
        builtins.__import__ = plainly
        from trainer.screen.painter import Painter
        shown = Painter.flip
        def flip(self):
            shown(self)
            print(time.perf_counter(), flush=True)
            os._exit(0)
        Painter.flip = flip
    return loaded
builtins.__import__ = watched
from trainer.cli import main
main([])
"""
BARE = """
import os, time, pygame
pygame.display.init()
pygame.display.set_mode((1280, 720), pygame.RESIZABLE)
pygame.display.flip()
print(time.perf_counter(), flush=True)
os._exit(0)
"""


CAUTIONS_SEEN = '{"cautions_seen": true}'


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """One start: seconds on the clock to what it prints, and of computing until it has ended."""

    clock_s: float
    computing_s: float


def once(code: str, home: Path, display: int) -> Start:
    """Start a process and wait for what it prints.

    Raises:
        SystemExit: it ended without a picture; with what it said.
    """
    env = {**os.environ, "HOME": str(home), "PYTHONPATH": str(TOP), "PYGAME_HIDE_SUPPORT_PROMPT": "1"}
    env["DISPLAY"] = f":{display}"
    # Both find their modules compiled, as on every start but the first, whatever this process was told.
    env["PYTHONPYCACHEPREFIX"] = str(home.parent / "compiled")
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME", "PYTHONDONTWRITEBYTECODE", "WAYLAND_DISPLAY"):
        env.pop(name, None)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=False)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if done.returncode:
        raise SystemExit(f"a start ended with {done.returncode} and no picture:\n{done.stderr}")
    computing_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Start(clock_s=float(done.stdout.split()[-1]) - start, computing_s=computing_s)


def main(runs: int) -> None:
    """Print medians and their ratio."""
    with tempfile.TemporaryDirectory() as name, virtual_screen("1920x1080x24") as display:
        new, used = Path(name) / "new", Path(name) / "used"
        new.mkdir()
        settings = used / ".config" / "thumbfall" / "settings.json"
        settings.parent.mkdir(parents=True)
        settings.write_text(CAUTIONS_SEEN)
        kinds = {"the first start": (OURS, new), "a later start": (OURS, used), "a bare window": (BARE, new)}
        for code, home in kinds.values():
            once(code, home, display)
        found: dict[str, list[Start]] = {kind: [] for kind in kinds}
        for _ in range(runs):
            for kind, (code, home) in kinds.items():
                found[kind].append(once(code, home, display))
    *ours, (bare, bare_starts) = found.items()
    bare_clock, bare_computing = _medians(bare_starts)
    print(f"to the first picture, median of {runs}:")
    print(f"{bare}: {bare_clock:.2f} s, {bare_computing:.2f} s of computing")
    for kind, starts in ours:
        clock, computing = _medians(starts)
        print(
            f"{kind}: {clock:.2f} s, {computing:.2f} s of computing; "
            f"ratio {clock / bare_clock:.2f}, {computing / bare_computing:.2f}"
        )


def _medians(starts: Sequence[Start]) -> tuple[float, float]:
    return statistics.median(s.clock_s for s in starts), statistics.median(s.computing_s for s in starts)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
