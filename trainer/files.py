"""Read and write the user's files: whole or not at all, one writer at a time, never through a link.

A file is written under a name of its own beside its place and then moved there, so nobody ever reads half of
it. What belongs to one user is readable by that user alone. What is read has a size that was asked for, and a
pipe or a device in a file's place is refused instead of waited for.
"""

from __future__ import annotations

import errno
import os
import secrets
import stat
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO, TextIO

from platformdirs import user_config_dir, user_data_dir, user_documents_dir

from trainer.errors import StoreProblem

OWN = 0o600  # readable and writable by the user alone
SHARED = 0o666  # what the user's own mask makes of it: for files that were asked for by name
OWN_FOLDER = 0o700
LONGEST_WAIT_S = 3.0  # for another writer; each takes some milliseconds
WAIT_S = 0.01
MOST_ASIDE = 50
PIECE_BYTES = 1 << 20
LONGEST_STEM = 80  # of a file's name in its draft's: names end at 255 bytes


def data_folder() -> Path:
    """Return the folder for what belongs to the user; it may not exist yet.

    Raises:
        StoreProblem: the system knows no home of this user.
    """
    return Path(_of_the_user(lambda: user_data_dir("thumbfall", appauthor=False)))


def settings_folder() -> Path:
    """Return the folder for the user's settings, as :func:`data_folder`."""
    return Path(_of_the_user(lambda: user_config_dir("thumbfall")))


def documents_folder() -> Path:
    """Return the user's folder for documents, as :func:`data_folder`."""
    return Path(_of_the_user(user_documents_dir))


def _of_the_user(folder: Callable[[], str]) -> str:
    try:
        return folder()
    except RuntimeError as err:
        # A user without an entry in the system's list, as in some containers, and without HOME.
        raise StoreProblem(
            "the system knows no home folder of this user", "set the variable HOME to a folder you may write"
        ) from err


@contextmanager
def whole_file(
    path: Path, *, mode: int = OWN, errors: str = "strict", newline: str | None = None
) -> Iterator[TextIO]:
    """Give a UTF-8 file to write that takes its place only when all of it is on the disk.

    Args:
        mode: the file's rights; of SHARED the user's mask is taken off.
        errors, newline: as ``open`` has them.

    Raises:
        OSError: it cannot be written; what stood there before stands there still.
    """
    with (
        _whole(path, mode) as descriptor,
        os.fdopen(descriptor, "w", encoding="utf-8", errors=errors, newline=newline) as file,
    ):
        yield file
        file.flush()
        os.fsync(file.fileno())


@contextmanager
def whole_bytes(path: Path, *, mode: int = OWN) -> Iterator[BinaryIO]:
    """Give a file for bytes, as :func:`whole_file`; it may be written piece by piece."""
    with _whole(path, mode) as descriptor, os.fdopen(descriptor, "wb") as file:
        yield file
        file.flush()
        os.fsync(file.fileno())


def write_whole(path: Path, data: bytes, *, mode: int = OWN) -> None:
    """Write bytes whole or not at all.

    Raises:
        OSError: as :func:`whole_file`.
    """
    with whole_bytes(path, mode=mode) as file:
        file.write(data)


def read_whole(path: Path, most_bytes: int) -> bytes:
    """Return what is in a file of at most so many bytes.

    Raises:
        OSError: there is none (FileNotFoundError), it cannot be read, it is larger (EFBIG), or no plain file.
    """
    # Without O_NONBLOCK a pipe with nobody at its other end would be waited for, for good.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        descriptor = os.open(path, flags)
    except ValueError as err:
        raise FileNotFoundError(errno.ENOENT, "no file can have this name", str(path)) from err
    try:
        found = os.fstat(descriptor)
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is no plain file", str(path))
        # No more than there is, for as much memory is taken as is asked for; /proc says 0 and has more.
        with os.fdopen(descriptor, "rb", closefd=False) as file:
            data = file.read(min(found.st_size, most_bytes) + 1)
            while len(data) <= most_bytes and (more := file.read(PIECE_BYTES)):
                data += more
    finally:
        os.close(descriptor)
    if len(data) > most_bytes:
        raise OSError(errno.EFBIG, f"it is larger than {most_bytes} bytes", str(path))
    return data


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Be the only one, of all programs that ask, who changes a file; the lock is a file beside it.

    Where the file system knows no locks there is none.

    Raises:
        OSError: another program has held it for three seconds, or no lock can be put there.
    """
    beside = path.with_name(f"{path.name}.lock")
    flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
    descriptor = os.open(beside, flags, OWN)
    try:
        until = time.monotonic() + LONGEST_WAIT_S
        while not _lock(descriptor):
            if time.monotonic() > until:
                raise OSError(errno.EAGAIN, "another program is writing it", str(path))
            time.sleep(WAIT_S)
        yield
    finally:
        os.close(descriptor)  # which gives the lock back


def put_aside(path: Path) -> Path:
    """Rename a file that cannot be used and return its new name; what was put aside before stays.

    Raises:
        OSError: it cannot be renamed.
    """
    aside = _free_name(path)
    path.replace(aside)
    return aside


def copy_aside(path: Path, data: bytes) -> Path:
    """Keep what a file held beside it, once, and return where; what was put aside before stays.

    Raises:
        OSError: it cannot be written.
    """
    for known in _aside_names(path):
        with suppress(OSError):
            if read_whole(known, len(data)) == data:
                return known
    aside = _free_name(path)
    write_whole(aside, data)
    return aside


def make_own_folder(folder: Path) -> None:
    """Make a folder, and those it lies in, that the user alone can look into; one that exists stays as it is.

    Raises:
        OSError: it cannot be made.
    """
    for each in (*reversed(folder.parents), folder):
        if not each.exists():
            with suppress(FileExistsError):
                each.mkdir(mode=OWN_FOLDER)
    if not folder.is_dir():
        raise OSError(errno.ENOTDIR, "it is no folder", str(folder))


def _aside_names(path: Path) -> Iterator[Path]:
    for number in range(1, MOST_ASIDE + 1):
        yield path.with_name(f"{path.name}.unread" + (f"-{number}" if number > 1 else ""))


def _free_name(path: Path) -> Path:
    names = tuple(_aside_names(path))
    # After so many the last one is given up: somebody breaks the file again and again.
    return next((each for each in names if not os.path.lexists(each)), names[-1])


@contextmanager
def _whole(path: Path, mode: int) -> Iterator[int]:
    """Give a new file that takes a place in the end: nobody else has its name, and it is behind no link."""
    fresh = path.with_name(f".{path.name[:LONGEST_STEM]}.{secrets.token_hex(8)}.new")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    descriptor = os.open(fresh, flags, mode)
    try:
        yield descriptor
        _put_in_place(fresh, path)
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def _put_in_place(fresh: Path, path: Path) -> None:
    fresh.replace(path)
    if sys.platform != "win32":
        # The new name is on the disk only when its folder is; where folders cannot be flushed it has to do.
        with suppress(OSError):
            folder = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)


if sys.platform == "win32":
    import msvcrt

    def _lock(descriptor: int) -> bool:
        try:
            msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _lock(descriptor: int) -> bool:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError as err:
            # A file system without locks, such as some shared folders: there is nothing to wait for.
            return err.errno in (errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL)
        return True
