"""Recordings of pupils are graded and kept, end to end: files in, records and words out.

The files are written with mido, a library of its own for Standard MIDI Files, as any recorder writes them:
notes of a drum pad on one channel, silence in front, no mark of beat 0. The players are simulated.
"""

import os
from fractions import Fraction
from pathlib import Path

import mido
import numpy as np
import pytest

from tests.shipped import shipped
from trainer.cli import main
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.stored_take import judgement_of
from trainer.records.library import open_pattern
from trainer.records.store import Store

Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")
NOTES = {Hand.NAIL: 36, Hand.THUMB: 38, Hand.LEFT: 40}
TICKS = 480
TOUCHED = 4  # of the eight skips of the take below, as simulate says of seed 5


def run(capsys: Capture, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def recorded(
    path: Path, name: str = "skip-figure", *, lead_s: float = 0.0, faults: Faults | None = None, seed: int = 1
) -> Path:
    """Write a pupil's file: 80 beats a minute, four passes."""
    pattern = open_pattern(name, shipped())
    targets = lay_out(pattern, Timeline.steady(Fraction(80)), passes=4)
    taps = simulate(
        targets, faults or Faults(jitter_s=0.01), np.random.default_rng(seed), chart=pattern.chart
    ).taps
    midi = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=750_000)])
    at = 0
    for tap in taps:
        assert tap.hand is not None
        tick = max(at, round((tap.song_s + lead_s) / 0.75 * TICKS))
        track.append(mido.Message("note_on", channel=9, note=NOTES[tap.hand], velocity=90, time=tick - at))
        at = tick
    midi.tracks.append(track)
    path.parent.mkdir(parents=True, exist_ok=True)
    midi.save(path)
    return path


def kept(folder: Path) -> Store:
    return Store.open(folder / "takes.sqlite")


def test_a_recording_with_a_lead_in_is_kept_as_it_was_played(tmp_path: Path, capsys: Capture) -> None:
    file = recorded(tmp_path / "take.mid", lead_s=3.3, faults=Faults(jitter_s=0.01, touch_skips=0.5), seed=5)
    where = ("--records", tmp_path / "r")
    words = ("--pattern", "skip-figure", "--player", "Anna", "--day", "2026-03-04")
    code, out, err = run(capsys, "import", file, *words, *where)
    assert code == 0
    assert "Beat 0 was found at 3.29" in err  # within the jitter of 10 ms of 3.3
    assert "--pads nail=36,thumb=38" in err
    store = kept(tmp_path / "r")
    (row,) = store.takes(player="Anna")
    take = store.take(row.id)
    store.close()
    counts = [outcome.verdict.value for outcome in judgement_of(take).outcomes]
    assert counts.count("touched") == TOUCHED
    assert counts.count("in time") == 24
    assert f"Anna, The skip figure at 80, 2026-03-04: {row.clean} of {row.asked} as asked" in out


def test_a_break_is_named_without_quotes(tmp_path: Path, capsys: Capture) -> None:
    file = recorded(tmp_path / "take.mid", "barn-lantern at skips")
    words = ("import", "--pattern", "barn-lantern", "at", "skips", file, "--records", tmp_path / "r")
    assert run(capsys, *words)[0] == 0
    store = kept(tmp_path / "r")
    assert [row.pattern for row in store.takes()] == ["barn-lantern at skips"]
    store.close()


def test_a_folder_is_taken_in_under_the_names_of_its_files_and_a_bad_file_stops_nothing(
    tmp_path: Path, capsys: Capture
) -> None:
    for number, name in enumerate(("Anna", "Bela", "=Cora")):
        recorded(tmp_path / "class" / f"{name}.mid", lead_s=0.9 * number, seed=number)
    (tmp_path / "class" / "broken.mid").write_bytes(b"MThd and no more")
    (tmp_path / "class" / "notes.txt").write_text("not a recording")
    words = ("import", tmp_path / "class", "--pattern", "skip-figure", "--records", tmp_path / "r")
    code, out, err = run(capsys, *words)
    assert code == 2
    assert "New: 3 takes. There already: 0 takes. Not taken in: 1." in out
    assert "broken.mid" in err
    store = kept(tmp_path / "r")
    assert store.players() == ("=Cora", "Anna", "Bela")
    store.close()


def test_a_recording_is_known_again_also_after_it_was_copied(tmp_path: Path, capsys: Capture) -> None:
    file = recorded(tmp_path / "take.mid")
    copy = tmp_path / "other name.mid"
    copy.write_bytes(file.read_bytes())
    os.utime(copy, (1_000_000_000, 1_000_000_000))
    words = ("--pattern", "skip-figure", "--player", "Anna", "--records", tmp_path / "r")
    assert run(capsys, "import", file, *words)[0] == 0
    code, out, _ = run(capsys, "import", copy, *words)
    assert (code, out) == (0, "other name.mid: there already; nothing was changed.\n")


def test_a_pupils_take_of_the_class_stands_with_the_class(tmp_path: Path, capsys: Capture) -> None:
    file = recorded(tmp_path / "take.mid")
    words = ("--pattern", "skip-figure", "--player", "Anna", "--class", "--records", tmp_path / "r")
    assert run(capsys, "import", file, *words)[0] == 0
    store = kept(tmp_path / "r")
    assert store.players() == ("Anna (class)",)
    store.close()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "take.mid does not say what was played; name it with --pattern."),
        (
            ("--pattern", "skip-figure", "--day", "soon"),
            'found "soon" for --day; write a day such as 2026-03-01.',
        ),
        (("--pattern", "skip-figre"), 'found no pattern called "skip-figre"; did you mean skip-figure'),
        (
            ("--pattern", "skip-figure", "--pads", "nail=3,thumb=4"),
            "no note of the take comes from the pads named",
        ),
    ],
)
def test_what_cannot_be_taken_in_is_said_and_nothing_is_kept(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: Capture
) -> None:
    recorded(tmp_path / "take.mid")
    code, out, err = run(capsys, "import", tmp_path / "take.mid", *words, "--records", tmp_path / "r")
    assert (code, out) == (2, "")
    assert err.startswith(said)
    store = kept(tmp_path / "r")
    assert store.count() == 0
    store.close()


def test_grading_finds_the_lead_in_and_is_held_to_the_beginning_by_offset_0(
    tmp_path: Path, capsys: Capture
) -> None:
    file = recorded(tmp_path / "take.mid", lead_s=4.4)
    code, out, err = run(capsys, "grade", "skip-figure", file)
    assert code == 0
    assert "Played as asked: 32 of 32 (100 %)" in out
    assert "--offset 0 holds it there" in err
    _, _, held = run(capsys, "grade", "skip-figure", file, "--offset", "0")
    assert "Beat 0" not in held
