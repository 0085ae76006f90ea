"""A tour through every scene by its keys, and what can be read on the way.

What is read is kept in tests/data/what_is_read.txt. After a change that was meant to change it,

    python -m tests.app.tour

writes it anew, and the difference shows in the next commit.
"""

from __future__ import annotations

import os
import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.app.bench import Bench, HeardSpeaker, keys_for
from tests.app.reading_tracks import reader
from tests.shipped import shipped
from trainer.app.drill_request import DrillRequest
from trainer.app.own_track import OwnTrack
from trainer.app.recording import Recorder
from trainer.app.scenes.classroom import ClassController
from trainer.app.scenes.files import FilesController
from trainer.app.scenes.lesson import LessonController
from trainer.app.scenes.progress import ProgressController
from trainer.app.scenes.together import TogetherController
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.practice.classroom import Classroom
from trainer.practice.demo import DEMO_FAULTS
from trainer.practice.lesson import Lesson, LessonStep
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.screen.draw import Text

READ = Path(__file__).parents[1] / "data" / "what_is_read.txt"
NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
TODAY = NOW.date().toordinal()
NAMES = ("Anna", "Bela", "Cora")


class Tour:
    """Somebody who goes through scenes and notes what there is to read.

    Attributes:
        bench: what is gone through.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._lines: list[str] = []
        self._before: Counter[str] = Counter()
        self._note("at first")

    def __str__(self) -> str:
        return "".join(f"{line}\n" for line in self._lines)

    def keys(self, *names: str) -> Tour:
        """Press keys, one after another, each with a moment to look."""
        for name in names:
            self.bench.key(name)
            self.bench.go(0.02)
            self._note(name)
        return self

    def acts(self, act: Act, *values: int) -> Tour:
        """Do what clicks would ask for."""
        for value in values:
            self.bench.act(act, value)
            self._note(f"{act.value} {value}")
        return self

    def writes(self, text: str) -> Tour:
        """Write a text, a letter at a time."""
        for letter in text:
            self.bench.top.typed(letter)
        self._note(f'writing "{text}"')
        return self

    def waits(self, seconds: float) -> Tour:
        """Let time go on."""
        self.bench.go(seconds)
        self._note(f"after {seconds:g} s")
        return self

    def plays(self, until_s: float, taps: dict[float, str]) -> Tour:
        """Play in a drill."""
        self.bench.until(until_s, taps)
        self._note(f"played to {until_s:g} s" if self.bench.scene == "drill" else "played to the end")
        return self

    def heard_at(self, song_s: float, key: str) -> Tour:
        """Press a key at a second of what is heard."""
        system, speaker = self.bench.system, self.bench.speaker
        while (now_s := speaker.song_s(system.ns)) is not None and now_s < song_s:
            self.bench.go(0.001)
        self.bench.key(key)
        self._note(f"{key} at {song_s:.3f} s")
        return self

    def sends(self, port: str, note: int) -> Tour:
        """Touch a pad."""
        self.bench.system.send(0x90, note, 90, port=port)
        self.bench.go(0.5)
        self._note(f"note {note} of {port}")
        return self

    def _note(self, done: str) -> None:
        """Write down what is to be read now and was not before, and what is gone."""
        panels = self.bench.view().scene().panels
        read = [item.text for panel in panels for item in panel.items if isinstance(item, Text) and item.text]
        now, fresh = Counter(read), []
        for text in read:
            if now[text] > self._before[text] and text not in fresh:
                fresh.append(text)
        gone = (self._before - now).total()
        self._lines.append(f"{done}: {self.bench.scene}{f', {gone} gone' if gone else ''}")
        self._lines += [" | ".join(fresh)] if fresh else []
        self._before = now


def desk(
    *ports: str,
    recorder: Recorder | None = None,
    settings: Settings | None = None,
    speaker: SilentSpeaker | None = None,
) -> Bench:
    settings = settings or Settings(cautions_seen=True, passes=2, signs_seen=9)
    return Bench(*ports, settings=settings, library=shipped(), recorder=recorder, speaker=speaker)


def records(folder: Path) -> Recorder:
    """Records on a clock that goes on by a minute at each look."""
    times = (NOW + timedelta(minutes=minutes) for minutes in range(10_000))
    recorder, note = Recorder.open(folder / "takes.sqlite", clock=lambda: next(times))
    assert not note
    return recorder


def faulty(bench: Bench) -> dict[float, str]:
    """The taps of somebody who rushes a little, misses one stroke and takes one with the other hand."""
    keys = {at - 0.013 + 0.004 * (n % 5): key for n, (at, key) in enumerate(sorted(keys_for(bench).items()))}
    (_, *rest) = keys
    del keys[rest[2]]
    keys[rest[4]] = {"f": "j", "j": "f"}[keys[rest[4]]]
    return keys


# The ways


def through_the_library(_folder: Path) -> Tour:
    tour = Tour(desk("Pad 20:0"))
    tour.keys("down", "down", "up", "right", "left", "shift right", "alt left", "x", "shift x", "=", "-", "l")
    tour.keys("page down", "end", "home", "tab", "c", "tab", "shift tab", "n", "t", "t")
    tour.keys("g").writes("barn").keys("backspace", "return", "g").writes("zzz").keys("escape")
    return tour.keys("f1", "down", "escape", "m", "down", "down", "up", "escape", "f2", "escape", "escape")


def through_the_settings(folder: Path) -> Tour:
    bench = desk("Pad 20:0", recorder=records(folder))
    bench.key("s")
    tour = Tour(bench)
    for _ in range(50):
        tour.keys("down")
    tour.acts(Act.SELECT, 0).acts(Act.INPUT, 1)
    for note in (36, 38, 40, 42):
        tour.sends("Pad 20:0", note)
    tour.acts(Act.INPUT, 0, 9).acts(Act.NAIL_KEY, 0).keys("space").acts(Act.NAIL_KEY, 0).keys("d")
    tour.acts(Act.OWN_KEY, 1, 99).keys("f7").acts(Act.DELAY, 3, -1)
    for setting in ("swing", "thinning", "thinning", "ladder", "pocket", "band_pan", "lay_back_ms"):
        bench.step(setting)
        tour.acts(Act.DISMISS, 0)
    return tour.keys("u", "u", "escape")


def through_a_drill(folder: Path) -> Tour:
    bench = desk(recorder=records(folder))
    bench.preferences.shelves.choose("skip-figure")
    tour = Tour(bench).keys("return").plays(0.5, {}).plays(3.0, faulty(bench))
    tour.keys("space").waits(1.0).keys("space").waits(4.0).keys("escape")
    tour.keys("down", "down", "down", "up", "page down", "page up", "return").plays(99.0, faulty(bench))
    tour.keys("right", "x", "t", "w", "u", "space").plays(1.0, {}).keys("return", "left", "right", "space")
    tour.plays(0.4, {}).keys("r").plays(9.0, keys_for(bench)).keys("x", "shift x")
    return tour.plays(199.0, keys_for(bench)).keys("return").plays(99.0, {}).keys("escape")


def through_a_drill_of_hands(_folder: Path) -> Tour:
    bench = desk()
    pattern = bench.preferences.library.patterns[4]
    bench.start(DrillRequest(pattern=pattern, bpm=Fraction(90), passes=2, hands=DEMO_FAULTS))
    return Tour(bench).waits(4.0).keys("f", "space").waits(0.5).keys("space").waits(30.0).keys("escape")


def through_what_goes_wrong(_folder: Path) -> Tour:
    bench = desk("Pad 20:0", settings=Settings(cautions_seen=True, input_name="Pad", pads={"Pad": "any=36"}))
    tour = Tour(bench).keys("return").waits(3.0).sends("Pad 20:0", 36)
    bench.system.ports.clear()
    tour.waits(1.0).keys("space").waits(1.0).keys("escape", "escape", "s", "escape")
    bench.system.ports.append("Pad 20:0")
    tour.waits(1.0).keys("return").waits(1.0)
    bench.context.notes.standing = "the records cannot be written."
    tour.waits(1.0)
    bench.step("click")
    tour.waits(1.0)
    bench.step("click")
    bench.context.playback.is_lost = True
    return tour.waits(0.1).keys("escape")


def through_a_demonstration(_folder: Path) -> Tour:
    bench = desk()
    bench.preferences.shelves.choose("skip-figure")
    tour = Tour(bench).keys("d").waits(3.0).keys("1", "2", "3", "4", "1", "2", "3", "4", "space", "page down")
    tour.keys("page down", "page up", "space").waits(2.0).keys("f", "right", "left", "l", "t").waits(1.0)
    return tour.keys("f1", "escape", "escape")


def through_the_page(_folder: Path) -> Tour:
    bench = desk()
    bench.preferences.shelves.choose("barn-lantern at skips")
    tour = Tour(bench).keys("o", "right", "left", "right", "]", "right", "a", "t", "page down", "page up")
    tour.acts(Act.SELECT, 2, 5).keys("l").waits(1.0).keys("escape", "escape", "f5").waits(1.0)
    return tour.keys("escape", "escape")


def through_a_track(folder: Path) -> Tour:
    bench = desk()
    own = bench.context.own_track = OwnTrack(read=reader(), folder=folder)
    tour = Tour(bench).keys("b").writes("/music/2.ogg").keys("return").waits(0.1)
    tour.acts(Act.SELECT, 1).writes("97,x").keys("backspace", "3", "return").acts(Act.SELECT, 1)
    tour.writes("97,3").keys("return", "down").writes("0:03.25").keys("return", "down", "return").waits(1.0)
    tour.keys("space", "space", "escape", "down", "return").waits(2.0).keys("escape", "down")
    tour.acts(Act.TRACK_STEP, 1, 8, -1).keys("down").acts(Act.TRACK_STEP, -1, -8).waits(0.1).keys("down")
    tour.acts(Act.TRACK_STEP, -1).keys("escape").waits(0.1).keys("return").waits(1.0).keys("escape", "escape")
    assert own.track is not None
    return tour.keys("b").acts(Act.REMOVE, 0).keys("escape")


def through_files(folder: Path) -> Tour:
    root = folder / "sounds"
    (root / "old").mkdir(parents=True)
    for name in ("Porch.FLAC", "barn.mp3", "notes.txt", "old/yard.wav"):
        (root / name).write_bytes(b"x" * 2_000_000)
        os.utime(root / name, (0, 0))
    bench = desk()
    bench.open(lambda: FilesController(bench.context, lambda _path: None, root, (root / "barn.mp3",)))
    tour = Tour(bench).keys("down", "down", "up").writes("por").keys("backspace", "up", "return", "return")
    return tour.writes("y").keys("left", "home", "end", "f1", "escape", "return")


def through_what_was_played(folder: Path) -> Tour:
    recorder = records(folder)
    bench = desk(recorder=recorder)
    for name, taps in (("skip-figure", faulty), ("basic-figure", keys_for), ("skip-figure", keys_for)):
        bench.preferences.shelves.choose(name)
        bench.act(Act.START)
        bench.until(99.0, taps(bench))
        bench.act(Act.BACK)
    bench.open(lambda: ProgressController(bench.context, "", TODAY))
    tour = Tour(bench).keys("down", "up", "right", "right", "left", "page down", "return", "down", "return")
    tour.waits(2.0).keys("space", "page down").waits(1.0).keys("escape", "delete", "delete", "u", "escape")
    return tour.keys("escape")


def through_a_class(folder: Path) -> Tour:
    bench = desk(recorder=records(folder))
    kept = [Classroom()]

    def save(_before: Classroom, room: Classroom) -> tuple[Classroom, str]:
        kept.append(room)
        return room, ""

    bench.preferences.shelves.choose("skip-figure")
    bench.open(
        lambda: ClassController(
            bench.context,
            np.random.default_rng(1),
            load=lambda: (kept[-1], ""),
            save=save,
            write=lambda _room, stem: Path(f"{stem}.csv"),
            clock=lambda: NOW + timedelta(seconds=bench.system.ns / 1e9),
        )
    )
    tour = Tour(bench).writes("Anna").keys("return").writes("Bela").keys("backspace", "return", "escape")
    tour.keys("return").plays(99.0, keys_for(bench)).keys("return").plays(3.0, faulty(bench)).keys("escape")
    tour.keys("g", "u", "r", "r", "o", "down", "up", "n").writes("Cora").keys("return", "escape", "w", "l")
    return tour.keys("down", "delete", "u", "e", "down", "escape", "escape")


def through_all_at_once(_folder: Path) -> Tour:
    bench = desk()
    pattern = bench.preferences.library.patterns[4]
    bench.open(
        lambda: TogetherController(
            bench.context,
            DrillRequest(pattern=pattern, bpm=Fraction(90), passes=1),
            NAMES,
            lambda _played: None,
            lambda _played: None,
            listen=lambda: MidiInputs([bench.system.make], bench.system.clock),
            clock=lambda: NOW,
        )
    )
    tour = Tour(bench).keys("x", "x", "c", "backspace", "y", "space", "n", "v", "page down", "b", "return")
    tour.waits(2.5).keys("x", "v").waits(0.66).keys("y", "n").waits(60.0).keys("g", "up", "down", "return")
    return tour.waits(3.5).keys("escape", "g", "backspace", "escape")


def through_a_lesson(folder: Path) -> Tour:
    bench = desk(recorder=records(folder))
    patterns = {each.name: each for each in bench.preferences.library.patterns}
    steps = (
        LessonStep(pattern=patterns["skip-figure"], bpm=Fraction(60), passes=1, words="Say it aloud."),
        LessonStep(pattern=patterns["basic-figure"], bpm=Fraction(80), minutes=Fraction(4)),
    )
    lesson = Lesson(title="First skips", steps=steps)
    bench.open(
        lambda: LessonController(
            bench.context,
            lesson,
            NAMES,
            today=NOW.date,
            write=lambda _results, day: Path(f"{day}.pdf"),
        )
    )
    tour = Tour(bench).waits(2.0).keys("w", "down", "b").plays(99.0, faulty(bench)).keys("w", "page down")
    return tour.keys("page down", "page up", "escape", "up", "escape", "escape")


def through_a_calibration(_folder: Path) -> Tour:
    bench = desk(speaker=HeardSpeaker())  # type: ignore[arg-type]
    bench.act(Act.OPEN_CALIBRATION)
    tour = Tour(bench).keys("down", "down", "right", "left", "up", "up", "return").waits(3.0).keys("escape")
    tour.keys("return")
    for n in range(24):
        tour.heard_at(0.6 * n + 0.035 + 0.003 * (n % 3), "f")
    tour.waits(5.0).keys("return").waits(0.1).keys("u", "escape")
    bench.act(Act.OPEN_CALIBRATION)
    Tour.keys(tour, "return")
    for n in range(20):
        tour.heard_at(0.6 * n + 0.2 * (n % 3), "f")
    return tour.waits(3.0).keys("return", "escape")


def through_a_set_up(_folder: Path) -> Tour:
    bench = desk(settings=Settings(cautions_seen=True, input_name="Microphone: Lid"))
    bench.act(Act.OPEN_BANJO)
    return Tour(bench).keys("return").waits(5.0).keys("escape").waits(0.1).keys("s", "escape", "c")


def through_the_first_bar(_folder: Path) -> Tour:
    bench = desk("Pad 20:0", settings=Settings())
    bench.act(Act.OPEN_FIRST_BAR)
    tour = Tour(bench).keys("f", "return").waits(6.0).waits(6.0).keys("f", "j", "f").waits(6.0).keys("space")
    tour.waits(15.0).keys("return", "w").writes("Ada").keys("backspace", "return", "w", "down", "down")
    bench.act(Act.BACK)
    bench.act(Act.OPEN_FIRST_BAR)
    Tour.waits(tour, 1.0).keys("f2").waits(1.0).sends("Pad 20:0", 36).sends("Pad 20:0", 38)
    return tour.keys("f2").waits(1.0).keys("escape", "escape", "escape")


WAYS: dict[str, Callable[[Path], Tour]] = {
    each.__name__.replace("_", " "): each
    for each in (
        through_the_library, through_the_settings, through_a_drill, through_a_drill_of_hands,
        through_what_goes_wrong, through_a_demonstration, through_the_page,
        through_a_track, through_files, through_what_was_played, through_a_class, through_all_at_once,
        through_a_lesson, through_a_calibration, through_a_set_up, through_the_first_bar,
    )
}  # fmt: skip


def read_on(way: str) -> str:
    """Go one way in an empty folder, which is left after that, and return what was read."""
    home = Path.cwd()
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)  # paths are shown, and this one's name is another each time
        try:
            return str(WAYS[way](Path()))
        finally:
            os.chdir(home)


def kept() -> dict[str, str]:
    """Return what is kept of each way."""
    parts = READ.read_text(encoding="utf-8").split("\n\n") if READ.exists() else []
    return {name: f"{text}\n" for name, _, text in (part.strip("\n").partition("\n") for part in parts)}


if __name__ == "__main__":
    READ.write_text("\n".join(f"{way}\n{read_on(way)}" for way in WAYS), encoding="utf-8")
