"""Another program that listens to MIDI: run by tests as a process of its own.

It offers a JACK port under the name given, says "ready", and at the end of its input writes one line of JSON:
a list of (host ns, bytes) as they arrived. The two processes share the host clock on Linux.
"""

import json
import sys
import time

from tests.system.peer import an_input


def main() -> None:
    """Listen until the input ends."""
    heard: list[tuple[int, list[int]]] = []

    def take(message: tuple[list[int], float], _data: object) -> None:
        heard.append((time.perf_counter_ns(), message[0]))

    sys.setswitchinterval(0.0005)
    port = an_input(sys.argv[1])
    port.set_callback(take)
    port.open_virtual_port("in")
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    sys.stdin.read()
    port.cancel_callback()
    port.close_port()
    port.delete()
    sys.stdout.write(json.dumps(heard) + "\n")


if __name__ == "__main__":
    main()
