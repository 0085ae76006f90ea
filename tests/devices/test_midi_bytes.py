"""MIDI bytes by the standard."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.devices.midi_bytes import MidiBytes, NoteOn


def note_ons(text: str) -> list[NoteOn]:
    return list(MidiBytes().note_ons(bytes.fromhex(text)))


def on(note: int, velocity: int, channel: int = 0) -> NoteOn:
    return NoteOn(channel=channel, note=note, velocity=velocity)


def test_running_status_and_velocity_nought() -> None:
    """Source: MIDI 1.0 Detailed Specification (from memory): 90 43 64, then 43 00 is one on and one off."""
    assert note_ons("90 43 64 43 00 45 10") == [on(0x43, 0x64), on(0x45, 0x10)]


@pytest.mark.parametrize("real_time", ["F8", "FE", "FA", "FC", "FF"])
@pytest.mark.parametrize("at", range(6))
def test_real_time_bytes_anywhere_change_nothing(real_time: str, at: int) -> None:
    """Source: MIDI 1.0: real-time messages may stand inside other messages and keep running status."""
    data = ["90", "43", "64", "43", "20", "40"]
    data.insert(at, real_time)
    assert note_ons(" ".join(data)) == note_ons("90 43 64 43 20 40")


def test_system_exclusive_and_common_end_running_status() -> None:
    """Source: MIDI 1.0: data bytes after them without a new status mean nothing."""
    assert note_ons("90 43 64 F0 7E 43 20 F7 43 64") == [on(0x43, 0x64)]
    assert note_ons("90 43 64 F2 08 00 43 64") == [on(0x43, 0x64)]
    assert note_ons("90 43 64 F6 43 64 91 40 40") == [on(0x43, 0x64), on(0x40, 0x40, 1)]


def test_other_messages_are_passed_over_with_their_own_length() -> None:
    assert note_ons("C0 05 90 40 41 D1 20 E0 00 40 B0 07 64 80 40 00 99 24 7F") == [
        on(0x40, 0x41),
        on(0x24, 0x7F, 9),
    ]


@given(st.binary(max_size=60))
def test_any_bytes_give_notes_in_range_and_never_an_error(data: bytes) -> None:
    for note in MidiBytes().note_ons(data):
        assert 0 <= note.channel <= 15
        assert 0 <= note.note <= 127
        assert 1 <= note.velocity <= 127


@given(st.binary(max_size=40), st.integers(0, 40))
def test_bytes_mean_the_same_in_pieces(data: bytes, cut: int) -> None:
    whole, pieces = MidiBytes(), MidiBytes()
    assert whole.note_ons(data) == pieces.note_ons(data[:cut]) + pieces.note_ons(data[cut:])
