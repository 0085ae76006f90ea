"""The command line, end to end: words in, words and exit codes out."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import asdict
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

import trainer.app
from tests.judging.helpers import as_asked
from tests.shipped import shipped
from trainer.cli import main
from trainer.commands import general
from trainer.commands.hands import demo_lines
from trainer.commands.recordings import take_tempo
from trainer.errors import NoDisplay
from trainer.judging.take import Tap
from trainer.music.layout import lay_out
from trainer.music.pattern import Meter
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.opening import Opening
from trainer.practice.demo import DEMO_PASSES
from trainer.records.library import load_library, open_pattern
from trainer.records.midifile import write_take

ROOT = Path(__file__).parent.parent
HALF_TICK_S = 26e-6  # half a tick at 40 bpm: 1.5 s / 30 000 / 2 = 25 us, and a rounding of 1 us

Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")


@pytest.fixture
def window(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, object]]:
    """A window that only notes how it was opened."""
    opened: list[dict[str, object]] = []

    def open_window(opening: Opening) -> int:
        opened.append(asdict(opening))
        return 0

    monkeypatch.setattr(trainer.app, "loop", SimpleNamespace(open_window=open_window), raising=False)
    return opened


def run(capsys: Capture, *words: str) -> tuple[int, str, str]:
    code = main(words)
    said = capsys.readouterr()
    return code, said.out, said.err


def in_a_process(code: str, *, cwd: Path, **env: str) -> subprocess.CompletedProcess[str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**kept, "PYTHONPATH": str(ROOT), **env},
        timeout=60,
        check=False,
    )


def foreign_take(path: Path, *seconds: float, bpm: float | None = 60, notes: tuple[int, ...] = (36,)) -> Path:
    """A take of another recorder, one tick a millisecond at 60 bpm, notes taken in turn."""
    track = mido.MidiTrack()
    if bpm is not None:
        track.append(mido.MetaMessage("set_tempo", tempo=round(60e6 / bpm)))
    at = 0
    for index, second in enumerate(seconds):
        tick = round(second * 1000 * (bpm or 120) / 60)
        note = notes[index % len(notes)]
        track.append(mido.Message("note_on", channel=9, note=note, velocity=100, time=tick - at))
        at = tick
    mido.MidiFile(type=0, ticks_per_beat=1000, tracks=[track]).save(path)
    return path


BASIC_ONCE = (0.0, 1.0, 1.5, 2.0, 3.0, 3.5)  # one pass of the basic figure at 60


class TestWithoutCommand:
    def test_the_version_is_that_of_the_project(self, capsys: Capture) -> None:
        code, out, _ = run(capsys, "--version")
        wanted = next(
            line
            for line in (ROOT / "pyproject.toml").read_text(encoding="utf-8").splitlines()
            if "version =" in line
        )
        assert (code, out) == (0, f"thumbfall {wanted.split(chr(34))[1]}\n")

    def test_help_names_every_command(self, capsys: Capture) -> None:
        code, out, _ = run(capsys, "--help")
        assert code == 0
        for name in ("patterns", "check", "devices", "drill", "grade", "hands", "demo"):
            assert f"\n    {name} " in out

    @pytest.mark.parametrize("name", ["patterns", "check", "devices", "drill", "grade", "hands", "demo"])
    def test_every_command_has_its_own_help(self, capsys: Capture, name: str) -> None:
        code, out, _ = run(capsys, name, "--help")
        assert code == 0
        assert out.startswith(f"usage: thumbfall {name}")

    def test_no_command_opens_the_window(self, capsys: Capture, window: list[dict[str, object]]) -> None:
        assert run(capsys)[0] == 0
        assert [(o["pattern"], o["demo"]) for o in window] == [(None, False)]

    def test_an_unknown_command_is_one_sentence(self, capsys: Capture) -> None:
        code, out, err = run(capsys, "grad")
        assert (code, out) == (2, "")
        assert err.count("\n") == 1
        assert "'grad'" in err
        assert "see thumbfall --help." in err


class TestPatterns:
    def test_the_list_has_a_line_for_each_pattern_and_says_where_ones_own_go(
        self, capsys: Capture, own_folders: Path
    ) -> None:
        code, out, err = run(capsys, "patterns")
        lines = out.splitlines()
        assert (code, err) == (0, "")
        library = load_library()
        tunes = len(library.breaks) + len(library.charts)
        assert len(lines) == len(library.patterns) + tunes + 4
        assert str(own_folders) in lines[-1]
        assert any("skip-figure-walking-thumb" in line for line in lines)

    def test_a_pattern_is_shown_slot_by_slot(self, capsys: Capture) -> None:
        code, out, _ = run(capsys, "patterns", "skip-figure")
        assert code == 0
        assert "  slot 1  down  skip\n  slot 2  up    drop-thumb 2\n  slot 3  down  brush\n" in out
        assert "first clean: skip-then-brush, drop-thumb-in-basic-figure" in out

    def test_a_mistyped_name_is_answered_with_a_suggestion(self, capsys: Capture) -> None:
        code, out, err = run(capsys, "patterns", "skip-figur")
        assert (code, out) == (2, "")
        assert 'found no pattern called "skip-figur"; did you mean skip-figure' in err

    def test_a_broken_file_of_ones_own_is_said_and_the_list_still_comes(
        self, capsys: Capture, own_folders: Path
    ) -> None:
        folder = own_folders / "thumbfall" / "patterns"
        folder.mkdir(parents=True)
        (folder / "broken.toml").write_text("title = ", encoding="utf-8")
        code, out, err = run(capsys, "patterns")
        assert code == 0
        assert "basic-figure" in out
        assert "broken.toml:1:" in err


class TestCheck:
    def test_good_files_are_called_good(self, capsys: Capture) -> None:
        code, out, err = run(capsys, "check", str(ROOT / "patterns" / "in-six.toml"))
        assert (code, err) == (0, "")
        assert out.endswith("in-six.toml: good: A figure in six, 2 bars of 6/8, 12 slots.\n")

    def test_a_bad_file_is_shown_with_a_caret_and_the_others_are_still_checked(
        self, capsys: Capture, tmp_path: Path
    ) -> None:
        good = ROOT / "patterns" / "skip-figure.toml"
        bad = tmp_path / "bad.toml"
        bad.write_text(good.read_text(encoding="utf-8").replace("skip, drop", "skp, drop"), encoding="utf-8")
        code, out, err = run(capsys, "check", str(bad), str(good), str(tmp_path / "none.toml"))
        assert code == 2
        assert "skip-figure.toml: good" in out
        assert f"{bad}:12:1:" in err
        assert "did you mean skip" in err
        assert "\n    skp, drop-thumb 2, brush, thumb\n    ^\n" in err
        assert f'found no file "{tmp_path / "none.toml"}"; check the path.' in err.splitlines()


class TestHandsAndGrade:
    def test_grading_gives_back_what_the_simulated_player_did(self, capsys: Capture, tmp_path: Path) -> None:
        take, truth_path = tmp_path / "take.mid", tmp_path / "take.truth.json"
        code, out, err = run(
            capsys, "hands", "one-basic-one-skip", "--bpm", "97.3", "--passes", "12", "--to", str(take),
            "--jitter", "9", "--early", "thumb=-12", "--rush-gap", "60", "--touch-skips", "0.3",
            "--miss", "0.05", "--wrong-hand", "0.05", "--seed", "4",
        )  # fmt: skip
        assert (code, err) == (0, "")
        assert out.count("\n") == 2
        code, out, err = run(capsys, "grade", "one-basic-one-skip", str(take), "--json")
        assert (code, err) == (0, "")
        report, truth = json.loads(out), json.loads(truth_path.read_text(encoding="utf-8"))
        assert report["bpm"] == truth["bpm"] == 97.3
        assert report["passes"] == truth["passes"] == 12
        assert len(report["strokes"]) == len(truth["strokes"]) == 84
        for found, done in zip(report["strokes"], truth["strokes"], strict=True):
            for key in ("pass", "bar", "slot", "kind", "expected_s"):
                assert found[key] == done[key]
            assert (found["tapped_s"] is None) == (done["tapped_s"] is None)
            if done["tapped_s"] is not None:
                assert found["tapped_s"] == pytest.approx(done["tapped_s"], abs=HALF_TICK_S)
        verdicts = [s["verdict"] for s in report["strokes"]]
        for deed, verdict in (("touched", "touched"), ("missed", "missed")):
            assert verdicts.count(verdict) == sum(1 for s in truth["strokes"] if s["deed"] == deed) > 0
        assert verdicts.count("wrong hand") == sum(1 for t in truth["taps"] if t["wrong_hand"]) > 0
        assert report["strays"] == []

    def test_a_first_stroke_before_beat_0_is_kept(self, capsys: Capture, tmp_path: Path) -> None:
        take = tmp_path / "take.mid"
        _, out, _ = run(
            capsys,
            "hands",
            "basic-figure",
            "--bpm",
            "60",
            "--passes",
            "1",
            "--to",
            str(take),
            "--early",
            "all=40",
        )
        assert "beat 0 lies at 4.000 s and is marked in the file" in out
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json")
        report = json.loads(out)
        assert report["offset_s"] == pytest.approx(4.0, abs=HALF_TICK_S)
        assert [s["placement_ms"] for s in report["strokes"]] == pytest.approx([-40.0] * 6, abs=0.06)

    def test_the_same_seed_writes_the_same_files(self, capsys: Capture, tmp_path: Path) -> None:
        for name in ("a", "b"):
            words = ("--bpm", "80", "--jitter", "20", "--stray", "0.2", "--to", str(tmp_path / f"{name}.mid"))
            assert run(capsys, "hands", "skip-figure", *words)[0] == 0
        assert (tmp_path / "a.mid").read_bytes() == (tmp_path / "b.mid").read_bytes()
        assert (tmp_path / "a.truth.json").read_bytes() == (tmp_path / "b.truth.json").read_bytes()

    def test_a_take_of_one_pad_is_graded_by_its_timing(self, capsys: Capture, tmp_path: Path) -> None:
        take = tmp_path / "take.mid"
        run(capsys, "hands", "skip-figure", "--bpm", "80", "--one-pad", "--to", str(take))
        code, out, _ = run(capsys, "grade", "skip-figure", str(take))
        assert code == 0
        assert "(100 %)" in out
        assert "The hand is not judged" in out

    def test_a_left_hand_is_judged_where_it_was_heard(self, capsys: Capture, tmp_path: Path) -> None:
        take = tmp_path / "take.mid"
        run(capsys, "hands", "hammer-on-after-strike", "--bpm", "80", "--to", str(take))
        _, out, _ = run(capsys, "grade", "hammer-on-after-strike", str(take), "--json")
        assert json.loads(out)["summary"]["counts"] == {"in time": 32}

    def test_a_left_hand_that_was_never_heard_is_not_called_missed(
        self, capsys: Capture, tmp_path: Path
    ) -> None:
        pattern = open_pattern("pull-off-after-strike", shipped())
        targets = lay_out(pattern, Timeline.steady(80), passes=2)
        heard = tuple(t for t in as_asked(targets) if t.hand is not Hand.LEFT)
        write_take(tmp_path / "take.mid", heard, Timeline.steady(80), pattern.meter, title="")
        _, out, _ = run(capsys, "grade", "pull-off-after-strike", str(tmp_path / "take.mid"), "--json")
        counts = json.loads(out)["summary"]["counts"]
        assert counts == {"in time": 12, "not judged": 4}

    def test_swing_is_told_and_graded_against_the_swung_grid(self, capsys: Capture, tmp_path: Path) -> None:
        """A ratio of 2 moves the second slot from 1/2 to 2/3 of the beat (Friberg & Sundstrom 2002)."""
        take = tmp_path / "take.mid"
        words = ("thumb-on-every-up-slot", "--bpm", "110", "--to", str(take), "--swing", "2")
        assert run(capsys, "hands", *words)[0] == 0
        for swing, kind in (("2", "as asked"), ("1", "swung")):
            _, out, _ = run(capsys, "grade", "thumb-on-every-up-slot", str(take), "--json", "--swing", swing)
            report = json.loads(out)
            thumbs = [s["placement_ms"] for s in report["strokes"] if s["kind"] == "thumb"]
            assert thumbs == pytest.approx([0.0] * len(thumbs), abs=0.06)
            assert report["reading"]["kind"] == kind
            if kind == "swung":
                assert report["reading"]["amount"] == pytest.approx(2.0, abs=0.01)
                assert report["reading"]["sentence"].startswith("You swung 2 to 1;")

    @pytest.mark.parametrize("pads", [(), ("--one-pad",)])
    def test_pads_that_bounce_in_a_graded_file_are_heard_once(
        self, capsys: Capture, tmp_path: Path, pads: tuple[str, ...]
    ) -> None:
        """Half of all taps are doubled 15 to 45 ms later; none is a stray or takes a stroke's place."""
        take = tmp_path / "take.mid"
        words = ("skip-figure", "--bpm", "100", "--passes", "8", "--double", "0.5", "--to", str(take), *pads)
        assert run(capsys, "hands", *words)[0] == 0
        _, out, _ = run(capsys, "grade", "skip-figure", str(take), "--json")
        report = json.loads(out)
        assert report["summary"]["counts"] == {"in time": 48, "kept silent": 16}
        assert report["advice"] == []

    def test_what_was_played_otherwise_reaches_no_goal(self, capsys: Capture, tmp_path: Path) -> None:
        take = tmp_path / "take.mid"
        assert run(capsys, "hands", "skip-figure", "--bpm", "105", "--passes", "8", "--to", str(take))[0] == 0
        code, out, _ = run(capsys, "grade", "skip-figure", str(take), "--bpm", "100", "--goal", "50")
        assert code == 1
        assert "You played at 105, the click was at 100;" in out
        assert run(capsys, "grade", "skip-figure", str(take), "--goal", "50")[0] == 0

    def test_a_goal_that_is_not_reached_is_exit_code_1(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE[:-1])
        assert run(capsys, "grade", "basic-figure", str(take), "--goal", "83")[0] == 0
        assert run(capsys, "grade", "basic-figure", str(take), "--goal", "84")[0] == 1

    def test_words_and_numbers_agree(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE[:-1])
        _, words, _ = run(capsys, "grade", "basic-figure", str(take))
        _, numbers, _ = run(capsys, "grade", "basic-figure", str(take), "--json")
        assert json.loads(numbers)["summary"]["clean"] == 5
        assert "Played as asked: 5 of 6 (83 %): 5 in time." in words


