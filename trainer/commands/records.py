"""Answer the commands about the records: where they are, files out of them and back in.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, Parser, whole
from trainer.commands.picture import PICTURES, write_picture
from trainer.errors import BadSettings, StoreProblem
from trainer.practice.stored_take import StoredTake
from trainer.records.export import write_csv, write_json, write_midi, write_midi_file
from trainer.records.importing import import_takes
from trainer.records.mending import faults, mend
from trainer.records.settings import load_settings, save_changes
from trainer.records.store import FILE_NAME, Store, records_path


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_export(each)
    _add_import(each)
    _add_records(each)


def export(
    store: Store, to: Path, how: str, takes: Iterable[StoredTake], *, single: StoredTake | None
) -> Answer:
    """Write takes into files.

    Args:
        how: one of ``WAYS``.
        single: the take when exactly one was named, so that it may become a single MIDI file.
    """
    if how == "midi" and single is not None and to.suffix.lower() in (".mid", ".midi"):
        write_midi_file(to, single)
        n = 1
    else:
        n = WAYS[how](to, takes)
    return Answer(lines=(f"{to}: {_takes(n)} from {store.path}.",))


def records(store: Store) -> Answer:
    """Say where the records are, how large, and how many takes are in them."""
    names = store.players()
    lines = [
        f"The records are in {store.path}",
        f"{_takes(store.count())}, {store.size_bytes() / 1e6:.1f} MB",
    ]
    if names:
        lines.append(f"Players: {', '.join(names)}")
    lines.append("Another folder for good: --move FOLDER. For one command: --records FOLDER.")
    return Answer(lines=tuple(lines), notes=(store.note,) if store.note else ())


def move(store: Store, folder: Path) -> Answer:
    """Copy the records into another folder and keep takes there from now on; the old file stays.

    Raises:
        BadSettings: there are records in that folder already.
        StoreProblem: the folder or the settings cannot be written.
    """
    to = folder.expanduser().resolve() / FILE_NAME
    if to.exists():
        raise BadSettings(f"there are records in {to} already", "choose an empty folder")
    try:
        to.parent.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(
            f"the folder {to.parent} cannot be made ({err.strerror})", "choose another place"
        ) from err
    store.backup(to)
    settings = load_settings()[0]
    save_changes(settings, replace(settings, records_folder=str(to.parent)))
    return Answer(
        lines=(f"Takes are kept in {to} from now on.", f"What was there until now stays in {store.path}.")
    )


def check_records(path: Path) -> Answer:
    """Look the file of records over; of a damaged one save what can be read."""
    found = faults(path) if path.exists() else ()
    if not found:
        return Answer(lines=(f"{path}: no damage found.",))
    done = mend(path)
    return Answer(
        lines=(
            f"{path} was damaged. Saved in new records: {_takes(done.saved)}. Lost: {_takes(done.lost)}.",
            f"The damaged file is kept as {done.aside}",
        )
    )


def _takes(n: int) -> str:
    return f"{n} take" if n == 1 else f"{n} takes"


def _json_in(to: Path, takes: Iterable[StoredTake]) -> int:
    return write_json(to / "takes.json" if to.is_dir() else to, takes)


WAYS: Mapping[str, Callable[[Path, Iterable[StoredTake]], int]] = {
    "json": _json_in,
    "csv": write_csv,
    "midi": write_midi,
}


@contextmanager
def opened(folder: str) -> Iterator[Store]:
    """Open the records for a command, and close them."""
    store = Store.open(records_file(folder))
    try:
        yield store
    finally:
        store.close()


def records_file(folder: str) -> Path:
    """Return the file of records: in the folder that the command line names, else in the usual one."""
    if folder:
        return Path(folder).expanduser() / FILE_NAME
    return records_path(load_settings()[0].records_folder)


def known_player(store: Store, name: str | None) -> None:
    """Refuse a name that nobody has; None and the empty one, for nobody in particular, are no names.

    Raises:
        BadSettings: no take is under this name.
    """
    players = store.players()
    if name and name not in players:
        known = ", ".join(players) or "nobody yet"
        raise BadSettings(f'the records have no player called "{name}"', f"they have: {known}")


def add_folder(parser: Parser) -> None:
    """Let a command be told where the records are."""
    parser.add_argument(
        "--records", metavar="FOLDER", default="", help="folder of the records (default: your data folder)"
    )


def _add_export(each: Commands) -> None:
    parser = each.add_parser(
        "export", help="write takes as JSON, CSV or MIDI files, or a picture of progress"
    )
    parser.add_argument("to", metavar="FOLDER_OR_FILE", help="JSON and PNG: a file; CSV and MIDI: a folder")
    parser.add_argument("--as", dest="how", choices=(*WAYS, "png"), default="json", help="(default: json)")
    parser.add_argument("--player", metavar="NAME", default=None, help="only this player's")
    parser.add_argument("--pattern", metavar="NAME", default=None, help="only of this pattern")
    parser.add_argument("--take", metavar="ID", default=None, help="only this take, by its number in history")
    parser.add_argument(
        "--picture", choices=PICTURES, default=PICTURES[0], help="which one, as PNG (default: tempo)"
    )
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        with opened(o.records) as store:
            known_player(store, o.player)
            if o.how == "png":
                player = o.player if o.player is not None else load_settings()[0].player
                return write_picture(store, Path(o.to), player=player, pattern=o.pattern, which=o.picture)
            single = None if o.take is None else store.take(whole(o.take, "--take", 1, most=2**53))
            takes = store.each_take(player=o.player, pattern=o.pattern) if single is None else (single,)
            return export(store, Path(o.to), o.how, takes, single=single)

    parser.set_defaults(command=run)


def _add_import(each: Commands) -> None:
    parser = each.add_parser("import", help="read takes back in that export wrote, JSON or CSV")
    parser.add_argument(
        "source", metavar="FILE_OR_FOLDER", help="a JSON file, or the folder of the CSV files"
    )
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        with opened(o.records) as store:
            done = import_takes(Path(o.source), store)
        return Answer(lines=(f"New: {_takes(done.new)}. There already: {_takes(done.known)}.",))

    parser.set_defaults(command=run)


def _add_records(each: Commands) -> None:
    parser = each.add_parser("records", help="say where the takes are kept; copy or mend them")
    parser.add_argument(
        "--backup", metavar="FILE", help="copy all of it into a file, also while it is in use"
    )
    parser.add_argument("--check", action="store_true", help="look for damage, and save what can be read")
    parser.add_argument("--move", metavar="FOLDER", help="copy it there, and keep takes there from now on")
    add_folder(parser)

    def run(o: argparse.Namespace) -> Answer:
        if o.check:
            return check_records(records_file(o.records))
        with opened(o.records) as store:
            if o.move is not None:
                return move(store, Path(o.move))
            if o.backup is None:
                return records(store)
            store.backup(Path(o.backup))
            return Answer(lines=(f"{o.backup}: a copy of {store.path}.",))

    parser.set_defaults(command=run)
