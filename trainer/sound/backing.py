"""Lay a player's own backing track under the stream: frame k of the file always at the same stream frame.

Beat 0 of the song is a beat of the track; the track is silent in the count-in and led in within some
milliseconds right before beat 0, so that its first note is whole. It is never stretched: it has one tempo,
the song takes it over, and where the tempo is changed after all the track ends.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from trainer.errors import BadSettings
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM

LEAD_IN_S = 0.005
LEAD_OUT_S = 0.3

Stereo = NDArray[np.int16]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Backing:
    """A track and how the song lies over it.

    Attributes:
        samples: the whole file, shape (n, 2), read-only.
        rate: its frames a second, those of the stream.
        beat_1_s: second of the file at which its first beat falls.
        bpm: beats a minute, the same from begin to end.
        start_beat: the beat of the track, from 0, that is beat 0 of the song.
    """

    samples: Stereo
    rate: int
    beat_1_s: float
    bpm: Fraction
    start_beat: int = 0

    def __post_init__(self) -> None:
        """Refuse a first beat outside the file and a tempo that no drill can have."""
        if not SLOWEST_BPM <= self.bpm <= FASTEST_BPM:
            raise BadSettings(
                f"a track of {float(self.bpm):g} beats a minute is outside {SLOWEST_BPM} to {FASTEST_BPM}",
                "count twice or half as many beats",
            )
        if not (math.isfinite(self.beat_1_s) and 0 <= self.beat_1_s < self.seconds):
            raise BadSettings(
                f"beat 1 at {self.beat_1_s:g} s lies outside the track, which is {self.seconds:.1f} s long",
                "give a second inside it",
            )
        if not 0 <= self.start_beat < max(self.beats, 1):
            raise BadSettings(
                f"the track has {self.beats} beats, and beat {self.start_beat + 1} was to be the first",
                "start further in front",
            )

    def check(self, *, bpm: Fraction, rate: int) -> None:
        """Refuse a drill that the track does not fit.

        Raises:
            BadSettings: the drill has another tempo.
            ValueError: the stream has another rate.
        """
        if self.bpm != bpm:
            raise BadSettings(
                f"the track has {float(self.bpm):g} beats a minute and the drill {float(bpm):g}",
                "take the track's tempo for the drill",
            )
        if self.rate != rate:
            raise ValueError(f"a track of {self.rate} frames a second in a stream of {rate}")

    @property
    def seconds(self) -> float:
        """Length of the file in seconds."""
        return len(self.samples) / self.rate

    @property
    def beats(self) -> int:
        """How many whole beats there are from beat 1 to the end."""
        return int(Fraction(self.seconds - self.beat_1_s) * self.bpm / 60)

    @property
    def start_frame(self) -> int:
        """The frame of the file at which beat 0 of the song lies."""
        return self.frame_of_beat(self.start_beat)

    def frame_of_beat(self, beat: int) -> int:
        """Return the frame of the file at which a beat of the track lies, rounded once."""
        second = Fraction(self.beat_1_s) + beat * 60 / self.bpm
        return math.floor(second * self.rate + Fraction(1, 2))

    def bars(self, beats_per_bar: int) -> int:
        """Return how many whole bars the track has from beat 1 on."""
        return self.beats // beats_per_bar

    def passes_that_fit(self, beats_per_pass: int) -> int:
        """Return how often a pattern can be played from ``start_beat`` to the end of the track."""
        return max(0, (self.beats - self.start_beat) // beats_per_pass)


def backing_piece(backing: Backing, zero_frame: int, first_frame: int, frames: int) -> NDArray[np.float64]:
    """Return the track as it sounds in some frames of the stream, at its own volume, shape (frames, 2).

    Args:
        zero_frame: the stream frame of beat 0; before it the track only leads in.
    """
    piece = np.zeros((frames, 2))
    lead_in = round(LEAD_IN_S * backing.rate)
    shift = backing.start_frame - zero_frame  # file frame less stream frame
    start = max(first_frame, zero_frame - lead_in, -shift)
    stop = min(first_frame + frames, len(backing.samples) - shift)
    if start >= stop:
        return piece
    piece[start - first_frame : stop - first_frame] = backing.samples[start + shift : stop + shift]
    if start < zero_frame:
        at = np.arange(start, min(stop, zero_frame))
        rise = 1.0 - (zero_frame - at) / (lead_in + 1)
        piece[start - first_frame : start - first_frame + len(at)] *= rise[:, np.newaxis]
    return piece


def led_out(piece: NDArray[np.float64], first_frame: int, end_frame: int, rate: int) -> NDArray[np.float64]:
    """Return a piece that falls to nothing within 0.3 s after ``end_frame``."""
    length = round(LEAD_OUT_S * rate)
    if first_frame + len(piece) <= end_frame:
        return piece
    past = np.arange(first_frame, first_frame + len(piece)) - end_frame
    return np.asarray(piece * np.clip(1.0 - past / length, 0.0, 1.0)[:, np.newaxis])
