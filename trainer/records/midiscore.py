"""Write a pattern, a break or a chart as a Standard MIDI File, as it would be played by a machine.

A file of type 1 with 960 ticks to a quarter note, so that every straight slot lies on a whole tick:

- track 1: title, tempo, time signature, key signature, and a marker with number and letters where a chord
  begins, such as ``4 (D)``
- track 2: the banjo on channel 1, General MIDI program 106, each stroke's strings at the pitch that tuning,
capo
  and fret give; what is louder or softer has a higher or lower velocity
- track 3: the click on channel 10, General MIDI percussion 76 on the first beat of a bar and 77 on the others

A muted stroke is short and soft. A slide into a note begins a sixteenth of a beat before the note is heard,
on the stroke's own moment; the notes of a triplet part their beat in three. A pickup stands in the first pass
too, in a bar before it, and not at the end of the last.

A string rings until it is sounded again, for two beats at most. Two strings at one pitch would be one note to
a MIDI channel: struck together they are one, struck in turn the first ends where the second begins. A skip is
silent. (Program and percussion numbers: General MIDI 1.)
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import mido

from trainer.music.chart import Chart
from trainer.music.keys import chord_letters, midi_key
from trainer.music.layout import NO_FEEL, Feel, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind, Stroke
from trainer.music.timeline import Timeline
from trainer.records.midifile import save_midi

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
SOFTER_MUTED = 20
MUTED_BEATS = Fraction(1, 16)
SLIDE_BEATS = Fraction(1, 16)
TRIPLET = 3  # notes in a beat
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
    end = _tick(pattern, Fraction(lead_in(pattern) + passes * pattern.beats))
    midi.tracks.append(_track(_head(pattern, bpm, passes), end))
    program = mido.Message("program_change", channel=BANJO_CHANNEL, program=BANJO_PROGRAM)
    named = [(0, mido.MetaMessage("track_name", name="banjo")), (0, program)]
    notes = score_notes(pattern, passes=passes, feel=feel)
    midi.tracks.append(_track([*named, *_messages(notes, BANJO_CHANNEL)], end))
    named = [(0, mido.MetaMessage("track_name", name="click"))]
    midi.tracks.append(_track([*named, *_messages(click_notes(pattern, passes), PERCUSSION_CHANNEL)], end))
    save_midi(midi, path)


def score_notes(pattern: Pattern, *, passes: int = 1, feel: Feel = NO_FEEL) -> tuple[ScoreNote, ...]:
    """Return the banjo's notes in order; lay-back is a time and not a place in a bar, and is left out."""
    struck = [
        each
        for each in _struck(pattern, passes=passes, feel=feel)
        if not each.is_pickup_of_nothing  # the last pass leads nowhere
    ]
    last = _tick(pattern, lead_in(pattern) + Fraction(passes * pattern.beats))
    longest = _tick(pattern, Fraction(LONGEST_RING_BEATS))
    notes = []
    next_by_string: dict[int, int] = {}
    next_by_note: dict[int, int] = {}
    for each in reversed(struck):
        ends = [next_by_string.get(each.string, last), next_by_note.get(each.note, last), each.tick + longest]
        if each.muted:
            ends.append(each.tick + _tick(pattern, MUTED_BEATS))
        notes.append(ScoreNote(tick=each.tick, end_tick=min(ends), note=each.note, velocity=each.velocity))
        next_by_string[each.string] = next_by_note[each.note] = each.tick
    return tuple(reversed(notes))


def lead_in(pattern: Pattern) -> int:
    """Return the beats before the first pass: one bar where the tune has a pickup."""
    return pattern.meter.beats if pattern.pickup else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Struck:
    tick: int
    string: int
    note: int
    velocity: int
    muted: bool = False
    is_pickup_of_nothing: bool = False


def _struck(pattern: Pattern, *, passes: int, feel: Feel) -> list[_Struck]:
    """Return every string that is sounded, in order."""
    # Only the beats are taken from the layout, so any tempo will do.
    targets = lay_out(pattern, Timeline.steady(60), passes=passes, feel=Feel(swing=feel.swing))
    lead = targets[len(pattern.strokes) - pattern.pickup : len(pattern.strokes)] if pattern.pickup else ()
    found = []
    for target in lead:
        beat = target.beat - pattern.beats + lead_in(pattern)
        found += _sounded(pattern, target.stroke, beat)
    for target in targets:
        over = target.index >= len(targets) - pattern.pickup
        sounded = _sounded(pattern, target.stroke, target.beat + lead_in(pattern))
        found += [replace(each, is_pickup_of_nothing=over) for each in sounded]
    return found


def _sounded(pattern: Pattern, stroke: Stroke, beat: Fraction) -> list[_Struck]:
    """Return the notes of one stroke: of a brush at once, of a slide or a triplet one after another."""
    pitches = pattern.tuning.stroke_notes(stroke)
    velocity = stroke_velocity(stroke)
    found: list[_Struck] = []
    moments = [(beat, pitch) for pitch in pitches]
    if stroke.slid_from is not None:
        start = pattern.tuning.note(stroke.strings[0], stroke.slid_from)
        moments = [(beat, start), (beat + SLIDE_BEATS, pitches[0])]
    for at, fret in enumerate(stroke.triplet, start=1):
        moments.append((beat + Fraction(at, TRIPLET), pattern.tuning.note(stroke.strings[0], fret)))
    heard: set[tuple[Fraction, int]] = set()
    strings = stroke.strings if len(stroke.strings) == len(moments) else stroke.strings[:1] * len(moments)
    for at, (string, moment) in enumerate(zip(strings, moments, strict=True)):
        if moment in heard:
            continue
        heard.add(moment)
        soft = LEFT_HAND_VELOCITY if at and len(stroke.strings) == 1 else velocity
        found.append(
            _Struck(
                tick=_tick(pattern, moment[0]), string=string, note=moment[1], velocity=soft,
                muted=stroke.muted,
            )
        )  # fmt: skip
    return found


def stroke_velocity(stroke: Stroke) -> int:
    """Return how hard a stroke sounds its strings."""
    usual = LEFT_HAND_VELOCITY if stroke.hand is Hand.LEFT else THUMB_VELOCITY
    velocity = _VELOCITIES.get(stroke.kind, usual) + (ACCENT_VELOCITY if stroke.accented else 0)
    return velocity - (SOFTER_MUTED if stroke.muted else 0)


def click_notes(pattern: Pattern, passes: int) -> tuple[ScoreNote, ...]:
    """Return a click for each beat of all passes."""
    length = int(CLICK_QUARTERS * TICKS_PER_QUARTER)
    notes = []
    for beat in range(lead_in(pattern) + passes * pattern.beats):
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
            markers.append((_tick(pattern, Fraction(lead_in(pattern) + number * chart.beats + start)), words))
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
        messages.append(
            (0, mido.MetaMessage("key_signature", key=midi_key(pattern.chart.key, pattern.chart.mode)))
        )
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
