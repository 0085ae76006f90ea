"""Answer the commands about the records: where they are, files out of them and back in.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, Parser, whole
from trainer.commands.picture import PICTURES, write_picture
from trainer.errors import BadSettings, DamagedRecords, StoreProblem, TrainerError
from trainer.practice.stored_take import StoredTake
from trainer.records.copies import CopyKind, note_copy
from trainer.records.export import Exported, write_csv, write_json
from trainer.records.in_use import hold
from trainer.records.journal import journal_folder, recover
from trainer.records.mending import (
    SALVAGED,
    count_words,
    lost_words,
    mend,
    mended_words,
    put_aside,
)
from trainer.records.midi_export import write_midi, write_midi_file
from trainer.records.own_files import own_folder
from trainer.records.settings import load_settings, save_changes
from trainer.records.store import FILE_NAME, Store, records_path

DAMAGED = DamagedRecords.exit_code


def add_to(each: Commands) -> None:
    """Add the commands of this module."""
    _add_export(each)
    _add_records(each)


def export(
    store: Store,
    to: Path,
    how: str,
    *,
    player: str | None = None,
    pattern: str | None = None,
    take_id: int | None = None,
) -> Answer:
    """Write takes into files; damaged ones are left out and said.

    Args:
        how: one of ``WAYS``.
        take_id: only this one; None for all of the player and the pattern.
    """
    unread: list[int] = []
    if take_id is not None:
        single = store.take(take_id)
        if how == "midi" and to.suffix.lower() in (".mid", ".midi"):
            write_midi_file(to, single)
            done = Exported(takes=1)
        else:
            done = WAYS[how](to, (single,))
    else:
        done = WAYS[how](to, store.each_take(player=player, pattern=pattern, unread=unread))
    note_copy(CopyKind.EXPORT, to)
    notes = [f"An older file that holds more takes is kept as {older}." for older in done.older]
    if unread:
        lost = lost_words(dict.fromkeys(unread, ""))
        notes.append(f"Damaged and left out: {lost}. See what can be done with: thumbfall records --check")
    return Answer(
        lines=(f"{to}: {count_words(done.takes)} from {store.path}.",),
        notes=tuple(notes),
        exit_code=DAMAGED if unread else 0,
    )


def records(store: Store) -> Answer:
    """Say where the records are, how large, and how many takes are in them."""
    names = store.players()
    lines = [
        f"The records are in {store.path}",
        f"{count_words(store.count())}, {store.size_bytes() / 1e6:.1f} MB",
    ]
    if names:
        lines.append(f"Players: {', '.join(names)}")
    lines.append("Another folder for good: --move FOLDER. For one command: --records FOLDER.")
    notes = [
        f"An earlier damaged file lies in {each}. Look it through with: thumbfall records --check"
        for each in put_aside(store.path)
    ]
    return Answer(lines=tuple(lines), notes=tuple(notes))


def back_up(store: Store, to: Path) -> Answer:
    """Copy the records into a file; an older copy of that name is kept."""
    older = store.backup(to)
    note_copy(CopyKind.BACKUP, to)
    kept = (f"The older copy is kept as {older}.",) if older is not None else ()
    return Answer(lines=(f"{to}: a copy of {store.path}.",), notes=kept)


def move(path: Path, folder: Path) -> Answer:
    """Copy the records into another folder and keep takes there from now on; the old file stays.

    Raises:
        BadSettings: there are records in that folder already.
        StoreProblem: a window is open, or the folder or the settings cannot be written.
    """
    to = folder.expanduser().resolve() / FILE_NAME
    if to.exists():
        raise BadSettings(f"there are records in {to} already", "choose an empty folder")
    _nobody_else(path)
    try:
        own_folder(to.parent)
    except OSError as err:
        raise StoreProblem(
            f"the folder {to.parent} cannot be made ({err.strerror})", "choose another place"
        ) from err

    def copied(store: Store) -> Answer:
        found = recover(journal_folder(path), store)  # or nobody would look for them any more
        store.backup(to)
        lines = (f"Takes are kept in {to} from now on.", f"What was there until now stays in {path}.")
        return Answer(lines=lines, notes=(found.note,) if found.note else ())

    answer = with_records(path, copied)
    note_copy(CopyKind.MOVED, path)
    settings = load_settings()[0]
    save_changes(settings, replace(settings, records_folder=str(to.parent)))
    return answer


def check_records(path: Path) -> Answer:
    """Look the records over, and damaged files beside them; of what is damaged save what can be read."""
    store = Store.open(path)
    try:
        lines = [store.note] if store.note else []
        found = () if store.was_damaged else store.faults()
        back = () if found else store.take_back()
    finally:
        store.close()
    if found:
        done = mend(path)
        lines.append(mended_words(done))
        lines += [f"  {fault}" for fault in found[:10]]
    lines += [f"{each.asides[0]}: {count_words(each.saved)} taken back into the records." for each in back]
    was_damaged = bool(lines)
    if not was_damaged:
        lines.append(f"{path}: no damage found.")
    now = {aside for each in back for aside in each.asides}
    rest = sorted(set(path.parent.glob(f"{path.name}*{SALVAGED}")) - now)
    if rest and not found and not store.was_damaged:
        lines.append(f"What could not be read earlier lies in {', '.join(map(str, rest))}.")
    return Answer(lines=tuple(lines), exit_code=DAMAGED if was_damaged else 0)


def opened_file(folder: str) -> Path:
    """Return the file of records to read from: as :func:`records_file`, but a named folder must have some.

    Raises:
        StoreProblem: there are none in the folder named, so that a slip of the pen makes no new ones.
    """
    path = records_file(folder)
    if folder and not any(path.parent.glob(f"{path.name}*")) and not journal_folder(path).exists():
        raise StoreProblem(
            f"there are no records in {path.parent}", f"name the folder in which {FILE_NAME} lies"
        )
    return path


def with_records(path: Path, deed: Callable[[Store], Answer]) -> Answer:
    """Do something with the records; when they prove damaged, mend them, do it again, and say so.

    Raises:
        DamagedRecords: they are damaged and in use, or damaged again at once.
        TrainerError: whatever the deed finds.
    """
    said: list[str] = []
    for is_last in (False, True):
        store = Store.open(path)
        said += [store.note] if store.note else []
        is_damaged = is_last or store.was_damaged
        try:
            answer = deed(store)
            code = DAMAGED if is_damaged else answer.exit_code
            return replace(answer, notes=(*said, *answer.notes), exit_code=code)
        except DamagedRecords:
            if is_last:
                raise
        except TrainerError as problem:
            if not is_damaged:
                raise
            return Answer(notes=(*said, str(problem)), exit_code=DAMAGED)
        finally:
            store.close()
        said.append(mended_words(mend(path)))
    raise AssertionError("the last try either answers or raises")


def _nobody_else(path: Path) -> None:
    """Refuse while a window has the records open: it would go on keeping takes in the old place."""
    own_folder(path.parent)
    alone = hold(path, alone=True)
    if alone is None:
        raise StoreProblem(
            f"Thumbfall is open and keeps takes in {path}", "close it and move the records then"
        )
    alone.leave()


def _json_in(to: Path, takes: Iterable[StoredTake]) -> Exported:
    return write_json(to / "takes.json" if to.is_dir() else to, takes)


WAYS: Mapping[str, Callable[[Path, Iterable[StoredTake]], Exported]] = {
    "json": _json_in,
    "csv": write_csv,
    "midi": write_midi,
}


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
        def deed(store: Store) -> Answer:
            known_player(store, o.player)
            if o.how == "png":
                player = o.player if o.player is not None else load_settings()[0].player
                return write_picture(store, Path(o.to), player=player, pattern=o.pattern, which=o.picture)
            take_id = None if o.take is None else whole(o.take, "--take", 1, most=2**53)
            return export(store, Path(o.to), o.how, player=o.player, pattern=o.pattern, take_id=take_id)

        return with_records(opened_file(o.records), deed)

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
        path = opened_file(o.records)
        if o.check:
            return check_records(path)
        if o.move is not None:
            return move(path, Path(o.move))
        if o.backup is not None:
            return with_records(path, partial(back_up, to=Path(o.backup)))
        return with_records(path, records)

    parser.set_defaults(command=run)
