"""Install the wheel where nothing but Python is, and use it there: bare Debian systems made by debootstrap.

    python -m tests.system.bare_roots WHEEL [--suites trixie sid] [--mirror URL] [--keep FOLDER]

Run as root, from a clean checkout. In each suite: every command in the bare system (a sentence, never a
fault); the tests of the rooms that compute; then with the libraries that SDL opens a drill in a window on a
virtual screen of this machine, tapped on the computer's keys; then with a JACK server the port tests and a
drill tapped through a port. What the network or this machine does not give - a suite, a registry, a quiet
moment to measure in - is said in capitals, and what is left is tried.

Needs debootstrap, Xvfb, xdotool and chroot. The answer is 0 when everything that could be reached was as it
should be.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.system.bare_root import ATTEMPTS, Root, Unreached, Wrong, a_mirror
from tests.system.virtual_screen import NoScreen, virtual_screen

TOP = Path(__file__).parents[2]
SUITES = {"trixie": "3.13", "sid": "3.14"}
X_PACKAGES = ("libx11-6", "libxext6", "libxcursor1", "libxi6", "libxrandr2", "libxss1")
PROGRAM, PYTHON = "/opt/thumbfall/bin/thumbfall", "/opt/thumbfall/bin/python"
HOUSE = "/house"  # the tests, without the program
ROOMS = ("music", "judging", "practice", "devices", "records", "sound")
# What only some tests are checked against, and not worth its size in every root.
REFERENCES = ("scipy", "music21", "pretty_midi", "mir_eval", "fpdf", "pypdf", "pyloudnorm")
TAPS_S = 14.0
NOBODYS_DISPLAY = ":987"
KEY_PASSES = 3
JUDGED = ("in time", "early", "late", "missed", "wrong hand", "wrong string", "kept silent", "touched")
VERDICTS = (*JUDGED, "not judged")


def main(arguments: Sequence[str]) -> int:
    """Try every suite; return how many were wrong."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("wheel", type=Path)
    parser.add_argument("--suites", nargs="*", default=list(SUITES))
    parser.add_argument("--mirror", help="another mirror of Debian than this machine's")
    parser.add_argument(
        "--keep", type=Path, help="make the roots here, use those that are there, and leave them"
    )
    options = parser.parse_args(arguments)
    wrong = 0
    for suite in options.suites:
        folder = options.keep or Path(tempfile.mkdtemp(prefix="thumbfall-roots-"))
        root = Root(suite, folder.resolve() / suite)
        try:
            if not root.path.is_dir():
                root.make(options.mirror or a_mirror())
            try_all(root, options.wheel)
        except (Unreached, NoScreen) as problem:
            print(f"!! {suite}: {problem}", flush=True)
            print(f"!! THE DEBIAN SUITE {suite.upper()} COULD NOT BE TRIED, OR NOT IN FULL", flush=True)
        except Wrong as problem:
            wrong += 1
            print(f"!! {suite}: {problem}", flush=True)
        finally:
            root.leave()
            if options.keep is None:
                shutil.rmtree(folder, ignore_errors=True)
    return wrong


def try_all(root: Root, wheel: Path) -> None:
    """Do everything in one root."""
    root.enter()
    version = root.must("python3", "--version").strip()
    shutil.copy(wheel, root.path / "opt" / wheel.name)
    root.must("python3", "-m", "venv", "--clear", "/opt/thumbfall")
    expected = SUITES.get(root.suite)
    if expected is not None and not version.startswith(f"Python {expected}."):
        print(f"!! NOTE: {root.suite.upper()} HAS {version.upper()} BY NOW, NOT {expected}", flush=True)
    root.pip(PYTHON, f"/opt/{wheel.name}")
    libraries = root.must(PYTHON, "-m", "pip", "list", "--format=freeze").split()
    wanted = [each for each in libraries if re.match(r"pygame|rtmidi|python-rtmidi|numpy|mido", each)]
    root.say(f"{version}; installed from the wheel: {', '.join(wanted)}")
    every_command(root)
    core_tests(root)
    root.install(*X_PACKAGES)
    root.say(f"with {' '.join(X_PACKAGES)}")
    # By TCP, for a root does not see this machine's sockets.
    with virtual_screen("1366x768x24", by_tcp=True) as number:
        display = f"127.0.0.1:{number}"
        window(root, display)
        drill_on_keys(root, display)
        root.install("jackd2")
        root.say("with jackd2")
        drill_through_a_port(root, display)
    root.say("as it should be")


