"""Take the bounces of a pad out of what was touched: of touches of one pad close together the first counts.

No hand taps one pad faster than about ten times a second (Repp 2003, J. Motor Behav. 35:355-370: intervals
of just above 100 ms), so a touch within half of that after another of the same pad is the pad's doing. What
comes from another pad is a touch of its own, however close. Input and files go through the same rule.
"""

from __future__ import annotations

from collections.abc import Hashable

BOUNCE_US = 50_000


class Bounces:
    """Tells touches from bounces, one after the other in order of time."""

    def __init__(self) -> None:
        self._kept_us: dict[Hashable, int] = {}

    def is_touch(self, pad: Hashable, at_us: int) -> bool:
        """Return whether this is a touch; False for a bounce, which delays no later touch.

        Args:
            pad: what was hit: a pad or key, told apart from all others.
            at_us: when, in microseconds of any clock.
        """
        last_us = self._kept_us.get(pad)
        if last_us is not None and at_us - last_us < BOUNCE_US:
            return False
        self._kept_us[pad] = at_us
        return True
