"""Run a screen that nobody sees: an Xvfb that names itself."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager


class NoScreen(Exception):
    """Xvfb gave no display."""


@contextmanager
def virtual_screen(size: str, *, program: str = "Xvfb", by_tcp: bool = False) -> Iterator[int]:
    """Yield the number of the display.

    Args:
        size: width, height and depth, as "1280x720x24".
        by_tcp: whether it is reached by this machine's address too, by whoever reaches that.

    Raises:
        NoScreen: the server ended at once.
    """
    read_end, write_end = os.pipe()
    how = ["-listen", "tcp", "-ac"] if by_tcp else ["-nolisten", "tcp"]
    # Without "-noreset" the server begins anew whenever its last client goes (Xserver(1)), and turns away who
    # comes meanwhile: while xdotool came and went, one start of a window in sixty found no display.
    server = subprocess.Popen(
        [program, "-displayfd", str(write_end), "-screen", "0", size, "-noreset", *how],
        pass_fds=(write_end,),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    os.close(write_end)
    try:
        number = os.read(read_end, 16).decode().strip()
        if not number:
            raise NoScreen("Xvfb gave no display")
        yield int(number)
    finally:
        os.close(read_end)
        server.terminate()
        server.wait(10)
