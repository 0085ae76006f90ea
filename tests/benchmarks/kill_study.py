"""Kill a program that saves takes, at random moments, and look for what is lost.

Run it with ``python -m tests.benchmarks.kill_study``. A second process plays and keeps one take after another
and says on a pipe what it is about to do. It is killed (SIGKILL) after a random time; then the records are
opened as the next start does, and looked over:

- a take that ``ends`` has returned for must be in the records, tap by tap;
- a take whose last stroke was handed over a millisecond or more before the kill must be there too, from its
  own file if need be;
- SQLite's own integrity check must find nothing.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from tests.app.playing import begin, play, taps_for
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.app.recording import Recorder
from trainer.records.store import Store

ROOT = Path(__file__).parents[2]
FIGURE = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
TAPS = 24  # of four passes
LATEST_KILL_S = 0.4
AFTER_LAST_S = 0.001  # all taps come at once here, which no hand does; the last line is written by then


@dataclass
class Found:
    """What the kills have done so far."""

    kills: int = 0
    finished: int = 0
    finished_lost: int = 0
    in_saving: int = 0
    in_saving_lost: int = 0
    in_saving_taps_lost: int = 0
    broken_off: int = 0
    damaged: int = 0
    notes: list[str] = field(default_factory=list)


def child(records: Path, seed: int) -> None:
    """Play and keep takes until killed; say each step before and after."""
    recorder, _ = Recorder.open(records, lambda: datetime.now(UTC))
    out = sys.stdout.fileno()
    playing = begin(FIGURE, bpm=240)
    taps = taps_for(FIGURE, playing.drill.timeline, seed=seed)
    play(playing, taps)
    played = playing.ended()  # played once, so that most of the time goes into saving
    number = 0
    while True:
        number += 1
        name = f"{seed}-{number}"
        recorder.begins(playing.run, playing.drill, player=name, input_name="", sound="", delay_ms=0)
        os.write(out, f"begun {name}\n".encode())
        for tap in taps:
            recorder.tap(tap)
        time.sleep(AFTER_LAST_S)
        os.write(out, f"saving {name}\n".encode())
        problem = recorder.ends(played)
        os.write(out, f"{'failed' if problem else 'kept'} {name}\n".encode())


def one_kill(records: Path, seed: int, chance: random.Random, found: Found) -> None:
    """Start the second process, kill it, and look at what is there."""
    process = subprocess.Popen(
        [sys.executable, "-m", "tests.benchmarks.kill_study", "--child", str(records), "--seed", str(seed)],
        stdout=subprocess.PIPE,
        cwd=ROOT,
    )
    assert process.stdout is not None
    first = process.stdout.readline()
    time.sleep(chance.uniform(0, LATEST_KILL_S))
    process.send_signal(signal.SIGKILL)
    lines = (first + process.stdout.read()).decode().split("\n")[:-1]
    process.wait()
    process.stdout.close()
    found.kills += 1
    look(records, [line.split() for line in lines], found)


def faults(records: Path) -> tuple[str, ...]:
    """Return what SQLite's own check finds; empty when all is well."""
    with closing(sqlite3.connect(records)) as connection:
        found = connection.execute("PRAGMA integrity_check").fetchall()
    return tuple(text for (text,) in found if text != "ok")


def look(records: Path, said: list[list[str]], found: Found) -> None:
    """Open the records as the next start does and compare them with what the process said."""
    damage = faults(records)
    found.damaged += bool(damage)
    found.notes += damage
    recorder, note = Recorder.open(records, lambda: datetime.now(UTC))
    assert recorder.store is not None, note
    found.notes += [note] if "saved" not in note and note else []
    taps = taps_in(recorder.store)
    recorder.close()
    state = {name: step for step, name in said}  # the last word on each
    for name, step in state.items():
        if step == "failed":
            found.notes.append(f"{name} failed without a kill")
        elif step == "kept":
            found.finished += 1
            found.finished_lost += taps.get(name, 0) != TAPS
        elif step == "saving":
            found.in_saving += 1
            found.in_saving_lost += name not in taps
            found.in_saving_taps_lost += TAPS - taps.get(name, 0)
        else:
            found.broken_off += name in taps


def taps_in(store: Store) -> dict[str, int]:
    """Return by player, of whom each take has its own, how many taps the latest takes hold."""
    return {row.player: len(store.take(row.id).taps) for row in store.takes(limit=400)}


def study(kills: int, seed: int, folder: Path) -> Found:
    """Kill so many times, all on one file of records."""
    chance = random.Random(seed)
    found = Found()
    for n in range(kills):
        one_kill(folder / "takes.sqlite", seed * 1_000_000 + n, chance, found)
    damage = faults(folder / "takes.sqlite")
    found.damaged += bool(damage)
    return found


def main() -> None:
    """Print what was lost."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--child", type=Path)
    options = parser.parse_args()
    if options.child is not None:
        child(options.child, options.seed)
        return
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        found = study(options.kills, options.seed, Path(folder))
        seconds = time.monotonic() - began
        size = (Path(folder) / "takes.sqlite").stat().st_size
    print(f"{found.kills} kills in {seconds:.0f} s; the file is {size / 1e6:.1f} MB")
    print(f"takes kept before a kill            {found.finished:>6}   lost {found.finished_lost}")
    print(
        f"takes killed while being saved      {found.in_saving:>6}   lost {found.in_saving_lost}"
        f" (taps lost {found.in_saving_taps_lost})"
    )
    print(
        f"takes killed while being played     {found.broken_off:>6}   of which all that was written came back"
    )
    print(f"damaged files                       {found.damaged:>6}")
    for note in found.notes[:10]:
        print(f"  {note}")


if __name__ == "__main__":
    main()
