"""Real MIDI through JACK's dummy driver, played by another process. Run with -s to see the figures."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator

import numpy as np
import pytest

from tests.system.apparatus import ApparatusFailed, measured, watched
from tests.system.other_side import LONGEST_S, TOP, OtherPlayer, obeyed, watch
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs
from trainer.devices.midi_library import CLIENT_NAME, MidiLibrary
from trainer.devices.midi_services import LIBRARY_ERRORS, installed_libraries, library_named, made

pytestmark = pytest.mark.system

PERIOD_MS = 256 / 48
NOTES = 200
MOST_PERIODS = 8  # a server that keeps time delivers within two
NOTICE_S = 1.5
STREAM_S = 5


@pytest.fixture
def other() -> Iterator[OtherPlayer]:
    player = OtherPlayer("otherpad")
    yield player
    player.quit()


@pytest.fixture(params=[each.name for each in installed_libraries()] or ["none"])
def library(request: pytest.FixtureRequest, jack_server: str) -> MidiLibrary:
    """Each MIDI library that is installed here and knows JACK; all must pass the same tests."""
    assert os.environ["JACK_DEFAULT_SERVER"] == jack_server
    if request.param == "none":
        pytest.skip("no MIDI library is installed")
    if request.param == "pygame.midi" and sys.platform.startswith("linux"):
        pytest.skip("PortMidi knows only ALSA here, and that offers no port without a kernel module")
    return library_named(request.param)


@pytest.fixture
def midi(library: MidiLibrary) -> Iterator[MidiInputs]:
    inputs = MidiInputs(library.inputs())
    assert not inputs.note
    try:
        yield inputs
    finally:
        inputs.end()


def test_every_note_of_another_program_arrives_in_order_with_its_velocity(
    midi: MidiInputs, other: OtherPlayer
) -> None:
    sys.setswitchinterval(0.0005)  # as in a drill
    assert midi.open(VIRTUAL_NAME) == VIRTUAL_NAME
    obeyed(midi, other, f"connect {CLIENT_NAME}")

    def measure(_attempt: int) -> None:
        with watched() as machine:
            answer, taps = obeyed(midi, other, f"play {NOTES} 5")
        sent = np.array(answer["sent"], dtype=np.int64)
        # Every note, in order, is owed on any machine.
        assert [(tap.note, tap.velocity) for tap in taps] == [(int(n), int(v)) for _, n, v in sent]
        assert len(taps) == NOTES
        machine.must_have_kept_time()
        slowest_ms = max(tap.host_ns - at for tap, at in zip(taps, sent[:, 0], strict=True)) / 1e6
        if slowest_ms > MOST_PERIODS * PERIOD_MS:
            raise ApparatusFailed(f"JACK stood still: a note took {slowest_ms:.0f} ms")
        arrived_ns = np.array([tap.host_ns for tap in taps])
        lag_ms = (arrived_ns - sent[:, 0]) / 1e6
        spacing_ms = np.abs(np.diff(arrived_ns) - np.diff(sent[:, 0])) / 1e6
        sys.stdout.write(
            f"\n{NOTES} of {NOTES} notes; from send to stamp median {np.median(lag_ms):.2f} ms, "
            f"p99 {np.percentile(lag_ms, 99):.2f} ms; error of spacing median "
            f"{np.median(spacing_ms):.2f} ms, p99 {np.percentile(spacing_ms, 99):.2f} ms "
            f"(JACK delivers once in {PERIOD_MS:.2f} ms)\n"
        )
        assert lag_ms.min() > 0
        # Sent at any moment of a period, delivered at its end: half a period in the mean, one at the most.
        assert np.median(lag_ms) < PERIOD_MS
        driver_s = sum(tap.delta_s for tap in taps if tap.delta_s is not None)
        assert driver_s == pytest.approx((arrived_ns[-1] - arrived_ns[0]) / 1e9, abs=2 * PERIOD_MS / 1e3)

    measured(measure)


def test_a_port_is_noticed_both_ways_within_a_second_and_a_half_and_heard_again(
    midi: MidiInputs, other: OtherPlayer
) -> None:
    def noticed_s(line: str, *, present: bool) -> float:
        other.tell(line)
        _, notices = watch(midi, lambda: False, at_most_s=0.7)
        notices += watch(midi, lambda: bool(notices) and other.has_answered(), at_most_s=LONGEST_S)[1]
        assert other.has_answered()
        assert [(notice.name, notice.present) for _, notice in notices] == [("otherpad:out", present)]
        at_ns = notices[0][0]
        # Offering counts from when the port is there, withdrawing from when that began.
        return (at_ns - other.answers[-1]["ended_ns" if present else "began_ns"]) / 1e9

    def measure(attempt: int) -> list[float]:
        try:
            with watched() as machine:
                found = [figure for round_ in range(3) for figure in there_and_back(3 * attempt + round_)]
        except AssertionError:
            obeyed(midi, other, "withdraw")
            raise
        sys.stdout.write(f"\nnoticed after {np.round(found, 2)} s; {machine}\n")
        machine.must_have_kept_time()
        return found

    def there_and_back(round_: int) -> tuple[float, float]:
        came_s = noticed_s("offer", present=True)
        if round_ % 3 == 0 and not midi.open_name:
            assert midi.open("other") == "otherpad:out"
        assert midi.open_name == "otherpad:out"
        _, taps = obeyed(midi, other, f"note {60 + round_} 77")
        assert [(tap.note, tap.velocity) for tap in taps] == [(60 + round_, 77)]
        went_s = noticed_s("withdraw", present=False)
        assert midi.open_name == ""
        return came_s, went_s

    assert max(measured(measure)) <= NOTICE_S


def test_our_own_port_is_there_while_it_is_open_and_gone_afterwards(
    midi: MidiInputs, other: OtherPlayer
) -> None:
    midi.open(VIRTUAL_NAME)
    answer, _ = obeyed(midi, other, "ports")
    assert [CLIENT_NAME in port for port in answer["ports"]] == [True]
    midi.end()
    assert obeyed(midi, other, "ports")[0]["ports"] == []


def test_two_ports_of_one_name_are_told_apart(midi: MidiInputs, other: OtherPlayer) -> None:
    """JACK gives the second client of a name another one; a system that does not is asked for more words."""
    second = OtherPlayer("otherpad")

    def measure(_attempt: int) -> None:
        first_name, second_name = midi.ports()
        for name, player, note in ((first_name, other, 50), (second_name, second, 51)):
            assert midi.open(name) == name
            _, taps = obeyed(midi, player, f"note {note} 90")
            assert [tap.note for tap in taps] == [note]
            silent = second if player is other else other
            assert obeyed(midi, silent, "note 70 90", is_heard=False)[1] == []

    try:
        obeyed(midi, other, "offer")
        obeyed(midi, second, "offer")
        measured(measure)
    finally:
        second.quit()


def test_a_port_that_is_refused_is_an_error_and_not_the_end(library: MidiLibrary) -> None:
    """JACK refuses names over 320 characters (jack_port_name_size); rtmidi2 alone ended the program there."""
    for services in (library.inputs(), library.outputs()):
        raw = next(filter(None, (made(service) for service in services)))  # type: ignore[arg-type]
        with pytest.raises(LIBRARY_ERRORS):
            raw.open_virtual_port("n" * 400)
        raw.delete()


CLOSINGS = """
import sys, time
from trainer.devices.midi import MidiInputs
from trainer.devices.midi_services import library_named
sys.setswitchinterval(0.0005)
heard = 0
for _ in range(15):
    midi = MidiInputs(library_named(sys.argv[1]).inputs())
    midi.open("otherpad")
    until = time.perf_counter() + 0.03
    while time.perf_counter() < until:
        heard += len(midi.poll())
        sum(range(20_000))
    midi.end()
