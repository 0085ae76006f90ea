"""Count flashes as WCAG 2.2 defines them ("general flash and red flash thresholds", criterion 2.3.1).

A general flash is a pair of opposing changes in relative luminance of a tenth of its maximum or more, the
darker state below 0.80. A red flash is a pair of opposing changes of which one state is a saturated red,
R / (R + G + B) of at least 0.8; that the two also have to be 0.2 apart in the CIE 1976 u'v' diagram is left
out, which is stricter. More than three in a second over more than a quarter of any 341 by 256 pixels of a
picture 1024 by 768 are too many.

Changes are concurrent when they come within TOGETHER_S; the area is that of the pixels that change one
way. Pixels are taken from a grid of every ``STEP``-th both ways and not averaged, so that nothing is smoothed
away.
"""

from collections import deque
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

PICTURE = (1024, 768)
FIELD = (341, 256)
STEP = 4
LEAST_AREA = 0.25
MOST_FLASHES = 3
LEAST_CHANGE = 0.10
DARKER_BELOW = 0.80
RED_SHARE = 0.80
TOGETHER_S = 1 / 30  # a frame of a recording at 30 a second; the definition names none

Plane = NDArray[np.float64]
_TABLE = np.array([c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in np.arange(256) / 255])


@dataclass(frozen=True)
class Flashes:
    """The most flashes in any second.

    Attributes:
        general, red: of an area that changes together.
        area: the largest share of a field that ever changed one way together.
    """

    general: int
    red: int
    area: float

    @property
    def is_safe(self) -> bool:
        return max(self.general, self.red) <= MOST_FLASHES


class FlashMeter:
    """Watches frames one after another; each is shape (1024, 768, 3), values 0 to 255."""

    def __init__(self, fps: float) -> None:
        self._fps = fps
        self._together = max(1, round(TOGETHER_S * fps))
        self._general = _Turns(LEAST_CHANGE)
        self._red = _Turns(0.5)
        self._areas = {"general": _Area(self._together), "red": _Area(self._together)}
        self._changes: dict[str, list[int]] = {"general": [], "red": []}
        self._frame = 0

    def see(self, frame: NDArray[np.uint8]) -> None:
        light = _TABLE[frame[::STEP, ::STEP]]
        luminance = light @ np.array([0.2126, 0.7152, 0.0722])
        up, down = self._general.turned(luminance, dark_below=DARKER_BELOW)
        self._note("general", up, down)
        self._note("red", *self._red.turned(_redness(light)))
        self._frame += 1

    def _note(self, kind: str, up: NDArray[np.bool_], down: NDArray[np.bool_]) -> None:
        if self._areas[kind].changed(up, down):
            self._changes[kind].append(self._frame)

    def result(self) -> Flashes:
        general, red = (self._most(self._changes[kind]) for kind in ("general", "red"))
        return Flashes(general=general, red=red, area=self._areas["general"].largest)

    def _most(self, changes: list[int]) -> int:
        """The most pairs of changes in any second; they alternate already."""
        second = round(self._fps)
        return max((sum(0 <= at - first < second for at in changes) // 2 for first in changes), default=0)


class _Turns:
    """Tells for each pixel when its value has gone the other way by enough, since it last turned."""

    def __init__(self, least: float) -> None:
        self._least = least
        self._low: Plane | None = None
        self._high: Plane | None = None

    def turned(
        self, value: Plane, *, dark_below: float = np.inf
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        if self._low is None or self._high is None:
            self._low, self._high = value.copy(), value.copy()
        up = (value - self._low >= self._least - 1e-9) & (self._low < dark_below)
        down = (self._high - value >= self._least - 1e-9) & (value < dark_below)
        self._low = np.where(up | down, value, np.minimum(self._low, value))
        self._high = np.where(up | down, value, np.maximum(self._high, value))
        return up, down


def _redness(light: Plane) -> Plane:
    """1 for a saturated red, else 0."""
    total = light.sum(axis=2)
    share = np.divide(light[..., 0], total, out=np.zeros_like(total), where=total > 1e-6)
    return (share >= RED_SHARE).astype(np.float64)


class _Area:
    """Says when more than a quarter of some field has changed one way together, ways in turn."""

    def __init__(self, together: int) -> None:
        self._recent: deque[tuple[NDArray[np.bool_], NDArray[np.bool_]]] = deque(maxlen=together)
        self._way = 0
        self.largest = 0.0

    def changed(self, up: NDArray[np.bool_], down: NDArray[np.bool_]) -> bool:
        self._recent.append((up, down))
        shares = [largest_share(np.logical_or.reduce([both[way] for both in self._recent])) for way in (0, 1)]
        self.largest = max(self.largest, *shares)
        for way, share in ((1, shares[0]), (-1, shares[1])):
            if share > LEAST_AREA and way != self._way:
                self._way = way
                self._recent.clear()
                return True
        return False


def largest_share(mask: NDArray[np.bool_]) -> float:
    """The largest share of any field of FIELD pixels that a mask fills."""
    if not mask.any():
        return 0.0
    wide, high = FIELD[0] // STEP, FIELD[1] // STEP
    sums = np.zeros((mask.shape[0] + 1, mask.shape[1] + 1))
    sums[1:, 1:] = mask.cumsum(axis=0, dtype=np.float64).cumsum(axis=1)
    inside = sums[wide:, high:] - sums[:-wide, high:] - sums[wide:, :-high] + sums[:-wide, :-high]
    return float(inside.max() / (wide * high))
