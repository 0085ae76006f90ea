"""Breaks, charts and MIDI files on the command line, end to end."""

import re
from pathlib import Path

import mido
import pytest

from trainer.cli import main
from trainer.commands.explain import EXAMPLE
from trainer.music.bars_text import KIND_WORDS, MANNERS
from trainer.music.chart import Mode
from trainer.music.laying import Figure
from trainer.music.notation import OPTIONAL_KEYS, REQUIRED_KEYS
from trainer.music.pattern import Meter
from trainer.music.tune_files import BREAK_KEYS, BREAK_OPTIONS, CHART_KEYS, CHART_OPTIONS, LEVEL_OPTIONS
from trainer.music.tuning import NAMED_NOTES
from trainer.records.library import load_library, open_pattern

ROOT = Path(__file__).parent.parent
Capture = pytest.CaptureFixture[str]
pytestmark = pytest.mark.usefixtures("own_folders")


def run(capsys: Capture, *words: str) -> tuple[int, str, str]:
    code = main(words)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_list_names_every_break_and_chart(capsys: Capture) -> None:
    code, out, err = run(capsys, "patterns")
    assert (code, err) == (0, "")
    library = load_library(Path("none"))
    for name in (*(e.brk.name for e in library.breaks), *(e.backup.name for e in library.charts)):
        assert any(name in line.split() for line in out.splitlines())


def test_a_break_is_shown_with_numbers_letters_shapes_and_melody(capsys: Capture) -> None:
    code, out, _ = run(capsys, "patterns", "barn-lantern")
    assert code == 0
    assert "tuning open G (g4 D3 G3 B3 D4), key A, capo 2: shapes of G" in out
    assert (
        "  numbers  6-  | 4   | 5^7 | 1\n  letters  F#m | D   | E7  | A\n  shapes   Em  | C   | D7  | G\n"
        in out
    )
    assert "  bar  3  1 fret 2 then 1 open, 2 fret 1\n" in out
    assert "  barn-lantern at skips\n" in out


def test_a_break_at_a_level_is_shown_slot_by_slot_with_its_chords(capsys: Capture) -> None:
    code, out, _ = run(capsys, "patterns", "barn-lantern at skips")
    assert code == 0
    assert "Barn Lantern, skips (barn-lantern at skips)\n" in out
    assert "  numbers  1   | 1   | 4   | 1\n" in out
    assert (
        "bar 3\n  slot 1  down  strike 1 fret 2\n  slot 2  up    pull-off 1 fret 0\n  slot 3  down  skip\n"
        in out
    )


def test_a_chart_is_shown_in_any_key_with_any_capo(capsys: Capture) -> None:
    code, out, _ = run(capsys, "patterns", "slow-ferry", "--key", "Bb", "--capo", "1")
    assert code == 0
    assert "key Bb, capo 1: shapes of A" in out
    assert "  letters  Bb | Bb | Eb | Cm\n" in out
    assert "  shapes   A  | A  | D  | Bm\n" in out


