"""Print whether everything that the program needs can be had as wheels, for each system and Python.

Run it with: python -m tests.system.wheels

The markers of pyproject.toml are worked out for each system and Python as pip would there, and what they ask
for is downloaded with ``pip download --only-binary=:all:``; nothing is built and nothing installed. The
answer is 0 when nothing is missing. A cell names what stands in it for the window and for MIDI.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from packaging.requirements import Requirement

TOP = Path(__file__).parents[2]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
# Name, sys_platform, platform_machine, os_name, platform_system, and what pip calls it, newest first.
SYSTEMS = (
    ("Windows, x86-64", "win32", "AMD64", "nt", "Windows", ("win_amd64",)),
    ("Windows, ARM", "win32", "ARM64", "nt", "Windows", ("win_arm64",)),
    ("macOS, Intel", "darwin", "x86_64", "posix", "Darwin", ("macosx_14_0_x86_64",)),
    ("macOS, Apple", "darwin", "arm64", "posix", "Darwin", ("macosx_14_0_arm64",)),
    (
        "Linux, x86-64", "linux", "x86_64", "posix", "Linux",
        tuple(f"manylinux{each}_x86_64" for each in ("_2_28", "_2_27", "_2_24", "_2_17", "2014")),
    ),
    (
        "Linux, ARM", "linux", "aarch64", "posix", "Linux",
        tuple(f"manylinux{each}_aarch64" for each in ("_2_28", "_2_27", "_2_24", "_2_17", "2014")),
    ),
)  # fmt: skip
WORTH_NAMING = ("pygame", "pygame-ce", "python-rtmidi", "rtmidi2")


def needed(python: str, system: tuple[str, str, str, str, str, tuple[str, ...]]) -> list[Requirement]:
    """Return what the markers ask for there."""
    table = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
    _, platform, machine, os_name, platform_system, _ = system
    environment = {
        "python_version": python,
        "python_full_version": f"{python}.0",
        "sys_platform": platform,
        "platform_machine": machine,
        "os_name": os_name,
        "platform_system": platform_system,
        "extra": "",
    }
    asked = map(Requirement, table["project"]["dependencies"])
    return [each for each in asked if each.marker is None or each.marker.evaluate(environment)]


_EVERYWHERE: set[str] = set()  # what was found to be the same file for every system


def can_be_had(each: Requirement, python: str, platforms: tuple[str, ...]) -> bool:
    """Ask pip for a wheel."""
    if each.name in _EVERYWHERE:
        return True
    with tempfile.TemporaryDirectory() as folder:
        words = [
            sys.executable,
            "-m",
            "pip",
            "download",
            "-q",
            "--only-binary=:all:",
            "--no-deps",
            "-d",
            folder,
        ]
        words += ["--python-version", python, *(f"--platform={name}" for name in platforms)]
        done = subprocess.run([*words, f"{each.name}{each.specifier}"], capture_output=True, check=False)
        if any(path.name.endswith("-none-any.whl") for path in Path(folder).iterdir()):
            _EVERYWHERE.add(each.name)
        return done.returncode == 0


def main() -> int:
    missing = 0
    print(f"{'':18}" + "".join(f"{'Python ' + each:<28}" for each in PYTHONS))
    for system in SYSTEMS:
        row = f"{system[0]:18}"
        for python in PYTHONS:
            asked = needed(python, system)
            gone = [each.name for each in asked if not can_be_had(each, python, system[5])]
            missing += len(gone)
            named = [each.name for each in asked if each.name in WORTH_NAMING]
            midi = [] if {"python-rtmidi", "rtmidi2"} & set(named) else ["pygame.midi"]
            cell = "NO " + ", ".join(gone) if gone else ", ".join(named + midi)
            row += f"{cell:<28}"
        print(row.rstrip(), flush=True)
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
