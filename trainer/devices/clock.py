"""The one host clock: everything that happens is stamped by it."""

from __future__ import annotations

import time


def now_ns() -> int:
    """Return the host clock in nanoseconds; only differences mean anything. Any thread may call it."""
    return time.perf_counter_ns()
