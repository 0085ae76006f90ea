"""Play notes on a sampled General MIDI instrument, to hold our own sounds against.

FluidSynth renders a file of one note with a free sound font; on Debian both come with ``apt install
fluidsynth fluid-soundfont-gm timgm6mb-soundfont``. Without them there is nothing to compare, and
:func:`sound_fonts` is empty.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from functools import lru_cache
from pathlib import Path

import mido
import numpy as np
from numpy.typing import NDArray

FOLDERS = (Path("/usr/share/sounds/sf2"), Path("/usr/share/soundfonts"))
FONTS = ("FluidR3_GM.sf2", "TimGM6mb.sf2")
RATE = 48_000
TICKS = 480
LEAD_BEATS = 1
BANJO, NYLON_GUITAR, ACOUSTIC_BASS = 105, 24, 32  # programs counted from 0
PERCUSSION = 9
NOTE_S = 2.0


def sound_fonts() -> tuple[Path, ...]:
    """Return the sound fonts that can be played here."""
    if shutil.which("fluidsynth") is None:
        return ()
    return tuple(folder / name for name in FONTS for folder in FOLDERS if (folder / name).is_file())


@lru_cache(maxsize=256)
def sampled_note(font: Path, program: int, note: int, velocity: int = 90) -> NDArray[np.float64]:
    """Return a note of 2 s from its first sound on, mono, at ``RATE``; dry, without the player's own room."""
    with tempfile.TemporaryDirectory() as folder:
        midi, sound = Path(folder) / "note.mid", Path(folder) / "note.wav"
        file = mido.MidiFile(ticks_per_beat=TICKS)
        track = mido.MidiTrack()
        file.tracks.append(track)
        track.append(mido.MetaMessage("set_tempo", tempo=500_000))
        track.append(mido.Message("program_change", program=program, time=0))
        track.append(mido.Message("note_on", note=note, velocity=velocity, time=LEAD_BEATS * TICKS))
        track.append(mido.Message("note_off", note=note, velocity=0, time=round(NOTE_S * 2 * TICKS)))
        file.save(midi)
        subprocess.run(
            ["fluidsynth", "-ni", "-q", "-g", "0.6", "-R", "0", "-C", "0", "-r", str(RATE), "-F", sound,
             "-T", "wav", font, midi],
            check=True,
            capture_output=True,
        )  # fmt: skip
        with wave.open(str(sound)) as read:
            frames = np.frombuffer(read.readframes(read.getnframes()), dtype="<i2")
    mono = frames.reshape(-1, 2).mean(axis=1) / 32768
    loud = np.flatnonzero(np.abs(mono) > 0.02 * np.abs(mono).max())
    return mono[loud[0] : loud[0] + round(NOTE_S * RATE)]
