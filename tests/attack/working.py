"""Run the cases of one kind in a process of their own, and say what became of them."""

from __future__ import annotations

import multiprocessing
import os
import random
import tempfile
import time
import traceback
from dataclasses import dataclass, field
from multiprocessing.sharedctypes import Synchronized
from pathlib import Path
from queue import Empty

from tests.attack.rules import LONGEST_S, MOST_MIB, peak_mib
from tests.attack.targets import TARGETS

HANGS_S = 60.0
SETUP_S = 600.0  # a busy machine lets a process that is nice wait for long


@dataclass
class Report:
    """What came of a kind."""

    kind: str
    cases: int = 0
    longest_s: float = 0.0
    longest_case: int = 0
    peak_mib: int = 0
    slow: list[int] = field(default_factory=list)
    broken: dict[str, int] = field(default_factory=dict)

    @property
    def is_good(self) -> bool:
        return not self.slow and not self.broken and self.peak_mib <= MOST_MIB


def run_case(kind: str, number: int, folder: Path) -> None:
    """Do one case; whatever is raised is a fault."""
    TARGETS[kind](folder)(random.Random(f"{kind}:{number}"))


def _attack(
    kind: str,
    first: int,
    cases: int,
    seconds: float,
    at: Synchronized[int],
    out: multiprocessing.Queue[Report],
) -> None:
    os.environ.update(SDL_VIDEODRIVER="dummy", SDL_AUDIODRIVER="dummy", PYGAME_HIDE_SUPPORT_PROMPT="1")
    report = Report(kind)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        attack = TARGETS[kind](Path(folder))
        begun = time.perf_counter()
        for number in range(first, first + cases):
            at.value = number
            case_begun = time.process_time()
            try:
                attack(random.Random(f"{kind}:{number}"))
            except Exception:  # noqa: BLE001 - that is what is looked for
                where = "\n".join(traceback.format_exc().splitlines()[-3:])
                report.broken.setdefault(where, number)
            took = time.process_time() - case_begun  # at work: a busy machine is no hang
            report.cases += 1
            if took > report.longest_s:
                report.longest_s, report.longest_case = took, number
            if took > LONGEST_S.get(kind, LONGEST_S[""]):
                report.slow.append(number)
            if time.perf_counter() - begun > seconds:
                break
    report.peak_mib = peak_mib()
    out.put(report)


def attack_kind(kind: str, first: int, cases: int, seconds: float) -> Report:
    """Attack one kind in a process of its own, and say what became of it."""
    context = multiprocessing.get_context("spawn")
    at, out = context.Value("q", first - 1), context.Queue()
    process = context.Process(target=_attack, args=(kind, first, cases, seconds, at, out))
    process.start()
    seen, since = first - 1, time.monotonic()
    while True:
        try:
            report: Report = out.get(timeout=0.2)
            process.join()
            return report
        except Empty:
            if at.value != seen:
                seen, since = at.value, time.monotonic()
        if not process.is_alive() or time.monotonic() - since > (HANGS_S if seen >= first else SETUP_S):
            how = "hangs" if process.is_alive() else f"ends the process ({process.exitcode})"
            process.kill()
            process.join()
            return Report(kind, cases=seen - first, broken={how: seen})
