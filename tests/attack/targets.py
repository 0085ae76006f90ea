"""What is attacked: for each kind of input, what the program does with one case from a seeded generator.

A case may end in a TrainerError whose sentence can be shown; nothing else may be raised.
"""

from __future__ import annotations

import io
import json
import os
import random
import shutil
import wave
from collections.abc import Callable
from contextlib import contextmanager, suppress
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import TypeAlias

from tests.attack.spoiling import MONSTERS, spoilt
from tests.records.takes import a_take
from trainer.app.own_track import typed_seconds, typed_tempo
from trainer.commands.parsing import by_kind, read_number, read_swing, whole
from trainer.devices.midi import stable_name
from trainer.devices.midi_bytes import MidiBytes
from trainer.errors import TrainerError
from trainer.judging.verdicts import judge
from trainer.music.backup import BackupChart, lay_chart
from trainer.music.breaks import Break, lay_break
from trainer.music.chords_text import read_chord
from trainer.music.keys import read_key
from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.pattern import Level, Pattern
from trainer.music.timeline import Timeline, as_tempo
from trainer.music.tune_files import read_tune
from trainer.music.tuning import read_tuning
from trainer.plain_text import drawable, is_clean
from trainer.practice.classroom import Classroom, Order, Pupil, read_names
from trainer.practice.pads import read_pads
from trainer.practice.stored_take import StoredTake
from trainer.practice.turns import turn_of
from trainer.records.asked_tune import read_asked
from trainer.records.class_csv import csv_rows
from trainer.records.class_file import keep_class, load_class
from trainer.records.export import write_csv, write_json
from trainer.records.importing import import_takes
from trainer.records.journal import ENDING, Journal, journal_folder, recover
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import MOST_NOTES, read_take, write_take
from trainer.records.midiscore import write_score
from trainer.records.settings import load_settings, save_settings
from trainer.records.store import Store
from trainer.records.tracks import TrackNote, read_track_note, write_track_note
from trainer.records.tune_file import read_tune_file

ROOT = Path(__file__).parent.parent.parent
NASTY_WORDS = tuple(
    each.decode("utf-8", "surrogatepass") if each != b"\xff\xfe" else "\xff" for each in MONSTERS
)

Attack: TypeAlias = Callable[[random.Random], None]
Make: TypeAlias = Callable[[Path], Attack]


def said(problem: TrainerError) -> None:
    """Hold a sentence to what a sentence must be."""
    text = str(problem)
    text.encode("utf-8")
    assert all(is_clean(c) or c in "\n\t" for c in text), ascii(text[:300])
    assert len(text) < 2000, f"{len(text)} characters: {text[:200]!a}"


@contextmanager
def sentences():  # type: ignore[no-untyped-def]
    """Let a TrainerError be, when it can be shown."""
    try:
        yield
    except TrainerError as problem:
        said(problem)


def use(pattern: Pattern) -> None:
    """Do with a pattern what the program does with every one."""
    timeline = Timeline.steady(pattern.slow_bpm)
    targets = lay_out(pattern, timeline, passes=1)
    assert judge(targets, ()).outcomes is not None
    assert read_pattern(write_pattern(pattern), name=pattern.name) == pattern


def _texts(folder: Path, *parts: str) -> Attack:
    files = [
        each.read_bytes() for part in parts for each in sorted((ROOT / "patterns" / part).glob("*.toml"))
    ]
    figure = open_pattern("basic-figure", load_library(folder / "none"))
    path = folder / "attacked.toml"

    def attack(rng: random.Random) -> None:
        data = spoilt(rng.choice(files), rng)
        with sentences():
            if rng.random() < 0.1:
                path.write_bytes(data)
                tune = read_tune_file(path)
            else:
                tune = read_tune(data.decode("utf-8", "surrogateescape"), name="attacked", source="a.toml")
            if isinstance(tune, Break):
                for level in Level:
                    use(lay_break(tune, level))
            elif isinstance(tune, BackupChart):
                use(lay_chart(tune, figure))
            else:
                use(tune)
                if rng.random() < 0.05:
                    write_score(folder / "out.mid", tune, bpm=tune.slow_bpm, passes=2)

    return attack


