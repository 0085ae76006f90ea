"""Say how far from its target a tap may fall and still count as in time.

The half-width grows with the slot, because hearing and hands do: a displaced tone is noticed at about
2.5 % of the interval, at 6 ms below 240 ms (Friberg & Sundberg 1995). In a groove listeners notice 19 to
24 ms between percussion sounds (preprint osf.io/jsg94), so nothing narrower than 20 ms is offered. The
shares and floors are ours.
"""

from __future__ import annotations

import enum
from functools import cached_property

from trainer.music.named import named

LARGEST_SHARE = 0.4  # of a slot: two neighbouring pockets never touch


class Pocket(enum.Enum):
    """The pockets that can be chosen; the value is the name shown."""

    NARROW = "narrow"
    MIDDLE = "middle"
    WIDE = "wide"

    @cached_property
    def floor_s(self) -> float:
        """Half-width in seconds at fast tempi."""
        return {"narrow": 0.020, "middle": 0.030, "wide": 0.045}[self.value]

    @cached_property
    def share(self) -> float:
        """Half-width as a share of the slot at slow tempi."""
        return {"narrow": 0.06, "middle": 0.10, "wide": 0.15}[self.value]

    def half_width_s(self, slot_s: float) -> float:
        """Return the half-width in seconds for a slot of ``slot_s`` seconds.

        >>> [round(Pocket.MIDDLE.half_width_s(slot_s) * 1000, 1) for slot_s in (0.05, 0.2, 0.5)]
        [20.0, 30.0, 50.0]
        """
        return min(max(self.floor_s, self.share * slot_s), LARGEST_SHARE * slot_s)

    @classmethod
    def named(cls, name: str) -> Pocket:
        """Return a pocket by its name.

        Raises:
            BadSettings: no pocket is called so.
        """
        return named(cls, name, "the pocket")
