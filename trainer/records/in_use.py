"""Say that the records are in use, so that nobody moves or mends them meanwhile.

Whoever keeps takes holds a place; several may. Who wants to move or mend the file wants all at once,
and gets them only when nobody holds one. The places are bytes of a file beside the records, locked by the
system, which gives them back when a program ends in whatever way.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from pathlib import Path

from trainer.files import OWN

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

WAIT_S = 0.02
LOCKED_BYTES = 64


class InUse:
    """A place that is held until it is let go."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    def leave(self) -> None:
        """Let go of it."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1


def hold(records: Path, *, alone: bool, patience_s: float = 0.0) -> InUse | None:
    """Hold the records, alone or with others; None when that cannot be now.

    Where the file system knows no locks it always can.

    Raises:
        OSError: the folder cannot be written.
    """
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
    descriptor = os.open(records.with_name(f"{records.name}.in-use"), flags, OWN)
    until = time.monotonic() + patience_s
    while not _lock(descriptor, alone=alone):
        if time.monotonic() >= until:
            os.close(descriptor)
            return None
        time.sleep(WAIT_S)
    return InUse(descriptor)


if sys.platform == "win32":

    def _lock(descriptor: int, *, alone: bool) -> bool:
        offsets = (0,) if alone else range(LOCKED_BYTES)
        for offset in offsets:
            os.lseek(descriptor, offset, os.SEEK_SET)
            try:
                msvcrt.locking(descriptor, msvcrt.LK_NBLCK, LOCKED_BYTES if alone else 1)
            except OSError:
                continue
            return True
        return False

else:

    def _lock(descriptor: int, *, alone: bool) -> bool:
        try:
            fcntl.flock(descriptor, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as err:
            return err.errno in (errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)
        return True
