"""Kill a program at random moments while it does something with the records, and look for what is lost.

Run it with ``python -m tests.benchmarks.kill_study``; ``--kills`` for each kind, ``--only`` for one kind. A
second process does one thing (``KINDS``) and says on a pipe what it is about to do. It is killed (SIGKILL)
after a random time; then the records are opened as the next start does, and looked over:

- a take that ``ends`` has returned for must be in the records, tap by tap;
- a take whose last stroke was handed over 50 ms or more before the kill must be there too, from its
  own file if need be;
- whatever was killed (a backup, a move, a mending, the change from version 0.2.0), every take that was in the
  records must be in those that the next start opens;
- SQLite's own integrity check must find nothing.

``--window N`` instead kills the window N times in a drill that is tapped on a virtual screen (Xvfb and
xdotool): of an unfinished take at most the last tap may be lost, and no finished one.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from tests.app.playing import begin, play, taps_for
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from tests.records.takes import a_take
from trainer.app.recording import Recorder
from trainer.commands.records import check_records, move
from trainer.records.settings import load_settings
from trainer.records.store import FILE_NAME, Store

ROOT = Path(__file__).parents[2]
OLD = ROOT / "tests" / "data" / "version-0.2.0" / "takes.sqlite"
FIGURE = pattern_of(SKIP_FIGURE, BASIC_FIGURE)
TAPS = 24  # of four passes
STORED = 60  # takes in the records of which copies are made
OLD_COPIES = 24  # of the five takes in the old file
AFTER_LAST_S = 0.05  # all taps come at once here, which no hand does; less than lies between two of its taps


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
    stored_lost: int = 0
    undone: int = 0  # killed before what was to be done had been done
    damaged: int = 0
    notes: list[str] = field(default_factory=list)


# What the second process does, each in a folder of its own; it may say more on its standard output.


def save(folder: Path, seed: int) -> None:
    """Play and keep takes until killed; say each step before and after."""
    recorder, _ = Recorder.open(folder / FILE_NAME, lambda: datetime.now(UTC))
    playing = begin(FIGURE, bpm=240)
    taps = taps_for(FIGURE, playing.drill.timeline, seed=seed)
    play(playing, taps)
    played = playing.ended()  # played once, so that most of the time goes into saving
    number = 0
    while True:
        number += 1
        name = f"{seed}-{number}"
        recorder.begins(playing.run, playing.drill, player=name, input_name="", sound="", delay_ms=0)
        tell(f"begun {name}")
        for tap in taps:
            recorder.tap(tap)
        time.sleep(AFTER_LAST_S)
        tell(f"saving {name}")
        problem = recorder.ends(played)
        tell(f"{'failed' if problem else 'kept'} {name}")


def back_up(folder: Path, seed: int) -> None:
    """Make a backup over an older one."""
    del seed
    store = Store.open(folder / FILE_NAME)
    store.backup(folder / "copy.sqlite")


def move_away(folder: Path, seed: int) -> None:
    """Move the records into another folder."""
    move(folder / FILE_NAME, folder / f"moved-{seed}")


def mend(folder: Path, seed: int) -> None:
    """Mend damaged records."""
    del seed
    check_records(folder / FILE_NAME)


def upgrade(folder: Path, seed: int) -> None:
    """Bring records of version 0.2.0 up to date."""
    del seed
    Store.open(folder / FILE_NAME).close()


def tell(text: str) -> None:
    """Say something to whoever kills."""
    os.write(sys.stdout.fileno(), f"{text}\n".encode())


# What is there before, and what has to be there after


def nothing(folder: Path) -> None:
    """Begin with what the kill before has left."""
    folder.mkdir(exist_ok=True)


def some_takes(folder: Path) -> None:
    """Begin with records that have a backup of fewer takes."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    shutil.copy(_made(folder.parent / "good.sqlite"), folder / FILE_NAME)
    shutil.copy(folder / FILE_NAME, folder / "copy.sqlite")


def damaged_takes(folder: Path) -> None:
    """Begin with records whose first bytes are nonsense."""
    some_takes(folder)
    with (folder / FILE_NAME).open("r+b") as file:
        file.write(b"garbage garbage!")


def old_takes(folder: Path) -> None:
    """Begin with records of version 0.2.0."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    shutil.copy(OLD, folder / FILE_NAME)
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection, connection:
        names = [
            row[1] for row in connection.execute("PRAGMA table_info(takes)") if row[1] not in ("id", "uid")
        ]
        for copy in range(1, OLD_COPIES):
            connection.execute(
                f"INSERT INTO takes (id, uid, {', '.join(names)}) SELECT id + {100 * copy}, uid || '-{copy}',"
                f" {', '.join(names)} FROM takes WHERE id < 100"
            )
            connection.execute(
                f"INSERT INTO taps SELECT take_id + {100 * copy}, packed FROM taps WHERE take_id < 100"
            )


def _made(path: Path) -> Path:
    if not path.exists():
        store = Store.open(path)
        store.keep_all(a_take(minutes=n, passes=2 + n % 3) for n in range(STORED))
        store.close()
    return path


@dataclass(frozen=True, slots=True)
class Kind:
    """One thing to be killed at: what is there before, what is done, for how long, what must be there."""

    before: Callable[[Path], None]
    deed: Callable[[Path, int], None]
    latest_s: float
    stored: int


KINDS = {
    "save": Kind(nothing, save, 0.4, 0),
    "backup": Kind(some_takes, back_up, 0.06, STORED),
    "move": Kind(some_takes, move_away, 0.12, STORED),
    "mend": Kind(damaged_takes, mend, 0.5, STORED),
    "upgrade": Kind(old_takes, upgrade, 0.6, 5 * OLD_COPIES),
}


class Nursery:
    """A process that has loaded everything and starts another for each thing to be killed at."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.kill_study", "--nursery"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            cwd=ROOT,
            text=True,
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
        )

    def kill_one(self, kind: str, folder: Path, seed: int, chance: random.Random) -> list[list[str]]:
        """Start one, kill it after a random time, and return what it said."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(f"{kind}\t{folder}\t{seed}\n")
        self._process.stdin.flush()
        process_id = int(self._process.stdout.readline())
        said: list[list[str]] = []
        while kind == "save" and not (said and said[-1][0] == "kept"):
            said.append(self._process.stdout.readline().split())  # on a busy machine the first takes long
        time.sleep(chance.uniform(0, KINDS[kind].latest_s))
        os.kill(process_id, signal.SIGKILL)  # one that has ended by itself is still there to be waited for
        while (line := self._process.stdout.readline().split()) != ["end"]:
            said.append(line)
        return said

    def close(self) -> None:
        """Let it go."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait(10)