def pattern_files(folder: Path) -> Attack:
    """Pattern files."""
    return _texts(folder, ".")


def break_files(folder: Path) -> Attack:
    """Files of breaks."""
    return _texts(folder, "breaks")


def chart_files(folder: Path) -> Attack:
    """Files of charts."""
    return _texts(folder, "charts")


def library_folders(folder: Path) -> Attack:
    """A folder of the user's with good, bad and strange files: the good ones are there whatever the rest is."""
    files = [each.read_bytes() for each in sorted((ROOT / "patterns").rglob("*.toml"))]
    good = (ROOT / "patterns" / "basic-figure.toml").read_bytes()
    own = folder / "own"

    def attack(rng: random.Random) -> None:
        shutil.rmtree(own, ignore_errors=True)
        (own / "charts").mkdir(parents=True)
        (own / "good-one.toml").write_bytes(good)
        for number in range(rng.randrange(1, 5)):
            name = rng.choice((b"a%d", b"\xdcb%d", b"c\x1b%d", b"good-one%d", b"d %d")) % number
            where = bytes(own) + rng.choice((b"/", b"/charts/")) + name + b".toml"
            with suppress(OSError):
                Path(os.fsdecode(where)).write_bytes(spoilt(rng.choice(files), rng))
        library = load_library(own, shipped=folder / "none")
        assert "good-one" in {p.name for p in library.patterns}
        for problem in library.problems:
            said(problem)

    return attack


def settings_files(folder: Path) -> Attack:
    """The settings."""
    path = folder / "settings.json"
    save_settings(load_settings(folder / "none.json")[0], path)
    table = json.loads(path.read_text())
    more = {
        "pads": {"pad": "nail 9:36", "b": "thumb 1:2 3"}, "tempi": {"basic-figure": "97.3"}, "swing": "3/2",
        "known_delays": {"pad | out": "12"}, "own_keys": {"start": "g"}, "player": "Ann", "records_folder": "/tmp/x",
    }  # fmt: skip
    good = json.dumps({**table, **more}, indent=1).encode()

    def attack(rng: random.Random) -> None:
        path.write_bytes(spoilt(good, rng))
        settings, note = load_settings(path)
        note.encode("utf-8", "surrogatepass")
        save_settings(settings, path)
        again, _note = load_settings(path)
        assert replace(again, other={}) == replace(settings, other={})
        for each in folder.glob("*.unread*"):
            each.unlink()

    return attack


def class_files(folder: Path) -> Attack:
    """The class."""
    path = folder / "class.json"
    take = a_take(bpm=80)
    turn = turn_of(
        judge(lay_out(take.pattern, take.timeline, passes=4), take.taps),
        pattern=take.pattern,
        bpm=Fraction(80),
        day=739000,
        begun="2026-11-25T18:30:00.000000Z",
    )
    room = Classroom(pupils=tuple(Pupil(name=name) for name in ("Ann", "Bo", "Cy")))
    room = replace(
        room,
        pupils=tuple(replace(p, turns=(replace(turn, uid="a"), replace(turn, uid="b"))) for p in room.pupils),
    )
    keep_class(Classroom(), room, path)
    good = path.read_bytes() if path.exists() else b"{}"

    def attack(rng: random.Random) -> None:
        path.write_bytes(spoilt(good, rng))
        found, note = load_class(path)
        note.encode("utf-8", "surrogatepass")
        csv_rows(found)
        keep_class(found, found.with_order(Order.RANDOM), path)
        for each in folder.glob("*.unread*"):
            each.unlink()

    return attack


