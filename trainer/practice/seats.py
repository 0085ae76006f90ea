"""Give several players pads of their own, by touch: whoever is asked touches one or two.

One pad alone judges the timing, two know nail and thumb. Who is not there is left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from trainer.music.strokes import Hand

MOST_SEATS = 8
LEAST_SEATS = 2
AGAIN_S = 0.25  # a pad that sounds twice within this was struck once


@dataclass(frozen=True, slots=True)
class TouchSource:
    """Where a tap comes from: a note of a port, or a key.

    Attributes:
        port: the port's name; empty for a key of the computer.
        channel, note: from 0; both 0 for a key.
        key: the key's name; empty for a port.
    """

    port: str = ""
    channel: int = 0
    note: int = 0
    key: str = ""

    @property
    def in_words(self) -> str:
        """What it is called on the screen."""
        return f"note {self.note} of {self.port_words}" if self.port else f"key {self.key.upper()}"

    @property
    def port_words(self) -> str:
        """The port without what some systems put behind it."""
        return self.port.removesuffix(":out")


@dataclass(frozen=True, slots=True)
class Seat:
    """A player and what is theirs.

    Attributes:
        nail: the pad for the nail, or the only one.
        thumb: the pad for the thumb; None with one pad, which knows no hand.
    """

    name: str
    nail: TouchSource
    thumb: TouchSource | None = None

    @property
    def in_words(self) -> str:
        """The pads in a few words."""
        if self.thumb is None:
            return self.nail.in_words
        thumb = self.thumb
        if thumb.port and thumb.port == self.nail.port:
            return f"nail {self.nail.note}, thumb {thumb.note} of {thumb.port_words}"
        return f"nail: {self.nail.in_words}, thumb: {thumb.in_words}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """Who plays, and on what; a value, replaced by each touch.

    Attributes:
        names: in the order in which they are asked, until eight have pads.
        taken: who has pads, in the order in which they touched them.
        away: who was left out.
        first: the first pad of whoever is asked, touched at ``first_s``; None before.
        before: how things stood before the last touch; None at the start.
    """

    names: tuple[str, ...]
    taken: tuple[Seat, ...] = ()
    away: tuple[str, ...] = ()
    first: TouchSource | None = None
    first_s: float = 0.0
    before: Seats | None = field(default=None, repr=False, compare=False)

    @classmethod
    def of(cls, names: tuple[str, ...]) -> Seats:
        """Return empty seats; players without a name get a number."""
        return cls(names=names or tuple(f"Player {at}" for at in range(1, MOST_SEATS + 1)))

    @property
    def asked(self) -> str:
        """Who should touch a pad now; empty when everybody has one, or eight have."""
        if len(self.taken) >= MOST_SEATS:
            return ""
        known = {*self.away, *(seat.name for seat in self.taken)}
        return next((name for name in self.names if name not in known), "")

    @property
    def can_begin(self) -> bool:
        """Whether enough players have a pad; the others look on."""
        return len(self.taken) >= LEAST_SEATS

    def touched(self, source: TouchSource, at_s: float = 0.0) -> Seats:
        """Return the seats after a touch; a pad that is somebody's already changes nothing.

        The first touch gives the pad for the nail, the second that for the thumb; the same pad once more
        says that there is one alone.

        Args:
            at_s: when, in seconds of any clock.
        """
        if self.seat_of(source) is not None or not self.asked:
            return self
        if self.first is None:
            return replace(self, first=source, first_s=at_s, before=self)
        if source == self.first and 0 <= at_s - self.first_s < AGAIN_S:
            return self
        thumb = None if source == self.first else source
        seat = Seat(self.asked, self.first, thumb)
        return replace(self, taken=(*self.taken, seat), first=None, before=self)

    def left_out(self) -> Seats:
        """Return the seats without whoever is asked."""
        if not self.asked:
            return self
        return replace(self, away=(*self.away, self.asked), first=None, before=self)

    def undone(self) -> Seats:
        """Return the seats as they were before the last touch, or before somebody was left out."""
        return self.before or self

    def seat_of(self, source: TouchSource) -> int | None:
        """Return whose pad it is, an index of ``taken``; None for nobody's."""
        return next((at for at, seat in enumerate(self.taken) if source in (seat.nail, seat.thumb)), None)

    def hand_of(self, source: TouchSource) -> Hand | None:
        """Return which hand a pad is for; None where one pad alone is somebody's, or nobody's."""
        at = self.seat_of(source)
        if at is None or self.taken[at].thumb is None:
            return None
        return Hand.NAIL if source == self.taken[at].nail else Hand.THUMB
