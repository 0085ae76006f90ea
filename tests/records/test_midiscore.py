"""Standard MIDI Files of patterns and breaks. Outside checks: pretty_midi and mido read them."""

from fractions import Fraction
from pathlib import Path

import mido
import pretty_midi
import pytest

from tests.shipped import shipped
from trainer.errors import StoreProblem
from trainer.music.chart import Mode
from trainer.music.keys import chord_letters
from trainer.music.layout import Feel, lay_out
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.records.library import open_pattern
from trainer.records.midiscore import (
    BANJO_PROGRAM,
    TICKS_PER_QUARTER,
    click_notes,
    score_notes,
    stroke_velocity,
    write_score,
)

LIBRARY = shipped()
NAMES = [
    "barn-lantern at skips",
    "the-ferry-bell at ornaments",
    "heron-at-the-weir at plain",
    "paper-kite",
    "slow-ferry with skip-figure-in-three",
    "three-slots-to-a-beat",
    "four-slots-to-a-beat",
]
BPM = Fraction(973, 10)
PASSES = 2
# A MIDI tempo is a whole number of microseconds a quarter: half of one over each of the quarters of a file.
TEMPO_ROUNDING_S = 0.5e-6 * 64 * 3 / 2 * PASSES
each_name = pytest.mark.parametrize("name", NAMES)


def written(tmp_path: Path, name: str, feel: Feel | None = None) -> tuple[Path, Pattern]:
    pattern, path = open_pattern(name, LIBRARY), tmp_path / "score.mid"
    write_score(path, pattern, BPM, passes=PASSES, feel=feel or Feel())
    return path, pattern


def asked(pattern: Pattern, feel: Feel | None = None) -> list[tuple[float, int, int]]:
    """Return (second, pitch, velocity) of every string asked, equal pitches struck together taken once."""
    targets = lay_out(pattern, Timeline.steady(BPM), passes=PASSES, feel=feel or Feel())
    return sorted(
        {
            (target.song_s, note, stroke_velocity(target.stroke))
            for target in targets
            for note in pattern.tuning.stroke_notes(target.stroke)
        }
    )


def near(notes: list[tuple[float, int, int]], second: float) -> list[tuple[int, int]]:
    """Return pitch and velocity of the notes at a second."""
    return sorted((p, v) for s, p, v in notes if abs(s - second) <= TEMPO_ROUNDING_S)


@each_name
def test_pretty_midi_reads_the_notes_that_the_pattern_asks(tmp_path: Path, name: str) -> None:
    path, pattern = written(tmp_path, name)
    midi = pretty_midi.PrettyMIDI(str(path))
    banjo, click = midi.instruments
    assert (banjo.program, banjo.is_drum, banjo.name) == (BANJO_PROGRAM, False, "banjo")
    assert pretty_midi.program_to_instrument_name(banjo.program) == "Banjo"
    found = sorted((note.start, note.pitch, note.velocity) for note in banjo.notes)
    wanted = asked(pattern)
    assert len(found) == len(wanted)
    assert sorted((p, v) for _s, p, v in found) == sorted((p, v) for _s, p, v in wanted)
    for second in {second for second, _pitch, _velocity in wanted}:
        assert near(found, second) == near(wanted, second)
    assert click.is_drum
    seconds = [float(Timeline.steady(BPM).seconds(Fraction(b))) for b in range(PASSES * pattern.beats)]
    assert [note.start for note in click.notes] == pytest.approx(seconds, abs=TEMPO_ROUNDING_S)
    firsts = [note.pitch == 76 for note in click.notes]
    assert firsts == [beat % pattern.meter.beats == 0 for beat in range(PASSES * pattern.beats)]
    assert {pretty_midi.note_number_to_drum_name(n.pitch) for n in click.notes} == {
        "Hi Wood Block",
        "Low Wood Block",
    }


@each_name
def test_pretty_midi_reads_meter_tempo_and_key(tmp_path: Path, name: str) -> None:
    path, pattern = written(tmp_path, name)
    midi = pretty_midi.PrettyMIDI(str(path))
    [signature] = midi.time_signature_changes
    assert f"{signature.numerator}/{signature.denominator}" == pattern.meter.value
    _times, tempi = midi.get_tempo_changes()
    assert tempi == pytest.approx([float(BPM * pattern.meter.beat_quarters)], rel=1e-6)
    keys = [pretty_midi.key_number_to_key_name(change.key_number) for change in midi.key_signature_changes]
    mode = "minor" if pattern.chart is not None and pattern.chart.mode is Mode.MINOR else "Major"
    assert keys == ([f"{pattern.chart.key} {mode}"] if pattern.chart else [])


@each_name
def test_mido_finds_the_chords_as_markers_at_their_beats(tmp_path: Path, name: str) -> None:
    path, pattern = written(tmp_path, name)
    midi = mido.MidiFile(path)
    assert (midi.type, midi.ticks_per_beat) == (1, TICKS_PER_QUARTER)
    tick, found = 0, []
    for message in midi.tracks[0]:
        tick += message.time
        if message.type == "marker":
            found.append((tick, message.text))
    chart = pattern.chart
    wanted = []
    if chart is not None:
        beat_ticks = int(TICKS_PER_QUARTER * pattern.meter.beat_quarters)
        for number in range(PASSES):
            for start, span in zip(chart.starts, chart.spans, strict=True):
                words = f"{span.chord.words} ({chord_letters(span.chord, chart.key)})"
                wanted.append(((number * chart.beats + start) * beat_ticks, words))
    assert found == wanted


