"""Say what a simulated player does wrong."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.errors import BadSettings
from trainer.music.strokes import Kind

LARGEST_MS = 2000.0  # a hand that is further off plays another stroke
LARGEST_DRIFT = 0.2
LARGEST_SPEED_UP = 0.2


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What the simulated player does wrong; the default player does nothing wrong.

    Attributes:
        lean_s: seconds by kind of stroke, late positive; a kind not named does not lean.
        jitter_s: standard deviation in seconds of each stroke by itself.
        rush_gap_s: seconds by which the first stroke after a skip comes early, all else being right.
        clock_sd_s, motor_sd_s: standard deviations in seconds of timekeeper and motor delay, slot by slot.
        correction: share of the last asynchrony that is made good by the next slot, 0 to below 2.
        drift: share by which the timekeeper's intervals are too long (negative: too short).
        late_change_s: seconds by which the first stroke after a chord change comes late.
        speed_up: share by which the timekeeper goes faster with each pass. A hand that corrects itself by
            the click does not run away from it but comes earlier and earlier.
        touch_skips, miss, stray, wrong_hand, double: probabilities from 0 to 1, of touching a skip, leaving
            out a stroke, an extra tap after a slot, thumb for nail or nail for thumb, a pad that bounces.
        one_pad: every tap comes from the same pad, so neither hand nor string is known and the left hand is
            not heard.
    """

    lean_s: tuple[tuple[Kind, float], ...] = ()
    jitter_s: float = 0.0
    rush_gap_s: float = 0.0
    clock_sd_s: float = 0.0
    motor_sd_s: float = 0.0
    correction: float = 0.5
    drift: float = 0.0
    late_change_s: float = 0.0
    speed_up: float = 0.0
    touch_skips: float = 0.0
    miss: float = 0.0
    stray: float = 0.0
    wrong_hand: float = 0.0
    double: float = 0.0
    one_pad: bool = False

    def __post_init__(self) -> None:
        """Refuse what no hand can do."""
        _check("the rush after a skip", self.rush_gap_s * 1000, -LARGEST_MS, LARGEST_MS, " ms")
        _check("the lateness after a change", self.late_change_s * 1000, -LARGEST_MS, LARGEST_MS, " ms")
        _check("the speeding up", self.speed_up, -LARGEST_SPEED_UP, LARGEST_SPEED_UP, "")
        for kind, seconds in self.lean_s:
            _check(f"the lean of {kind.value}", seconds * 1000, -LARGEST_MS, LARGEST_MS, " ms")
            if not kind.sounds:
                raise BadSettings(
                    f"a {kind.value} is silent and cannot be early or late", "name another stroke"
                )
        for name in ("jitter", "clock_sd", "motor_sd"):
            _check(f"the {name}", float(getattr(self, f"{name}_s")) * 1000, 0, LARGEST_MS, " ms")
        for name in ("touch_skips", "miss", "stray", "wrong_hand", "double"):
            _check(f"the probability of {name}", float(getattr(self, name)), 0, 1, "")
        _check("the drift", self.drift, -LARGEST_DRIFT, LARGEST_DRIFT, "")
        if not 0 <= self.correction < 2:
            raise BadSettings(f"a correction of {self.correction:g} runs away", "choose 0 to below 2")

    def lean(self, kind: Kind) -> float:
        """Return by how many seconds a kind is late (negative: early)."""
        return dict(self.lean_s).get(kind, 0.0)


def _check(what: str, value: float, least: float, most: float, unit: str) -> None:
    if not least <= value <= most:
        raise BadSettings(
            f"{what} is {value:g}{unit}, outside {least:g} to {most:g}{unit}", "choose one inside"
        )
