"""Print what the MIDI libraries are worth, side by side, through JACK's dummy driver.

Run it with: python -m tests.benchmarks.midi_bench [--notes N]

Another process plays at random distances of 2 to 50 ms, always through the first library that is installed,
so all are measured against the same peer. A note waits for the end of JACK's period (5.33 ms), whichever
library hears it: what counts is how the columns differ, and that none is lost. "drawn" is heard while this
process blits over a picture of 1920 by 1080, sixty times a second. Wants jackd; Linux.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
import time
from collections.abc import Callable, Iterator

import numpy as np
import pygame

from tests.system.conftest import started_server
from tests.system.other_side import OtherPlayer, obeyed, watch
from trainer.devices.clock import now_ns
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs, MidiTap
from trainer.devices.midi_library import CLIENT_NAME, MidiLibrary
from trainer.devices.midi_out import MidiOut
from trainer.devices.midi_services import LIBRARY_ERRORS, installed_libraries, made, output_to

SWITCH_INTERVAL_S = 0.0005  # as in a drill
FRAME_S = 1 / 60
ROUNDS = 5


def heard(midi: MidiInputs, other: OtherPlayer, notes: int, draw: Callable[[], None]) -> dict[str, str]:
    """Hear a stream of notes while something is drawn, and say how it came."""
    other.tell(f"play {notes} 5")
    taps: list[MidiTap] = []
    end = time.monotonic() + 120
    next_s = time.perf_counter()
    while not other.has_answered() and time.monotonic() < end:
        taps += midi.poll()
        if time.perf_counter() >= next_s:
            draw()
            next_s += FRAME_S
        time.sleep(0.001)
    taps += watch(midi, lambda: False, at_most_s=0.1)[0]
    sent = np.array(other.answers[-1]["sent"], dtype=np.int64)
    found = {"heard": f"{len(taps)} of {len(sent)}"}
    if len(taps) != len(sent):
        return {**found, "in order": "lost notes"}
    in_order = [tap.note for tap in taps] == [int(note) for _, note, _ in sent]
    at = np.array([tap.host_ns for tap in taps])
    way_ms = (at - sent[:, 0]) / 1e6
    apart_ms = np.abs(np.diff(at) - np.diff(sent[:, 0])) / 1e6
    return {
        **found,
        "in order": "yes" if in_order else "NO",
        "sent to stamp, median, ms": f"{np.median(way_ms):.2f}",
        "sent to stamp, p99, ms": f"{np.percentile(way_ms, 99):.2f}",
        "error of spacing, median, ms": f"{np.median(apart_ms):.2f}",
        "error of spacing, p99, ms": f"{np.percentile(apart_ms, 99):.2f}",
    }


def noticed(midi: MidiInputs, other: OtherPlayer) -> dict[str, str]:
    """Plug a port in and out and say how soon that was seen, and whether it is heard again."""
    came: list[float] = []
    went: list[float] = []
    again = 0
    for round_ in range(ROUNDS):
        for line, key, times in (("offer", "ended_ns", came), ("withdraw", "began_ns", went)):
            other.tell(line)
            _, notices = watch(midi, lambda: False, at_most_s=1.2)
            times += [(ns - other.answers[-1][key]) / 1e9 for ns, _ in notices]  # type: ignore[literal-required]
            if line == "offer":
                if round_ == 0:
                    midi.open("benchpad")
                again += len(obeyed(midi, other, f"note {60 + round_} 77")[1])
    return {
        "plugged in, seen after, s": f"{np.median(came):.2f}, at most {max(came):.2f}",
        "pulled out, seen after, s": f"{np.median(went):.2f}, at most {max(went):.2f}",
        "heard after each plugging in": f"{again} of {ROUNDS}",
    }


def one_name(midi: MidiInputs, other: OtherPlayer) -> str:
    """Say whether two ports of one name are told apart."""
    second = OtherPlayer("benchpad")
    try:
        obeyed(midi, other, "offer")
        obeyed(midi, second, "offer")
        names = midi.ports()
        right = 0
        for name, player in zip(names, (other, second), strict=False):
            midi.open(name)
            right += [tap.note for tap in obeyed(midi, player, "note 50 90")[1]] == [50]
        obeyed(midi, other, "withdraw")
        return f"yes: {' and '.join(names)}" if right == len(names) == 2 else f"NO: {names}"
    finally:
        second.quit()


def sent_in_time(library: MidiLibrary, seconds: float) -> dict[str, str]:
    """Send clocks to a port of our own, 20.833 ms apart, and say how late they are heard."""
    ears = MidiInputs(library.inputs())
    out = MidiOut(library.outputs("Thumb sender"), threaded=False)
    try:
        began = time.perf_counter()
        ears.open(VIRTUAL_NAME)
        opened_s = time.perf_counter() - began
        raw = output_to(CLIENT_NAME, "Bench sender", library)
        assert raw is not None
        due = time.perf_counter() + 0.1
        sent: list[int] = []
        taps: list[MidiTap] = []
        for number in range(round(seconds / 0.020833)):
            due += 0.020833
            while (left := due - time.perf_counter()) > 0:
                time.sleep(min(left, 0.0005))
            sent.append(now_ns())
            raw.send_message((0x90, number % 128, 64))
            taps += ears.poll()
        time.sleep(0.1)
        taps += ears.poll()
        raw.close_port()
        raw.delete()
    finally:
        out.end()
        ears.end()
    late = np.array([tap.host_ns for tap in taps[: len(sent)]]) - np.array(sent[: len(taps)])
    return {
        "sent and heard, both ours": f"{len(taps)} of {len(sent)}",
        "  way, median / p99, ms": f"{np.median(late) / 1e6:.2f} / {np.percentile(late, 99) / 1e6:.2f}",
        "opening a port takes, s": f"{opened_s:.2f}",
    }


def refused(library: MidiLibrary) -> str:
    """Say what a refusal of the system is."""
    raw = next(filter(None, (made(each) for each in library.inputs())))
    try:
        raw.open_virtual_port("n" * 400)
    except LIBRARY_ERRORS as err:
        return f"an error ({type(err).__name__})"
    finally:
        raw.delete()
    return "NOT NOTICED"


def measured(library: MidiLibrary, notes: int) -> dict[str, str]:
    """Return every figure of one library."""
    midi = MidiInputs(library.inputs())
    if midi.note:
        return {"heard": "no service here"}
    surface = pygame.Surface((1920, 1080))
    layer = pygame.Surface((640, 360), pygame.SRCALPHA)
    layer.fill((80, 90, 200, 90))

    def draw() -> None:
        for n in range(4):
            surface.blit(layer, (100 + 300 * n, 200))

    other = OtherPlayer("benchpad")
    try:
        midi.open(VIRTUAL_NAME)
        obeyed(midi, other, f"connect {CLIENT_NAME}")
        idle = heard(midi, other, notes, lambda: None)
        drawn = heard(midi, other, notes, draw)
        midi.close()
        obeyed(midi, other, "withdraw")
        watch(midi, lambda: False, at_most_s=1.5)
        ports = noticed(midi, other)
        apart = one_name(midi, other)
    finally:
        other.quit()
        midi.end()
    return {
        **{f"{name}": value for name, value in idle.items()},
        **{f"drawn: {name}": value for name, value in drawn.items()},
        **ports,
        "two ports of one name": apart,
        **sent_in_time(library, 10.0),
        "a port that is refused": refused(library),
    }


@contextlib.contextmanager
def a_server() -> Iterator[None]:
    """Run a JACK server for this process and those it starts."""
    name, server = started_server()
    os.environ.update(JACK_NO_START_SERVER="1", JACK_DEFAULT_SERVER=name)
    try:
        yield
    finally:
        server.terminate()
        server.wait(10)


def main(arguments: list[str]) -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--notes", type=int, default=400)
    options = parser.parse_args(arguments)
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    with a_server():
        found = {each.name: measured(each, options.notes) for each in installed_libraries()}
    rows = list(dict.fromkeys(name for column in found.values() for name in column))
    print(f"{'':34}" + "".join(f"{name:>42}" for name in found))
    for row in rows:
        print(f"{row:34}" + "".join(f"{column.get(row, '-'):>42}" for column in found.values()))


if __name__ == "__main__":
    main(sys.argv[1:])
