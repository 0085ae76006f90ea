"""Hold the player's own track: the file, where its beat lies, its speed, and the bar a drill begins with.

Tempo and beat are those of the file. Slowed down, it is another recording with the same beat further apart:
that one is made beside the window from the file anew, and takes the other's place when it is there.
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from trainer.devices.backing import SLOWEST_SPEED, Track, TrackReader
from trainer.devices.decoder import FULL_SPEED
from trainer.errors import BadSettings, TrainerError
from trainer.music.exact import read_exact
from trainer.music.pattern import Pattern
from trainer.music.timeline import BPM_DECIMALS, as_tempo
from trainer.records.tracks import TrackNote, read_track_note, write_track_note
from trainer.sound.backing import Backing
from trainer.sound.gain import LEAST_DB

LOUDEST_VOLUME = 10
USUAL_VOLUME = 7
VOLUME_STEP_DB = 3.0


class TrackBeingRead(Protocol):
    """A file that is being read beside the window.

    Attributes:
        share: how much of it is there, 0 to 1.
    """

    @property
    def share(self) -> float:
        """How much of it is there, 0 to 1."""

    def poll(self) -> Track | None:
        """Return the track once it is there; None before; raise TrainerError when it cannot be used."""

    def cancel(self) -> None:
        """Read no further."""


ReadTrack = Callable[[Path, int, int], TrackBeingRead]
"""Begins to read a file for a rate of frames, at a percentage of its speed."""


def _reader(path: Path, rate: int, speed: int) -> TrackReader:
    return TrackReader(path, rate, speed=speed)


class OwnTrack:
    """The track that drills are played to; from the app's thread only.

    Attributes:
        track: the file, as it is heard; None when no track is used.
        bpm: the file's own tempo; None until it was set.
        beat_1_s: second of the file, at its own speed, at which beat 1 lies.
        first_bar: the bar of the track, from 1, that is the song's first.
        volume: 0 to 10.
        speed: percent of its own speed at which it is heard, or will be when it has been read.
        problem: why the file asked for last cannot be used; empty when it can.
    """

    def __init__(self, *, read: ReadTrack = _reader, folder: Path | None = None) -> None:
        self._read = read
        self._folder = folder
        self._reading: TrackBeingRead | None = None
        self._reading_path = Path()
        self._rate = 0
        self.speed = FULL_SPEED
        self.problem = ""
        self.track: Track | None = None
        self.bpm: Fraction | None = None
        self.beat_1_s = 0.0
        self.first_bar = 1
        self.volume = USUAL_VOLUME

    @property
    def is_ready(self) -> bool:
        """Whether there is a track and its beat is known."""
        return self.track is not None and self.bpm is not None

    @property
    def played_bpm(self) -> Fraction | None:
        """The tempo that is heard, which a drill takes over; None until the file's is known."""
        return None if self.bpm is None or self.track is None else self.bpm * self._share

    @property
    def words(self) -> str:
        """The track in a few words: its name and the tempo that is heard, or how far it is read."""
        if self._reading is not None:
            return f"{self._reading_path.name}: {self._reading.share * 100:.0f} % read"
        if self.track is None:
            return ""
        slowed = "" if self.track.speed == FULL_SPEED else f", slowed to {self.track.speed} %"
        tempo = f" at {float(self.played_bpm):.4g} bpm" if self.played_bpm is not None else ", no tempo yet"
        return f"{self.track.path.name}{tempo}{slowed}"

    @property
    def share_read(self) -> float:
        """How much is there of the file that is being read, 0 to 1."""
        return self._reading.share if self._reading is not None else 1.0

    @property
    def _share(self) -> Fraction:
        return Fraction(self.track.speed if self.track is not None else FULL_SPEED, FULL_SPEED)

    @property
    def volume_db(self) -> float:
        """The track's volume; -60 for silence."""
        return -VOLUME_STEP_DB * (LOUDEST_VOLUME - self.volume) if self.volume else LEAST_DB

    def open(self, path: Path, rate: int, speed: int = FULL_SPEED) -> None:
        """Begin to read a file, in the place of one that is being read; :meth:`look` says when it is there.

        Args:
            speed: percent of its own speed.

        Raises:
            TrainerError: it cannot be used; the track before stays.
        """
        self.give_up()
        self.problem = ""
        try:
            whole_path = path.expanduser()
        except RuntimeError as err:  # nobody is called so
            raise BadSettings(f"found no home folder for {path}", "write the whole path") from err
        self._rate, self.speed, self._reading_path = rate, speed, whole_path
        self._reading = self._read(whole_path, rate, speed)
        self.look()

    def slow_to(self, speed: int) -> None:
        """Let the file be heard at another percentage of its speed, once it has been read anew.

        Raises:
            TrainerError: it cannot be read any more; it stays as it is.
        """
        track = self._needed()
        speed = min(max(speed, SLOWEST_SPEED), FULL_SPEED)
        if speed == self.speed and (self.is_reading or speed == track.speed):
            return
        if speed == track.speed:
            self.give_up()
            return
        self.open(track.path, self._rate, speed)

    @property
    def is_reading(self) -> bool:
        """Whether a file is being read."""
        return self._reading is not None

    def give_up(self) -> None:
        """Read no further; the track before stays."""
        if self._reading is not None:
            self._reading.cancel()
            self._reading = None
        self.speed = self.track.speed if self.track is not None else FULL_SPEED

    def tick(self) -> str:
        """Look at a file that is being read; return why it cannot be used, once, or an empty text."""
        problem = said(self.look) if self._reading is not None else ""
        self.problem = problem or self.problem
        return problem

    def look(self) -> None:
        """Take a file over that has been read, with what is remembered of its beat.

        Raises:
            TrainerError: it cannot be used; the track before stays.
        """
        if self._reading is None:
            return
        try:
            track = self._reading.poll()
        except TrainerError:
            self._reading = None
            self.speed = self.track.speed if self.track is not None else FULL_SPEED
            raise
        if track is None:
            return
        self._reading = None
        before, self.track = self.track, track
        if before is not None and before.mark == track.mark and self.bpm is not None:
            self._note()  # the same at another speed
            return
        self.bpm, self.beat_1_s, self.first_bar = None, 0.0, 1
        note = read_track_note(track.mark, self._folder)
        if note is not None:
            self.set_beat(note.bpm, note.beat_1_s, keep=False)
            self.first_bar = note.first_bar
            if note.path != str(track.path):
                self._note()
            if track.speed == FULL_SPEED and note.speed >= SLOWEST_SPEED:
                self.slow_to(note.speed)

    def forget(self) -> None:
        """Play without a track; what is remembered of its beat stays."""
        self.give_up()
        self.track = self.bpm = None
        self.speed = FULL_SPEED

    def set_beat(self, bpm: Fraction, beat_1_s: float, *, keep: bool = True) -> None:
        """Say where the beat lies, and remember it for this file.

        Raises:
            BadSettings: outside the track, or no tempo for a drill; nothing is changed.
            StoreProblem: it holds but could not be kept.
        """
        track = self._needed()
        exact = Fraction(f"{float(bpm):.{BPM_DECIMALS}f}")
        heard_s = beat_1_s / float(self._share)
        Backing(
            samples=track.samples, rate=track.rate, beat_1_s=heard_s, bpm=exact * self._share
        )  # it checks
        self.bpm, self.beat_1_s, self.first_bar = exact, beat_1_s, 1
        if keep:
            self._note()

    def set_heard_beat(self, bpm: Fraction, beat_1_s: float) -> None:
        """Say where the beat lies in the track as it is heard; the rest is as for :meth:`set_beat`."""
        self.set_beat(bpm / self._share, beat_1_s * float(self._share))

    def _note(self) -> None:
        track = self._needed()
        assert self.bpm is not None
        note = TrackNote(
            name=track.path.name,
            bpm=self.bpm,
            beat_1_s=self.beat_1_s,
            path=str(track.path),
            speed=track.speed,
            first_bar=self.first_bar,
        )
        write_track_note(track.mark, note, self._folder)

    def step_bar(self, steps: int, beats_per_bar: int) -> None:
        """Begin the song some bars further on, or back, within the track."""
        if self.is_ready:
            bars = self.backing(beats_per_bar, first_bar=1).bars(beats_per_bar)
            self.first_bar = min(max(self.first_bar + steps, 1), max(bars, 1))
            self._note()

    def louder(self, steps: int) -> None:
        """Turn the track up or down."""
        self.volume = min(max(self.volume + steps, 0), LOUDEST_VOLUME)

    def backing(self, beats_per_bar: int, *, first_bar: int | None = None) -> Backing:
        """Return the track as a stream takes it.

        Args:
            first_bar: the bar that the song begins with; None for the one chosen.

        Raises:
            BadSettings: there is no track, its beat is not set, or it is shorter than the bars before.
        """
        track = self._needed()
        if self.bpm is None:
            raise BadSettings("the beat of the track is not known", "tap along with it, or type its tempo")
        bar = self.first_bar if first_bar is None else first_bar
        return Backing(
            samples=track.samples,
            rate=track.rate,
            beat_1_s=self.beat_1_s / float(self._share),
            bpm=self.bpm * self._share,
            start_beat=(bar - 1) * beats_per_bar,
        )

    def backing_for(self, pattern: Pattern) -> Backing:
        """Return the track for a drill of a pattern.

        Raises:
            BadSettings: as :meth:`backing`, or not one pass of the pattern fits into what is left of it.
        """
        backing = self.backing(pattern.meter.beats)
        if not backing.passes_that_fit(pattern.beats):
            raise BadSettings(
                f"from bar {self.first_bar} on the track has {backing.beats - backing.start_beat} beats, and "
                f"{pattern.title} takes {pattern.beats}",
                "begin further in front; this drill goes without the track",
            )
        return backing

    def _needed(self) -> Track:
        if self.track is None:
            raise BadSettings("there is no track", "choose a file first")
        return self.track


def typed_tempo(text: str) -> Fraction:
    """Return a tempo as it was typed; a comma will do for a point.

    Raises:
        BadSettings: it is none.
    """
    return as_tempo(text.strip().replace(",", "."))


def typed_seconds(text: str) -> float:
    """Return a place in a track as it was typed: ``3.25``, or ``1:03.25`` with minutes.

    Raises:
        BadSettings: it is none.
    """
    minutes, colon, seconds = text.strip().replace(",", ".").rpartition(":")
    try:
        if colon and not 0 <= read_exact(seconds) < 60:
            raise ValueError
        found = float(read_exact(seconds) + 60 * read_exact(minutes or "0"))
        if not 0 <= found < 24 * 3600:
            raise ValueError
    except ValueError:
        raise BadSettings(
            f'found "{text}" for a place in the track', "write seconds such as 3.25 or 1:03.25"
        ) from None
    return found


def said(change: Callable[[], None]) -> str:
    """Make a change; return the sentence that refuses it, or an empty text."""
    try:
        change()
    except TrainerError as err:
        return str(err)
    return ""
