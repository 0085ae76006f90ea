"""One bare Debian system in a folder: made by debootstrap, entered by chroot, given back as it was found."""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Sequence
from pathlib import Path

CERTIFICATES = "/etc/ssl/certs/ca-certificates.crt"
OWN_CERTIFICATES = "/opt/certificates.crt"
ATTEMPTS = 3
MAKING_S = 1800.0


class Wrong(Exception):
    """The program was not as it should be; its text says what."""


class Unreached(Exception):
    """The network or this machine did not give what was needed: nothing is known of the program."""


class Root:
    """One bare system in a folder."""

    def __init__(self, suite: str, path: Path) -> None:
        self.suite, self.path = suite, path
        self.begun = time.monotonic()

    def say(self, words: str) -> None:
        """Print what is going on, and when."""
        print(f"-- {self.suite}, {time.monotonic() - self.begun:4.0f} s: {words}", flush=True)

    def make(self, mirror: str) -> None:
        """Make the system, or raise Unreached."""
        command = ["debootstrap", "--variant=minbase", "--include=python3,python3-venv"]
        # A suite newer than this machine's debootstrap is made as any other of Debian's.
        script = Path("/usr/share/debootstrap/scripts") / self.suite
        command += [self.suite, str(self.path), mirror, *([] if script.exists() else ["sid"])]
        for attempt in range(ATTEMPTS):
            done = output_of(command, MAKING_S)
            if done.returncode == 0:
                self.say("made by debootstrap")
                return
            print(done.stdout[-600:], flush=True)
            self.leave()
            shutil.rmtree(self.path, ignore_errors=True)
            time.sleep(10 * attempt)
        raise Unreached("nothing was tried in it: debootstrap could not make it from this machine's mirror")

    def enter(self) -> None:
        """Give it what a running system has: the way to the network, and /proc where this is allowed."""
        shutil.copy("/etc/resolv.conf", self.path / "etc/resolv.conf")
        if Path(CERTIFICATES).exists():
            target = self.path / OWN_CERTIFICATES[1:]
            shutil.copy(os.environ.get("PIP_CERT", CERTIFICATES), target)
        if not (self.path / "proc/self").exists():
            subprocess.run(["mount", "-t", "proc", "proc", str(self.path / "proc")], check=False)

    def leave(self) -> None:
        """Take /proc back."""
        if (self.path / "proc/self").exists():
            subprocess.run(["umount", "-l", str(self.path / "proc")], check=False)

    def command(self, words: Sequence[str], **variables: str) -> list[str]:
        """Return the words that run something inside."""
        passed = {k: v for k, v in os.environ.items() if k.lower().endswith("_proxy") or k == "PIP_INDEX_URL"}
        if (self.path / OWN_CERTIFICATES[1:]).exists():
            passed["PIP_CERT"] = OWN_CERTIFICATES
        found = {
            "PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin",
            "HOME": "/root",
            "LANG": "C.UTF-8",
            "DEBIAN_FRONTEND": "noninteractive",
            **passed,
            **variables,
        }
        return ["chroot", str(self.path), "env", "-i", *(f"{k}={v}" for k, v in found.items() if v), *words]

    def run(
        self, *words: str, timeout_s: float = 300.0, user: str = "", **variables: str
    ) -> subprocess.CompletedProcess[str]:
        """Run something inside; its output and its complaints come back in one."""
        command = self.command(words, **variables)
        if user:
            command.insert(1, f"--userspec={user}")
        return output_of(command, timeout_s)

    def must(self, *words: str, timeout_s: float = 600.0, attempts: int = 1, **variables: str) -> str:
        """Run something inside that has to end well."""
        for attempt in range(attempts):
            done = self.run(*words, timeout_s=timeout_s, **variables)
            if done.returncode == 0:
                return done.stdout
            print(done.stdout[-6000:], flush=True)
            if attempt + 1 < attempts:
                print(f"-- again: {' '.join(words[:4])} ended with {done.returncode}", flush=True)
                time.sleep(5)
        raise Wrong(f"{' '.join(words)} ended with {done.returncode}")

    def install(self, *packages: str) -> None:
        """Install Debian packages, or raise Unreached; a mirror that does not answer is asked again."""
        # A mirror may lag behind by more than the lists say they are good for.
        words = ("apt-get", "-qq", "-o", "Acquire::Retries=3", "-o", "Acquire::Check-Valid-Until=false")
        try:
            self.must(*words, "update", timeout_s=MAKING_S, attempts=ATTEMPTS)
            self.must(
                *(*words, "install", "-y", "--no-install-recommends", *packages),
                timeout_s=MAKING_S, attempts=ATTEMPTS,
            )  # fmt: skip
        except Wrong as problem:
            raise Unreached(f"not all was tried in it: {problem}") from problem

    def pip(self, python: str, *packages: str) -> None:
        """Install for a Python inside; where the registry gives nothing at all, raise Unreached."""
        words = (python, "-m", "pip", "--disable-pip-version-check")
        try:
            self.must(*words, "install", "-q", *packages, timeout_s=MAKING_S, attempts=ATTEMPTS)
        except Wrong as problem:
            # mido is a wheel for any Python and system.
            known = ("download", "-q", "--no-deps", "--no-cache-dir", "-d", "/tmp/known", "mido")
            if self.run(*words, *known, timeout_s=MAKING_S).returncode == 0:
                raise
            raise Unreached(f"not all was tried in it, the registry gives nothing: {problem}") from problem


def output_of(command: Sequence[str], timeout_s: float) -> subprocess.CompletedProcess[str]:
    """Run a command without input; its output and its complaints come back in one, also of one cut short."""
    try:
        return subprocess.run(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True, errors="replace", timeout=timeout_s, check=False,
        )  # fmt: skip
    except subprocess.TimeoutExpired as late:
        said = late.stdout.decode(errors="replace") if isinstance(late.stdout, bytes) else late.stdout or ""
        return subprocess.CompletedProcess(command, 124, f"{said}\nnot done within {timeout_s:.0f} s")


def a_mirror() -> str:
    """Return the Debian mirror that this machine is set up with."""
    lines = output_of(
        ["apt-get", "indextargets", "--format", "$(ORIGIN) $(LABEL) $(REPO_URI)", "Created-By: Packages"], 60
    ).stdout.splitlines()
    found = [line.split()[2] for line in lines if line.startswith("Debian Debian ")]
    if not found:
        raise Unreached("nothing was tried in it: apt of this machine names no mirror of Debian")
    return found[0]