def track_notes(folder: Path) -> Attack:
    """What is remembered of a track."""
    mark = "ab" * 32
    path = write_track_note(mark, TrackNote(name="porch.ogg", bpm=Fraction("97.3"), beat_1_s=3.25), folder)
    good = path.read_bytes()

    def attack(rng: random.Random) -> None:
        path.write_bytes(spoilt(good, rng))
        with sentences():
            read_track_note(mark, folder)

    return attack


def _takes() -> list[StoredTake]:
    return [a_take(player="Ann", seed=n, days=n, passes=2) for n in range(4)]


def _fresh_store(folder: Path) -> Store:
    home = folder / "records"
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    return Store.open(home / "takes.sqlite")


def _asked_of(store: Store) -> None:
    for take in store.each_take():
        assert judge(lay_out(take.pattern, take.timeline, passes=1), take.taps).outcomes is not None
    store.takes()
    for player in store.players():
        store.clean_rungs(player)
        store.patterns_played(player)


def json_imports(folder: Path) -> Attack:
    """Exports to import, JSON."""
    path = folder / "export.json"
    write_json(path, _takes())
    good = path.read_bytes()
    others = [each.read_bytes() for each in sorted((ROOT / "tests" / "data").glob("*.json"))]

    def attack(rng: random.Random) -> None:
        path.write_bytes(spoilt(rng.choice((good, good, *others)), rng, most=1 << 20))
        store = _fresh_store(folder)
        try:
            with sentences():
                import_takes(path, store)
            _asked_of(store)
        finally:
            store.close()

    return attack


def csv_imports(folder: Path) -> Attack:
    """Exports to import, CSV."""
    home = folder / "csv"
    write_csv(home, _takes())
    good = {each.name: each.read_bytes() for each in home.iterdir()}

    def attack(rng: random.Random) -> None:
        for name, data in good.items():
            (home / name).write_bytes(data)
        name = rng.choice([each for each in good if each in ("takes.csv", "taps.csv")])
        (home / name).write_bytes(spoilt(good[name], rng, most=1 << 20))
        store = _fresh_store(folder)
        try:
            with sentences():
                import_takes(home, store)
            _asked_of(store)
        finally:
            store.close()

    return attack


def journals(folder: Path) -> Attack:
    """Journals that a killed program has left."""
    take = a_take(player="Ann")
    home = folder / "written"
    journal = Journal.begin(home, take)
    for tap in take.taps:
        journal.tap(tap)
    journal.ends(take)
    journal.leave()
    [path] = home.glob(f"*{ENDING}")
    good = path.read_bytes()

    def attack(rng: random.Random) -> None:
        store = _fresh_store(folder)
        try:
            running = journal_folder(store.path)
            running.mkdir()
            (running / path.name).write_bytes(spoilt(good, rng))
            if rng.random() < 0.3:
                (running / f"{'b' * 32}{ENDING}").write_bytes(
                    good.replace(take.uid[:8].encode(), b"bbbbbbbb")
                )
            said_by = recover(running, store)
            said_by.note.encode("utf-8", "surrogatepass")
            assert recover(running, store).takes == 0, "what was taken in or put aside is not met again"
            _asked_of(store)
        finally:
            store.close()

    return attack


