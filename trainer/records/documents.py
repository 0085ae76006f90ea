"""Find a name in the user's documents for a file that nobody has named."""

from __future__ import annotations

from pathlib import Path

from trainer.errors import StoreProblem
from trainer.files import documents_folder

MOST_TRIED = 1000


def free_document(stem: str, ending: str, folder: Path | None = None) -> Path:
    """Return the path of a file that is not there yet; its folder is made.

    Args:
        stem: the file's name in words; what no system allows in a name becomes a hyphen.
        folder: None for the user's documents.

    Raises:
        StoreProblem: the folder cannot be made, or holds a thousand such files.
    """
    folder = folder or documents_folder()
    name = "".join(each if each.isalnum() or each in "-_ " else "-" for each in stem).strip()[:80] or "lesson"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise StoreProblem(f"{folder} cannot be made ({err.strerror})", "mend the folder's rights") from err
    for number in range(1, MOST_TRIED):
        path = folder / (f"{name}{ending}" if number == 1 else f"{name}-{number}{ending}")
        if not path.exists():
            return path
    raise StoreProblem(f"{folder} has a thousand files called {name}", "move some of them away")
