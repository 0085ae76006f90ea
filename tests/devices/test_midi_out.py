"""Sending in time, with a fake driver and a clock that a test moves."""

import pytest

from tests.devices.fake_midi_out import FakeSystem
from tests.sound.helpers import plan_of
from trainer.devices.midi import SCAN_NS
from trainer.devices.midi_out import AHEAD_S, OFFERED_NAME, MidiOut
from trainer.errors import NoMidi
from trainer.sound.midi_out import CLOCK, CONTINUE, START, STOP, PadLights, Sending, due_messages

MS = 1_000_000
CLOCK_ONLY = Sending(clicks=False, echo=False)


def opened(*ports: str) -> tuple[FakeSystem, MidiOut]:
    system = FakeSystem(*(ports or ("Synth 20:0",)))
    out = MidiOut([system.make], system.clock, threaded=False)
    out.open(out.ports()[0])
    return system, out


def run(system: FakeSystem, out: MidiOut, seconds: float) -> None:
    """Let time go on as the thread does, 0.1 ms late each time it wakes up."""
    end = system.ns + round(seconds * 1e9)
    while system.ns < end:
        system.ns += round(out.look() * 1e9) + MS // 10


def times(system: FakeSystem, status: int) -> list[float]:
    return [ns / 1e9 for ns, data in system.sent if data[0] == status]


def test_each_message_is_sent_once_when_it_is_due() -> None:
    system, out = opened()
    plan = plan_of("97.3", passes=2)
    sending = Sending(lights=PadLights(nail=36, thumb=38))
    out.start(plan, sending, 0, -4.0)
    run(system, out, 12.0)
    wanted = list(due_messages(plan, sending, -4.0, 7.0))
    sent = system.sent[3:]  # after the opening: stop, position, sound of the banjo
    assert [data for _, data in system.sent[:3]] == [(STOP,), (0xF2, 0, 0), (0xC0, 105)]
    assert [data for _, data in sent] == [m.data for m in wanted]
    late = [ns / 1e9 - 4.0 - m.due_s for (ns, _), m in zip(sent, wanted, strict=True)]
    assert min(late) >= -0.00021
    assert max(late) < 0.0006
    assert out.lost == 0


def test_a_new_word_of_the_song_moves_what_is_sent() -> None:
    """The device runs one per cent slow: told each 16 ms, the clocks follow it."""
    system, out = opened()
    plan = plan_of("120")
    out.start(plan, CLOCK_ONLY, 0, 0.0)
    for _ in range(600):
        run(system, out, 0.016)
        out.follow(plan, system.ns, system.ns / 1e9 * 0.99)
    clocks = times(system, CLOCK)
    assert (clocks[-1] - clocks[100]) / (len(clocks) - 101) == pytest.approx(1 / 48 / 0.99, rel=1e-3)


def test_a_tempo_change_is_followed() -> None:
    system, out = opened()
    plan = plan_of("60")
    out.start(plan, CLOCK_ONLY, 0, 0.0)
    run(system, out, 1.0)
    faster = plan_of("60", changes=((4, "120"),))
    out.follow(faster, system.ns, system.ns / 1e9)
    run(system, out, 5.0)
    assert len([t for t in times(system, CLOCK) if 4.0005 < t <= 5.0005]) == 48


def test_after_a_long_hang_the_followers_are_placed_anew() -> None:
    system, out = opened()
    plan = plan_of("120")
    out.start(plan, CLOCK_ONLY, 0, -0.5)
    run(system, out, 2.0)
    system.sent.clear()
    system.ns += 900 * MS
    run(system, out, 1.0)
    kinds = [data[0] for _, data in system.sent[:4]]
    assert kinds == [STOP, 0xF2, CONTINUE, CLOCK]
    unit = system.sent[1][1][1]
    first_clock_s = times(system, CLOCK)[0] - 0.5
    assert first_clock_s == pytest.approx(unit * 0.125, abs=0.001), "a sixteenth at 120 is 125 ms"
    assert out.lost == 1


