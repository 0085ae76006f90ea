"""Asking for a break, a chart or a pattern by name."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.shipped import shipped
from tests.strategies import NAMES
from trainer.errors import BadNotation, BadSettings
from trainer.music.breaks import Break, laid_break_name, lay_break
from trainer.music.keys import KEYS
from trainer.music.pattern import Level
from trainer.practice.settings import Settings
from trainer.records.asked_tune import AskedTune, read_asked, retuned
from trainer.records.library import Library, load_library, open_pattern
from trainer.records.settings import load_settings, save_settings

LIBRARY = shipped()
SHIPPED = Path(__file__).parent.parent.parent / "patterns"
PATTERN = """title = "A figure"
level = "plain"
step = 1
meter = "2/4"
slots_per_beat = 2
slow_bpm = 40
goal_bpm = 120
bars = "strike 3, rest, brush, thumb"
"""
CHART = """kind = "chart"
title = "{title}"
key = "G"
meter = "2/4"
figure = "{figure}"
chords = "1, 4"
"""
BREAK = """kind = "break"
title = "A tune"
step = 1
key = "G"
meter = "2/4"
slow_bpm = 40
goal_bpm = 120
needs = ["{needs}"]
chords = "1"
melody = "3, hold"
"""


def put(folder: Path, name: str, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def load(tmp_path: Path) -> Library:
    return load_library(tmp_path / "own", shipped=tmp_path / "shipped")


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("barn-lantern", "barn-lantern at plain"),
        ("barn-lantern at skips", "barn-lantern at skips"),
        ("Barn-Lantern at ORNAMENTS", "barn-lantern at ornaments"),
        ("barn-lantern at skips in A", "barn-lantern at skips"),
        ("barn-lantern in bb", "barn-lantern at plain in Bb"),
        ("slow-ferry", "slow-ferry with in-three"),
        ("slow-ferry with skip-figure-in-three", "slow-ferry with skip-figure-in-three"),
        ("slow-ferry with in-three in E", "slow-ferry with in-three in E"),
        ("skip-figure", "skip-figure"),
    ],
)
def test_a_name_opens_what_it_says_and_the_patterns_own_name_opens_it_again(asked: str, name: str) -> None:
    pattern = open_pattern(asked, LIBRARY)
    assert pattern.name == name
    assert open_pattern(pattern.name, LIBRARY) == pattern


@pytest.mark.parametrize("entry", LIBRARY.breaks, ids=[e.brk.name for e in LIBRARY.breaks])
@pytest.mark.parametrize("level", Level)
def test_every_shipped_break_opens_at_every_level(entry: object, level: Level) -> None:
    brk = next(e.brk for e in LIBRARY.breaks if e is entry)
    assert open_pattern(laid_break_name(brk.name, level), LIBRARY) == lay_break(brk, level)


def test_everything_laid_is_opened_again_by_its_own_name() -> None:
    assert len(LIBRARY.laid) == 3 * len(LIBRARY.breaks) + len(LIBRARY.charts)
    assert [open_pattern(pattern.name, LIBRARY) for pattern in LIBRARY.laid] == list(LIBRARY.laid)


def test_every_figure_offered_for_a_chart_can_be_laid_over_it() -> None:
    for chart in (entry.backup for entry in LIBRARY.charts):
        figures = LIBRARY.figures(chart.meter)
        assert figures
        for figure in figures:
            laid = open_pattern(f"{chart.name} with {figure.name}", LIBRARY)
            assert (laid.chart, laid.level) == (chart.chart, figure.level)


def test_a_laid_name_is_kept_in_the_settings(tmp_path: Path) -> None:
    names = {pattern.name: "90" for pattern in LIBRARY.laid}
    save_settings(Settings(tempi=names), tmp_path / "settings")
    assert load_settings(tmp_path / "settings")[0].tempi == names


def test_a_path_takes_a_level_or_a_figure_too() -> None:
    path = SHIPPED / "breaks" / "barn-lantern.toml"
    assert open_pattern(f"{path} at skips", LIBRARY).name == "barn-lantern at skips"
    assert open_pattern(str(path), LIBRARY).name == "barn-lantern at plain"
    chart = SHIPPED / "charts" / "slow-ferry.toml"
    assert open_pattern(f"{chart} with in-three", LIBRARY).name == "slow-ferry with in-three"


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ("barn-lantern at skps", "did you mean skips"),
        ("barn-lantern at ease", "write plain, ornaments, skips"),
        ("barn-lanter at skips", 'no pattern called "barn-lanter"; did you mean barn-lantern'),
        ("barn-lantern in H", 'found "H" for the key'),
        ("barn-lantern with basic-figure", "is a break and takes no figure"),
        ("slow-ferry at skips", "is a chart and has no levels"),
        ("slow-ferry with basic-figure", "basic-figure is in 2/4 and slow-ferry in 3/4"),
        ("slow-ferry with nothing", 'no pattern called "nothing"'),
        ("slow-ferry with barn-lantern", "is a break and no figure"),
        ("skip-figure at skips", "is a pattern and is played as it stands"),
        ("skip-figure in A", "is a pattern and is played as it stands"),
        ("at skips", "no pattern called"),
        ("", "no pattern called"),
    ],
)
def test_what_cannot_be_opened_is_said_in_one_sentence(asked: str, says: str) -> None:
    with pytest.raises(BadSettings) as caught:
        open_pattern(asked, LIBRARY)
    assert says in str(caught.value)


@given(NAMES, st.none() | st.sampled_from(Level), NAMES, st.booleans(), st.none() | st.sampled_from(KEYS))
def test_any_request_is_read_back_from_its_words(
    name: str, level: Level | None, figure: str, with_figure: bool, key: str | None
) -> None:
    asked = AskedTune(
        name=name, level=level, figure=figure if with_figure and level is None else None, key=key
    )
    words = name
    words += f" at {level.value}" if level is not None else ""
    words += f" with {asked.figure}" if asked.figure else ""
    words += f" in {key}" if key else ""
    assert read_asked(words) == asked


@given(st.text(max_size=30))
def test_any_words_open_something_or_give_a_sentence(text: str) -> None:
    try:
        found = open_pattern(text, LIBRARY).name
    except (BadSettings, BadNotation) as problem:
        found = str(problem)
    assert found


def test_a_users_break_takes_the_place_of_a_shipped_one_and_that_is_said(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", PATTERN)
    put(tmp_path / "shipped" / "breaks", "tune", BREAK.format(needs="a"))
    own = put(tmp_path / "own", "tune", BREAK.format(needs="a").replace("A tune", "Mine"))
    library = load(tmp_path)
    assert [(e.brk.title, e.shipped, e.path) for e in library.breaks] == [("Mine", False, own)]
    assert library.remarks == (f"{own} is used in place of the break tune that comes with the program.",)


def test_kinds_are_told_by_what_is_in_a_file_and_not_by_its_folder(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "gate", CHART.format(title="Gate", figure="a"))
    put(tmp_path / "own" / "charts", "a", PATTERN)
    library = load(tmp_path)
    assert [e.backup.name for e in library.charts] == ["gate"]
    assert [p.name for p in library.patterns] == ["a"]
    assert open_pattern("gate", library).name == "gate with a"


def test_names_that_lead_nowhere_are_remarked(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", PATTERN)
    put(tmp_path / "shipped", "three", PATTERN.replace("2/4", "3/4").replace("thumb", "thumb, brush, thumb"))
    put(tmp_path / "own" / "charts", "gate", CHART.format(title="Gate", figure="nowhere"))
    put(tmp_path / "own" / "charts", "pond", CHART.format(title="Pond", figure="three"))
    put(tmp_path / "own" / "breaks", "tune", BREAK.format(needs="nothing"))
    put(tmp_path / "own" / "breaks", "a", BREAK.format(needs="a"))
    library = load(tmp_path)
    assert set(library.remarks) == {
        "The chart gate names nowhere, which is not in the library.",
        "The chart pond is in 2/4 and its figure three is not.",
        "The break tune needs nothing, which is not in the library.",
        "The name a means the pattern; the break is opened by its path.",
    }


def test_a_broken_break_stops_nothing_and_keeps_its_place(tmp_path: Path) -> None:
    put(tmp_path / "shipped", "a", PATTERN)
    bad = put(tmp_path / "own" / "breaks", "tune", BREAK.format(needs="a").replace("3, hold", "3, hodl"))
    library = load(tmp_path)
    [problem] = library.problems
    assert (problem.source, problem.line, problem.column) == (str(bad), 10, 14)
    assert library.breaks == ()


class TestRetuned:
    barn = next(e.brk for e in LIBRARY.breaks if e.brk.name == "barn-lantern")
    gate = next(e.backup for e in LIBRARY.charts if e.backup.name == "the-gate-left-open")

    @pytest.mark.parametrize(
        ("key", "capo", "wanted"),
        [(None, None, ("A", 2)), ("C", None, ("C", 5)), (None, 0, ("G", 0)), ("Bb", 3, ("Bb", 3))],
    )
    def test_a_key_moves_the_capo_and_a_capo_the_key(
        self, key: str | None, capo: int | None, wanted: tuple[str, int]
    ) -> None:
        """Shapes of G with the capo at 2, 5, 0, 3: A, C, G, Bb: common practice, no source."""
        for tune in (self.barn, self.gate):
            moved = retuned(tune, key, capo)
            assert (moved.chart.key, moved.tuning.capo) == wanted

    def test_a_chart_takes_both_and_a_break_only_when_they_agree(self) -> None:
        moved = retuned(self.gate, "C", 0)
        assert (moved.chart.key, moved.tuning.capo) == ("C", 0)
        assert isinstance(retuned(self.barn, "Bb", 3), Break)
        with pytest.raises(BadSettings, match="with the capo at 2 barn-lantern sounds in A and not in C"):
            retuned(self.barn, "C", 2)