def databases(folder: Path) -> Attack:
    """The records themselves: bits and whole pages."""
    store = _fresh_store(folder)
    store.keep_all([a_take(player="Ann", seed=n, days=n) for n in range(30)])
    store.close()
    path = folder / "records" / "takes.sqlite"
    good = path.read_bytes()

    def attack(rng: random.Random) -> None:
        home = path.parent
        shutil.rmtree(home)
        home.mkdir()
        data = bytearray(good)
        if rng.random() < 0.5:
            page = rng.randrange(len(data) // 4096)
            data[page * 4096 : (page + 1) * 4096] = rng.randbytes(4096)
        else:
            for _ in range(rng.choice((1, 1, 4))):
                data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        path.write_bytes(bytes(data))
        with sentences():
            opened = Store.open(path)
            try:
                with sentences():
                    _asked_of(opened)
            finally:
                opened.close()

    return attack


def midi_files(folder: Path) -> Attack:
    """Recorded takes."""
    take = a_take()
    path = folder / "take.mid"
    write_take(path, take.taps, take.timeline, take.pattern.meter, title="x", lead_s=2.0, pocket="middle")
    mine = path.read_bytes()
    write_score(path, take.pattern, bpm=Fraction(90), passes=4)
    files = (mine, path.read_bytes())

    def attack(rng: random.Random) -> None:
        path.write_bytes(spoilt(rng.choice(files), rng))
        with sentences():
            found = read_take(path)
            found.taps()
            assert len(found.notes) <= MOST_NOTES

    return attack


def port_bytes(_folder: Path) -> Attack:
    """What a MIDI port sends, and what it is called."""

    def attack(rng: random.Random) -> None:
        stream = MidiBytes()
        for _ in range(rng.randrange(1, 20)):
            for note in stream.note_ons(rng.randbytes(rng.choice((1, 2, 3, 3, 3, 8, 200)))):
                assert 0 <= note.channel <= 15
                assert 0 <= note.note <= 127
                assert 1 <= note.velocity <= 127
        stable_name(rng.choice(NASTY_WORDS)[:200])

    return attack


def typed_words(_folder: Path) -> Attack:
    """Words of the command line and of the fields of the window."""
    readers: tuple[Callable[[str], object], ...] = (
        as_tempo, typed_tempo, typed_seconds, read_swing, read_pads, read_asked, read_key, read_chord, read_tuning, read_names,
        lambda word: read_number(word, "--x", 0, 100), lambda word: whole(word, "--x", 0), lambda word: by_kind((word,), "--x"),
    )  # fmt: skip
    words = (
        "97.3",
        "1:03.25",
        "3/2",
        "nail 9:36, thumb 1:2",
        "skip-figure at plain in A",
        "Bb",
        "6-",
        "g4 C3 G3 C4 D4",
        "brush=20",
    )

    def attack(rng: random.Random) -> None:
        word = rng.choice((*words, *NASTY_WORDS))
        if rng.random() < 0.8:
            word = spoilt(word.encode("utf-8", "surrogatepass"), rng).decode("utf-8", "surrogateescape")
        read = rng.choice(readers)
        with sentences():
            read(word)
        drawable(word).encode("utf-8")

    return attack


def audio_files(folder: Path) -> Attack:
    """Own tracks, each decoded in a process of its own."""
    import pygame

    from trainer.devices.backing import read_track

    pygame.mixer.init(48_000, -16, 2, 512, allowedchanges=0)
    sound = io.BytesIO()
    with wave.open(sound, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(44_100)
        file.writeframes(bytes(range(256)) * 200)
    tracks = sorted((ROOT / "tests" / "data" / "tracks").glob("track.*"))
    files = [(each.suffix, each.read_bytes()) for each in tracks] + [(".wav", sound.getvalue())]

    def attack(rng: random.Random) -> None:
        ending, data = rng.choice(files)
        head = rng.choice((60, len(data)))
        path = folder / f"track{ending}"
        path.write_bytes(spoilt(data[:head], rng) + data[head:])
        with sentences():
            assert len(read_track(path, 48_000).samples)

    return attack


def windows(folder: Path) -> Attack:
    """The window, in a display that shows nothing."""
    from tests.attack.window import window

    return window(folder)


TARGETS: dict[str, Make] = {
    "patterns": pattern_files,
    "breaks": break_files,
    "charts": chart_files,
    "library": library_folders,
    "settings": settings_files,
    "class": class_files,
    "tracks": track_notes,
    "json": json_imports,
    "csv": csv_imports,
    "journals": journals,
    "databases": databases,
    "midi": midi_files,
    "port": port_bytes,
    "words": typed_words,
    "window": windows,
    "audio": audio_files,
}
