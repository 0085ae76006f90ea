"""Ten years of practice in the records: room on the disk, time to ask and to keep.

Run it with ``python -m tests.benchmarks.records_bench``; ``--strokes`` for a smaller try. Two hundred takes
of simulated hands are judged for real, on the patterns of the course, half of them at one tempo and half up a
ladder; the ten years are these over and over on other days. The system's cache of the disk is warm, SQLite's
is not.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np

from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline
from trainer.practice.course import standings
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import StoredTake, judgement_of, summarised
from trainer.records.journal import Journal
from trainer.records.library import load_library
from trainer.records.store import Store
from trainer.records.take_text import utc_text

STROKES = 5_000_000
YEARS_DAYS = 3652
DIFFERENT = 200
FIRST = date(2016, 1, 1)
PLAYER = "Ann"
KEPT = 300
TAPS = 2000
SHORT_TAKES = 20_000
TAP_EVERY_S = 0.002
SWITCH_INTERVAL_S = 0.0005  # as the window sets it


def one_take(pattern: Pattern, n: int) -> StoredTake:
    """Judge one take for real: every other one climbs three tempi."""
    bpm = pattern.slow_bpm + n % 7 * 5
    passes = max(2, round(64 / len(pattern.strokes)) + n % 3)
    timeline = Timeline.steady(bpm)
    if n % 2:
        passes *= 3
        for rung in (1, 2):
            from_beat = Fraction(rung * passes // 3 * pattern.beats)
            timeline = timeline.with_tempo(bpm + 4 * rung, from_beat=from_beat)
    targets = lay_out(pattern, timeline, passes=passes)
    taps = simulate(targets, Faults(jitter_s=0.012 + 0.004 * (n % 5)), np.random.default_rng(n)).taps
    return summarised(
        StoredTake(
            player=PLAYER,
            begun=utc_text(datetime(2016, 1, 1, tzinfo=UTC)),
            day=FIRST.toordinal(),
            pattern=pattern,
            timeline=timeline,
            passes=passes,
            slots_asked=len(targets),
            input_name="Two Pads MIDI 1",
            sound="system default",
            delay_ms=24,
            knows_left=True,
            taps=taps,
        )
    )


def years(examples: Sequence[StoredTake], strokes: int) -> Iterator[StoredTake]:
    """Give takes until so many strokes were asked, spread evenly over ten years."""
    mean = statistics.fmean(take.asked for take in examples)
    a_day = max(1, round(strokes / mean / YEARS_DAYS))
    given, n = 0, 0
    while given < strokes:
        day, of_day = divmod(n, a_day)
        begun = datetime(2016, 1, 1, 17, tzinfo=UTC) + timedelta(days=day, minutes=3 * of_day)
        # Another order every day, so that a pattern has all of its tempi over time.
        take = examples[(n * 7 + day) % len(examples)]
        yield replace(take, begun=utc_text(begun), day=FIRST.toordinal() + day)
        given += take.asked
        n += 1


def timed(name: str, ask: Callable[[], object], rows: list[tuple[str, float]]) -> None:
    """Note how long an answer takes, in seconds."""
    began = time.perf_counter()
    ask()
    rows.append((name, time.perf_counter() - began))


def opening(path: Path, patterns: Sequence[Pattern]) -> None:
    """Ask what the progress screen asks when it opens."""
    rows: list[tuple[str, float]] = []
    began = time.perf_counter()
    store = Store.open(path)
    rows.append(("open the file", time.perf_counter() - began))
    name = store.patterns_played(PLAYER)[0].name
    today = FIRST.toordinal() + YEARS_DAYS
    timed("players", store.players, rows)
    timed("patterns played", lambda: store.patterns_played(PLAYER), rows)
    timed("fastest clean tempo by day, one pattern", lambda: store.fastest_clean_by_day(PLAYER, name), rows)
    timed("spread by day, one pattern", lambda: store.spread_by_day(PLAYER, name, Fraction(60)), rows)
    timed("minutes by day, ten years", lambda: store.minutes_by_day(PLAYER, today - YEARS_DAYS), rows)
    timed("the last 20 takes", lambda: store.takes(player=PLAYER, pattern=name, limit=20), rows)
    print(f"{'progress screen: all of it':<44} {sum(s for _, s in rows):>8.3f} s   (goal 0.3 s)")
    for each, seconds in rows:
        print(f"  {each:<42} {seconds:>8.3f} s")
    course: list[tuple[str, float]] = []
    timed("course: visits of ten years", lambda: store.clean_rungs(PLAYER), course)
    timed("course: visits and standings", lambda: standings(patterns, store.clean_rungs(PLAYER)), course)
    timed("one take, to see again", lambda: judgement_of(store.take(store.count() // 2)), course)
    for each, seconds in course:
        print(f"{each:<44} {seconds:>8.3f} s")
    store.close()


def keeping(path: Path, example: StoredTake) -> None:
    """Keep more takes in the full records, each written through to the disk."""
    store = Store.open(path)
    waits = []
    for n in range(KEPT):
        begun = datetime(2027, 1, 1, tzinfo=UTC) + timedelta(minutes=n)
        take = replace(example, begun=utc_text(begun))
        began = time.perf_counter()
        store.keep(take)
        waits.append((time.perf_counter() - began) * 1000)
    store.close()
    tell("keep one take", waits, "ms")


def journalling(folder: Path, example: StoredTake) -> None:
    """Write taps down as while playing: what the player's thread waits, and when the line is in the file."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    tell("write down a tap: straight from this thread", straight(folder.with_name("straight")), "us")
    journal = Journal.begin(folder, replace(example, uid="bench", taps=()))
    waits, until = [], []
    tap: Tap = example.taps[0]
    for _ in range(TAPS):
        size = journal.path.stat().st_size
        began = time.perf_counter()
        journal.tap(tap)
        waits.append((time.perf_counter() - began) * 1e6)
        while journal.path.stat().st_size == size:
            pass
        until.append((time.perf_counter() - began) * 1e6)
        time.sleep(TAP_EVERY_S)
    journal.done()
    sys.setswitchinterval(before)
    tell("write down a tap: the player's thread waits", waits, "us")
    tell("write down a tap: until it is in the file", until, "us")


