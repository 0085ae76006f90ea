"""Takes as Standard MIDI Files: the standard's own values, other libraries, and damaged files."""

import io
import random
from collections import Counter
from fractions import Fraction
from pathlib import Path

import mido
import pretty_midi
import pytest

from trainer.errors import BadTake, StoreProblem
from trainer.judging.take import Tap
from trainer.music.pattern import Meter
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.pads import read_pads
from trainer.records.midifile import TICKS_PER_QUARTER, RecordedTake, read_take, write_take

HALF_TICK_S = 60 / 40 / TICKS_PER_QUARTER / 2


def channels_of(take: RecordedTake) -> tuple[tuple[int, int], ...]:
    """Return (channel from 1, notes) for each channel used."""
    return tuple(sorted(Counter(note.channel + 1 for note in take.notes).items()))


def some_taps(count: int = 200) -> tuple[Tap, ...]:
    rng = random.Random(7)
    at_s, taps = 0.0, []
    for _ in range(count):
        at_s += rng.uniform(0.05, 0.7)
        string = rng.choice([1, 2, 3, 4])
        taps.append(Tap(song_s=at_s, hand=Hand.NAIL, string=string, velocity=rng.randint(1, 127)))
    return tuple(taps)


@pytest.mark.parametrize("bpm", ["40", "97.3", "133", "240"])
def test_a_take_comes_back_within_half_a_tick(tmp_path: Path, bpm: str) -> None:
    path, taps = tmp_path / "take.mid", some_taps()
    write_take(path, taps, Timeline.steady(bpm), Meter.TWO_FOUR)
    take = read_take(path)
    assert take.own
    for wrote, read in zip(taps, take.taps(), strict=True):
        assert read.song_s == pytest.approx(wrote.song_s, abs=HALF_TICK_S)
        assert (read.hand, read.string, read.velocity) == (wrote.hand, wrote.string, wrote.velocity)


def test_other_libraries_read_our_files_the_same(tmp_path: Path) -> None:
    """Outside check: pretty_midi (its own tempo map) and mido (its own clock of seconds)."""
    path, taps = tmp_path / "take.mid", some_taps()
    timeline = Timeline.steady("97.3").with_tempo("133", from_beat=Fraction(32))
    write_take(path, taps, timeline, Meter.TWO_FOUR, title="Stroll")
    ours = [tap.song_s for tap in read_take(path).taps()]
    other = pretty_midi.PrettyMIDI(str(path))
    theirs = sorted(note.start for instrument in other.instruments for note in instrument.notes)
    assert theirs == pytest.approx(ours, abs=1e-6)
    seconds, by_mido = 0.0, []
    for message in mido.MidiFile(path):
        seconds += message.time
        if message.type == "note_on" and message.velocity:
            by_mido.append(seconds)
    assert by_mido == pytest.approx(ours, abs=1e-6)
    assert [(t.numerator, t.denominator) for t in other.time_signature_changes] == [(2, 4)]
    assert other.get_tempo_changes()[1][0] == pytest.approx(97.3, abs=1e-3)


def test_six_eight_is_counted_in_dotted_quarters(tmp_path: Path) -> None:
    """Source: Standard MIDI Files 1.0: tempo is microseconds a quarter note, whatever the meter."""
    path = tmp_path / "take.mid"
    write_take(path, some_taps(5), Timeline.steady(60), Meter.SIX_EIGHT)
    take = read_take(path)
    assert take.bpm == pytest.approx(90.0)
    assert take.bpm is not None
    assert take.bpm / Meter.SIX_EIGHT.beat_quarters == pytest.approx(60.0)
    assert b"\xff\x58\x04\x06\x03" in path.read_bytes()


