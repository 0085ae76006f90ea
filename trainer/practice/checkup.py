"""Say in plain words how finely a machine can judge, from what was measured on it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from trainer.practice.json_values import Json, milliseconds, rounded
from trainer.practice.report_schema import CHECKUP

FRAME_S = 1 / 60
LATE_FRAMES = 2.0  # later than this the eye sees the sheet stop (common practice, no source)
STEADY_PER_SECOND = 59.0
# A pad on USB is asked once a millisecond (USB 2.0 specification, 8.4.3: full-speed frames).
LEAST_PADS_S = 0.001
# What a drill's sound may be off before anybody could notice: a displaced tone is noticed from 6 ms on
# (Friberg & Sundberg 1995); a sixth of that leaves room for the tap.
STEADY_SOUND_S = 0.001
SETTLED_S = 2.0
FINE_S = 0.006  # the same 6 ms: a tap known this finely is known as finely as it is heard
FULL_SPEED_ERROR = 0.003  # a device this far off plays another tempo than the one chosen

Seconds: TypeAlias = "Sequence[float] | NDArray[np.float64]"


@dataclass(frozen=True, slots=True, kw_only=True)
class Frames:
    """How a drill's frames came; times are from one frame to the next, in seconds."""

    width: int
    height: int
    drawn: int
    per_second: float
    median_s: float
    p99_s: float
    longest_s: float
    late: int

    @property
    def is_steady(self) -> bool:
        """Whether sixty a second were held, and none came late."""
        return self.per_second >= STEADY_PER_SECOND and self.late == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """How long nobody looked at the event queue, in seconds; ``scan_s`` is the keyboard's own share."""

    n: int
    median_s: float
    p99_s: float
    longest_s: float
    scan_s: float

    @property
    def keys_s(self) -> float:
        """How finely a key is known: half of what is hidden, as its tap is put into the middle."""
        return self.p99_s / 2 + self.scan_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """How the sound device took its blocks; ``speed_error`` is a share, positive when it is slow."""

    blocks: int
    off_p99_s: float
    off_longest_s: float
    stalls: int
    speed_error: float

    @property
    def is_steady(self) -> bool:
        """Whether the sound's place is known as finely as anybody could hear, and nothing stopped."""
        steady = self.off_p99_s <= STEADY_SOUND_S and abs(self.speed_error) <= FULL_SPEED_ERROR
        return steady and self.stalls == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrip:
    """How MIDI notes came through a port of our own; ``way_s`` is the middle, the rest is off from it."""

    sent: int
    heard: int
    way_s: float
    off_p99_s: float
    off_longest_s: float
    taken_off: float

    @property
    def pads_s(self) -> float:
        """How finely a pad is known."""
        return max(self.off_p99_s, LEAST_PADS_S)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checkup:
    """All that was measured; a text in a part's place says why it could not be."""

    seconds: float
    frames: Frames | str
    looks: Looks | str
    sound: Sound | str
    midi: RoundTrip | str


def frames_of(drawn_s: Seconds, width: int, height: int) -> Frames | str:
    """Return how frames came, from the seconds at which each was shown."""
    if len(drawn_s) < 2:
        return "The picture was not measured: the window was closed before anything was drawn."
    apart = np.diff(np.asarray(drawn_s, dtype=np.float64))
    return Frames(
        width=width,
        height=height,
        drawn=len(drawn_s),
        per_second=len(apart) / float(apart.sum()),
        median_s=float(np.median(apart)),
        p99_s=float(np.percentile(apart, 99)),
        longest_s=float(apart.max()),
        late=int((apart > (1 + LATE_FRAMES) * FRAME_S).sum()),
    )


def looks_of(apart_s: Seconds, scan_s: float) -> Looks | str:
    """Return how long nobody looked, from the seconds between each two looks.

    A key goes down in a long interval more often than in a short one, so each counts by its length.
    """
    if not len(apart_s):
        return "Keys were not measured: the window was closed before anything was looked at."
    ordered = np.sort(np.asarray(apart_s, dtype=np.float64))
    reached = np.cumsum(ordered) / ordered.sum()
    return Looks(
        n=len(ordered),
        median_s=float(ordered[np.searchsorted(reached, 0.5)]),
        p99_s=float(ordered[np.searchsorted(reached, 0.99)]),
        longest_s=float(ordered[-1]),
        scan_s=scan_s,
    )


def sound_of(off_s: Seconds, *, stalls: int, speed_error: float) -> Sound | str:
    """Return how the sound went, from how far each block's begin lay from the line, in seconds."""
    if not len(off_s):
        return "Sound was not measured: no block had begun when the time was over."
    off = np.abs(np.asarray(off_s, dtype=np.float64))
    return Sound(
        blocks=len(off),
        off_p99_s=float(np.percentile(off, 99)),
        off_longest_s=float(off.max()),
        stalls=stalls,
        speed_error=speed_error,
    )


def round_trip_of(way_s: Seconds, *, sent: int, taken_off: float) -> RoundTrip | str:
    """Return how notes came through, from the seconds between sending and stamp of each that was heard."""
    if not len(way_s):
        return f"MIDI was not measured: none of {sent} notes sent to a port of our own came back."
    way = np.asarray(way_s, dtype=np.float64)
    off = np.abs(way - np.median(way))
    return RoundTrip(
        sent=sent,
        heard=len(way),
        way_s=float(np.median(way)),
        off_p99_s=float(np.percentile(off, 99)),
        off_longest_s=float(off.max()),
        taken_off=taken_off,
    )