class TestForeignTakes:
    def test_only_the_time_of_a_foreign_note_is_known(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE)
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json")
        report = json.loads(out)
        assert not report["hand_known"]
        assert report["summary"]["counts"] == {"in time": 6}

    def test_pads_tell_the_hand(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE, notes=(36, 36, 38))
        for pads, kind in (
            ("nail=36,thumb=38", "as asked"),
            ("nail=38,thumb=36", "pads exchanged"),
        ):
            _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json", "--pads", pads)
            report = json.loads(out)
            assert report["summary"]["counts"] == {"in time": 6}
            assert report["reading"]["kind"] == kind

    def test_pads_that_no_note_comes_from_are_said(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE)
        code, _, err = run(capsys, "grade", "basic-figure", str(take), "--pads", "nail=40,thumb=41")
        assert code == 2
        assert err == "no note of the take comes from the pads named; check the notes given to --pads.\n"

    def test_an_offset_is_taken_off(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *(t + 2.5 for t in BASIC_ONCE))
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json", "--offset", "2.5")
        report = json.loads(out)
        assert report["offset_s"] == 2.5
        assert report["passes"] == 1
        assert report["summary"]["counts"] == {"in time": 6}

    def test_an_offset_is_found_and_said_where_it_does_not_spoil_the_numbers(
        self, capsys: Capture, tmp_path: Path
    ) -> None:
        take = foreign_take(tmp_path / "take.mid", *(t + 2.5 for t in BASIC_ONCE))
        _, out, err = run(capsys, "grade", "basic-figure", str(take), "--json", "--offset", "auto")
        assert json.loads(out)["offset_s"] == pytest.approx(2.5, abs=1e-6)
        assert "Beat 0 was found at 2.500 s of the take (6 of the 6 taps looked at fit a stroke)" in err

    def test_a_take_without_tempo_wants_one(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *(t / 2 for t in BASIC_ONCE), bpm=None)
        code, _, err = run(capsys, "grade", "basic-figure", str(take))
        assert (code, err) == (2, "the take names no tempo; give it with --bpm.\n")
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--bpm", "120", "--json")
        assert json.loads(out)["summary"]["counts"] == {"in time": 6}

    def test_a_closing_tap_opens_no_new_pass(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE, 4.0)
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json")
        assert json.loads(out)["passes"] == 1

    def test_passes_can_be_said(self, capsys: Capture, tmp_path: Path) -> None:
        take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE)
        _, out, _ = run(capsys, "grade", "basic-figure", str(take), "--json", "--passes", "2")
        assert json.loads(out)["summary"]["counts"] == {"in time": 6, "missed": 6}


