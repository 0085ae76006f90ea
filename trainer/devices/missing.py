"""Say which shared library of the system is missing, and which Debian package brings it.

The libraries that pip installs bring most of what they need along; the rest they expect of the system: ALSA
for sound and MIDI, JACK, and for a window those that SDL opens when the window does. The message of the
system's loader names a file and nothing else, which helps nobody.
"""

from __future__ import annotations

import ctypes
import os
import re
import sys
from collections.abc import Callable

# File: package in Debian 13 and Ubuntu 24.04, and the name before those where it was another one.
# As `dpkg -S` of Debian 12, 13 and sid names them.
_PACKAGES: dict[str, tuple[str, str]] = {
    "libgthread-2.0": ("libglib2.0-0t64", "libglib2.0-0"),
    "libglib-2.0": ("libglib2.0-0t64", "libglib2.0-0"),
    "libgobject-2.0": ("libglib2.0-0t64", "libglib2.0-0"),
    "libasound": ("libasound2t64", "libasound2"),
    "libjack": ("libjack-jackd2-0", ""),
    "libpulse": ("libpulse0", ""),
    "libpulse-simple": ("libpulse0", ""),
    "libdbus-1": ("libdbus-1-3", ""),
    "libGL": ("libgl1", ""),
    "libEGL": ("libegl1", ""),
    "libX11": ("libx11-6", ""),
    "libXext": ("libxext6", ""),
    "libXcursor": ("libxcursor1", ""),
    "libXi": ("libxi6", ""),
    "libXrandr": ("libxrandr2", ""),
    "libXss": ("libxss1", ""),
    "libwayland-client": ("libwayland-client0", ""),
    "libxkbcommon": ("libxkbcommon0", ""),
    "libstdc++": ("libstdc++6", ""),
    "libgomp": ("libgomp1", ""),
}
# What SDL opens before it can open a window under X; without the last four it does without what they are for.
X_LIBRARIES = ("libX11.so.6", "libXext.so.6")
ALSA_SETTINGS = "/usr/share/alsa/alsa.conf"
X_PACKAGES = "libx11-6 libxext6 libxcursor1 libxi6 libxrandr2 libxss1"
_FILE = re.compile(r"(lib[\w+.-]*?)\.so(?:\.[\d.]+)?")


def missing_library(message: object) -> str:
    """Return a clause about the shared library that a loader's message names; empty when it names none.

    Args:
        message: an ImportError or OSError of a library that could not be loaded, or its text.
    """
    text = str(message)
    found = _FILE.search(text)
    if found is None or "annot open shared object" not in text:
        return ""
    return f"the shared library {found[0]} is missing{_brought_by(found[1])}"


def sound_libraries_missing(
    loads: Callable[[str], bool] | None = None, exists: Callable[[str], bool] = os.path.exists
) -> str:
    """Return a clause about what SDL lacks to reach the sound of a Linux system; empty when it lacks nothing.

    SDL opens ALSA's and PulseAudio's libraries itself and passes over what is not there without a word, so
    its last error speaks of something else.

    Args:
        loads: as :func:`window_libraries_missing`.
        exists: whether there is a file.
    """
    if not sys.platform.startswith("linux"):
        return ""
    gone = [name for name in ("libasound.so.2", "libpulse.so.0") if not (loads or _loads)(name)]
    if len(gone) == 2:
        return (
            "neither of the shared libraries libasound.so.2 and libpulse.so.0 is there (on Debian and Ubuntu "
            "the packages libasound2t64, libasound2 before Debian 13, and libpulse0 bring them)"
        )
    if "libpulse.so.0" in gone and not exists(ALSA_SETTINGS):
        return (
            f"ALSA's settings {ALSA_SETTINGS} are missing (on Debian and Ubuntu the package libasound2-data "
            "brings them)"
        )
    return ""


def window_libraries_missing(loads: Callable[[str], bool] | None = None) -> str:
    """Return a clause about the libraries that a window needs under X; empty when they are there.

    Args:
        loads: whether a library of this name can be loaded; None asks the system.
    """
    if not sys.platform.startswith("linux") or not os.environ.get("DISPLAY"):
        return ""
    gone = [name for name in X_LIBRARIES if not (loads or _loads)(name)]
    if not gone:
        return ""
    are = "libraries" if len(gone) > 1 else "library"
    return (
        f"the shared {are} {' and '.join(gone)} {'are' if len(gone) > 1 else 'is'} missing "
        f"(on Debian and Ubuntu: sudo apt-get install {X_PACKAGES})"
    )


def _brought_by(stem: str) -> str:
    package, before = _PACKAGES.get(stem, ("", ""))
    if not package:
        return ""
    older = f", {before} before Debian 13" if before else ""
    return f" (on Debian and Ubuntu the package {package} brings it{older})"


def _loads(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True
