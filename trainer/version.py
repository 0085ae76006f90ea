"""Say which version this is."""

from __future__ import annotations

import contextlib
import tomllib
from importlib import metadata
from pathlib import Path

_PROJECT_FILE = Path(__file__).resolve().parent.parent / "pyproject.toml"


def version() -> str:
    """Return the installed version; in a checkout that was never installed, the one in its project file."""
    with contextlib.suppress(metadata.PackageNotFoundError):
        return metadata.version("thumbfall")
    try:
        project = tomllib.loads(_PROJECT_FILE.read_text(encoding="utf-8"))["project"]
        return str(project["version"])
    except (OSError, KeyError, TypeError, tomllib.TOMLDecodeError):
        return "unknown"