@given(tempo=st.integers(20 * 2, 400 * 2), meter=st.sampled_from(Meter))
def test_a_tempo_in_half_beats_comes_back_from_a_midi_file_exactly(tempo: int, meter: Meter) -> None:
    pattern = next(p for p in shipped().patterns if p.meter.beat_quarters == meter.beat_quarters)
    bpm = Fraction(tempo, 2)
    tempo_us = round(60_000_000 / (bpm * pattern.meter.beat_quarters))
    assert take_tempo(60e6 / tempo_us, pattern) == bpm


BAD_WORDS = [
    (("grade", "basic-figure", "TAKE", "--bpm", "fast"), 'found "fast" for a tempo'),
    (("grade", "basic-figure", "TAKE", "--bpm", "1000"), "outside 20 to 400"),
    (("grade", "basic-figure", "TAKE", "--bpm", "nan"), "tempo"),
    (("grade", "basic-figure", "TAKE", "--offset", "soon"), 'found "soon" for the offset; write a number'),
    (("grade", "basic-figure", "TAKE", "--offset", "inf"), 'found "inf" for the offset'),
    (("grade", "basic-figure", "TAKE", "--pocket", "huge"), 'found "huge" for the pocket'),
    (("grade", "basic-figure", "TAKE", "--swing", "9"), "a swing ratio of 9 is outside 1 to 4"),
    (("grade", "basic-figure", "TAKE", "--swing", "x"), 'found "x" for the swing'),
    (("grade", "basic-figure", "TAKE", "--passes", "0"), "--passes of 0 is outside 1 to"),
    (("grade", "basic-figure", "TAKE", "--passes", "1.5"), 'found "1.5" for --passes; write a whole number'),
    (("grade", "basic-figure", "TAKE", "--goal", "101"), "--goal of 101 is outside 0 to 100"),
    (("grade", "basic-figure", "TAKE", "--pads", "elbow=36"), 'found "elbow=36" for a pad'),
    (("grade", "basic-figure", "nowhere.mid"), "there is no file nowhere.mid"),
    (("grade", "basic-figure"), "required: TAKE;"),
    (("grade", "no-such-figure", "TAKE"), 'found no pattern called "no-such-figure"'),
    (("grade", "basic-figure", "TAKE", "--loud"), "--loud"),
    (("grade", "basic-figure", str(ROOT / "pyproject.toml")), "is not a readable MIDI file"),
    (("hands", "basic-figure", "--to", "x.mid"), "--bpm"),
    (
        ("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--early", "thumb"),
        'found "thumb" for --early',
    ),
    (("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--early", "tumb=3"), "did you mean thumb"),
    (
        ("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--early", "skip=3"),
        'found "skip=3" for --early',
    ),
    (
        ("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--miss", "2"),
        "--miss of 2 is outside 0 to 1",
    ),
    (("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--miss", "1"), "touched nothing"),
    (("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--jitter", "-1"), "the jitter is -1 ms"),
    (("hands", "basic-figure", "--bpm", "80", "--to", "x.mid", "--seed", "-1"), "--seed of -1 is outside"),
    (("drill", "no-such-figure"), 'found no pattern called "no-such-figure"'),
    (("drill", "basic-figure", "--bpm", "0"), "outside 20 to 400"),
    (("check",), "FILE"),
]


