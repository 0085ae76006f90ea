"""Turn a volume from 0 to 10, as a person chooses it, into dB for each kind of sound.

The first volumes, 7 for clicks and strings and 5 for the band, give about -20 LUFS when all of them play
(ITU-R BS.1770-4; tests/benchmarks/voice_study.py), with room for the loudest ones above them.
"""

from __future__ import annotations

from trainer.sound.gain import LEAST_DB

LOUDEST_VOLUME = 10
FIRST_VOLUME, FIRST_BAND_VOLUME = 7, 5
_STEPS_DB = (0.0, -20.0, -16.0, -13.0, -10.0, -7.5, -5.5, -4.0, -2.5, -1.2, 0.0)  # the first is silence
_LOUDEST_DB, _LOUDEST_BAND_DB = -7.5, -4.0


def volume_db(volume: int) -> float:
    """Return the volume of clicks and strings in dB, -60 for silence."""
    return _LOUDEST_DB + _STEPS_DB[volume] if volume else LEAST_DB


def band_volume_db(volume: int) -> float:
    """Return the volume of the band in dB, -60 for silence."""
    return _LOUDEST_BAND_DB + _STEPS_DB[volume] if volume else LEAST_DB