def nursery() -> None:
    """Start a process for each line that comes in, and wait for its end."""
    for line in sys.stdin:
        kind, folder, seed = line.rstrip("\n").split("\t")
        process_id = os.fork()
        if process_id == 0:
            try:
                tell(f"{os.getpid()}")
                os.environ |= {"XDG_CONFIG_HOME": f"{folder}/config", "XDG_DATA_HOME": f"{folder}/data"}
                KINDS[kind].deed(Path(folder), int(seed))
                tell("done")
                signal.pause()  # so that there is somebody to kill
            finally:
                os._exit(0)
        os.waitpid(process_id, 0)
        tell("end")


def faults(records: Path) -> tuple[str, ...]:
    """Return what SQLite's own check finds; empty when all is well."""
    with closing(sqlite3.connect(records)) as connection:
        found = connection.execute("PRAGMA integrity_check").fetchall()
    return tuple(text for (text,) in found if text != "ok")


def look(records: Path, said: list[list[str]], found: Found) -> None:
    """Open the records as the next start does and compare them with what the process said of its takes."""
    damage = faults(records)
    found.damaged += bool(damage)
    found.notes += damage
    recorder, note = Recorder.open(records, lambda: datetime.now(UTC))
    assert recorder.store is not None, note
    if note and "broken off" not in note and "was there but empty" not in note:
        found.notes.append(note)
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


def look_at_stored(kind: str, folder: Path, said: list[list[str]], found: Found) -> None:
    """Open the records as the next start does, wherever they are now, and count the takes in them."""
    records = folder / FILE_NAME
    if kind == "move":
        settings, note = load_settings(folder / "config" / "thumbfall" / "settings.json")
        found.notes += [note] if note else []
        if settings.records_folder:
            records = Path(settings.records_folder) / FILE_NAME
    found.undone += ["done"] not in said
    store = Store.open(records)
    found.stored_lost += KINDS[kind].stored - len(list(store.each_take()))
    store.close()
    damage = faults(records)
    found.damaged += bool(damage)
    found.notes += damage
    if kind == "backup":
        copies = [path for path in folder.glob("copy*.sqlite") if not faults(path)]
        found.stored_lost += 0 if copies else STORED


def taps_in(store: Store) -> dict[str, int]:
    """Return by player, of whom each take has its own, how many taps the latest takes hold."""
    return {row.player: len(store.take(row.id).taps) for row in store.takes(limit=400)}


def study(kills: int, seed: int, folder: Path, kinds: tuple[str, ...] = ("save",)) -> Found:
    """Kill so many times at each kind; all that are saving work on one file of records."""
    chance = random.Random(seed)
    found = Found()
    children = Nursery()
    try:
        for kind in kinds:
            for n in range(kills):
                place = folder / kind
                KINDS[kind].before(place)
                said = children.kill_one(kind, place, seed * 1_000_000 + n, chance)
                found.kills += 1
                if kind == "save":
                    look(place / FILE_NAME, said, found)
                else:
                    look_at_stored(kind, place, said, found)
    finally:
        children.close()
    return found


def main() -> None:
    """Print what was lost."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=100, help="of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=tuple(KINDS))
    parser.add_argument("--window", type=int, default=0)
    parser.add_argument("--nursery", action="store_true")
    options = parser.parse_args()
    if options.nursery:
        nursery()
        return
    if options.window:
        from tests.benchmarks.window_kills import window_study  # wants a screen

        print(window_study(options.window, options.seed))
        return
    kinds = (options.only,) if options.only else tuple(KINDS)
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        found = study(options.kills, options.seed, Path(folder), kinds)
        seconds = time.monotonic() - began
    print(f"{found.kills} kills ({', '.join(kinds)}) in {seconds:.0f} s, seed {options.seed}")
    print(f"takes kept before a kill            {found.finished:>6}   lost {found.finished_lost}")
    print(
        f"takes killed while being saved      {found.in_saving:>6}   lost {found.in_saving_lost}"
        f" (taps lost {found.in_saving_taps_lost})"
    )
    print(
        f"takes killed while being played     {found.broken_off:>6}   of which all that was written came back"
    )
    print(f"killed before the deed was done     {found.undone:>6}   takes lost {found.stored_lost}")
    print(f"damaged files                       {found.damaged:>6}")
    for note in found.notes[:10]:
        print(f"  {note}")


if __name__ == "__main__":
    main()