@each_name
def test_every_note_ends_once_and_no_two_of_one_pitch_sound_together(tmp_path: Path, name: str) -> None:
    path, _pattern = written(tmp_path, name)
    for track in mido.MidiFile(path).tracks[1:]:
        sounding: set[int] = set()
        for message in track:
            if message.type == "note_on":
                assert message.note not in sounding
                sounding.add(message.note)
            elif message.type == "note_off":
                assert message.note in sounding
                sounding.remove(message.note)
        assert sounding == set()


@each_name
def test_all_tracks_end_with_the_last_bar(tmp_path: Path, name: str) -> None:
    path, pattern = written(tmp_path, name)
    beat_ticks = TICKS_PER_QUARTER * pattern.meter.beat_quarters
    lengths = {sum(message.time for message in track) for track in mido.MidiFile(path).tracks}
    assert lengths == {PASSES * pattern.beats * beat_ticks}


def test_a_string_rings_until_it_is_sounded_again_for_two_beats_at_most() -> None:
    text = """title = "T"
level = "plain"
step = 1
meter = "2/4"
slots_per_beat = 2
slow_bpm = 50
goal_bpm = 60
bars = "strike 3, rest, strike 3, thumb | strike 1, rest, rest, rest | rest, rest, rest, rest"
"""
    notes = score_notes(read_pattern(text, name="t"))
    beat = TICKS_PER_QUARTER
    assert [(n.tick, n.end_tick, n.note) for n in notes] == [
        (0, beat, 55),
        (beat, 3 * beat, 55),
        (3 * beat // 2, 7 * beat // 2, 67),
        (2 * beat, 4 * beat, 62),
    ]


def test_accents_are_louder_and_the_left_hand_softer() -> None:
    by_kind: dict[tuple[Kind, bool], int] = {}
    for pattern in LIBRARY.patterns:
        for stroke in pattern.strokes:
            by_kind[stroke.kind, stroke.accented] = stroke_velocity(stroke)
    for (kind, accented), velocity in by_kind.items():
        if accented:
            assert velocity > by_kind.get((kind, False), 0)
        elif kind.hand is Hand.LEFT:
            assert velocity < by_kind[Kind.STRIKE, False]


def test_each_stroke_is_as_loud_as_its_kind_and_an_accent_adds_a_fixed_step() -> None:
    usual = {Kind.STRIKE: 84, Kind.BRUSH: 72, Kind.THUMB: 78, Kind.DROP_THUMB: 78}
    strokes = [stroke for pattern in LIBRARY.patterns for stroke in pattern.strokes if stroke.kind.sounds]
    for stroke in {(s.kind, s.accented): s for s in strokes}.values():
        velocity = usual.get(stroke.kind, 64)
        assert stroke_velocity(stroke) == velocity + (24 if stroke.accented else 0)


def test_swing_moves_the_up_slots_as_the_layout_does(tmp_path: Path) -> None:
    feel = Feel(swing=Fraction(2))
    path, pattern = written(tmp_path, "barn-lantern at skips", feel)
    banjo = pretty_midi.PrettyMIDI(str(path)).instruments[0]
    wanted = [second for second, _pitch, _velocity in asked(pattern, feel)]
    assert sorted(note.start for note in banjo.notes) == pytest.approx(wanted, abs=TEMPO_ROUNDING_S)


def test_clicks_are_as_many_as_beats() -> None:
    pattern = open_pattern("paper-kite", LIBRARY)
    assert len(click_notes(pattern, 3)) == 3 * pattern.beats


def test_a_place_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreProblem, match=r"cannot be written .*; choose another place"):
        write_score(tmp_path / "none" / "a.mid", LIBRARY.patterns[0], BPM)


def test_a_pickup_stands_before_the_first_pass_and_not_after_the_last() -> None:
    """By hand: a bar of 2/4 in front, its second beat the pickup's; the last bar rings instead."""
    pattern = open_pattern("turnip-frost at plain", LIBRARY)
    assert pattern.pickup == 2
    notes = score_notes(pattern, passes=2)
    beat = TICKS_PER_QUARTER
    assert (notes[0].tick, notes[0].note) == (beat, 50)
    assert max(note.tick for note in notes) < (2 + 2 * pattern.beats - 1) * beat
    plain = [note for note in notes if note.tick >= 2 * beat]
    assert plain[0].tick == 2 * beat
    assert len(click_notes(pattern, 2)) == 2 + 2 * pattern.beats


def test_a_slide_into_a_note_and_a_triplet_are_heard_one_note_after_another() -> None:
    """By hand: a slide from fret 1 to 3 on string 2, then thirds of a beat on string 3: G A G."""
    pattern = open_pattern("moth-in-the-mailbag at ornaments", LIBRARY)
    notes = score_notes(pattern)
    assert [note.note for note in notes[:2]] == [60, 62]
    assert notes[1].tick - notes[0].tick == TICKS_PER_QUARTER // 16
    start = 12 * TICKS_PER_QUARTER
    triplet = [note for note in notes if start <= note.tick < start + TICKS_PER_QUARTER]
    assert [note.note for note in triplet] == [55, 57, 55]
    assert [note.tick - start for note in triplet] == [0, 320, 640]


def test_a_muted_stroke_is_short_and_soft() -> None:
    pattern = open_pattern("muted-brush", LIBRARY)
    first = [note for note in score_notes(pattern) if note.tick == TICKS_PER_QUARTER]
    rest = [note for note in score_notes(pattern) if note.tick == 3 * TICKS_PER_QUARTER]
    assert {n.end_tick - n.tick for n in first} == {TICKS_PER_QUARTER // 16}
    assert max(n.velocity for n in first) < min(n.velocity for n in rest)
