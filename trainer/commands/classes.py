"""Answer the command about classes: which there are, which is in use, and forgetting one.

Nothing here needs a window, a sound device or a MIDI port.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from trainer.commands.parsing import Answer, Commands
from trainer.commands.records import records_file, with_records
from trainer.errors import BadSettings
from trainer.practice.classroom import Classroom
from trainer.records.class_file import keep_class, load_class
from trainer.records.class_lists import (
    FIRST,
    clean_list_name,
    list_names,
    list_path,
    names_in,
    pupils_elsewhere,
)
from trainer.records.forgetting import all_remaining, forget_class_takes
from trainer.records.settings import load_settings, save_changes
from trainer.records.store import Store


def show_classes() -> Answer:
    """Say which classes there are, and which files are known to hold names."""
    in_use = load_settings()[0].class_list
    names = list_names()
    lines = [_line(name, is_in_use=name == in_use) for name in names]
    if in_use not in names:
        lines.append(f"{in_use or FIRST}: nobody is in it yet (in use)")
    remaining = all_remaining(records_file(""))
    if remaining:
        lines += ["", "Files that were written and may hold names:"]
        lines += [f"  {each.path}: {each.kind.value}" for each in remaining]
    return Answer(lines=tuple(lines))


def use_class(name: str, names_file: Path | None) -> Answer:
    """Use a class from now on, a new one where there is none of this name, and add names to it."""
    settings = load_settings()[0]
    save_changes(settings, replace(settings, class_list=name))
    lines = []
    if names_file is not None:
        path = list_path(name)
        room = load_class(path)[0]
        fresh = room.with_names(names_in(names_file))
        keep_class(room, fresh, path)
        lines.append(f"{len(fresh.pupils) - len(room.pupils)} names are added.")
    return Answer(lines=(*lines, _line(name, is_in_use=True)))


def forget_class(name: str) -> Answer:
    """Forget a class: its names, its turns, its takes wherever they are known to be.

    Raises:
        BadSettings: there is no such class.
    """
    if name not in list_names():
        known = ", ".join(each or FIRST for each in list_names()) or "none"
        raise BadSettings(f"there is no class called {name or FIRST}", f"there are: {known}")
    path = list_path(name)
    room = load_class(path)[0]
    elsewhere = pupils_elsewhere(name)

    def forget(store: Store) -> Answer:
        left = forget_class_takes(store, elsewhere)
        keep_class(room, Classroom(), path)
        path.with_name(f"{path.name}.lock").unlink(missing_ok=True)
        settings = load_settings()[0]
        if settings.class_list == name:
            save_changes(settings, replace(settings, class_list=""))
        return Answer(lines=(f"{name or FIRST}: names, turns and takes are forgotten.",), notes=left)

    return with_records(records_file(""), forget)


def _line(name: str, *, is_in_use: bool) -> str:
    count = len(load_class(list_path(name))[0].pupils)
    words = f"{count} pupil{'s' * (count != 1)}" if count else "nobody is in it yet"
    return f"{name or FIRST}: {words}{' (in use)' if is_in_use else ''}"


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("class", help="say which classes there are, use another, or forget one")
    parser.add_argument(
        "name", nargs="?", metavar="NAME", help="the class to use from now on, also a new one"
    )
    parser.add_argument("--first", action="store_true", help="the class that has no name")
    parser.add_argument("--names", metavar="FILE", help="add the names in a text file, one a line")
    parser.add_argument("--forget", action="store_true", help="forget it: names, turns and takes")

    def run(o: argparse.Namespace) -> Answer:
        if o.name is None and not o.first:
            if o.forget or o.names is not None:
                raise BadSettings("no class is named", "name one, or give --first for the one without a name")
            return show_classes()
        if o.name is not None and o.first:
            raise BadSettings("a name and --first were given", "leave one out")
        name = "" if o.first else clean_list_name(o.name)
        if o.forget:
            return forget_class(name)
        return use_class(name, None if o.names is None else Path(o.names))

    parser.set_defaults(command=run)