def test_a_bar_with_two_chords_shows_the_beats_of_each(capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "gate.toml"
    path.write_text(
        'kind = "chart"\ntitle = "Gate"\nkey = "F"\nmeter = "3/4"\nfigure = "in-three"\n'
        'chords = "1 for 1, 4 for 2, 5 for 3"\n',
        encoding="utf-8",
    )
    code, out, _ = run(capsys, "patterns", str(path))
    assert code == 0
    assert "  numbers  1 4 /  | 5\n  letters  F Bb / | C\n" in out
    assert "no capo" in out
    assert "shapes" not in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("patterns", "barn-lantern", "--key", "C", "--capo", "2"), "sounds in A and not in C"),
        (("patterns", "barn-lantern", "--key", "X"), 'found "X" for the key'),
        (("patterns", "barn-lantern", "--capo", "13"), "outside 0 to 12"),
        (("patterns", "skip-figure", "--key", "C"), "has no key to move"),
        (("patterns", "--key", "C"), "name one before them"),
        (("patterns", "barn-lantern at home"), 'found "home" for a level'),
    ],
)
def test_what_cannot_be_shown_is_one_sentence(capsys: Capture, words: tuple[str, ...], says: str) -> None:
    code, out, err = run(capsys, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert says in err


def test_check_takes_all_three_kinds(capsys: Capture, tmp_path: Path) -> None:
    files = [ROOT / "patterns" / name for name in ("breaks/barn-lantern.toml", "charts/slow-ferry.toml")]
    bad = tmp_path / "bad.toml"
    bad.write_text(
        files[0].read_text(encoding="utf-8").replace("1 for 4, 4, 1", "1 for 4, 9, 1"), encoding="utf-8"
    )
    code, out, err = run(capsys, "check", *map(str, files), str(ROOT / "patterns" / "in-six.toml"), str(bad))
    assert code == 2
    lines = out.splitlines()
    assert lines[0].endswith(
        "good: Barn Lantern, a break of 16 bars of 2/4 in A, at plain, ornaments, skips."
    )
    assert lines[1].endswith("good: Slow Ferry, a chart of 16 bars of 3/4 in D.")
    assert lines[2].endswith("good: A figure in six, 2 bars of 6/8, 12 slots.")
    assert 'found "9" where a chord should be' in err
    assert "\n    1 for 4, 9, 1\n             ^\n" in err


@pytest.mark.parametrize(
    "name", ["barn-lantern at ornaments", "the-ferry-bell at skips", "slow-ferry", "paper-kite"]
)
def test_a_laid_tune_is_played_and_graded_like_any_pattern(
    capsys: Capture, tmp_path: Path, name: str
) -> None:
    take = tmp_path / "take.mid"
    assert run(capsys, "hands", name, "--bpm", "60", "--passes", "2", "--to", str(take))[0] == 0
    code, out, err = run(capsys, "grade", name, str(take), "--goal", "100")
    assert (code, err) == (0, "")
    assert open_pattern(name, load_library()).name in out.replace("\n", " ")


def test_a_name_of_several_words_needs_no_quotes(capsys: Capture) -> None:
    quoted = run(capsys, "patterns", "barn-lantern at skips in C")
    assert run(capsys, "patterns", "barn-lantern", "at", "skips", "in", "C") == quoted
    assert quoted[0] == 0
    code, out, err = run(capsys, "patterns", "barn-lantern", "skips")
    assert (code, out) == (2, "")
    assert "unrecognized arguments: skips" in err


def test_check_says_what_a_hand_would_doubt_and_still_calls_the_file_good(
    capsys: Capture, tmp_path: Path
) -> None:
    path = tmp_path / "stroll.toml"
    text = (ROOT / "patterns" / "pull-off-after-strike.toml").read_text(encoding="utf-8")
    text = text.replace("pull-off 1 fret 0", "pull-off 1 fret 4").replace(
        '["basic-figure"]', '["bassic-figure"]'
    )
    path.write_text(text, encoding="utf-8")
    code, out, err = run(capsys, "check", str(path))
    assert code == 0
    assert "; 2 doubts." in out
    assert "this pull-off goes upwards, from fret 2 to 4; write hammer-on, or a lower fret." in err
    assert "\n    strike 1 fret 2, pull-off 1 fret 4, brush, thumb\n                     ^\n" in err
    assert "bassic-figure in needs is not in the library" in err


def test_the_explanation_names_every_key_and_word_of_a_file(capsys: Capture) -> None:
    code, out, _ = run(capsys, "patterns", "--explain")
    assert code == 0
    keys = (*REQUIRED_KEYS, *OPTIONAL_KEYS, *BREAK_KEYS, *BREAK_OPTIONS, *CHART_KEYS, *CHART_OPTIONS)
    words = (*keys, *LEVEL_OPTIONS, *KIND_WORDS, *MANNERS, *(f.value for f in Figure), *NAMED_NOTES)
    said = " ".join(out.split())
    assert [word for word in words if word not in said] == []
    assert [meter.value for meter in Meter if f'"{meter.value}"' not in said] == []
    assert [mode.value for mode in Mode if mode is not Mode.MAJOR and mode.value not in said] == []
    assert max(len(line) for line in out.splitlines()) <= 110


def test_the_example_of_the_explanation_is_a_good_break_without_a_doubt(
    capsys: Capture, tmp_path: Path
) -> None:
    path = tmp_path / "plum-stone.toml"
    path.write_text(EXAMPLE, encoding="utf-8")
    code, out, err = run(capsys, "check", str(path))
    assert (code, err) == (0, "")
    assert "good: Plum Stone, a break of 10 bars of 2/4 in G" in out


def test_the_files_that_the_readme_shows_are_good_and_beyond_doubt(capsys: Capture, tmp_path: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text[text.index("## Write your own") : text.index("## Commands")]
    shown = re.findall(r"```\n(.*?)```", section, re.DOTALL)
    assert len(shown) == 2
    for at, each in enumerate(shown):
        path = tmp_path / f"shown-{at}.toml"
        path.write_text(each, encoding="utf-8")
        code, out, err = run(capsys, "check", str(path))
        assert (code, err) == (0, "")
        assert ": good: " in out


def test_midi_writes_a_file_and_says_what_is_in_it(capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "barn.mid"
    code, out, err = run(
        capsys, "midi", "barn-lantern at skips", "--bpm", "90", "--passes", "2", "--to", str(path)
    )
    assert (code, err) == (0, "")
    count = sum(m.type == "note_on" for m in mido.MidiFile(path).tracks[1])
    assert out == f"{path}: Barn Lantern, skips, 32 bars at 90 beats a minute, {count} notes.\n"


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("--bpm", "500"), 2, "outside 20 to 400"),
        (("--passes", "0"), 2, "--passes"),
        (("--swing", "9"), 2, "swing ratio"),
        (("--passes", "2000"), 2, ""),
    ],
)
def test_midi_refuses_what_it_cannot_write(
    capsys: Capture, tmp_path: Path, words: tuple[str, ...], code: int, says: str
) -> None:
    path = tmp_path / "a.mid"
    if words == ("--passes", "2000"):
        text = (ROOT / "patterns" / "thumb-on-every-up-slot.toml").read_text(encoding="utf-8")
        bar = text.splitlines()[-2]
        long = tmp_path / "long.toml"
        long.write_text(text.replace(bar, "\n".join([bar] * 63)), encoding="utf-8")
        name, says = str(long), "more than 500000 notes; write at most"
    else:
        name = "skip-figure"
    found, out, err = run(capsys, "midi", name, "--to", str(path), *words)
    assert (found, out) == (code, "")
    assert says in err
    assert not path.exists()


