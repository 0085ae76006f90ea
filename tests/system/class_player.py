"""Pupils with a port each: run by a test as a process of its own, told what to play line by line.

Usage: class_player.py COUNT. Offers the ports "Pad 1:out" and so on, and says "ready". Each line of its input
is a list of JSON, [host second, pad, note, velocity] of each touch in order, and is answered by a list of the
seconds at which they were really sent; the host's clock is one for all processes on Linux.
"""

import json
import sys
import time

from tests.system.peer import an_output

PAUSE_S = 0.0005


def main(count: int) -> None:
    """Play until the input ends."""
    sys.setswitchinterval(PAUSE_S)
    ports = []
    for number in range(1, count + 1):
        port = an_output(f"Pad {number}")
        port.open_virtual_port("out")
        ports.append(port)
    print("ready", flush=True)
    for line in sys.stdin:
        sent = []
        for due_s, pad, note, velocity in json.loads(line):
            while (left_s := due_s - time.perf_counter()) > 0:
                time.sleep(min(left_s, PAUSE_S) if left_s < 0.02 else left_s - 0.01)
            sent.append(time.perf_counter())
            ports[pad - 1].send_message([0x99, note, velocity])
        print(json.dumps(sent), flush=True)
    # A client that just vanishes holds the server up for seconds.
    for port in ports:
        port.delete()


if __name__ == "__main__":
    main(int(sys.argv[1]))
