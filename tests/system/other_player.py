"""Another program that plays MIDI: run by tests as a process of its own, told what to do line by line.

    connect PART        open the first port whose name has a part in it
    offer               offer a port of its own, by the client's name given as the first argument
    play COUNT SEED     send notes at random distances of 2 to 50 ms
    stream SECONDS      send a note each millisecond
    note NOTE VELOCITY  send one note
    withdraw            close the port
    ports               tell the names of the ports that can be opened
    quit

Each line is answered by one line of JSON with the host clock, which the two processes share on Linux.
"""

import json
import random
import sys
import time
from collections.abc import Iterator

from tests.system.peer import an_output
from trainer.devices.midi_library import RawOutput


class Player:
    """One MIDI output."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.out: RawOutput | None = None
        self.ports: list[str] = []

    def obey(self, word: str, *args: str) -> list[tuple[int, int, int]]:
        """Do what a line says and return what was sent: (host_ns, note, velocity)."""
        if word == "connect":
            self.out = an_output(self.name)
            ports = self.out.get_ports()
            self.out.open_port(next(i for i, port in enumerate(ports) if args[0] in port), "out")
        elif word == "offer":
            self.out = an_output(self.name)
            self.out.open_virtual_port("out")
        elif word == "ports":
            looking = an_output(self.name)
            self.ports = looking.get_ports()
            looking.delete()
        elif word == "withdraw" and self.out is not None:
            # A client that just vanishes holds the server up for five seconds.
            self.out.delete()
            self.out = None
        return list(self._sent(word, args))

    def _sent(self, word: str, args: tuple[str, ...]) -> Iterator[tuple[int, int, int]]:
        if word == "note":
            yield self._send(int(args[0]), int(args[1]))
        elif word == "play":
            rng = random.Random(int(args[1]))
            for i in range(int(args[0])):
                yield self._send(i % 128, rng.randint(1, 127))
                time.sleep(rng.uniform(0.002, 0.050))
        elif word == "stream":
            until = time.monotonic() + float(args[0])
            while time.monotonic() < until:
                self._send(time.perf_counter_ns() // 1_000_000 % 128, 64)
                time.sleep(0.001)

    def _send(self, note: int, velocity: int) -> tuple[int, int, int]:
        assert self.out is not None
        stamp = time.perf_counter_ns()
        self.out.send_message([0x90, note, velocity])
        return stamp, note, velocity


def main() -> None:
    """Obey until told to quit or left alone."""
    player = Player(sys.argv[1])
    for line in sys.stdin:
        words = line.split()
        if words == ["quit"]:
            break
        began = time.perf_counter_ns()
        sent = player.obey(*words)
        answer = {"began_ns": began, "ended_ns": time.perf_counter_ns(), "sent": sent, "ports": player.ports}
        sys.stdout.write(json.dumps(answer) + "\n")
        sys.stdout.flush()
    player.obey("withdraw")


if __name__ == "__main__":
    main()
