"""Keep what C libraries write about missing devices out of the user's terminal."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator


@contextlib.contextmanager
def quiet_stderr() -> Iterator[None]:
    """Send file descriptor 2 nowhere for a while; what Python writes there is lost too."""
    try:
        kept = os.dup(2)
    except OSError:  # no standard error at all: nothing to keep quiet
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
