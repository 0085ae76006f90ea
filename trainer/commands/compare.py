"""Answer the command that puts players, or days, of one pattern side by side.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
import enum
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import groupby
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_pattern, read_day, signed_ms
from trainer.commands.records import add_folder, known_player, opened_file, with_records
from trainer.errors import BadSettings, TrainerError
from trainer.judging.statistics import SlotSummary
from trainer.judging.take import Verdict
from trainer.music.notation import stroke_words
from trainer.music.strokes import Kind
from trainer.music.timeline import as_tempo
from trainer.practice.stored_take import StoredTake
from trainer.practice.tally import Tally, tally_of
from trainer.records.copies import CopyKind, note_copy
from trainer.records.csv_cells import Cell
from trainer.records.csv_file import write_csv_file
from trainer.records.library import load_library, open_pattern
from trainer.records.store import SAME_TEMPO, Store

NOBODY = "nobody named"
MOST_DAYS = 14  # side by side; the latest
MOST_COLUMNS = 9  # of strokes: what a terminal of 80 letters holds
STROKE_COLUMN = 20
CSV_COLUMNS = (
    "name", "first_day", "last_day", "takes", "bpm_slowest", "bpm_fastest", "bar", "slot", "stroke",
    "asked", "clean", "mean_ms", "half_interval_ms", "spread_ms", "gaps_rushed", "skips_touched",
)  # fmt: skip


class By(enum.Enum):
    """What is put side by side; the value is the word of the command line."""

    PLAYER = "player"
    DAY = "day"


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareOrder:
    """What ``thumbfall compare`` was asked; None and empty where nothing was said.

    Attributes:
        on: only this day, as a proleptic ordinal.
        bpm: only takes at about this tempo.
    """

    pattern: str
    by: By
    players: tuple[str, ...] = ()
    on: int | None = None
    all_days: bool = False
    bpm: Fraction | None = None
    csv: Path | None = None
    page: Path | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """One of those that stand side by side."""

    name: str
    tally: Tally


def compare(store: Store, order: CompareOrder) -> Answer:
    """Put players, or days, side by side: in words, and as the files that were asked for.

    Raises:
        TrainerError: nobody has played that, or a file cannot be written.
    """
    name = _name_of(order.pattern)
    takes = _takes(store, name, order)
    beside = _by_player(takes, order) if order.by is By.PLAYER else _by_day(takes)
    title = takes[-1].pattern.title
    lines = list(_lines(f"{title} ({name}), by {order.by.value}", beside))
    notes = []
    if order.csv is not None:
        write_csv_file(order.csv, _rows(beside))
        note_copy(CopyKind.PAGE, order.csv)
        lines.append(f"{order.csv}: {len(beside)} side by side, and each stroke of theirs.")
    if order.page is not None:
        lines += _write_page(order.page, title, order.by, beside)
    if len(beside) == 1:
        notes.append(f"There is one {order.by.value} only, so nothing stands beside it.")
    return Answer(lines=tuple(lines), notes=tuple(notes))


def _name_of(asked: str) -> str:
    """Return the name under which the takes of a pattern are kept; a file may be gone, its takes are not."""
    try:
        return open_pattern(asked, load_library()).name
    except TrainerError:
        return asked


def _takes(store: Store, name: str, order: CompareOrder) -> list[StoredTake]:
    players: Sequence[str | None] = order.players or (None,)
    unread: list[int] = []
    found = [
        take
        for player in players
        for take in store.each_take(player=player, pattern=name, unread=unread)
        if take.counts and take.asked and _is_meant(take, order)
    ]
    if not found:
        store.pattern(name)  # says so where it was never played at all
        raise BadSettings(
            f"no take of {name} is as asked for",
            "leave out --on, --bpm or --player, and see thumbfall history",
        )
    return sorted(found, key=lambda take: take.begun)


def _is_meant(take: StoredTake, order: CompareOrder) -> bool:
    if order.on is not None and take.day != order.on:
        return False
    tempi = [span.bpm for span in take.timeline.spans]
    return order.bpm is None or all(abs(bpm / order.bpm - 1) <= SAME_TEMPO for bpm in tempi)


def _by_player(takes: Sequence[StoredTake], order: CompareOrder) -> tuple[Beside, ...]:
    found = []
    for player in sorted({take.player for take in takes}, key=str.casefold):
        theirs = [take for take in takes if take.player == player]
        if not order.all_days:
            last = max(take.day for take in theirs)
            theirs = [take for take in theirs if take.day == last]
        found.append(Beside(name=player or NOBODY, tally=tally_of(theirs)))
    return tuple(found)


def _by_day(takes: Sequence[StoredTake]) -> tuple[Beside, ...]:
    days = [(day, list(each)) for day, each in groupby(takes, key=lambda take: take.day)]
    return tuple(
        Beside(name=date.fromordinal(day).isoformat(), tally=tally_of(each))
        for day, each in days[-MOST_DAYS:]
    )


# In words


def _lines(title: str, beside: Sequence[Beside]) -> Iterator[str]:
    yield title
    yield ""
    wide = min(max(len(each.name) for each in beside), 28)
    yield (
        f"    {'':<{wide}}  {'last day':<10}  takes  {'tempo':>7}  {'clean':>10}  {'mean':>12}  spread"
        "  rushed  touched"
    )
    for number, each in enumerate(beside, start=1):
        t = each.tally
        yield (
            f"{number:>3} {each.name[:wide]:<{wide}}  {_day(t.days[1]):<10}  {t.takes:>5}  "
            f"{tempo_words(t):>7}  "
            f"{f'{t.clean} of {t.asked}':>10}  {_mean_words(t):>12}  {_ms_words(t.placement.spread_s):>6}  "
            f"{t.rushed:>6}  {t.touched:>7}"
        )
    yield ""
    shown = beside[-MOST_COLUMNS:]
    first = len(beside) - len(shown) + 1
    yield "Each stroke: its mean in ms, late +, early -; a skip: how often it was kept silent."
    heads = "".join(f"{number:>6}" for number in range(first, len(beside) + 1))
    yield f"bar slot {'stroke':<{STROKE_COLUMN}}{heads}"
    tables = [{(slot.bar, slot.slot): slot for slot in each.tally.slots} for each in shown]
    for bar, slot in sorted({place for table in tables for place in table}):
        summaries = [table.get((bar, slot)) for table in tables]
        stroke = next(each.stroke for each in summaries if each is not None)
        words = stroke_words(stroke)[: STROKE_COLUMN - 1]
        cells = "".join(f"{_cell_words(each):>6}" for each in summaries)
        yield f"{bar + 1:>3} {slot + 1:>4} {words:<{STROKE_COLUMN}}{cells}"


def tempo_words(tally: Tally) -> str:
    """Return the tempo, or the slowest and the fastest."""
    slow, fast = (f"{float(bpm):g}" for bpm in tally.tempi)
    return slow if slow == fast else f"{slow}-{fast}"


def _mean_words(tally: Tally) -> str:
    placement = tally.placement
    if placement.mean_s is None:
        return ""
    half = "" if placement.half_interval_s is None else f" ± {1000 * placement.half_interval_s:.0f}"
    return signed_ms(placement.mean_s).replace(" ms", f"{half} ms")


def _ms_words(seconds: float | None) -> str:
    return "" if seconds is None else f"{1000 * seconds:.0f} ms"


def _cell_words(slot: SlotSummary | None) -> str:
    if slot is None:
        return ""
    if slot.stroke.kind is Kind.SKIP:
        return f"{dict(slot.counts).get(Verdict.KEPT_SILENT, 0)}/{slot.n}"
    return "-" if slot.mean_s is None else signed_ms(slot.mean_s).removesuffix(" ms")


def _day(ordinal: int) -> str:
    return date.fromordinal(ordinal).isoformat()


# As files


def _rows(beside: Sequence[Beside]) -> Iterator[Sequence[Cell]]:
    """Give the rows of the CSV: for each first all strokes together, then each stroke."""
    yield CSV_COLUMNS
    for each in beside:
        t = each.tally
        head: tuple[Cell, ...] = (each.name, *map(_day, t.days), t.takes, *(float(bpm) for bpm in t.tempi))
        p = t.placement
        yield (
            *head, "", "", "all", t.asked, t.clean, _ms(p.mean_s), _ms(p.half_interval_s), _ms(p.spread_s),
            t.rushed, t.touched,
        )  # fmt: skip
        for slot in t.slots:
            counts = dict(slot.counts)
            asked = slot.n - counts.get(Verdict.NOT_JUDGED, 0)
            clean = sum(n for verdict, n in slot.counts if verdict.is_clean)
            yield (
                *head, slot.bar + 1, slot.slot + 1, stroke_words(slot.stroke), asked, clean, _ms(slot.mean_s),
                _ms(slot.half_interval_s), _ms(slot.spread_s), slot.rushed_gaps,
                counts.get(Verdict.TOUCHED, 0),
            )  # fmt: skip


def _ms(seconds: float | None) -> Cell:
    return "" if seconds is None else round(1000 * seconds, 1)


def _write_page(path: Path, title: str, by: By, beside: Sequence[Beside]) -> Iterator[str]:
    from trainer.screen.paper import write_pages  # loads the libraries that draw
    from trainer.screen.result_rows import row_of
    from trainer.screen.results_page import Results, ResultSection, result_pages

    rows = tuple(row_of(each.name, each.tally) for each in beside)
    first, last = (_day(f(at for b in beside for at in b.tally.days)) for f in (min, max))
    words = first if first == last else f"{first} to {last}"
    section = ResultSection(heading=f"{by.value.capitalize()} by {by.value}", rows=rows, words=words)
    pages = result_pages(Results(title=title, sections=(section,)))
    for written in write_pages(pages, path, title=title):
        note_copy(CopyKind.PAGE, written)
        yield f"{written}: {len(beside)} side by side on {len(pages)} page{'s' * (len(pages) > 1)}."


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("compare", help="put players, or days, of one pattern side by side")
    add_pattern(parser)
    parser.add_argument(
        "--player", metavar="NAME", action="append", default=[],
        help="only this player; may be repeated (default: all)",
    )  # fmt: skip
    parser.add_argument(
        "--by", choices=[by.value for by in By],
        help="player or day (default: player, and day where one player is named)",
    )  # fmt: skip
    parser.add_argument("--on", metavar="YYYY-MM-DD", help="only this day, or today")
    parser.add_argument(
        "--all-days", action="store_true", help="all takes of each player, not those of the latest day alone"
    )
    parser.add_argument("--bpm", metavar="N", help="only takes at about this tempo")
    parser.add_argument("--csv", metavar="FILE.csv", help="write the numbers here")
    parser.add_argument("--page", metavar="FILE", help="write a page here, .pdf or .png")
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        order = CompareOrder(
            pattern=o.pattern,
            by=By(o.by) if o.by else (By.DAY if len(o.player) == 1 else By.PLAYER),
            players=tuple(dict.fromkeys(o.player)),
            on=None if o.on is None else read_day(o.on, "--on").toordinal(),
            all_days=o.all_days,
            bpm=None if o.bpm is None else as_tempo(o.bpm),
            csv=None if o.csv is None else Path(o.csv),
            page=None if o.page is None else Path(o.page),
        )

        def deed(store: Store) -> Answer:
            for player in order.players:
                known_player(store, player)
            return compare(store, order)

        return with_records(opened_file(o.records), deed)

    parser.set_defaults(command=run)