@pytest.mark.parametrize(
    ("bpm", "tempo"),
    [
        (60, "0F4240"),
        (72, "0CB735"),
        (90, "0A2C2B"),
        (100, "0927C0"),
        (120, "07A120"),
        (140, "068A1B"),
        (160, "05B8D8"),
    ],
)
def test_tempo_bytes_are_the_standards(tmp_path: Path, bpm: int, tempo: str) -> None:
    """Source: Standard MIDI Files 1.0, FF 51 03 tttttt: microseconds a quarter note."""
    path = tmp_path / "take.mid"
    write_take(path, some_taps(2), Timeline.steady(bpm), Meter.FOUR_FOUR)
    assert bytes.fromhex(f"FF5103{tempo}") in path.read_bytes()


VLQ = {
    0x00: "00", 0x40: "40", 0x7F: "7F", 0x80: "8100", 0x2000: "C000", 0x3FFF: "FF7F", 0x4000: "818000",
    0x100000: "C08000", 0x1FFFFF: "FFFF7F", 0x200000: "81808000", 0x8000000: "C0808000",
    0x0FFFFFFF: "FFFFFF7F",
}  # fmt: skip


@pytest.mark.parametrize(("ticks", "coded"), VLQ.items())
def test_delta_times_are_read_as_the_standards_table_says(tmp_path: Path, ticks: int, coded: str) -> None:
    """Source: the table of variable-length quantities in Standard MIDI Files 1.0."""
    body = bytes.fromhex(f"{coded} 90 3E 40 00 3E 00 00 FF 2F 00")
    path = tmp_path / "hand.mid"
    path.write_bytes(
        b"MThd" + bytes.fromhex("00000006 0000 0001 7FFF") + b"MTrk" + len(body).to_bytes(4, "big") + body
    )
    (note,) = read_take(path).notes
    assert note.file_s == pytest.approx(ticks * 0.5 / 0x7FFF, rel=1e-12)
    assert read_take(path).bpm is None


