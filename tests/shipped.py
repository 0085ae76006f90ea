"""The patterns, breaks and charts that come with the program, read once for all tests of a process."""

from functools import cache
from pathlib import Path

from trainer.records.library import Library, load_library


@cache
def shipped() -> Library:
    """The shipped library, without any user's own."""
    return load_library(Path("no user's folder"))