def verdict(found: Checkup) -> str:
    """Say in one sentence how finely this machine can judge."""
    parts = []
    if isinstance(found.midi, RoundTrip):
        parts.append(f"MIDI pads to {_whole_ms(found.midi.pads_s)} ms")
    if isinstance(found.looks, Looks):
        parts.append(f"keys to {_whole_ms(found.looks.keys_s)} ms")
    if isinstance(found.sound, Sound):
        parts.append(_sound_words(found.sound))
    if isinstance(found.frames, Frames):
        parts.append("picture steady" if found.frames.is_steady else "picture uneven")
    if not parts:
        return "Nothing could be measured here."
    sentence = ", ".join(parts) + "."
    return sentence[0].upper() + sentence[1:]


def checkup_lines(found: Checkup) -> tuple[str, ...]:
    """Return all that was found, a sentence or two a part, the verdict first."""
    parts = (
        _midi_lines(found.midi) if isinstance(found.midi, RoundTrip) else (found.midi,),
        _key_lines(found.looks) if isinstance(found.looks, Looks) else (found.looks,),
        _sound_lines(found.sound) if isinstance(found.sound, Sound) else (found.sound,),
        _frame_lines(found.frames) if isinstance(found.frames, Frames) else (found.frames,),
    )
    return (verdict(found), *(line for lines in parts for line in lines))


def checkup_dict(found: Checkup) -> dict[str, Json]:
    """Return all that was found as plain values; every field is in :mod:`trainer.practice.report_schema`."""
    midi, looks, sound, frames = found.midi, found.looks, found.sound, found.frames
    return {
        "format": CHECKUP.format,
        "verdict": verdict(found),
        "seconds": rounded(found.seconds),
        "pads_ms": _whole_ms(midi.pads_s) if isinstance(midi, RoundTrip) else None,
        "keys_ms": _whole_ms(looks.keys_s) if isinstance(looks, Looks) else None,
        "sound_steady": sound.is_steady if isinstance(sound, Sound) else None,
        "picture_steady": frames.is_steady if isinstance(frames, Frames) else None,
        "frames": _part(frames),
        "looks": _part(looks),
        "sound": _part(sound),
        "midi": _part(midi, way_s="way_median_ms"),
    }


def _part(found: Frames | Looks | Sound | RoundTrip | str, **names: str) -> Mapping[str, Json]:
    """Return a part's numbers under their names, seconds as ms."""
    if isinstance(found, str):
        return {"not_measured": found}
    values: dict[str, Json] = {}
    for each in fields(found):
        value = getattr(found, each.name)
        if each.name.endswith("_s"):
            values[names.get(each.name, f"{each.name.removesuffix('_s')}_ms")] = milliseconds(value)
        else:
            values[each.name] = rounded(value) if isinstance(value, float) else value
    return values


def _whole_ms(seconds: float) -> int:
    """Return whole ms, up: a claim is never finer than what was measured."""
    return max(1, math.ceil(round(seconds * 1000, 1)))


def _sound_words(sound: Sound) -> str:
    if sound.stalls:
        return f"sound stopped {_times(sound.stalls)}"
    if abs(sound.speed_error) > FULL_SPEED_ERROR:
        return f"sound {abs(sound.speed_error):.1%} {'slow' if sound.speed_error > 0 else 'fast'}"
    return "sound steady" if sound.is_steady else f"sound to {_whole_ms(sound.off_p99_s)} ms"


def _midi_lines(midi: RoundTrip) -> tuple[str, ...]:
    lost = midi.sent - midi.heard
    lines = [
        f"MIDI: {midi.heard} of {midi.sent} notes came back through a port of our own, after "
        f"{midi.way_s * 1000:.1f} ms; 99 of 100 within {midi.off_p99_s * 1000:.2f} ms of that."
    ]
    if lost:
        lines.append(f"{lost} note{'s' if lost > 1 else ''} got lost: end other programs that use MIDI.")
    if midi.off_p99_s > FINE_S:
        lines.append("That is coarse: the MIDI server may hand notes on in long periods; shorten them.")
    return tuple(lines)


def _key_lines(looks: Looks) -> tuple[str, ...]:
    lines = [
        f"Keys: a key's moment is hidden for {looks.p99_s * 1000:.1f} ms (99 of 100), at worst for "
        f"{looks.longest_s * 1000:.1f} ms; the keyboard may be {looks.scan_s * 1000:.0f} ms off besides."
    ]
    if looks.keys_s > FINE_S:
        lines.append("Drums and pads on MIDI are finer; a smaller window or fewer other programs help too.")
    return tuple(lines)


def _sound_lines(sound: Sound) -> tuple[str, ...]:
    lines = [
        f"Sound: {sound.blocks} blocks, 99 of 100 begun within {sound.off_p99_s * 1000:.2f} ms of an even "
        f"line; stopped {_times(sound.stalls)}."
    ]
    if sound.stalls:
        lines.append("Takes in which it stops are marked and not graded: end other programs.")
    if abs(sound.speed_error) > FULL_SPEED_ERROR:
        lines.append("Its clock is off, so tempi are not quite those chosen; taps are held to what is heard.")
    return tuple(lines)


def _frame_lines(frames: Frames) -> tuple[str, ...]:
    lines = [
        f"Picture: {frames.per_second:.1f} frames a second at {frames.width} by {frames.height}, "
        f"{frames.late} of {frames.drawn} late."
    ]
    if not frames.is_steady:
        lines.append("That is only what is seen; nothing heard or judged hangs on it.")
    return tuple(lines)


def _times(n: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(n, f"{n} times")
