"""Give several players a pad each, by touch: whoever is asked touches a pad, and it is theirs."""

from __future__ import annotations

from dataclasses import dataclass, replace

MOST_SEATS = 8
LEAST_SEATS = 2


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Seats:
    """Who plays, and on what; a value, replaced by each touch.

    Attributes:
        names: in the order in which they are asked, at most eight.
        sources: the first of them have these.
    """

    names: tuple[str, ...]
    sources: tuple[TouchSource, ...] = ()

    @classmethod
    def of(cls, names: tuple[str, ...]) -> Seats:
        """Return empty seats; players without a name get a number."""
        return cls(names=names[:MOST_SEATS] or tuple(f"Player {at}" for at in range(1, MOST_SEATS + 1)))

    @property
    def asked(self) -> str:
        """Who should touch a pad now; empty when everybody has one."""
        return self.names[len(self.sources)] if len(self.sources) < len(self.names) else ""

    @property
    def can_begin(self) -> bool:
        """Whether enough players have a pad; the others look on."""
        return len(self.sources) >= LEAST_SEATS

    def touched(self, source: TouchSource) -> Seats:
        """Return the seats after a touch; a pad that is somebody's already changes nothing."""
        if source in self.sources or not self.asked:
            return self
        return replace(self, sources=(*self.sources, source))

    def undone(self) -> Seats:
        """Return the seats without the last pad."""
        return replace(self, sources=self.sources[:-1])

    def seat_of(self, source: TouchSource) -> int | None:
        """Return whose pad it is, a place among ``names``; None for nobody's."""
        return self.sources.index(source) if source in self.sources else None
