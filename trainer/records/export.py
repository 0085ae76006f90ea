"""Write takes into files that other programs read: JSON, CSV, Standard MIDI Files.

JSON holds everything, in one file: ``format`` ("thumbfall takes"), ``version`` (1), ``takes`` (fields in
:mod:`trainer.records.take_table`) and ``patterns`` by key.

CSV (RFC 4180, UTF-8, a line of column names first) comes as three files in a folder:

- ``takes.csv``: a line for each take: uid, player, begun_utc, day, pattern, title, tempi (``beat second bpm``
  of each tempo, exact, parted by semicolons), bpm_first, bpm_last, passes, slots_asked, swing, lay_back,
  pocket, input, sound, delay_ms, click_off, knows_left, simulated, not_graded, seconds_played, asked, clean,
  mean_ms, spread_ms, fastest_clean_bpm, pattern_text.
- ``strokes.csv``: a line for each stroke asked, rests left out: uid of the take, pass, bar, slot (from 1),
  kind, string, expected_s, tapped_s, placement_ms (late positive), pocket_ms, verdict, rushed_gap.
- ``taps.csv``: a line for each tap: uid of the take, at_us, hand, string, velocity, within_us.

Empty means unknown or none; true and false are 1 and 0.
"""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import TextIO

from trainer.errors import StoreProblem
from trainer.files import whole_file
from trainer.judging.take import Outcome
from trainer.music.notation import write_pattern
from trainer.music.timeline import count_in_beats
from trainer.practice.stored_take import StoredTake, judgement_of
from trainer.records.midifile import write_take
from trainer.records.packing import as_text, text_hash, write_layback, write_spans
from trainer.records.take_table import take_table, tap_values

FORMAT = "thumbfall takes"
VERSION = 1
TAKES_CSV, STROKES_CSV, TAPS_CSV = "takes.csv", "strokes.csv", "taps.csv"
TAKE_COLUMNS = (
    "uid", "player", "begun_utc", "day", "pattern", "title", "tempi", "bpm_first", "bpm_last", "passes",
    "slots_asked", "swing", "lay_back", "pocket", "input", "sound", "delay_ms", "click_off", "knows_left",
    "simulated", "not_graded", "seconds_played", "asked", "clean", "mean_ms", "spread_ms",
    "fastest_clean_bpm", "pattern_text",
)  # fmt: skip
STROKE_COLUMNS = (
    "uid", "pass", "bar", "slot", "kind", "string", "expected_s", "tapped_s", "placement_ms", "pocket_ms",
    "verdict", "rushed_gap",
)  # fmt: skip
TAP_COLUMNS = ("uid", "at_us", "hand", "string", "velocity", "within_us")

Cell = str | int | float


def write_json(path: Path, takes: Iterable[StoredTake]) -> int:
    """Write takes as one JSON file, whole or not at all; return how many.

    Raises:
        StoreProblem: the file cannot be written.
    """
    patterns: dict[str, dict[str, str]] = {}
    n = 0
    with _writing(path) as file:
        file.write(f'{{"format": {json.dumps(FORMAT)}, "version": {VERSION}, "takes": [')
        # One at a time, because years of practice do not fit into the memory as text.
        for n, take in enumerate(takes, start=1):
            text = write_pattern(take.pattern)
            key = text_hash(take.pattern.name, text)
            patterns[key] = {"name": take.pattern.name, "title": take.pattern.title, "text": text}
            table = json.dumps(take_table(take, key), ensure_ascii=False, allow_nan=False)
            file.write(f"{',' if n > 1 else ''}\n{table}")
        file.write(f'\n], "patterns": {json.dumps(patterns, ensure_ascii=False, indent=1)}}}\n')
    return n


