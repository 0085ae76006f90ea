"""Load pygame, which brings the SDL library along: here and nowhere else, once for all that use it.

pygame is None where it cannot be loaded, and WHY_NOT says why.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

# pygame asks it for files inside of archives, where an installed pygame has none. Where setuptools is there,
# loading it takes longer than the rest of pygame, and newer ones write a warning to the terminal.
_UNNEEDED = "pkg_resources"


@contextmanager
def _unless_loaded(name: str) -> Iterator[None]:
    """Let an import of a module fail for now, unless it is there already.

    None in its place is how the language says that a module cannot be found ("The import system", 5.3.1).
    """
    if name in sys.modules:
        yield
        return
    sys.modules[name] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        del sys.modules[name]


WHY_NOT: ImportError | None = None
try:
    with _unless_loaded(_UNNEEDED):
        import pygame as pygame
except ImportError as err:
    pygame = None  # type: ignore[assignment]
    WHY_NOT = err