def test_a_delta_time_that_we_write_is_the_standards(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    second = 0x2000 * 60 / 60 / TICKS_PER_QUARTER
    write_take(path, (Tap(song_s=second, hand=Hand.NAIL, string=1),), Timeline.steady(60), Meter.TWO_FOUR)
    assert bytes.fromhex("C000 90 3E") in path.read_bytes()


def test_taps_before_beat_nought_are_kept_by_a_lead(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    taps = (Tap(song_s=-0.030, hand=Hand.NAIL, string=3), Tap(song_s=0.5, hand=Hand.THUMB, string=5))
    write_take(path, taps, Timeline.steady(60), Meter.TWO_FOUR, lead_s=2.0)
    assert [t.song_s for t in read_take(path).taps(offset_s=2.0)] == pytest.approx(
        [-0.030, 0.5], abs=HALF_TICK_S
    )


def test_a_recorders_file_is_read_by_the_pads_named(tmp_path: Path) -> None:
    path = tmp_path / "recorder.mid"
    midi = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    for note, gap in ((36, 480), (38, 240), (36, 240), (99, 10)):
        track.append(mido.Message("note_on", channel=9, note=note, velocity=80, time=gap))
    midi.tracks.append(track)
    midi.save(path)
    take = read_take(path)
    assert not take.own
    assert [t.hand for t in take.taps()] == [None] * 4
    named = take.taps(read_pads("nail=36,thumb=38"))
    assert [(t.song_s, t.hand) for t in named] == [(0.5, Hand.NAIL), (0.75, Hand.THUMB), (1.0, Hand.NAIL)]
    assert channels_of(take) == ((10, 4),)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a readable MIDI file"),
        (b"RIFF....WAVE", "not a readable MIDI file"),
        (bytes.fromhex("4D546864 00000006 0002 0001 0060 4D54726B 00000004 00FF2F00"), "type 2"),
        (bytes.fromhex("4D546864 00000006 0003 0001 0060 4D54726B 00000004 00FF2F00"), "not a readable"),
        (bytes.fromhex("4D546864 00000006 FFFF 0001 0060 4D54726B 00000004 00FF2F00"), "not a readable"),
        (bytes.fromhex("4D546864 00000006 0000 0001 E728 4D54726B 00000004 00FF2F00"), "counts film frames"),
        (bytes.fromhex("4D546864 00000006 0000 0001 0000 4D54726B 00000004 00FF2F00"), "counts film frames"),
        (bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B 00000004 00FF2F00"), "holds no note"),
    ],
)
def test_what_is_no_take_is_one_sentence(tmp_path: Path, data: bytes, says: str) -> None:
    path = tmp_path / "bad.mid"
    path.write_bytes(data)
    with pytest.raises(BadTake, match=says):
        read_take(path)


def smf(body: str, *, division: str = "0060") -> bytes:
    """Return a file of type 0 with one track; the end of the track is added."""
    track = bytes.fromhex(body + "00FF2F00")
    head = b"MThd" + bytes.fromhex(f"00000006 0000 0001 {division}")
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


def test_a_note_years_away_is_refused(tmp_path: Path) -> None:
    """A delta of 0FFFFFFF ticks at one tick to a quarter of 0.5 s is 134,217,727 s, four years."""
    path = tmp_path / "far.mid"
    path.write_bytes(smf("FFFFFF7F 90 3E 40", division="0001"))
    with pytest.raises(BadTake, match="has a note after 37283 hours of at most 24"):
        read_take(path)


def test_files_beyond_the_limits_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "many.mid"
    path.write_bytes(smf("00 90 3E 40" + "01 3E 40" * 9))
    monkeypatch.setattr("trainer.records.midifile.MOST_NOTES", 10)
    assert len(read_take(path).notes) == 10
    monkeypatch.setattr("trainer.records.midifile.MOST_NOTES", 9)
    with pytest.raises(BadTake, match="holds more than 9 notes"):
        read_take(path)
    monkeypatch.setattr("trainer.records.midifile.LARGEST_FILE_BYTES", path.stat().st_size - 1)
    with pytest.raises(BadTake, match="bytes long and at most"):
        read_take(path)


def test_what_a_recorder_may_write_between_the_notes_is_passed_over(tmp_path: Path) -> None:
    """Source: Standard MIDI Files 1.0: running status, velocity 0, system exclusive, unknown metas.

    At 96 ticks to a quarter of 0.5 s: a note at tick 0, its end by velocity 0 at 48, system exclusive, a
    meta event of an unknown kind (60), a tempo of 1 s a quarter at 96, a controller, a note at 192.
    """
    path = tmp_path / "busy.mid"
    path.write_bytes(
        smf(
            "00 99 24 64 30 24 00 00 F0 03 7E 01 F7 00 FF 60 02 AA BB"
            "30 FF 51 03 0F4240 00 B9 07 7F 60 99 26 50"
        )
    )
    take = read_take(path)
    assert [(n.file_s, n.note, n.velocity) for n in take.notes] == [(0, 36, 100), (1.5, 38, 80)]
    assert channels_of(take) == ((10, 2),)
    assert take.bpm == pytest.approx(60.0)


def test_notes_of_several_tracks_are_told_in_order_of_time(tmp_path: Path) -> None:
    midi = mido.MidiFile(type=1, ticks_per_beat=480)
    for offset in (240, 0):
        track = mido.MidiTrack()
        for step in range(3):
            gap = 480 if step else offset
            track.append(mido.Message("note_on", note=60 + offset // 240, velocity=64, time=gap))
        midi.tracks.append(track)
    path = tmp_path / "two.mid"
    midi.save(path)
    assert [(n.file_s, n.note) for n in read_take(path).notes] == [
        (0.0, 60), (0.25, 61), (0.5, 60), (0.75, 61), (1.0, 60), (1.25, 61),
    ]  # fmt: skip


def test_the_hands_of_a_take_come_back_even_where_none_is_known(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    hands = (Hand.NAIL, Hand.THUMB, Hand.LEFT, None)
    taps = tuple(Tap(song_s=0.5 * i, hand=hand, string=2) for i, hand in enumerate(hands))
    write_take(path, taps, Timeline.steady(90), Meter.FOUR_FOUR)
    assert [tap.hand for tap in read_take(path).taps()] == list(hands)
    assert channels_of(read_take(path)) == ((1, 1), (2, 1), (3, 1), (4, 1))


def test_the_lead_is_told_by_the_file_itself(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    write_take(path, some_taps(3), Timeline.steady("97.3"), Meter.THREE_FOUR, lead_s=1.85)
    assert read_take(path).beat_0_s == pytest.approx(1.85, abs=HALF_TICK_S)
    write_take(path, some_taps(3), Timeline.steady("97.3"), Meter.THREE_FOUR)
    assert read_take(path).beat_0_s == 0.0


def test_tempo_changes_move_no_tap(tmp_path: Path) -> None:
    timeline = Timeline.steady("61")
    for step, bpm in enumerate(["133", "97.3", "240", "40"], start=1):
        timeline = timeline.with_tempo(bpm, from_beat=Fraction(16 * step))
    path, taps = tmp_path / "take.mid", some_taps(300)
    write_take(path, taps, timeline, Meter.SIX_EIGHT, lead_s=3.0)
    take = read_take(path)
    read = [tap.song_s for tap in take.taps(offset_s=take.beat_0_s)]
    assert read == pytest.approx([tap.song_s for tap in taps], abs=2 * HALF_TICK_S)
    tempi = pretty_midi.PrettyMIDI(str(path)).get_tempo_changes()[1]
    assert tempi == pytest.approx([91.5, 199.5, 145.95, 360, 60], abs=2e-3)


def test_missing_files_and_folders_are_said_to_be(tmp_path: Path) -> None:
    with pytest.raises(BadTake, match="there is no file"):
        read_take(tmp_path / "none.mid")
    with pytest.raises(BadTake, match="is a folder"):
        read_take(tmp_path)
    with pytest.raises(StoreProblem, match="cannot be written"):
        write_take(tmp_path / "no" / "take.mid", some_taps(1), Timeline.steady(60), Meter.TWO_FOUR)


def test_a_title_is_written_as_the_files_name_and_none_where_there_is_none(tmp_path: Path) -> None:
    for title, names in (("Stroll", ["Stroll"]), ("", [])):
        path = tmp_path / "take.mid"
        write_take(path, some_taps(4), Timeline.steady(60), Meter.TWO_FOUR, title=title)
        assert [m.name for m in mido.MidiFile(path).tracks[0] if m.type == "track_name"] == names


def test_damaged_files_give_a_take_or_a_sentence_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "take.mid"
    write_take(path, some_taps(40), Timeline.steady("97.3"), Meter.TWO_FOUR, title="Stroll")
    whole = path.read_bytes()
    rng = random.Random(11)
    refused = 0
    for _ in range(1500):
        data = bytearray(whole)
        for _slip in range(rng.randint(1, 4)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        if rng.random() < 0.3:
            del data[rng.randrange(len(data)) :]
        path.write_bytes(bytes(data))
        try:
            read_take(path)
        except BadTake:
            refused += 1
    assert refused > 300


def test_mido_writes_the_same_table_of_quantities() -> None:
    """Outside check: the library that writes our files codes the standard's table."""
    for ticks, coded in VLQ.items():
        midi = mido.MidiFile(type=0, ticks_per_beat=96)
        midi.tracks.append(mido.MidiTrack([mido.Message("note_on", note=62, velocity=64, time=ticks)]))
        buffer = io.BytesIO()
        midi.save(file=buffer)
        assert bytes.fromhex(coded + "903E40") in buffer.getvalue()


def test_the_tempo_of_a_recording_is_the_first_that_stands_in_it(tmp_path: Path) -> None:
    midi = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    midi.tracks.append(track)
    for bpm in (90, 120, 60):
        track.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(bpm), time=480))
        track.append(mido.Message("note_on", note=60, velocity=64, time=0))
    midi.save(tmp_path / "take.mid")
    assert read_take(tmp_path / "take.mid").bpm == pytest.approx(90, abs=0.01)
