"""Say where the files that come with the program lie.

In an installed wheel they lie inside the package (``trainer/_shipped/patterns`` and ``/assets``), in a
checkout beside it. Both are found from this file's own place, so the program runs from any folder.
"""

from __future__ import annotations

from pathlib import Path

from trainer.errors import StoreProblem

REMEDY = "install the program anew"
_PACKAGE = Path(__file__).resolve().parent


def shipped_folder(kind: str, *, package: Path = _PACKAGE) -> Path:
    """Return the folder ``patterns`` or ``assets``.

    Args:
        kind: the folder's name.
        package: the folder of the package itself, to be changed by tests only.

    Raises:
        StoreProblem: the program was copied without its files.
    """
    # The wheel's folder first: beside an installed package another project's ``patterns`` may lie.
    for folder in (package / "_shipped" / kind, package.parent / kind):
        if folder.is_dir():
            return folder
    raise StoreProblem(f"the folder {kind} that comes with the program is missing", REMEDY)


def asset_path(name: str, *, package: Path = _PACKAGE) -> Path:
    """Return the path of one shipped asset, such as the font or the icon.

    Raises:
        StoreProblem: there is no such file.
    """
    path = shipped_folder("assets", package=package) / name
    if not path.is_file():
        raise StoreProblem(f"the file {name} that comes with the program is missing", REMEDY)
    return path
