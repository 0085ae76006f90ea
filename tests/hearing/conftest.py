"""Sound of a known take: the program's own string, and a string on a drum head, in a quiet room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.benchmarks.banjo_material import Instrument, Recording, in_room, play
from tests.shipped import shipped
from trainer.records.library import open_pattern
from trainer.sound.clicks import ClickVoice

Make = Callable[..., Recording]


@pytest.fixture(scope="session")
def make() -> Make:
    """Make a recording at 90, ``make(click=…, snr_db=…, …)``; what was made once is kept."""
    library = shipped()
    instruments = {name: Instrument(name) for name in ("own string", "string and head")}
    kept: dict[object, Recording] = {}

    def made(
        *,
        instrument: str = "string and head",
        pattern: str = "skip-figure",
        snr_db: float = 35.0,
        passes: int = 3,
        click: ClickVoice | None = None,
        touch_share: float = 0.0,
        touch_db: float = -9.0,
        seed: int = 1,
        drift_ppm: float = 0.0,
    ) -> Recording:
        key = (instrument, pattern, snr_db, passes, click, touch_share, touch_db, seed, drift_ppm)
        if key not in kept:
            dry = play(
                open_pattern(pattern, library), instruments[instrument], bpm=90, passes=passes, seed=seed,
                click=click, touch_share=touch_share, touch_db=touch_db, drift_ppm=drift_ppm,
            )  # fmt: skip
            kept[key] = replace(dry, wave=in_room(dry.wave, snr_db=snr_db, seed=seed))
        return kept[key]

    return made
