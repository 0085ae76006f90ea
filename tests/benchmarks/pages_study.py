"""Lose one page after the other of a file of records, and look what is saved of the takes.

Run it with ``python -m tests.benchmarks.pages_study``; ``--bits N`` flips one bit anywhere N times instead.
Every page of records of two hundred takes is filled with noise, one at a time, in a fresh copy; then the
records are looked over as ``thumbfall records --check`` does. Every take that does not lie on that page must
be there afterwards, whole, and no other; and that something was damaged must be said. On which pages a take
lies is asked of SQLite while the file is whole: with the page full of noise, its own reading of that take
fails, or gives other bytes.
"""

from __future__ import annotations

import argparse
import random
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from tests.records.takes import a_take
from trainer.commands.records import check_records
from trainer.errors import TrainerError
from trainer.practice.stored_take import StoredTake
from trainer.records.store import Store

TAKES = 200
PAGE = 4096  # sqlite.org/pragma.html: the usual size of a page


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What came of a lost page; all but ``on_page`` and ``said`` should be nought.

    Attributes:
        on_page: takes that lay on it.
        lost_beside: takes that did not, and are gone or changed.
        invented: takes that never were.
        crashes: errors that are no sentence.
        said: whether it was said that the records were damaged.
    """

    on_page: int = 0
    lost_beside: int = 0
    invented: int = 0
    crashes: int = 0
    said: bool = False


def records_to_damage(path: Path) -> None:
    """Keep two hundred takes of four players, some so long that they lie on several pages."""
    store = Store.open(path)
    store.keep_all(
        a_take(
            player=("Ann", "Bo", "", "Cy")[n % 4],
            minutes=n,
            seed=n % 7,
            passes=40 if n % 25 == 0 else 2 + n % 4,
        )
        for n in range(TAKES)
    )
    store.close()


@cache
def pages_of(path: Path) -> dict[str, set[int]]:
    """Return by uid on which pages a take's bytes lie, found by looking for them in the file."""
    store = Store.open(path)
    bodies = store._connection.execute("SELECT uid, body FROM takes").fetchall()
    store.close()
    data = path.read_bytes()
    found: dict[str, set[int]] = {}
    for uid, body in bodies:
        found[uid] = set()
        rest = body
        # A body on several pages is cut into pieces; the longest piece that stands together is looked for.
        while rest:
            length = len(rest)
            while (at := data.find(rest[:length])) < 0:
                length -= 1
            found[uid] |= set(range(at // PAGE + 1, (at + length - 1) // PAGE + 2))
            rest = rest[length:]
    return found


def intact(path: Path, pages: Iterable[int]) -> set[str]:
    """Return the uids of takes that lie on these pages alone."""
    whole = set(pages)
    return {uid for uid, of_take in pages_of(path).items() if of_take <= whole}


@cache
def whole_takes(path: Path) -> dict[str, StoredTake]:
    """Return all takes of the undamaged records."""
    return all_takes(path)


def one_page(good: Path, folder: Path, page: int, seed: int) -> Found:
    """Lose one page of a copy, look the copy over, and compare with the whole records."""
    return _damaged(good, folder, (page - 1) * PAGE, random.Random(seed).randbytes(PAGE))


def one_bit(good: Path, folder: Path, chance: random.Random) -> Found:
    """Flip one bit of a copy, look the copy over, and compare with the whole records."""
    at = chance.randrange(good.stat().st_size)
    return _damaged(good, folder, at, bytes([good.read_bytes()[at] ^ 1 << chance.randrange(8)]))


def _damaged(good: Path, folder: Path, at: int, data: bytes) -> Found:
    page = at // PAGE + 1
    path = folder / "lost" / "takes.sqlite"
    shutil.rmtree(path.parent, ignore_errors=True)
    path.parent.mkdir()
    shutil.copy(good, path)
    before = whole_takes(good)
    on_page = {uid for uid, pages in pages_of(good).items() if page in pages}
    with path.open("r+b") as file:
        file.seek(at)
        file.write(data)
    spoilt = path.read_bytes()
    try:
        answer = check_records(path)
        after = all_takes(path)
    except TrainerError:
        refused = len(before) - len(on_page) if path.read_bytes() != spoilt else 0
        return Found(on_page=len(on_page), lost_beside=refused, said=True)
    except Exception:  # noqa: BLE001 - what the study counts
        return Found(on_page=len(on_page), crashes=1)
    lost = {uid for uid, take in before.items() if after.get(uid) != take}
    return Found(
        on_page=len(on_page),
        lost_beside=len(lost - on_page),
        invented=len(after.keys() - before.keys()),
        said=answer.exit_code == 5,
    )


def all_takes(path: Path) -> dict[str, StoredTake]:
    """Return all takes by uid, without their numbers."""
    store = Store.open(path)
    try:
        return {take.uid: replace(take, id=None) for take in store.each_take()}
    finally:
        store.close()


def main() -> None:
    """Print what was lost."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--bits", type=int, default=0)
    options = parser.parse_args()
    seed = options.seed
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        good = folder / "takes.sqlite"
        records_to_damage(good)
        pages = good.stat().st_size // PAGE
        if options.bits:
            chance = random.Random(seed)
            found = [one_bit(good, folder, chance) for _ in range(options.bits)]
            print(f"{TAKES} takes on {pages} pages, one bit flipped, {options.bits} times (seed {seed})")
        else:
            found = [one_page(good, folder, page, seed * 100_000 + page) for page in range(1, pages + 1)]
            print(f"{TAKES} takes on {pages} pages, each page lost once (seed {seed})")
    print(f"takes on the lost pages, in all        {sum(each.on_page for each in found):>6}")
    print(f"takes lost that lay elsewhere          {sum(each.lost_beside for each in found):>6}")
    print(f"takes that never were                  {sum(each.invented for each in found):>6}")
    print(f"errors that are no sentence            {sum(each.crashes for each in found):>6}")
    print(f"pages whose loss was not said          {sum(not each.said for each in found):>6}")


if __name__ == "__main__":
    main()