@pytest.mark.parametrize(("words", "sentence"), BAD_WORDS)
def test_a_wrong_word_is_answered_with_one_sentence(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], sentence: str
) -> None:
    monkeypatch.chdir(tmp_path)
    take = foreign_take(tmp_path / "take.mid", *BASIC_ONCE)
    code, out, err = run(capsys, *(str(take) if word == "TAKE" else word for word in words))
    assert (code, out) == (2, "")
    assert sentence in err
    assert err.count("\n") == 1
    assert err.endswith(".\n")


def test_a_take_that_finds_no_folder_is_answered_with_the_code_of_files(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    words = ("hands", "basic-figure", "--bpm", "80", "--to", "no/such/folder/x.mid")
    code, out, err = run(capsys, *words)
    assert (code, out) == (4, "")
    assert "cannot be written" in err
    assert err.count("\n") == 1


class TestWindow:
    def test_a_drill_hands_on_what_was_asked(self, capsys: Capture, window: list[dict[str, object]]) -> None:
        words = ("--bpm", "84.5", "--passes", "3", "--input", "Pad", "--report", "r.json", "--leave")
        assert run(capsys, "drill", "skip-figure", *words)[0] == 0
        assert window == [
            {
                "pattern": "skip-figure",
                "bpm": 84.5,
                "passes": 3,
                "input_name": "Pad",
                "demo": False,
                "report": Path("r.json"),
                "take": None,
                "leave": True,
                "calibrate": False,
                "lesson": None,
            }
        ]

    def test_the_demo_opens_the_window_where_there_is_a_display(
        self, capsys: Capture, window: list[dict[str, object]], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(sys, "platform", "linux")
        monkeypatch.setenv("DISPLAY", ":99")
        code, out, _ = run(capsys, "demo")
        assert (code, out) == (0, "")
        assert [o["demo"] for o in window] == [True]

    def test_the_demo_goes_on_in_words_when_the_display_does_not_answer(
        self, capsys: Capture, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(_opening: Opening) -> int:
            raise NoDisplay("there is no display to open a window on", "start it on a desktop")

        monkeypatch.setattr(trainer.app, "loop", SimpleNamespace(open_window=refuse), raising=False)
        monkeypatch.setenv("DISPLAY", ":99")
        code, out, err = run(capsys, "demo")
        assert code == 0
        assert out.splitlines() == list(demo_lines())
        assert "there is no display to open a window on" in err

    def test_a_window_that_cannot_be_opened_is_exit_code_3(
        self, capsys: Capture, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def refuse(_opening: Opening) -> int:
            raise NoDisplay("there is no display to open a window on", "start it on a desktop")

        monkeypatch.setattr(trainer.app, "loop", SimpleNamespace(open_window=refuse), raising=False)
        assert run(capsys) == (3, "", "there is no display to open a window on; start it on a desktop.\n")


class TestDemoInWords:
    def test_what_was_put_in_is_what_the_judge_finds(self) -> None:
        text = " ".join(" ".join(demo_lines()).split())
        assert "thumb 12 ms late, the stroke after a skip 55 ms early" in text
        assert f"Rushed gaps: {DEMO_PASSES}." in text
        assert "touched" in text
        assert "After a skip you come in" in text

    def test_it_fits_the_terminal(self) -> None:
        assert max(len(line) for line in demo_lines()) <= 80


class TestTheLastWall:
    def test_a_fault_of_the_program_is_written_down_and_not_thrown_at_the_user(
        self, capsys: Capture, monkeypatch: pytest.MonkeyPatch, own_folders: Path
    ) -> None:
        monkeypatch.setattr(general, "load_library", _raiser(RuntimeError("the barn is on fire")))
        code, out, err = run(capsys, "patterns")
        assert (code, out) == (70, "")
        assert err.count("\n") == 1
        [report] = (own_folders / "thumbfall" / "faults").iterdir()
        assert str(report) in err
        text = report.read_text(encoding="utf-8")
        assert "RuntimeError: the barn is on fire" in text
        assert "Traceback" in text

    def test_where_nothing_can_be_written_the_trace_is_shown(
        self, capsys: Capture, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(general, "load_library", _raiser(RuntimeError("the barn is on fire")))
        monkeypatch.setattr(Path, "write_text", _raiser(OSError(28, "No space left on device")))
        code, _, err = run(capsys, "patterns")
        assert code == 70
        assert "could not write it down" in err
        assert "the barn is on fire" in err

    def test_an_interrupt_ends_quietly(self, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(general, "load_library", _raiser(KeyboardInterrupt()))
        assert run(capsys, "patterns") == (130, "", "")


def _raiser(err: BaseException) -> Callable[..., object]:
    def fail(*_words: object, **_options: object) -> object:
        raise err

    return fail


class TestInAProcess:
    @pytest.mark.parametrize(
        "words",
        [
            ["--help"],
            ["grade", "--help"],
            ["patterns"],
            ["check", str(ROOT / "patterns" / "in-three.toml")],
            ["hands", "skip-figure", "--bpm", "80", "--to", "take.mid"],
            ["grade", "basic-figure", "foreign.mid"],
            ["demo"],
        ],
        ids=lambda words: " ".join(words[:2]),
    )
    def test_neither_window_nor_midi_library_is_loaded(self, tmp_path: Path, words: list[str]) -> None:
        foreign_take(tmp_path / "foreign.mid", *BASIC_ONCE)
        code = (
            f"import sys; from trainer.cli import main; code = main({words!r}); "
            "print(sorted({'pygame', 'rtmidi'} & set(sys.modules)), file=sys.stderr); sys.exit(code)"
        )
        done = in_a_process(code, cwd=tmp_path)
        assert (done.returncode, done.stderr) == (0, "[]\n")
        assert done.stdout

    def test_the_window_opens_without_loading_a_command(self, tmp_path: Path) -> None:
        code = (
            "import sys, types; import trainer.app; import trainer.cli as c\n"
            "trainer.app.loop = types.SimpleNamespace(open_window=lambda _opening: 0)\n"
            "code = c.main([]); loaded = {m for m in sys.modules if m.startswith('trainer.commands.')}\n"
            "print(code, sorted(loaded), 'mido' in sys.modules)"
        )
        said = "0 ['trainer.commands.parsing', 'trainer.commands.window'] False\n"
        assert in_a_process(code, cwd=tmp_path).stdout == said

    def test_a_loaded_window_library_would_be_noticed(self, tmp_path: Path) -> None:
        pytest.importorskip("pygame")
        code = "import sys; import trainer, pygame; print('pygame' in sys.modules)"
        assert in_a_process(code, cwd=tmp_path).stdout == "True\n"

    def test_devices_says_what_is_there_and_is_done(self, tmp_path: Path) -> None:
        done = in_a_process("from trainer.cli import main; raise SystemExit(main(['devices']))", cwd=tmp_path)
        assert done.returncode == 0
        assert done.stderr == ""
        assert "Window: there is no display to open it on." in done.stdout
        assert "MIDI" in done.stdout
        assert "Sound: " in done.stdout

    def test_it_runs_as_a_module_from_any_folder(self, tmp_path: Path) -> None:
        done = in_a_process("import runpy, sys; sys.argv[1:] = ['patterns', 'in-six']; "
                            "runpy.run_module('trainer', run_name='__main__')", cwd=tmp_path)  # fmt: skip
        assert done.returncode == 0
        assert done.stdout.startswith("A figure in six (in-six)\n")

    def test_a_reader_that_has_had_enough_is_no_fault(self, tmp_path: Path) -> None:
        code = "import sys; from trainer.cli import main; sys.exit(main(['patterns']))"
        reading, writing = os.pipe()
        os.close(reading)
        done = subprocess.run(
            [sys.executable, "-c", code],
            stdout=writing,
            stderr=subprocess.PIPE,
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
            timeout=60,
            check=False,
        )
        os.close(writing)
        assert (done.returncode, done.stderr) == (0, b"")

    @pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
    def test_a_full_disk_is_one_sentence(self, tmp_path: Path) -> None:
        code = "import sys; from trainer.cli import main; sys.exit(main(['patterns']))"
        with Path("/dev/full").open("w", encoding="utf-8") as full:
            done = subprocess.run(
                [sys.executable, "-c", code],
                stdout=full,
                stderr=subprocess.PIPE,
                cwd=tmp_path,
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                timeout=60,
                check=False,
            )
        assert done.returncode == 4
        assert done.stderr.decode().startswith("the output cannot be written (No space left on device); ")
        assert done.stderr.count(b"\n") == 1

    def test_a_terminal_without_unicode_gets_an_escape(self, tmp_path: Path) -> None:
        done = in_a_process(
            "import sys; from trainer.cli import main; sys.exit(main(['demo']))",
            cwd=tmp_path,
            PYTHONIOENCODING="ascii",
        )
        assert done.returncode == 0
        assert "sure to \\xb1" in done.stdout


class TestGradeByAnotherTarget:
    """The target moved on purpose, the click left off, and the pocket that a take remembers."""

    def make(self, capsys: Capture, path: Path, *faults: str) -> None:
        code, _, err = run(
            capsys, "hands", "skip-figure", "--bpm", "90", "--passes", "12", "--to", str(path), *faults
        )
        assert code == 0, err

    def summary(self, capsys: Capture, path: Path, *more: str) -> dict[str, object]:
        code, out, err = run(capsys, "grade", "skip-figure", str(path), "--json", *more)
        assert code == 0, err
        report = json.loads(out)
        assert isinstance(report, dict)
        return report

    def test_a_kind_meant_to_lie_back_is_not_called_late(self, capsys: Capture, tmp_path: Path) -> None:
        path = tmp_path / "take.mid"
        self.make(capsys, path, "--early", "brush=-40")
        plain = self.summary(capsys, path)["summary"]
        meant = self.summary(capsys, path, "--lay-back", "brush=40")["summary"]
        assert plain["counts"]["late"] == 24  # type: ignore[index]
        assert "late" not in meant["counts"]  # type: ignore[index]

    def test_a_lay_back_of_no_stroke_or_beyond_feel_is_refused(self, capsys: Capture, tmp_path: Path) -> None:
        path = tmp_path / "take.mid"
        self.make(capsys, path)
        for word, says in (
            ("skip=20", "--lay-back"),
            ("brush=200", "outside -80 to 80"),
            ("brush", "--lay-back"),
        ):
            code, _, err = run(capsys, "grade", "skip-figure", str(path), "--lay-back", word)
            assert code == 2
            assert says in err

    def test_with_the_click_off_clock_and_hand_are_split_without_correction(
        self, capsys: Capture, tmp_path: Path
    ) -> None:
        path = tmp_path / "take.mid"
        self.make(capsys, path, "--clock", "6", "--motor", "5")
        levels = self.summary(capsys, path, "--click-off")["breakdown"]["two_levels"]  # type: ignore[index]
        assert levels["correction"] is None
        assert self.summary(capsys, path)["breakdown"]["two_levels"] != levels  # type: ignore[index]

    def test_a_take_is_graded_again_by_the_pocket_it_remembers(self, capsys: Capture, tmp_path: Path) -> None:
        path = tmp_path / "take.mid"
        taps = tuple(Tap(song_s=0.5 * n, hand=Hand.NAIL) for n in range(4))
        write_take(path, taps, Timeline.steady(60), Meter.TWO_FOUR, pocket="wide")
        assert self.summary(capsys, path)["pocket"] == "wide"
        assert self.summary(capsys, path, "--pocket", "narrow")["pocket"] == "narrow"
