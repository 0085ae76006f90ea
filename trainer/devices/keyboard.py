"""Turn the computer's keys into taps.

The window library gives a key no time of its own: a key is known only to have gone down between one
look at the event queue and the next. So its tap is put in the middle of that interval, and half the
interval is its uncertainty, besides what the keyboard itself takes.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.music.strokes import Hand

DEFAULT_NAIL = "f"
DEFAULT_THUMB = "j"
BOUNCE_NS = 10_000_000  # a switch that opens and closes again within this has only bounced
SCAN_S = 0.004  # half of the 8 ms between two scans of a slow USB keyboard (125 Hz)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandKeys:
    """Which key is whose, by the window library's key names.

    The default pair lies under the forefingers of two hands, and under thumb and forefinger of one that
    is turned a little.

    Attributes:
        nail, thumb: a key each.
        left: the left hand's key; empty when it has none.
        side: the key on which skips are marked; empty when there is none.
    """

    nail: str = DEFAULT_NAIL
    thumb: str = DEFAULT_THUMB
    left: str = ""
    side: str = ""

    def hand(self, key: str) -> Hand | None:
        """Return whose key it is, or None."""
        if not key:  # the name of keys that the library does not know
            return None
        return {self.side: Hand.NONE, self.left: Hand.LEFT, self.thumb: Hand.THUMB, self.nail: Hand.NAIL}.get(
            key
        )

    def with_key(self, hand: Hand, key: str) -> HandKeys:
        """Return the map with another key for a hand; a key that was another hand's changes places.

        An empty key takes the left hand's key away, or that for skips; nail and thumb keep theirs.
        """
        keys = {Hand.NAIL: self.nail, Hand.THUMB: self.thumb, Hand.LEFT: self.left, Hand.NONE: self.side}
        if not (key or hand in (Hand.LEFT, Hand.NONE)):
            return self
        owner, old = self.hand(key), keys[hand]
        if owner in (Hand.NAIL, Hand.THUMB) and not old:
            # The left hand has no key to give in exchange, and the right hand needs both of its own.
            return self
        if owner is not None:
            keys[owner] = old
        keys[hand] = key
        return HandKeys(
            nail=keys[Hand.NAIL], thumb=keys[Hand.THUMB], left=keys[Hand.LEFT], side=keys[Hand.NONE]
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyTap:
    """A key that went down.

    Attributes:
        host_ns: middle of the interval in which it did.
        hand: whose key it is; None for nobody's.
        uncertainty_s: half that interval, and the keyboard's own scan.
        shared: another key was seen in the same look, so the two have one time.
    """

    host_ns: int
    hand: Hand | None
    uncertainty_s: float
    shared: bool = False


class KeyTaps:
    """Watches keys go down and up; from the thread that owns the window."""

    def __init__(self, keys: HandKeys) -> None:
        self.keys = keys
        self._down: set[str] = set()
        self._last_down_ns: dict[str, int] = {}
        self._last_stamp_ns: int | None = None

    def down(self, key: str, *, host_ns: int, looked_ns: int) -> KeyTap | None:
        """Take in a key that was seen to be down; None for a repeat or a bounce.

        Args:
            host_ns: when it was seen.
            looked_ns: when the queue was looked at before that.
        """
        if key in self._down:
            return None
        self._down.add(key)
        hand = self.keys.hand(key)
        bounced = host_ns - self._last_down_ns.get(key, host_ns - BOUNCE_NS) < BOUNCE_NS
        self._last_down_ns[key] = host_ns
        if bounced:
            return None
        half_ns = max(0, host_ns - looked_ns) // 2
        shared = self._last_stamp_ns == host_ns
        if hand is not None:
            self._last_stamp_ns = host_ns
        return KeyTap(
            host_ns=host_ns - half_ns, hand=hand, uncertainty_s=half_ns / 1e9 + SCAN_S, shared=shared
        )

    def up(self, key: str) -> None:
        """Take in a key that was let go."""
        self._down.discard(key)

    def forget(self) -> None:
        """Forget which keys are down, as when the window loses the keyboard."""
        self._down.clear()