def test_stopping_ends_every_note_and_stops_the_followers() -> None:
    system, out = opened()
    out.start(plan_of("60"), Sending(lights=PadLights(nail=36, thumb=38)), 0, -0.02)
    run(system, out, 0.03)
    out.tap((55, 59), 90, system.ns)
    out.stop()
    on = [data[1] for _, data in system.sent if data[0] & 0xF0 == 0x90]
    off = [data[1] for _, data in system.sent if data[0] & 0xF0 == 0x80]
    assert {55, 59, 76} <= set(on)
    assert sorted(on) == sorted(off)
    assert system.sent[-1][1] == (STOP,)
    before = len(system.sent)
    run(system, out, 1.0)
    out.stop()
    assert len(system.sent) == before


def test_a_tap_is_sent_at_once_and_ends_by_itself() -> None:
    system, out = opened()
    out.start(plan_of("60"), Sending(clicks=False, clock=False), 0, 0.0)
    run(system, out, 0.5)
    tapped_ns = system.ns
    out.tap((62,), 100, tapped_ns)
    assert system.sent[-1] == (tapped_ns, (0x90, 62, 100))
    run(system, out, 0.6)
    ns, data = system.sent[-1]
    assert data == (0x80, 62, 0)
    assert (ns - tapped_ns) / 1e9 == pytest.approx(0.4, abs=0.011)


def test_nothing_is_sent_without_a_port_or_before_a_stream() -> None:
    system = FakeSystem("Synth 20:0")
    out = MidiOut([system.make], system.clock, threaded=False)
    out.start(plan_of("60"), Sending(), 0, 0.0)
    out.tap((62,), 100, 0)
    run(system, out, 1.0)
    assert system.sent == []


def test_an_unplugged_port_is_said_so_once_and_taken_up_again() -> None:
    system, out = opened("Synth 20:0")
    out.start(plan_of("60"), CLOCK_ONLY, 0, 0.0)
    system.ports.clear()
    system.ns += 2 * SCAN_NS
    assert out.scan() == 'The MIDI port "Synth" was unplugged; plug it in again and sending goes on.'
    assert (out.open_name, system.open) == ("", 0)
    system.ns += 2 * SCAN_NS
    assert out.scan() == ""
    system.ports.append("Synth 24:0")
    system.ns += 2 * SCAN_NS
    assert out.scan() == 'The MIDI port "Synth" is back.'
    assert (out.open_name, system.open) == ("Synth", 1)


def test_a_driver_that_fails_is_said_so_and_never_raises() -> None:
    system, out = opened()
    out.start(plan_of("60"), CLOCK_ONLY, 0, 0.0)
    system.fails = True
    run(system, out, 0.1)
    system.fails = False
    system.ns += 2 * SCAN_NS
    assert "was unplugged" in out.scan()


def test_ports_have_their_stable_names_and_our_own_is_not_among_them() -> None:
    system = FakeSystem("Synth 20:0", "Thumbfall:in 129:0", "Box (2)")
    out = MidiOut([system.make], system.clock, threaded=False)
    assert out.ports() == ("Synth", "Box")


def test_what_cannot_be_opened_is_refused_in_a_sentence() -> None:
    system = FakeSystem("Synth 20:0")
    out = MidiOut([system.make], system.clock, threaded=False)
    with pytest.raises(
        NoMidi, match=r'no MIDI port to send to is called "Organ" \(ports: Synth\); plug it in'
    ):
        out.open("Organ")
    system.refuses = True
    with pytest.raises(NoMidi, match='the MIDI port "Synth" was refused; another program may hold it'):
        out.open("Synth")
    none = MidiOut([], system.clock, threaded=False)
    with pytest.raises(NoMidi, match=r"this system offers no MIDI service|no MIDI library is installed"):
        none.open("Synth")


def test_a_port_can_be_offered_and_is_given_back_at_the_end() -> None:
    system = FakeSystem()
    out = MidiOut([system.make], system.clock, threaded=False)
    assert out.open(OFFERED_NAME) == OFFERED_NAME
    out.start(plan_of("120"), CLOCK_ONLY, 0, -0.1)
    run(system, out, 0.2)
    assert len(times(system, START)) == 1
    out.end()
    assert system.open == 0


def test_the_thread_itself_starts_and_ends() -> None:
    system = FakeSystem("Synth 20:0")
    out = MidiOut([system.make], system.clock)
    out.open("Synth")
    out.start(plan_of("120"), CLOCK_ONLY, 0, -AHEAD_S)
    out.end()
    assert system.open == 0
