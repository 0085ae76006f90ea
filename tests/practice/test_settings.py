"""The table of settings: what follows from it, and that nothing in it contradicts the rooms it speaks of."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, pattern_of
from trainer.errors import BadSettings
from trainer.music.layout import MOST_PASSES, Feel
from trainer.music.strokes import Kind
from trainer.music.timeline import MAX_SWING
from trainer.practice.drill import DrillSettings
from trainer.practice.setting_changes import (
    as_table,
    changed,
    from_table,
    learnt,
    merged,
    stepped,
    with_value,
)
from trainer.practice.setting_kinds import Choice, Ratio, ReadBack, Switch, Texts, Whole
from trainer.practice.settings import (
    CLICK_VOICES,
    TABLE,
    TEXT_SIZES,
    THEMES,
    THINNED_BY_BARS,
    THINNINGS,
    Follows,
    Settings,
)
from trainer.screen.theme import ThemeName
from trainer.sound.clicks import ClickVoice
from trainer.sound.thinning import MOST_BARS, Thin, Thinning

STEPPED = [name for name, spec in TABLE.items() if isinstance(spec.kind, Switch | Whole | Choice | Ratio)]
texts = st.dictionaries(st.sampled_from("abc"), st.sampled_from("12"), max_size=3)
some_settings = st.builds(
    Settings,
    pads=texts,
    tempi=st.dictionaries(st.sampled_from("abc"), st.sampled_from(("40", "50")), max_size=3),
    passes=st.sampled_from((1, 2)),
    band=st.booleans(),
    player=st.sampled_from(("", "Ada")),
)


def test_the_words_are_those_of_the_rooms_they_stand_for() -> None:
    assert tuple(theme.value for theme in ThemeName) == THEMES
    assert tuple(thin.value for thin in Thin) == THINNINGS
    assert Thin.SILENT_BARS.value == THINNED_BY_BARS
    assert tuple(voice.value for voice in ClickVoice) == CLICK_VOICES


@pytest.mark.parametrize(
    ("pan", "words"),
    [
        (0, "in the middle"),
        (-2, "2 to the left"),
        (9, "9 to the right"),
        (-10, "left only"),
        (10, "right only"),
    ],
)
def test_where_a_sound_is_heard_is_said_in_words(pan: int, words: str) -> None:
    row = TABLE["band_pan"].row
    assert row is not None
    assert row.words is not None
    assert row.words(Settings(band_pan=pan)) == words


@pytest.mark.parametrize("steps", [-1, 1])
@pytest.mark.parametrize("name", STEPPED)
def test_every_step_of_every_setting_leads_to_one_that_a_file_can_hold(name: str, steps: int) -> None:
    settings = Settings()
    for _ in range(50):
        settings = stepped(settings, name, steps)
        assert from_table(as_table(settings)) == (settings, ())


@pytest.mark.parametrize("off", range(1, MOST_BARS))
def test_whatever_bars_are_stepped_to_make_a_thinning(off: int) -> None:
    settings = Settings(thinning=THINNED_BY_BARS)
    for _ in range(off):
        settings = stepped(stepped(settings, "thin_of", 1), "thin_off", 1)
    Thinning.named(settings.thinning, settings.thin_off, settings.thin_of)
    assert settings.thin_off == min(2 + off, 15)


@pytest.mark.parametrize(
    ("name", "start", "steps", "expected"),
    [
        ("click", True, 0, False),
        ("click_volume", 7, -9, 0),
        ("click_volume", 7, 9, 10),
        ("lay_back_ms", 75, 3, 80),
        ("thin_off", 2, 5, 3),
        ("thin_of", 4, -5, 3),
        ("pocket", "wide", 1, "wide"),
        ("theme", "projector", 1, "room"),
        ("ladder", "off", -1, "alternating"),
        ("text_size", "usual", -1, "usual"),
        ("lay_back_of", "all", 2, "brush"),
        ("swing", "1", 1, "21/20"),
        ("swing", "157/100", 1, "8/5"),
        ("swing", "4", 1, "4"),
        ("passes", 16, 1, 0),
        ("passes", 0, 1, 0),
        ("passes", 0, -1, 16),
        ("passes", 12, -1, 4),
        ("passes", 1, -1, 1),
        ("passes", 9_000, -1, 16),
    ],
)
def test_a_step_goes_to_the_neighbour_and_not_beyond_the_end(
    name: str, start: object, steps: int, expected: object
) -> None:
    assert getattr(stepped(with_value(Settings(), name, start), name, steps), name) == expected


def test_the_limits_are_those_of_the_rooms_that_hold_them() -> None:
    """The largest that can be stepped to is taken, and the next larger one is refused."""
    settings = Settings()
    for name in ("lay_back_ms", "thin_of", "swing"):
        settings = stepped(settings, name, 1000)
    assert settings.thin_of == MOST_BARS
    assert Fraction(settings.swing) == MAX_SWING
    Feel(layback_s=((Kind.BRUSH, settings.lay_back_ms / 1000),))
    with pytest.raises(BadSettings):
        Feel(layback_s=((Kind.BRUSH, (settings.lay_back_ms + 1) / 1000),))
    most = from_table({"passes": 10**9})[0].passes
    drill = DrillSettings(pattern=pattern_of(BASIC_FIGURE), bpm=Fraction(60), passes=most)
    with pytest.raises(BadSettings):
        replace(drill, passes=most + 1)
    assert drill.passes == most == MOST_PASSES


@given(some_settings, some_settings, some_settings)
def test_merging_keeps_our_changes_and_all_else_of_theirs(
    base: Settings, ours: Settings, theirs: Settings
) -> None:
    both = merged(base, ours, theirs)
    for name in ("passes", "band", "player"):
        was, our, their = (getattr(each, name) for each in (base, ours, theirs))
        assert getattr(both, name) == (their if our == was else our)
    for name in ("pads", "tempi"):
        was, our, their, found = (getattr(each, name) for each in (base, ours, theirs, both))
        for key in "abc":
            assert found.get(key) == (their.get(key) if our.get(key) == was.get(key) else our.get(key))


@given(some_settings, some_settings)
def test_merging_with_nobody_elses_changes_is_ours(base: Settings, ours: Settings) -> None:
    assert merged(base, ours, base) == ours
    assert merged(base, base, ours) == ours


def test_only_what_is_known_of_devices_and_patterns_is_taken_over_from_others() -> None:
    theirs = Settings(
        theme="projector", pads={"Pad": "any=1"}, known_delays={"Pad | wire": "3"}, tempi={"x": "60"}
    )
    assert learnt(Settings(passes=8), theirs) == replace(theirs, passes=8, theme="room")


def test_what_changed_is_named_in_the_tables_order() -> None:
    assert changed(Settings(), Settings(theme="projector", nail_key="d", band=True)) == (
        "nail_key", "band", "theme",
    )  # fmt: skip


def test_every_setting_is_in_the_table_and_has_words_for_what_it_shows() -> None:
    assert {*TABLE, "other"} == set(Settings.__slots__)
    for name, spec in TABLE.items():
        if spec.row is not None:
            assert spec.row.remark, name
            assert spec.row.label or name == "own_keys"
        if spec.follows is not Follows.NOTHING:
            assert spec.undo, f"{name} is taken back without a word"
    assert len(TEXT_SIZES) == 3


@pytest.mark.parametrize(("deep", "is_kept"), [(1, True), (8, True), (9, False), (500, False)])
def test_what_a_newer_version_nests_is_kept_unless_it_is_very_deep(deep: int, is_kept: bool) -> None:
    value: object = 1
    for level in range(deep):
        value = [value] if level % 2 else {"in": value}
    settings, odd = from_table({"newer": value})
    assert settings.other == ({"newer": value} if is_kept else {})
    assert odd == (() if is_kept else ("'newer'",))


def test_a_word_that_is_none_of_a_choice_steps_as_the_first_does() -> None:
    for goes_round in (True, False):
        choice = Choice(words=("a", "b", "c"), goes_round=goes_round)
        assert [choice.stepped(now, 1) for now in ("gone", 7, "a", "b")] == ["b", "b", "b", "c"]
    assert choice.stepped("c", 5) == "c"
    assert choice.stepped("b", -5) == "a"


def test_of_texts_by_name_only_what_is_text_is_kept() -> None:
    kind = Texts()
    assert kind.read({"a": "1", "b": 2, 3: "c"}, {}) == ReadBack({"a": "1"}, fits=False)
    assert kind.read(["a"], {"x": "y"}) == ReadBack({"x": "y"}, fits=False)


@pytest.mark.parametrize("name", [name for name in STEPPED if TABLE[name].row is not None])
def test_every_value_that_a_row_can_be_stepped_to_has_words_and_a_remark(name: str) -> None:
    row = TABLE[name].row
    assert row is not None
    settings, seen = Settings(thinning=THINNED_BY_BARS, thin_of=8), set()
    for steps in (*[-1] * 20, *[1] * 40):
        settings = stepped(settings, name, steps)
        remark = row.remark(settings) if callable(row.remark) else row.remark
        seen.add((row.words(settings) if row.words is not None else str(getattr(settings, name)), remark))
    assert all(words and remark.endswith(".") for words, remark in seen)
    assert len(seen) >= 2