COMMANDS: tuple[tuple[tuple[str, ...], int], ...] = (
    (("--version",), 0),
    ((), 3),
    (("demo",), 0),
    (("patterns",), 0),
    (("patterns", "basic-figure"), 0),
    (("check", "/opt/nothing.toml"), 2),
    (("devices",), 0),
    (("checkup", "--seconds", "5"), 0),
    (("delay",), 3),
    (("calibrate",), 3),
    (("record", "basic-figure", "--to", "/opt/banjo.wav", "--passes", "1"), 3),
    (("drill", "basic-figure"), 3),
    (("hands", "basic-figure", "--bpm", "90", "--to", "/opt/take.mid"), 0),
    (("grade", "basic-figure", "/opt/take.mid", "--bpm", "90"), 0),
    (("history",), 0),
    (("records", "--check"), 0),
    (("export", "/opt/takes.json", "--as", "json"), 0),
    (("import", "/opt/takes.json"), 0),
    (("compare", "basic-figure"), 2),
    (("class",), 0),
    (("lesson", "--explain"), 0),
    (("sheet", "basic-figure", "--to", "/opt/page.png"), 0),
    (("sheet", "basic-figure", "--to", "/opt/page.pdf"), 2),
    (("midi", "basic-figure", "--to", "/opt/figure.mid"), 0),
    (("audio", "basic-figure", "--to", "/opt/along.wav"), 0),
)


def every_command(root: Root) -> None:
    """Give every command, in the bare system, with a display that has no libraries, and without a home."""
    said = ""
    listed = re.search(r"choose from ([^)]*)", root.run(PROGRAM, "nothing-of-that-name").stdout)
    names = set(re.findall(r"[a-z-]+", listed[1])) if listed else set()
    tried = {word for words, _ in COMMANDS for word in words[:1] if not word.startswith("-")}
    if names != tried:
        raise Wrong(f"the commands of the program and those tried are not the same: {names ^ tried}")
    for words, code in COMMANDS:
        for display in ("", NOBODYS_DISPLAY):
            done = root.run(PROGRAM, *words, DISPLAY=display)
            in_words(done, words, f"with DISPLAY={display}")
            if done.returncode != code:
                raise Wrong(f"thumbfall {' '.join(words)} ended with {done.returncode}: {done.stdout[-400:]}")
            said = done.stdout if words == ("devices",) else said
        # A user without an entry in the system's list, without HOME, who may write nowhere.
        in_words(root.run(PROGRAM, *words, user="54321:54321", HOME=""), words, "without a home")
    for wanted in ("MIDI is off: ", "libasound.so.2", "libX11.so.6", *X_PACKAGES):
        if wanted not in said:
            raise Wrong(f"devices does not name {wanted}:\n{said}")
    root.say(
        f"{len(COMMANDS)} commands, three ways each: a sentence where something is missing, no fault\n{said}"
    )


def in_words(done: subprocess.CompletedProcess[str], words: Sequence[str], how: str) -> None:
    """Hold the answer of a command to being one for a user."""
    if done.returncode not in (0, 2, 3, 4) or "Traceback" in done.stdout or "Warning" in done.stdout:
        raise Wrong(f"thumbfall {' '.join(words)} {how} ended with {done.returncode}: {done.stdout[-1500:]}")


