"""Read a recorded take, a Standard MIDI File or a sound file, and place it against a pattern.

What the file does not say is found, and said: its tempo from its clicks, whose the pads are from what they
play, and where beat 0 lies from the strokes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from trainer.commands.parsing import read_number
from trainer.errors import BadSettings
from trainer.judging.offset import OffsetFound, find_offset, found_elsewhere, passes_reached
from trainer.judging.take import Tap
from trainer.music.layout import Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, as_tempo
from trainer.practice.pad_guess import PadGuess, guess_pads
from trainer.practice.pads import Pad, PadMap, read_pads
from trainer.practice.placed_by import PlacedBy
from trainer.records.midifile import RecordedTake, read_take

SOUND_ENDINGS = (".wav", ".flac", ".ogg", ".mp3")
FARTHEST_OFFSET_S = 86_400.0
AUTO = "auto"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingAsked:
    """How a recording is to be read, in the words of the command line; None where nothing was said."""

    bpm: str | None = None
    pads: str | None = None
    offset: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedRecording:
    """A recording against a pattern.

    Attributes:
        bpm: beats a minute of the pattern's meter.
        offset_s: second of the file at which beat 0 lies.
        taps: with seconds from beat 0, in order.
        knows_left: whether the left hand can be judged.
        placed_by: what the strokes were placed against.
        pocket: name of the pocket by which the take was judged when it was written; empty when unknown.
        notes: what was found and guessed, in sentences.
        found: the same in a few words each, where much is read at a time.
    """

    bpm: Fraction
    offset_s: float
    taps: tuple[Tap, ...]
    knows_left: bool
    placed_by: PlacedBy
    pocket: str
    notes: tuple[str, ...]
    found: tuple[str, ...]


def read_recording(path: Path, pattern: Pattern, asked: RecordingAsked, feel: Feel) -> PlacedRecording:
    """Read a file and place it.

    Raises:
        TrainerError: the file or an option cannot be used, or nothing was played after beat 0.
    """
    is_sound = path.suffix.lower() in SOUND_ENDINGS
    source = _heard(path, pattern, asked, feel) if is_sound else _recorded(path, pattern, asked)
    offset_s, notes = _beat_0(source, pattern, asked.offset, feel)
    found = [f"beat 0 at {offset_s:.3f} s"] if notes else []
    if source.guess is not None:
        source, guess = source.guess(offset_s, feel)
        notes += [guess.sentence] * bool(guess.sentence)
        found += [guess.words]
    taps = source.taps(offset_s)
    if not taps:
        raise BadSettings("nothing was played after beat 0", "look at --offset")
    return PlacedRecording(
        bpm=source.bpm,
        offset_s=offset_s,
        taps=taps,
        knows_left=source.knows_left,
        placed_by=source.placed_by,
        pocket=source.pocket,
        notes=(*source.notes, *notes),
        found=tuple(found),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Source:
    """What is graded, wherever it comes from.

    Attributes:
        plain: the taps in seconds of the file.
        taps: gives them with beat 0 at a second of the file.
        beat_0_s: where the file says that beat 0 lies; None where it does not.
        is_marked: whether that was said for good, not merely that a file begins at its beginning.
        guess: finds out whose the pads are, once beat 0 is known; None where nothing is to be guessed.
    """

    bpm: Fraction
    plain: tuple[Tap, ...]
    taps: Callable[[float], tuple[Tap, ...]]
    knows_left: bool
    beat_0_s: float | None
    is_marked: bool = True
    placed_by: PlacedBy = PlacedBy.TAPS
    pocket: str = ""
    notes: tuple[str, ...] = ()
    guess: Callable[[float, Feel], tuple[_Source, PadGuess]] | None = None


def _beat_0(source: _Source, pattern: Pattern, asked: str | None, feel: Feel) -> tuple[float, list[str]]:
    """Return the second of the file at which beat 0 lies, and what is to be said about that."""
    timeline = Timeline.steady(source.bpm)
    if asked not in (None, AUTO):
        return read_number(str(asked), "the offset", -FARTHEST_OFFSET_S, FARTHEST_OFFSET_S), []
    held_s = source.beat_0_s
    if asked == AUTO or held_s is None:
        found = find_offset(pattern, timeline, source.plain, feel=feel, knows_left=source.knows_left)
        return found.offset_s, _offset_words(found)
    if source.is_marked:
        return held_s, []
    elsewhere = found_elsewhere(
        pattern, timeline, source.plain, held_s, feel=feel, knows_left=source.knows_left
    )
    if elsewhere is None:
        return held_s, []
    first, *rest = _offset_words(elsewhere)
    hold = "With beat 0 at the file's beginning the take would fit far worse; --offset 0 holds it there."
    return elsewhere.offset_s, [first, hold, *rest]


def _recorded(path: Path, pattern: Pattern, asked: RecordingAsked) -> _Source:
    take = read_take(path)
    pads = take.pads() if asked.pads is None else read_pads(asked.pads)
    plain = take.taps(pads, offset_s=0.0)
    if not plain:
        raise BadSettings("no note of the take comes from the pads named", "check the notes given to --pads")
    source = _Source(
        bpm=take_tempo(take.bpm, pattern) if asked.bpm is None else as_tempo(asked.bpm),
        plain=plain,
        taps=lambda offset_s: take.taps(pads, offset_s=offset_s),
        knows_left=_knows_left(plain, pads, named=asked.pads is not None),
        beat_0_s=take.beat_0_s,
        is_marked=take.own,
        pocket=take.pocket,
    )
    if take.own or asked.pads is not None:
        return source
    return replace(source, guess=lambda offset_s, feel: _guessed(source, take, pattern, offset_s, feel))


def _guessed(
    source: _Source, take: RecordedTake, pattern: Pattern, offset_s: float, feel: Feel
) -> tuple[_Source, PadGuess]:
    """Return a source with its pads guessed from what they play, and the guess."""
    touched = {
        (channel, note): take.taps(PadMap(pads=(Pad(note=note, channel=channel),)), offset_s=offset_s)
        for channel, note in {(each.channel, each.note) for each in take.notes}
    }
    timeline = Timeline.steady(source.bpm)
    last_s = max(tap.song_s for taps in touched.values() for tap in taps)
    targets = lay_out(pattern, timeline, passes=passes_reached(pattern, timeline, last_s), feel=feel)
    guess = guess_pads(targets, touched)
    pads = guess.pads
    plain = take.taps(pads, offset_s=0.0)
    found = replace(
        source,
        plain=plain,
        taps=lambda offset_s: take.taps(pads, offset_s=offset_s),
        knows_left=pads.knows_left,
        guess=None,
    )
    return found, guess


def _heard(path: Path, pattern: Pattern, asked: RecordingAsked, feel: Feel) -> _Source:
    from trainer.commands.heard_takes import hear_take

    if asked.pads is not None:
        raise BadSettings("--pads was given for a sound file, in which no pad is heard", "leave it out")
    asked_bpm = None if asked.bpm is None else as_tempo(asked.bpm)
    take = hear_take(path, pattern, bpm=asked_bpm, feel=feel)
    if asked_bpm is None and take.bpm is None:
        # What is wrong with the sound may be why no click was heard, so it is said here too.
        raise BadSettings(
            f"no click was heard in {path.name}", " ".join((*take.faults, "give the tempo with --bpm"))
        )
    bpm = asked_bpm or take_tempo(take.bpm, pattern)
    return _Source(
        bpm=bpm,
        plain=take.plain_taps(),
        taps=lambda offset_s: take.taps(bpm, offset_s=offset_s),
        knows_left=True,  # what the left hand sounds is heard like any stroke
        beat_0_s=take.beat_0_s,
        placed_by=PlacedBy.TAPS if take.line is None else PlacedBy.CLICK,
        notes=take.notes,
    )


def take_tempo(quarters_a_minute: float | None, pattern: Pattern) -> Fraction:
    """Return a take's own tempo in beats of a pattern's meter.

    A MIDI file holds whole microseconds to the quarter note. The roundest tempo that is written in that way
    is taken, so that 97 comes back as 97 and does not wander off over a long take.

    Raises:
        BadSettings: the file names no tempo, or one that cannot be used.
    """
    if quarters_a_minute is None:
        raise BadSettings("the take names no tempo", "give it with --bpm")
    quarters = pattern.meter.beat_quarters
    tempo_us = round(60e6 / quarters_a_minute)
    exact = Fraction(60_000_000, tempo_us) / quarters
    for parts in (1, 2, 3, 4, 10, 100, 1000):
        rounded = Fraction(round(exact * parts), parts)
        if rounded > 0 and round(60_000_000 / (rounded * quarters)) == tempo_us:
            return as_tempo(rounded)
    return as_tempo(exact)


def _offset_words(found: OffsetFound) -> list[str]:
    """Return what is said about an offset that was found, not given."""
    words = [
        f"Beat 0 was found at {found.offset_s:.3f} s of the take ({found.paired} of the {found.looked_at} "
        "taps looked at fit a stroke). An early or late lean common to all strokes cannot be told from it."
    ]
    if not found.is_clear and found.next_s is not None:
        words.append(f"{found.next_s:.3f} s fits nearly as well; give --offset if you know better.")
    return words


def _knows_left(taps: Sequence[Tap], pads: PadMap, *, named: bool) -> bool:
    """Return whether the left hand can be judged.

    A file of our own has a place for the left hand whether or not the player had a pad for it, so there it
    counts as heard only once it has been.
    """
    return pads.knows_left and (named or any(tap.hand is Hand.LEFT for tap in taps))