def test_midi_into_a_folder_that_is_not_there_is_a_matter_of_files(capsys: Capture, tmp_path: Path) -> None:
    code, _, err = run(capsys, "midi", "skip-figure", "--to", str(tmp_path / "none" / "a.mid"))
    assert code == 4
    assert "cannot be written" in err


@pytest.mark.parametrize("command", ["midi", "hands"])
def test_a_midi_file_of_another_ending_is_written_and_said(
    command: str, tmp_path: Path, capsys: Capture
) -> None:
    to = tmp_path / "x.txt"
    code, _, err = run(capsys, command, "skip-figure", "--bpm", "80", "--to", str(to))
    assert code == 0
    assert err == f"{to} is a Standard MIDI File; other programs know it by the ending .mid.\n"
    assert len(mido.MidiFile(to).tracks) > 0  # the library reads it for what it is


@pytest.mark.parametrize(
    "words", [["barn-lantern", "in", "double", "D"], ["barn-lantern", "at", "skips", "in", "sawmill"]]
)
def test_a_tuning_named_for_a_key_is_told_from_one(words: list[str], capsys: Capture) -> None:
    code, _, err = run(capsys, "patterns", *words)
    assert code == 2
    assert "found the tuning" in err
    assert "for the key; write the note called 1 as it sounds, such as" in err
