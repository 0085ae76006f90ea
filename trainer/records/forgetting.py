"""Forget the takes of a class wherever the program knows of them, and name what it cannot reach.

Takes go from the records and from those that were left where they were moved from. What the user has copied
or exported is the user's and stays: it is named, so that it can be deleted.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from trainer.errors import TrainerError
from trainer.practice.classroom import is_of_class, player_of
from trainer.records.class_file import class_path
from trainer.records.copies import Copy, CopyKind, known_copies
from trainer.records.store import Store
from trainer.records.take_text import clean_name

MOST_NAMED = 4
BESIDE = ("*.damaged*", "*.salvaged*", "takes.version-2.sqlite*")


def forget_class_takes(store: Store, still: Iterable[str] = ()) -> tuple[str, ...]:
    """Take all takes of a class out of the records, here and where they were before.

    Args:
        still: names of pupils that stand in other classes; theirs stay.

    Returns:
        Sentences on what still holds names; none when nothing does.

    Raises:
        TrainerError: the records cannot be changed.
    """
    staying = {clean_name(player_of(name)) for name in still}
    _forget(store, staying)
    said: list[str] = []
    for copy in known_copies():
        if copy.kind is CopyKind.MOVED and copy.path.resolve() != store.path.resolve():
            try:
                _forget_in(copy.path, staying)
            except TrainerError as problem:
                said.append(f"The records as they were, in {copy.path}, still hold names: {problem}")
    return (*said, *remaining_words(store.path))


def remaining_words(records: Path) -> tuple[str, ...]:
    """Return a sentence that names the files that may still hold names of a class; none without any.

    Args:
        records: the file of the records, beside which damaged ones may lie.
    """
    paths = [each.path for each in known_copies() if each.kind is not CopyKind.MOVED]
    paths += [path for mark in BESIDE for path in sorted(records.parent.glob(mark))]
    paths += sorted(class_path().parent.glob("class.json?*"))
    paths = [path for path in dict.fromkeys(paths) if path.suffix != ".lock"]
    if not paths:
        return ()
    shown = ", ".join(str(path) for path in paths[:MOST_NAMED])
    more = (
        f" and {len(paths) - MOST_NAMED} more (thumbfall class names all)" if len(paths) > MOST_NAMED else ""
    )
    return (f"Files that you have written may still hold names; delete them yourself: {shown}{more}.",)


def all_remaining(records: Path) -> tuple[Copy, ...]:
    """Return every file that is known to have been written with names in it, and is still there."""
    beside = [path for mark in BESIDE for path in sorted(records.parent.glob(mark))]
    return (*known_copies(), *(Copy(kind=CopyKind.BACKUP, path=path) for path in beside))


def _forget_in(path: Path, staying: set[str]) -> None:
    store = Store.open(path)
    try:
        _forget(store, staying)
    finally:
        store.close()


def _forget(store: Store, staying: set[str]) -> None:
    for player in store.players():
        if is_of_class(player) and player not in staying:
            store.forget_player(player, with_takes=True)
