"""Kill the window in a real drill that is tapped on a virtual screen, and look what is lost of the take.

Run it with ``python -m tests.benchmarks.kill_study --window N``; it wants Xvfb and xdotool. Each time the
program is started as a player starts it (``thumbfall drill``), the key of the nail is pressed at the pace of
a player, and at a random moment the program is killed (SIGKILL). The next start must find the take, with
every tap but perhaps the last, and every take of the kills before.

A tap that is sent is not yet a tap that the program has: on a busy machine it may stand ready for longer than
lies between two taps without being run. Linux counts that time (/proc/PID/schedstat); a take that lacks taps
after such a wait is counted apart, for the program was never given them.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from tests.system.virtual_screen import virtual_screen
from trainer.app.recording import Recorder
from trainer.records.store import FILE_NAME

ROOT = Path(__file__).parents[2]
SCREEN = "1280x720x24"
READY_S = 120.0  # on a busy machine; longer is a hang
SAID_EACH = 25
BETWEEN_S = (0.06, 0.2)  # two taps
KEPT_WAITING_S = BETWEEN_S[0] / 2  # since the last tap but one: then two taps may wait for the program
MOST_TAPS = 15
CAUTIONS_SEEN = '{"cautions_seen": true, "tap_sound": false}'


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """What came of one kill.

    Attributes:
        given: taps that were sent.
        found: taps in the records.
        takes_lost: takes that should be there and are not.
        waited_s: how long the program stood ready without being run since the last tap but one.
    """

    given: int
    found: int
    takes_lost: int
    waited_s: float

    @property
    def lacks_more(self) -> bool:
        """Whether more than the last tap is not there."""
        return self.given - self.found > 1

    @property
    def was_kept_waiting(self) -> bool:
        """Whether the machine was too busy to give the program its taps."""
        return self.waited_s > KEPT_WAITING_S


def window_study(kills: int, seed: int) -> str:
    """Kill so many times, all on one file of records; return what was lost in words."""
    chance = random.Random(seed)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name, virtual_screen(SCREEN) as display:
        home = Path(name)
        (home / "config" / "thumbfall").mkdir(parents=True)
        (home / "config" / "thumbfall" / "settings.json").write_text(CAUTIONS_SEEN)
        found: list[Lost] = []
        for number in range(1, kills + 1):
            found.append(one_kill(home, f":{display}", chance, number))
            if number % SAID_EACH == 0:
                print(f"{number} kills: {in_words(found)}", flush=True)
    seconds = time.monotonic() - began
    return f"{kills} kills of the window in a drill in {seconds:.0f} s, seed {seed}\n{in_words(found)}"


def in_words(found: Sequence[Lost]) -> str:
    """Say what was lost."""
    more = [each for each in found if each.lacks_more]
    return (
        f"taps given {sum(each.given for each in found)}; takes that lack their last tap "
        f"{sum(each.given - each.found == 1 for each in found)}, "
        f"that lack more {sum(not each.was_kept_waiting for each in more)}, besides "
        f"{sum(each.was_kept_waiting for each in more)} whose program the machine kept waiting; "
        f"takes lost {sum(each.takes_lost for each in found)}"
    )


def one_kill(home: Path, screen: str, chance: random.Random, number: int) -> Lost:
    """Start the program, tap, kill it, and look into the records as the next start does."""
    env = {
        **{k: v for k, v in os.environ.items() if not k.startswith(("XDG_", "SDL_", "WAYLAND"))},
        "HOME": str(home),
        "XDG_CONFIG_HOME": str(home / "config"),
        "XDG_DATA_HOME": str(home / "data"),
        "PYTHONPATH": str(ROOT),
        "DISPLAY": screen,
        "SDL_VIDEODRIVER": "x11",
        "SDL_AUDIODRIVER": "dummy",
        "PYTHONFAULTHANDLER": "1",
    }
    command = [sys.executable, "-m", "trainer", "drill", "basic-figure", "--bpm", "200", "--passes", "0"]
    errors = home / "errors.txt"
    with errors.open("w") as written:
        program = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL, stderr=written)
    records = home / "data" / "thumbfall" / FILE_NAME
    try:
        window = _window_of(program, env)
        given = _first_taps(window, env, records.with_name("running"))
        at_tap_s = [_waited_s(program.pid)] * 2
        for _ in range(chance.randint(0, MOST_TAPS)):
            at_tap_s.append(_waited_s(program.pid))
            _press(window, env)
            given += 1
            time.sleep(chance.uniform(*BETWEEN_S))
        waited_s = _waited_s(program.pid) - at_tap_s[-2]
    except TimeoutError as late:
        ended = program.poll()
        program.send_signal(signal.SIGABRT)  # makes it write where it stands
        program.wait()
        raise TimeoutError(f"{late}; kill {number}, ended with {ended}:\n{errors.read_text()}") from None
    finally:
        program.send_signal(signal.SIGKILL)
        program.wait()
    recorder, note = Recorder.open(records, lambda: datetime.now(UTC))
    assert recorder.store is not None, note
    newest = recorder.store.takes(limit=1)[0]
    lost = Lost(
        given=given,
        found=len(recorder.store.take(newest.id).taps),
        takes_lost=number - recorder.store.count(),
        waited_s=waited_s,
    )
    recorder.close()
    return lost


def _first_taps(window: str, env: dict[str, str], folder: Path) -> int:
    """Press until the drill takes taps in; return how many it has then."""
    end = time.monotonic() + READY_S
    while time.monotonic() < end:
        _press(window, env)
        time.sleep(BETWEEN_S[1])
        taps = sum(path.read_text().count('["tap"') for path in folder.glob("*.running"))
        if taps:
            return taps
    raise TimeoutError("the drill took no tap in")


def _press(window: str, env: dict[str, str]) -> None:
    subprocess.run(["xdotool", "key", "--window", window, "f"], env=env, check=True, capture_output=True)


def _waited_s(process_id: int) -> float:
    """Return how long a process has stood ready without being run, in all."""
    return int(Path(f"/proc/{process_id}/schedstat").read_text().split()[1]) / 1e9


def _window_of(program: subprocess.Popen[bytes], env: dict[str, str]) -> str:
    end = time.monotonic() + READY_S
    while time.monotonic() < end and program.poll() is None:
        done = subprocess.run(
            ["xdotool", "search", "--pid", str(program.pid)],
            env=env,
            capture_output=True,
            text=True,
            check=False,
        )
        if done.stdout.split():
            window = done.stdout.split()[-1]
            subprocess.run(["xdotool", "windowfocus", window], env=env, capture_output=True, check=False)
            return window
        time.sleep(0.1)
    raise TimeoutError("the program showed no window")
