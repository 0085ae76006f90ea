"""Answer the command that takes takes into the records: what export wrote, and recordings of pupils.

A recording is graded as ``grade`` does it and kept under a player's name. Nothing here needs a window, a
sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path

from trainer.commands.parsing import MIDI_ENDINGS, Answer, Commands, read_day, read_swing, signed_ms, whole
from trainer.commands.recordings import SOUND_ENDINGS, PlacedRecording, RecordingAsked, read_recording
from trainer.commands.records import add_folder, records_file, with_records
from trainer.commands.takes import graded
from trainer.errors import BadSettings, TrainerError
from trainer.judging.readings import ReadingKind
from trainer.music.layout import Feel
from trainer.music.pattern import Pattern
from trainer.practice.classroom import player_of
from trainer.practice.recorded_take import RecordedBy, recorded_take
from trainer.practice.report import GradedTake
from trainer.practice.stored_take import StoredTake
from trainer.records.export import TAKES_CSV
from trainer.records.importing import import_takes
from trainer.records.library import Library, load_library, open_pattern
from trainer.records.mending import count_words
from trainer.records.settings import load_settings
from trainer.records.store import Store
from trainer.records.take_text import clean_name, clean_words, new_uid, utc_text
from trainer.records.tap_codec import taps_table

RECORDED = (*MIDI_ENDINGS, *SOUND_ENDINGS)
MOST_FILES = 500  # of a folder
FOUND = (
    "What was found is as good as the strokes fit: hold beat 0 with --offset and pads with --pads where you "
    "know better. Where beat 0 was found, a lean common to all strokes cannot be told."
)


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser(
        "import", help="take in what export wrote, or recordings of pupils, which are graded and kept"
    )
    parser.add_argument(
        "source",
        metavar="FILE_OR_FOLDER",
        help="what export wrote: a JSON file, or the folder of the CSV files; or a recording "
        "(MIDI, WAV, FLAC, Ogg, MP3), or a folder of them",
    )
    recorded = parser.add_argument_group("recordings")
    recorded.add_argument("--pattern", metavar="NAME", help="what was played, with a level if it has one")
    recorded.add_argument(
        "--player", metavar="NAME", help="who played (default: who plays now; of a folder: the files' names)"
    )
    recorded.add_argument(
        "--class", dest="of_class", action="store_true", help="keep it with the class's takes"
    )
    recorded.add_argument("--bpm", metavar="N", help="beats a minute (default: the file's tempo)")
    recorded.add_argument("--day", metavar="YYYY-MM-DD", help="when it was played (default: the file's date)")
    recorded.add_argument("--passes", metavar="N", help="how often (default: as far as the take goes)")
    recorded.add_argument("--pads", metavar="PADS", help="nail=36,thumb=38 (default: guessed, and said)")
    recorded.add_argument("--offset", metavar="S", help="second at which beat 0 lies (default: as grade)")
    recorded.add_argument("--pocket", metavar="NAME", help="narrow, middle or wide")
    recorded.add_argument("--swing", metavar="R", default="1", help="long to short, 1 (default) is straight")
    add_folder(parser)
    parser.set_defaults(command=_run)


def _run(o: argparse.Namespace) -> Answer:
    source = Path(o.source)
    if not _is_recorded(source, has_pattern=o.pattern is not None):
        return with_records(records_file(o.records), lambda store: _exported(source, store))
    if o.pattern is None:
        raise BadSettings(f"{source.name} does not say what was played", "name it with --pattern")
    order = ImportOrder(
        pattern=o.pattern,
        player=o.player,
        of_class=o.of_class,
        asked=RecordingAsked(bpm=o.bpm, pads=o.pads, offset=o.offset),
        day=None if o.day is None else read_day(o.day, "--day"),
        passes=None if o.passes is None else whole(o.passes, "--passes", 1),
        pocket=o.pocket,
        swing=o.swing,
    )
    return with_records(records_file(o.records), lambda store: import_recordings(source, order, store))


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportOrder:
    """What ``thumbfall import`` was asked of recordings; None where nothing was said."""

    pattern: str
    player: str | None = None
    of_class: bool = False
    asked: RecordingAsked
    day: date | None = None
    passes: int | None = None
    pocket: str | None = None
    swing: str = "1"


def import_recordings(source: Path, order: ImportOrder, store: Store) -> Answer:
    """Grade recordings and keep them; one that cannot be used is said and stops no other.

    Args:
        source: a file, or a folder of which all recordings are taken.

    Raises:
        TrainerError: the pattern or an option cannot be used, or there is no recording.
    """
    library = load_library()
    pattern = open_pattern(order.pattern, library)
    feel = Feel(swing=read_swing(order.swing))
    lines: list[str] = []
    notes: list[str] = []
    new, failed, found_any = 0, 0, False
    files, is_folder = _recordings(source), source.is_dir()
    for path in files:
        before = f"{path.name}: " if is_folder else ""
        try:
            read = read_recording(path, pattern, order.asked, feel)
            graded_one = _graded(path, pattern, library, read, order, feel)
            take = _take(path, _player(path, order, is_folder=is_folder), pattern, read, graded_one, order)
        except TrainerError as problem:
            if not is_folder:
                raise
            notes.append(f"{before}{problem}")
            failed += 1
            continue
        notes += [f"{before}{', '.join(read.found)}."] * bool(read.found) if is_folder else read.notes
        found_any = found_any or (is_folder and bool(read.found))
        is_new = bool(store.keep_all((take,)))
        new += is_new
        lines += _words(path, take, graded_one, is_new=is_new)
    if found_any:
        notes.append(FOUND)
    if is_folder:
        left_out = f" Not taken in: {failed}." if failed else ""
        lines.append(
            f"New: {count_words(new)}. There already: {count_words(len(files) - failed - new)}.{left_out}"
        )
    return Answer(lines=tuple(lines), notes=tuple(notes), exit_code=2 if failed else 0)


def _exported(source: Path, store: Store) -> Answer:
    done = import_takes(source, store)
    return Answer(lines=(f"New: {count_words(done.new)}. There already: {count_words(done.known)}.",))


def _is_recorded(source: Path, *, has_pattern: bool) -> bool:
    """Return whether a file or folder holds recordings, and not what export wrote."""
    if source.is_dir():
        return has_pattern or (not (source / TAKES_CSV).exists() and bool(_among(source)))
    return source.suffix.lower() in RECORDED


def _recordings(source: Path) -> tuple[Path, ...]:
    if not source.is_dir():
        return (source,)
    found = tuple(_among(source))
    if not found:
        raise BadSettings(f"there is no recording in {source}", f"put files in it: {', '.join(RECORDED)}")
    if len(found) > MOST_FILES:
        raise BadSettings(
            f"{source} holds {len(found)} recordings", f"take in at most {MOST_FILES} at a time"
        )
    return found


def _among(folder: Path) -> list[Path]:
    try:
        return sorted(
            p for p in folder.iterdir() if p.suffix.lower() in RECORDED and not p.name.startswith(".")
        )
    except OSError as err:
        raise BadSettings(f"the folder {folder} cannot be read ({err.strerror})", "mend its rights") from err


def _graded(
    path: Path, pattern: Pattern, library: Library, read: PlacedRecording, order: ImportOrder, feel: Feel
) -> GradedTake:
    found = graded(
        pattern, library, read, source=path.name, passes=order.passes, pocket=order.pocket, feel=feel
    )
    reading = found.judgement.reading
    if reading is not None and reading.kind is ReadingKind.NOTHING_FITS:
        raise BadSettings(
            f"{path.name} is no take of {pattern.title}: {reading.sentence.rstrip('.')}",
            "name what was played with --pattern, and its tempo with --bpm",
        )
    return found


def _player(path: Path, order: ImportOrder, *, is_folder: bool) -> str:
    if order.player is not None:
        name = order.player
    else:
        name = path.stem if is_folder else load_settings()[0].player
    name = clean_name(name)
    return clean_name(player_of(name)) if order.of_class else name


def _take(
    path: Path, player: str, pattern: Pattern, read: PlacedRecording, found: GradedTake, order: ImportOrder
) -> StoredTake:
    modified = datetime.fromtimestamp(path.stat().st_mtime, UTC)
    begun = (
        modified
        if order.day is None
        else datetime(order.day.year, order.day.month, order.day.day, 12, tzinfo=UTC)
    )
    by = RecordedBy(
        player=player,
        begun=utc_text(begun),
        day=(order.day or modified.astimezone().date()).toordinal(),
        source=clean_words(f"file {path.name}"),
    )
    take = recorded_take(
        by,
        pattern,
        read.taps,
        bpm=read.bpm,
        passes=order.passes,
        feel=Feel(swing=found.swing),
        pocket=found.pocket,
        knows_left=read.knows_left,
    )
    # By what was played, not by when the file was copied: taken in twice it is known.
    uid = new_uid(f"recorded at {read.bpm}", pattern.name, taps_table(take.taps))
    return replace(take, uid=uid)


def _words(path: Path, take: StoredTake, found: GradedTake, *, is_new: bool) -> Iterator[str]:
    who = take.player or "nobody named"
    when = date.fromordinal(take.day).isoformat()
    if not is_new:
        yield f"{path.name}: there already; nothing was changed."
        return
    mean = "" if take.mean_s is None else f", mean {signed_ms(take.mean_s)}"
    spread = "" if take.spread_s is None else f", spread {1000 * take.spread_s:.0f} ms"
    yield (
        f"{path.name}: {who}, {take.pattern.title} at {float(take.timeline.spans[0].bpm):g}, {when}: "
        f"{take.clean} of {take.asked} as asked{mean}{spread}."
    )
    reading = found.judgement.reading
    if reading is not None and reading.says_something:
        yield f"  {reading.sentence}"