def write_csv(folder: Path, takes: Iterable[StoredTake]) -> int:
    """Write takes, strokes and taps as CSV files into a folder, which is made; return how many takes.

    Raises:
        StoreProblem: the folder or a file cannot be written.
    """
    _make(folder)
    written = 0
    with ExitStack() as open_files:
        into = [
            csv.writer(open_files.enter_context(_writing(folder / name)))
            for name in (TAKES_CSV, STROKES_CSV, TAPS_CSV)
        ]
        for writer, columns in zip(into, (TAKE_COLUMNS, STROKE_COLUMNS, TAP_COLUMNS), strict=True):
            writer.writerow(columns)
        for take in takes:
            into[0].writerow(_take_cells(take))
            judgement = judgement_of(take)
            into[1].writerows(
                _stroke_cells(take.uid, outcome, pocket_s)
                for outcome, pocket_s in zip(judgement.outcomes, judgement.pocket_s, strict=True)
            )
            into[2].writerows(_tap_cells(take))
            written += 1
    return written


def write_midi(folder: Path, takes: Iterable[StoredTake]) -> int:
    """Write one Standard MIDI File for each take into a folder, which is made; return how many.

    Raises:
        StoreProblem: the folder cannot be made.
        BadTake: a file cannot be written.
    """
    _make(folder)
    written = 0
    for take in takes:
        moment = take.begun[:19].replace(":", "").replace("T", "-")
        # A break's name holds spaces, a file of the user's anything.
        name = re.sub(r"[^\w-]+", "-", take.pattern.name)
        write_midi_file(folder / f"{moment}-{name}-{take.uid[:8]}.mid", take)
        written += 1
    return written


def write_midi_file(path: Path, take: StoredTake) -> None:
    """Write the taps of a take as a Standard MIDI File, beat 0 after the count-in.

    Raises:
        BadTake: the file cannot be written.
    """
    count_in = Fraction(-count_in_beats(take.pattern.meter))
    write_take(
        path,
        take.taps,
        take.timeline,
        take.pattern.meter,
        title=take.pattern.title,
        lead_s=-take.timeline.seconds(count_in),
        pocket=take.pocket.value,
    )


def _take_cells(take: StoredTake) -> tuple[Cell, ...]:
    fastest = take.fastest_clean
    return (
        take.uid, take.player, take.begun, date.fromordinal(take.day).isoformat(), take.pattern.name,
        take.pattern.title, write_spans(take.timeline), float(take.timeline.spans[0].bpm),
        float(take.timeline.spans[-1].bpm), take.passes, take.slots_asked, str(take.feel.swing),
        write_layback(take.feel), take.pocket.value, as_text(take.input_name), as_text(take.sound),
        take.delay_ms, int(take.click_off), int(take.knows_left), int(take.simulated),
        as_text(take.not_graded), take.seconds_played, take.asked, take.clean, _ms(take.mean_s),
        _ms(take.spread_s), "" if fastest is None else float(fastest), write_pattern(take.pattern),
    )  # fmt: skip


def _stroke_cells(uid: str, outcome: Outcome, pocket_s: float) -> tuple[Cell, ...]:
    target = outcome.target
    strings = target.stroke.strings
    return (
        uid, target.pass_index + 1, target.bar + 1, target.slot + 1, target.stroke.kind.value,
        strings[0] if strings else "", round(target.song_s, 6),
        "" if outcome.tap is None else outcome.tap.song_s, _ms(outcome.placement_s), _ms(pocket_s),
        outcome.verdict.value, int(outcome.rushed_gap),
    )  # fmt: skip


def _tap_cells(take: StoredTake) -> Iterator[Sequence[Cell]]:
    for tap in take.taps:
        at_us, hand, string, velocity, within_us = tap_values(tap)
        yield take.uid, at_us, hand, string or "", velocity or "", within_us


def _ms(seconds: float | None) -> Cell:
    return "" if seconds is None else round(seconds * 1000, 3)


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"the folder {folder} cannot be made ({err.strerror})", "choose another place"
        ) from err


@contextmanager
def _writing(path: Path) -> Iterator[TextIO]:
    """Give a file to write that takes its place only when all of it is on the disk."""
    try:
        with whole_file(path, newline="") as file:
            yield file
    except StoreProblem:
        raise  # of where the takes come from
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err