def straight(path: Path) -> list[float]:
    """Return what a thread waits, in microseconds, that writes such lines itself: for comparison."""
    waits = []
    with path.open("ab", buffering=0) as file:
        for n in range(TAPS):
            began = time.perf_counter()
            file.write(json.dumps(("tap", n * 1000, "nail", 3, 90, 1000)).encode() + b"\n")
            waits.append((time.perf_counter() - began) * 1e6)
            time.sleep(TAP_EVERY_S)
    return waits


def short_takes(path: Path, pattern: Pattern) -> None:
    """Keep takes of two passes only, in which a row weighs most."""
    take = replace(one_take(pattern, 0), passes=2, slots_asked=2 * len(pattern.strokes))
    end_s = take.timeline.seconds(Fraction(2 * pattern.beats))
    take = summarised(replace(take, taps=tuple(t for t in take.taps if t.song_s < end_s)))
    store = Store.open(path)
    n = store.keep_all(years([take], take.asked * SHORT_TAKES))
    store.close()
    size = path.stat().st_size / (n * take.asked)
    print(f"{f'the same for takes of {take.asked} strokes only':<44} {size:.1f} bytes a stroke")


def tell(name: str, values: Sequence[float], unit: str) -> None:
    """Print the middle and the ends of some waits."""
    ordered = sorted(values)
    p99 = ordered[min(len(ordered) - 1, round(0.99 * len(ordered)))]
    print(
        f"{name:<44} median {statistics.median(ordered):.1f} {unit}, p99 {p99:.1f} {unit}, "
        f"longest {ordered[-1]:.1f} {unit}"
    )


def main() -> None:
    """Generate the years, and print room and times."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--strokes", type=int, default=STROKES)
    strokes = parser.parse_args().strokes
    patterns = load_library().patterns
    examples = [one_take(patterns[n % len(patterns)], n) for n in range(DIFFERENT)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "takes.sqlite"
        store = Store.open(path)
        began = time.monotonic()
        kept = store.keep_all(years(examples, strokes))
        store.close()
        asked = strokes
        size = path.stat().st_size
        print(f"{kept} takes, {asked} strokes, written in {time.monotonic() - began:.0f} s")
        print(f"{'on the disk':<44} {size / 1e6:.0f} MB, {size / asked:.1f} bytes a stroke   (goal 64)")
        short_takes(Path(folder) / "short.sqlite", patterns[0])
        opening(path, patterns)
        keeping(path, examples[0])
        journalling(Path(folder) / "running", examples[0])


if __name__ == "__main__":
    main()