def core_tests(root: Root) -> None:
    """Run the tests of the rooms that compute, with the program as it was installed."""
    house = root.path / HOUSE[1:]
    shutil.rmtree(house, ignore_errors=True)
    house.mkdir()
    for name in ("tests", "patterns", "assets"):
        shutil.copytree(TOP / name, house / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(TOP / name, house / name)
    root.pip(PYTHON, "pytest", "pytest-timeout", "pytest-xdist", "hypothesis")
    left_out = with_references()
    words = [f"--ignore={name}" for name in left_out] + [f"tests/{room}" for room in ROOMS]
    out = in_house(root, "-n", "auto", "--tb=short", "-rfE", "-m", "not system and not slow", *words)
    root.say(
        f"core tests: {out.strip().splitlines()[-1]}; {len(left_out)} files left out for their references"
    )


def with_references() -> list[str]:
    """Return the files of tests that import a reference library, themselves or through a helper."""
    texts = {path: path.read_text(encoding="utf-8") for path in sorted((TOP / "tests").rglob("*.py"))}
    wanted: set[str] = set(REFERENCES)
    found: set[Path] = set()
    while True:
        imports = re.compile(
            rf"^\s*(?:import|from) (?:{'|'.join(map(re.escape, sorted(wanted)))})\b", re.MULTILINE
        )
        more = {path for path, text in texts.items() if path not in found and imports.search(text)}
        if not more:
            return [str(path.relative_to(TOP)) for path in sorted(found) if path.name.startswith("test_")]
        found |= more
        wanted |= {".".join(path.relative_to(TOP).with_suffix("").parts) for path in more}


def in_house(root: Root, *words: str, attempts: int = 1, **variables: str) -> str:
    """Run pytest inside, in the house of the tests."""
    line = " ".join(f"'{word}'" for word in words)
    command = f"cd {HOUSE} && exec {PYTHON} -m pytest -q -p no:cacheprovider -o timeout=900 {line}"
    return root.must("sh", "-c", command, timeout_s=2700, attempts=attempts, **variables)


def window(root: Root, display: str) -> None:
    """Ask for the devices and measure the machine in a window."""
    said = root.must(PROGRAM, "devices", DISPLAY=display)
    if "Window: there is a display." not in said:
        raise Wrong(f"devices sees no display:\n{said}")
    out = root.must(PROGRAM, "checkup", "--seconds", "5", "--json", DISPLAY=display)
    found = json.loads(out)
    frames = found["frames"]
    if not isinstance(frames, dict) or frames["per_second"] <= 0:
        raise Wrong(f"the checkup drew nothing: {out}")
    root.say(f"checkup in a window: {frames['per_second']:.0f} pictures a second; {found['verdict']}")


def drill_on_keys(root: Root, display: str) -> None:
    """Play a drill on the computer's keys and hold its report to what was pressed."""
    for _ in range(ATTEMPTS):
        pressed, report = played_on_keys(root, display)
        heard = report["devices"]["taps_received"]
        # xdotool presses into whichever window has the focus; where none had it yet, a tap is lost.
        if heard >= pressed - 1 > 10:
            break
        print(f"-- again: {heard} of {pressed} keys were heard", flush=True)
    strokes, devices = report["strokes"], report["devices"]
    # On a busy machine xdotool presses few, or one into nothing: that most are heard is owed on any.
    if heard < max(4, pressed / 2) or devices["not_graded"]:
        raise Wrong(f"{heard} of {pressed} keys were heard: {devices}")
    # Keys pressed by a clock of their own are no take of the figure, and how they are read is another test's;
    # here every stroke asked must be in the report, once, with a word on it.
    places = {(each["pass"], each["bar"], each["slot"]) for each in strokes}
    if len(places) != len(strokes) or {each["pass"] for each in strokes} != set(range(1, KEY_PASSES + 1)):
        raise Wrong(f"the report does not hold each stroke of each pass once: {strokes}")
    if sum(report["summary"]["counts"].get(word, 0) for word in VERDICTS) != len(strokes):
        raise Wrong(f"the report does not add up: {report['summary']}")
    root.say(
        f"drill on the keys: {heard} of {pressed} heard, {len(strokes)} strokes reported, "
        f"{report['summary']['counts']}, input {devices['input']}, {devices['sound']}"
    )


def played_on_keys(root: Root, display: str) -> tuple[int, dict[str, Any]]:
    """Return how many keys were pressed and the report."""
    report = root.path / "opt/report.json"
    report.unlink(missing_ok=True)
    words = (PROGRAM, "drill", "basic-figure", "--bpm", "90", "--passes", str(KEY_PASSES), "--leave")
    env = {**os.environ, "DISPLAY": display}
    drill = subprocess.Popen(
        root.command([*words, "--report", "/opt/report.json"], DISPLAY=display),
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    try:
        # By its class: without a full locale inside, the window has its name only in UTF-8.
        find = ["xdotool", "search", "--sync", "--onlyvisible", "--class", "thumbfall"]
        done = subprocess.run(find, env=env, capture_output=True, text=True, timeout=240, check=True)
        focus = ["xdotool", "windowfocus", "--sync", done.stdout.split()[-1]]
        subprocess.run(focus, env=env, timeout=30, check=False)
        time.sleep(1.0)
        pressed = 0
        # The count-in is not judged, but its taps are heard; a third of a second is a slot at 90.
        while drill.poll() is None and pressed * 0.333 < TAPS_S and not report.exists():
            subprocess.run(["xdotool", "key", "f" if pressed % 2 == 0 else "j"], env=env, check=True)
            pressed += 1
            time.sleep(0.32)
        out, _ = drill.communicate(timeout=240)
    except (subprocess.TimeoutExpired, subprocess.CalledProcessError) as err:
        drill.kill()
        raise Wrong(f"the drill does not go on: {err}: {drill.communicate(timeout=60)[0][-1500:]}") from err
    finally:
        drill.kill()
        drill.wait(10)
    if drill.returncode != 0 or not report.exists():
        raise Wrong(f"the drill ended with {drill.returncode}: {out[-1500:]}")
    return pressed, json.loads(report.read_text(encoding="utf-8"))


def drill_through_a_port(root: Root, display: str) -> None:
    """Run the house's own port tests, and its drill that another process plays through JACK."""
    out = in_house(
        root, "-s", "tests/system/test_midi_jack.py", attempts=ATTEMPTS, THUMBFALL_SYSTEM_TESTS="required"
    )
    root.say("port tests through JACK: " + out.strip().splitlines()[-1])
    say_unmeasured(root, out, "PORT TESTS")
    out = in_house(
        root,
        "-s",
        "tests/system/test_drill_without_sound.py::test_without_a_sound_device_every_tap_is_heard_and_graded_as_the_take_itself",
        attempts=ATTEMPTS,
        THUMBFALL_SYSTEM_TESTS="required",
        THUMBFALL_SCREEN=display,
    )
    root.say("drill through a JACK port: " + " / ".join(out.strip().splitlines()[-4:]))
    say_unmeasured(root, out, "DRILL THROUGH A PORT")


def say_unmeasured(root: Root, out: str, what: str) -> None:
    """Say in capitals where tests skipped their figures of time because the machine was busy."""
    if "NOT MEASURED" in out:
        print(f"!! {root.suite}: THE MACHINE WAS TOO BUSY TO MEASURE ALL OF THE {what}", flush=True)


if __name__ == "__main__":
    sys.exit(1 if main(sys.argv[1:]) else 0)
