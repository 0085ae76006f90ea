"""The rules of the attack, and the measuring of memory."""

from __future__ import annotations

import sys

try:
    import resource
except ImportError:  # Windows
    resource = None  # type: ignore[assignment]

# Seconds of work by kind; a case of the window is up to a hundred steps, each of which is held to a second.
LONGEST_S = {"": 1.0, "window": 20.0}
MOST_MIB = 500


def peak_mib() -> int:
    """Return the most memory this process has had, in MiB; 0 where the system does not say."""
    if resource is None:
        return 0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return int(most >> 20 if sys.platform == "darwin" else most >> 10)
