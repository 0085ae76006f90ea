"""Write a pattern, a break or a chart as a Standard MIDI File, as it would be played by a machine.

A file of type 1 with 960 ticks to a quarter note, so that every straight slot lies on a whole tick:

- track 1: title, tempo, time signature, key signature, and a marker with number and letters where a chord
  begins, such as ``4 (D)``
- track 2: the banjo on channel 1, General MIDI program 106, each stroke's strings at the pitch that tuning,
capo
  and fret give; what is louder or softer has a higher or lower velocity
- track 3: the click on channel 10, General MIDI percussion 76 on the first beat of a bar and 77 on the others

A string rings until it is sounded again, for two beats at most. Two strings at one pitch would be one note to
a MIDI channel: struck together they are one, struck in turn the first ends where the second begins. A skip is
silent. (Program and percussion numbers: General MIDI 1.)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import mido

from trainer.errors import StoreProblem
from trainer.music.chart import Chart
from trainer.music.keys import chord_letters
from trainer.music.layout import NO_FEEL, Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind, Stroke
from trainer.music.timeline import Timeline

TICKS_PER_QUARTER = 960
BANJO_PROGRAM = 105  # 106 as people count
BANJO_CHANNEL = 0
PERCUSSION_CHANNEL = 9
FIRST_CLICK_NOTE, CLICK_NOTE = 76, 77
FIRST_CLICK_VELOCITY, CLICK_VELOCITY = 100, 80
CLICK_QUARTERS = Fraction(1, 8)
LONGEST_RING_BEATS = 2
STRIKE_VELOCITY = 84
BRUSH_VELOCITY = 72  # several strings together sound louder than one
THUMB_VELOCITY = 78
LEFT_HAND_VELOCITY = 64
ACCENT_VELOCITY = 24
US_PER_MINUTE = 60_000_000
_VELOCITIES = {Kind.STRIKE: STRIKE_VELOCITY, Kind.BRUSH: BRUSH_VELOCITY}


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreNote:
    """A note of the score.

    Attributes:
        tick, end_tick: where it begins and ends, from the file's start.
        note, velocity: as MIDI has them.
    """

    tick: int
    end_tick: int
    note: int
    velocity: int


def write_score(
    path: Path, pattern: Pattern, bpm: Fraction, *, passes: int = 1, feel: Feel = NO_FEEL
) -> None:
    """Write some passes of a pattern at one tempo; a file that is there already is replaced.

    Raises:
        StoreProblem: the file cannot be written.
    """
    midi = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    end = _tick(pattern, Fraction(passes * pattern.beats))
    midi.tracks.append(_track(_head(pattern, bpm, passes), end))
    program = mido.Message("program_change", channel=BANJO_CHANNEL, program=BANJO_PROGRAM)
    named = [(0, mido.MetaMessage("track_name", name="banjo")), (0, program)]
    notes = score_notes(pattern, passes=passes, feel=feel)
    midi.tracks.append(_track([*named, *_messages(notes, BANJO_CHANNEL)], end))
    named = [(0, mido.MetaMessage("track_name", name="click"))]
    midi.tracks.append(_track([*named, *_messages(click_notes(pattern, passes), PERCUSSION_CHANNEL)], end))
    try:
        midi.save(path)
    except OSError as err:
        raise StoreProblem(f"{path} cannot be written ({err.strerror})", "choose another place") from err


def score_notes(pattern: Pattern, *, passes: int = 1, feel: Feel = NO_FEEL) -> tuple[ScoreNote, ...]:
    """Return the banjo's notes in order; lay-back is a time and not a place in a bar, and is left out."""
    # Only the beats are taken from the layout, so any tempo will do.
    targets = lay_out(pattern, Timeline.steady(60), passes=passes, feel=Feel(swing=feel.swing))
    struck: list[tuple[int, int, int, int]] = []  # tick, string, note, velocity
    for target in targets:
        stroke = target.stroke
        pitches = pattern.tuning.stroke_notes(stroke)
        velocity = stroke_velocity(stroke)
        tick = _tick(pattern, target.beat)
        heard: set[int] = set()
        for string, note in zip(stroke.strings, pitches, strict=True):
            if note not in heard:
                struck.append((tick, string, note, velocity))
                heard.add(note)
    last = _tick(pattern, Fraction(passes * pattern.beats))
    longest = _tick(pattern, Fraction(LONGEST_RING_BEATS))
    notes = []
    next_by_string: dict[int, int] = {}
    next_by_note: dict[int, int] = {}
    for tick, string, note, velocity in reversed(struck):
        ends = (next_by_string.get(string, last), next_by_note.get(note, last), tick + longest)
        notes.append(ScoreNote(tick=tick, end_tick=min(ends), note=note, velocity=velocity))
        next_by_string[string] = next_by_note[note] = tick
    return tuple(reversed(notes))