print(heard)
"""


def test_ports_are_closed_under_a_stream_of_notes_without_hanging_or_crashing(
    library: MidiLibrary, other: OtherPlayer
) -> None:
    """Closed at once, without hushing and waiting, python-rtmidi crashed here within ten rounds."""

    def measure(attempt: int) -> int:
        other.tell(f"stream {STREAM_S * 4**attempt}")
        ran = subprocess.run(
            [sys.executable, "-c", CLOSINGS, library.name],
            cwd=TOP,
            capture_output=True,
            text=True,
            timeout=LONGEST_S,
            check=False,
        )
        assert ran.returncode == 0, ran.stderr
        if other.has_answered():
            raise ApparatusFailed("the stream ended before the last closing")
        return int(ran.stdout)

    other.tell("offer")
    until_s = time.monotonic() + LONGEST_S
    while not other.has_answered() and time.monotonic() < until_s:
        time.sleep(0.01)
    assert measured(measure) > 100


def test_no_service_is_said_in_a_sentence_and_nothing_is_written_to_the_terminal() -> None:
    """The libraries write their complaints straight to the terminal, past Python."""
    lines = "from trainer.devices.midi import MidiInputs; m = MidiInputs(); print(m.note or 'there is MIDI')"
    again = "; [m._ask_missing() for _ in range(3)]; print(m.ports()); m.end()"
    ran = subprocess.run(
        [sys.executable, "-c", lines + again],
        env={**os.environ, "JACK_DEFAULT_SERVER": f"thumbfall-none-{os.getpid()}"},
        cwd=TOP,
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    assert ran.stderr == ""
    note, ports = ran.stdout.splitlines()
    assert note == "there is MIDI" or ("MIDI is off" in note and ports == "()")
