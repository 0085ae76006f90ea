"""Know whether a measurement's own apparatus kept time, and measure again where it did not.

What is measured here hangs on other programs than ours: a JACK server, SDL's drivers, a second process, and
a machine that may be doing anything else besides. What such a run finds says nothing of the program. So the
machine is watched while a measurement runs, by a process that does nothing but sleep and look at the clock.
Where that was late, or a device ran dry, the measurement is made again, and after some attempts the test is
skipped with its reason. It fails only on a machine that kept time.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeVar

import pytest

T = TypeVar("T")
ATTEMPTS = 3
MOST_LATE_MS = 2.0  # of 99 wake-ups in 100: on a machine at rest it is 0.2
SLEEPER = """
import sys, time
sys.stdout.reconfigure(line_buffering=True)
sys.stdout.write("ready\\n")
while True:
    due = time.perf_counter() + 0.002
    time.sleep(0.002)
    sys.stdout.write(f"{(time.perf_counter() - due) * 1000:.3f}\\n")
"""


class ApparatusFailed(Exception):
    """The machine or a device that measures did not keep time: what was found says nothing of the program."""


@dataclass
class Machine:
    """How late a process was woken that only slept, in ms: of 99 wake-ups in 100, and at most."""

    p99_ms: float = 0.0
    worst_ms: float = 0.0

    def must_have_kept_time(self, most_ms: float = MOST_LATE_MS) -> None:
        """Raise ApparatusFailed where the machine was too busy to measure on."""
        if self.p99_ms > most_ms:
            raise ApparatusFailed(
                f"the machine is busy: a process that only sleeps was woken {self.p99_ms:.1f} ms late "
                f"(1 in 100), {self.worst_ms:.0f} ms at most"
            )


@contextmanager
def watched() -> Iterator[Machine]:
    """Watch the machine while a measurement runs; what was found is there when it is over."""
    machine = Machine()
    sleeper = subprocess.Popen([sys.executable, "-c", SLEEPER], stdout=subprocess.PIPE, text=True)
    assert sleeper.stdout is not None
    assert sleeper.stdout.readline() == "ready\n"
    try:
        yield machine
    finally:
        sleeper.terminate()
        written, _ = sleeper.communicate(timeout=30)
        # The last line may have been cut.
        late = sorted(float(line) for line in written.split("\n")[:-1])
        if late:
            machine.p99_ms = late[min(len(late) - 1, round(0.99 * len(late)))]
            machine.worst_ms = late[-1]


def measured(measure: Callable[[int], T], attempts: int = ATTEMPTS) -> T:
    """Return what a measurement gives; where its apparatus failed make it again, and at last skip the test.

    The apparatus has failed where the measurement says so, and where one of its assertions fails while the
    machine does not keep time: JACK itself then drops notes and forgets connections.

    Args:
        measure: takes the number of the attempt, from 0; raises ApparatusFailed.
    """
    for attempt in range(attempts):
        with watched() as machine:
            try:
                return measure(attempt)
            except ApparatusFailed as failed:
                why = str(failed)
            except AssertionError as failed:
                wrong = failed
                why = ""
        if not why:
            try:
                machine.must_have_kept_time()
            except ApparatusFailed as failed:
                why = f"{failed}; then: {wrong}"
            else:
                raise wrong
        sys.stdout.write(f"\nattempt {attempt + 1} of {attempts}: {why}\n")
    pytest.skip(f"NOT MEASURED, {attempts} times over: {why}")
