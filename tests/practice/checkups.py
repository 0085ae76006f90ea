"""A machine that does well, and one with no devices at all."""

from __future__ import annotations

from trainer.practice.checkup import (
    FRAME_S,
    Checkup,
    Frames,
    Looks,
    RoundTrip,
    Sound,
)

FRAMES = Frames(
    width=1280, height=720, drawn=600, per_second=60.0, median_s=FRAME_S, p99_s=0.018, longest_s=0.02, late=0
)


LOOKS = Looks(n=9000, median_s=0.0011, p99_s=0.0026, longest_s=0.011, scan_s=0.004)


SOUND = Sound(blocks=200, off_p99_s=0.0002, off_longest_s=0.0006, stalls=0, speed_error=-0.00002)


MIDI = RoundTrip(sent=320, heard=320, way_s=0.0031, off_p99_s=0.0004, off_longest_s=0.0012, taken_off=0.5)


GOOD = Checkup(seconds=60.0, frames=FRAMES, looks=LOOKS, sound=SOUND, midi=MIDI)


NOWHERE = Checkup(
    seconds=10.0,
    frames="The picture was not measured: there is no display to open a window on.",
    looks="Keys were not measured: there is no display to open a window on.",
    sound="Sound was not measured: no sound device could be opened.",
    midi="MIDI was not measured: this system offers no MIDI service.",
)
