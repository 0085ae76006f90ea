"""Say what the window is opened for."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the window is opened for; all of it may be left out, which opens the library.

    Attributes:
        pattern: name or path of the pattern to drill at once.
        bpm, passes: instead of what is remembered; 0 passes go on until stopped.
        input_name: the MIDI port to use.
        demo: simulated hands play.
        report: where to write the graded take as JSON when a drill ends.
        take: where to write the taps as a MIDI file.
        calibrate: open on the calibration.
        lesson: file of the lesson to step through.
        leave: close the window when the drill is over.
    """

    pattern: str | None = None
    bpm: float | None = None
    passes: int | None = None
    input_name: str | None = None
    demo: bool = False
    report: Path | None = None
    take: Path | None = None
    calibrate: bool = False
    lesson: Path | None = None
    leave: bool = False