def stroke_velocity(stroke: Stroke) -> int:
    """Return how hard a stroke sounds its strings."""
    usual = LEFT_HAND_VELOCITY if stroke.hand is Hand.LEFT else THUMB_VELOCITY
    return _VELOCITIES.get(stroke.kind, usual) + (ACCENT_VELOCITY if stroke.accented else 0)


def click_notes(pattern: Pattern, passes: int) -> tuple[ScoreNote, ...]:
    """Return a click for each beat of all passes."""
    length = int(CLICK_QUARTERS * TICKS_PER_QUARTER)
    notes = []
    for beat in range(passes * pattern.beats):
        tick = _tick(pattern, Fraction(beat))
        first = beat % pattern.meter.beats == 0
        notes.append(
            ScoreNote(
                tick=tick,
                end_tick=tick + length,
                note=FIRST_CLICK_NOTE if first else CLICK_NOTE,
                velocity=FIRST_CLICK_VELOCITY if first else CLICK_VELOCITY,
            )
        )
    return tuple(notes)


def chord_markers(pattern: Pattern, chart: Chart, passes: int) -> tuple[tuple[int, str], ...]:
    """Return (tick, words) where a chord begins, such as ``6- (F#m)``; each pass begins with its chord."""
    markers = []
    for number in range(passes):
        for start, span in zip(chart.starts, chart.spans, strict=True):
            words = f"{span.chord.words} ({chord_letters(span.chord, chart.key)})"
            markers.append((_tick(pattern, Fraction(number * chart.beats + start)), words))
    return tuple(markers)


def _tick(pattern: Pattern, beat: Fraction) -> int:
    return round(beat * pattern.meter.beat_quarters * TICKS_PER_QUARTER)


def _head(pattern: Pattern, bpm: Fraction, passes: int) -> list[tuple[int, mido.MetaMessage]]:
    title = pattern.title.encode("latin-1", "replace").decode("latin-1")
    numerator, denominator = (int(part) for part in pattern.meter.value.split("/"))
    clocks = int(24 * pattern.meter.beat_quarters)  # MIDI clocks to a click of the metronome
    messages = [
        (0, mido.MetaMessage("track_name", name=title)),
        (0, mido.MetaMessage("set_tempo", tempo=round(US_PER_MINUTE / (bpm * pattern.meter.beat_quarters)))),
        (
            0,
            mido.MetaMessage(
                "time_signature",
                numerator=numerator,
                denominator=denominator,
                clocks_per_click=clocks,
            ),
        ),
    ]
    if pattern.chart is not None:
        messages.append((0, mido.MetaMessage("key_signature", key=pattern.chart.key)))
        messages += [
            (tick, mido.MetaMessage("marker", text=words))
            for tick, words in chord_markers(pattern, pattern.chart, passes)
        ]
    return messages


def _messages(notes: Iterable[ScoreNote], channel: int) -> list[tuple[int, mido.Message]]:
    """Return the messages of notes; where one ends and another begins, the end comes first."""
    placed = []
    for each in notes:
        on = mido.Message("note_on", channel=channel, note=each.note, velocity=each.velocity)
        placed.append((each.tick, 1, on))
        placed.append((each.end_tick, 0, mido.Message("note_off", channel=channel, note=each.note)))
    placed.sort(key=lambda p: (p[0], p[1]))
    return [(tick, message) for tick, _order, message in placed]


def _track(messages: Iterable[tuple[int, mido.Message | mido.MetaMessage]], end: int) -> mido.MidiTrack:
    """Return a track that lasts to the end of the last bar."""
    track, at = mido.MidiTrack(), 0
    for tick, message in messages:
        track.append(message.copy(time=tick - at))
        at = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - at)))
    return track
