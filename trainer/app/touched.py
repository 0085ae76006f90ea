"""Remember for a moment what was touched, so that its picture can light up."""

from __future__ import annotations

from trainer.music.strokes import Hand

LIT_NS = 180_000_000  # long enough to be seen in the corner of the eye, shorter than the next stroke


class Touched:
    """The latest touch of each hand; from the app's thread only."""

    def __init__(self) -> None:
        self._latest_ns: dict[Hand | None, int] = {}

    def touch(self, hand: Hand | None, host_ns: int) -> None:
        """Note a touch; None where the input cannot tell whose it was."""
        self._latest_ns[hand] = host_ns

    def is_lit(self, hand: Hand | None, now_ns: int) -> bool:
        """Return whether a hand's key was touched a moment ago."""
        latest_ns = max(self._latest_ns.get(hand, -LIT_NS), self._latest_ns.get(None, -LIT_NS))
        return now_ns - latest_ns < LIT_NS
