"""Keep how late each pair of input and output is, among the settings.

A delay belongs to both: the same pad is heard later through other headphones. Delays of an older version
were kept by input alone; they hold for every output that has none of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.practice.setting_kinds import number_in
from trainer.practice.settings import LARGEST_DELAY_MS, Settings

DELAY_STEP_MS = 5
KEYS = "Computer keys"  # what the settings call by an empty name
ANY_OUTPUT = "any output"
_BETWEEN = " | "


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownDelay:
    """The delay of one pair, in ms; late is positive."""

    input_name: str
    output_name: str
    delay_ms: int


def delay_of(settings: Settings, input_name: str, output_name: str) -> int:
    """Return the delay of a pair in ms: its own, else the one of the input alone, else 0."""
    for kept in (
        settings.known_delays.get(_pair(input_name, output_name)),
        settings.delays_ms.get(input_name),
    ):
        if kept is not None and (delay_ms := _read(kept)) is not None:
            return delay_ms
    return 0


def delay_is_known(settings: Settings, input_name: str, output_name: str) -> bool:
    """Return whether a delay was found for a pair, or for its input alone; also one of 0."""
    kept = (settings.known_delays.get(_pair(input_name, output_name)), settings.delays_ms.get(input_name))
    return any(text is not None and _read(text) is not None for text in kept)


def with_delay(settings: Settings, input_name: str, output_name: str, delay_ms: int) -> dict[str, str]:
    """Return ``known_delays`` with another delay of a pair, held within 300 ms either way.

    >>> with_delay(Settings(), "Pad", "headphones", 180)
    {'Pad | headphones': '180'}
    """
    kept = min(max(delay_ms, -LARGEST_DELAY_MS), LARGEST_DELAY_MS)
    return {**settings.known_delays, _pair(input_name, output_name): str(kept)}


def all_delays(settings: Settings) -> tuple[KnownDelay, ...]:
    """Return every delay that is kept, by input and output; what cannot be read is left out."""
    found = []
    for pair, text in settings.known_delays.items():
        input_name, _, output_name = pair.rpartition(_BETWEEN)
        found.append((input_name, output_name, text))
    found += [(name or KEYS, ANY_OUTPUT, text) for name, text in settings.delays_ms.items()]
    return tuple(
        KnownDelay(input_name=input_name, output_name=output_name, delay_ms=delay_ms)
        for input_name, output_name, text in sorted(found)
        if (delay_ms := _read(text)) is not None
    )


def _pair(input_name: str, output_name: str) -> str:
    # The last bar divides, so an output's own bars are written otherwise.
    return f"{input_name or KEYS}{_BETWEEN}{output_name.replace(_BETWEEN.strip(), '/')}"


def _read(text: str) -> int | None:
    number = number_in(text)
    if number is None:
        return None
    return min(max(round(number), -LARGEST_DELAY_MS), LARGEST_DELAY_MS)
