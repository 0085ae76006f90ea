"""The patterns that come with the program: readable, playable, and in a course that can be climbed."""

import re
from collections.abc import Callable
from fractions import Fraction
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern, write_pattern
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.strokes import INSIDE_STRINGS, Hand, Kind, Motion
from trainer.music.tempo import figures_a_minute
from trainer.music.timeline import Timeline
from trainer.records.library import course_remarks, load_library
from trainer.records.tune_file import read_tune_file

FOLDER = Path(__file__).parent.parent / "patterns"
FILES = sorted(FOLDER.glob("*.toml"))
PATTERNS = {path.stem: tune for path in FILES if isinstance(tune := read_tune_file(path), Pattern)}
# Tapping with sounds breaks down at intervals of 100 to 125 ms: Repp 2006, Adv. Cogn. Psychol. 2:163-181.
SHORTEST_INTERVAL_S = 0.100
# Beats further apart than about 1800 ms are no longer followed as a beat (same source).
LONGEST_BEAT_S = 1.8

each_pattern = pytest.mark.parametrize("pattern", PATTERNS.values(), ids=PATTERNS.keys())


STRIKE, REST, BRUSH, THUMB = Kind.STRIKE, Kind.REST, Kind.BRUSH, Kind.THUMB
SKIP, DROP, HAMMER, PULL, SLIDE = Kind.SKIP, Kind.DROP_THUMB, Kind.HAMMER_ON, Kind.PULL_OFF, Kind.SLIDE
BASIC = (STRIKE, REST, BRUSH, THUMB)
SKIP_FIGURE = (SKIP, DROP, BRUSH, THUMB)


def kinds(pattern: Pattern) -> set[Kind]:
    return {stroke.kind for stroke in pattern.strokes}


def shapes(pattern: Pattern) -> list[tuple[Kind, ...]]:
    """Return the kinds of each bar, with its strings, frets and accents left out."""
    return [tuple(stroke.kind for stroke in bar) for bar in pattern.bars]


def strings_of(pattern: Pattern, kind: Kind) -> set[int]:
    return {string for s in pattern.strokes if s.kind is kind for string in s.strings}


def runs(pattern: Pattern) -> list[tuple[tuple[Kind, ...], int]]:
    """Return each shape with the number of bars for which it stays."""
    return [(shape, len(list(bars))) for shape, bars in groupby(shapes(pattern))]


def brush_strings(pattern: Pattern) -> set[tuple[int, ...]]:
    return {stroke.strings for stroke in pattern.strokes if stroke.kind is BRUSH}


def accent_places(pattern: Pattern) -> set[tuple[int, ...]]:
    return {tuple(at for at, stroke in enumerate(bar) if stroke.accented) for bar in pattern.bars}


def falls(pattern: Pattern) -> list[Kind]:
    """Return what the hand does each time it falls, bar after bar."""
    ways = pattern.motion * len(pattern.bars)
    return [s.kind for s, way in zip(pattern.strokes, ways, strict=True) if way is Motion.DOWN]


def ornaments(pattern: Pattern, kind: Kind) -> bool:
    """Tell whether every bar is the basic figure with this left-hand stroke on the string just struck."""
    return all(shape == (STRIKE, kind, BRUSH, THUMB) for shape in shapes(pattern)) and all(
        bar[0].strings == bar[1].strings for bar in pattern.bars
    )


def skills(pattern: Pattern) -> set[str]:
    """Return what a hand must be able to do: each stroke, each inside string, and each after a skip."""
    found = set()
    for before, stroke in pairwise((pattern.strokes[-1], *pattern.strokes)):
        words = stroke.kind.value
        if stroke.kind is DROP:
            words += f" {stroke.strings[0]}"
            if before.kind is SKIP:
                found.add(f"{words} after a skip")
        found.add(words)
        for asked, what in ((stroke.muted, "muted"), (stroke.triplet, "triplet"), (stroke.slid_from, "slid")):
            if asked:
                found.add(what)
    return found - {REST.value}


def prepared(pattern: Pattern) -> set[str]:
    """Return the skills of all patterns that this one needs, near and far."""
    found: set[str] = set()
    for need in pattern.needs:
        found |= skills(PATTERNS[need]) | prepared(PATTERNS[need])
    return found


def drops_alone_on(string: int) -> Callable[[Pattern], bool]:
    return lambda p: strings_of(p, DROP) == {string} and SKIP not in kinds(p)


def skip_figure_on(string: int) -> Callable[[Pattern], bool]:
    return lambda p: (
        set(shapes(p)) == {SKIP_FIGURE} and strings_of(p, DROP) == {string} and accent_places(p) == {()}
    )


def alternates(basic: int, skip: int) -> Callable[[Pattern], bool]:
    return lambda p: runs(p) == [(BASIC, basic), (SKIP_FIGURE, skip)]


def sounds_another_string(pattern: Pattern) -> bool:
    """Tell whether the left hand ever sounds a string other than the one just struck."""
    return any(
        struck.kind is STRIKE and left.kind.hand is Hand.LEFT and left.strings != struck.strings
        for struck, left in pairwise(pattern.strokes)
    )


# What the course must hold, each asked of the strokes and never of names or titles.
TOPICS: dict[str, Callable[[Pattern], bool]] = {
    "first strikes on one string": lambda p: kinds(p) == {STRIKE, REST} and len(strings_of(p, STRIKE)) == 1,
    "strike and brush": lambda p: kinds(p) == {STRIKE, BRUSH, REST},
    "the basic figure": lambda p: (
        set(shapes(p)) == {BASIC} and accent_places(p) == {()} and len(strings_of(p, STRIKE)) <= 2
    ),
    "the basic figure moving across the strings": lambda p: (
        set(shapes(p)) == {BASIC} and strings_of(p, STRIKE) == {1, 2, 3, 4}
    ),
    "the thumb on every up slot": lambda p: (
        kinds(p) == {STRIKE, BRUSH, THUMB} and all(shape[1::2] == (THUMB, THUMB) for shape in shapes(p))
    ),
    **{f"drop-thumb on string {n}, without a skip": drops_alone_on(n) for n in INSIDE_STRINGS},
    "drop-thumb inside the basic figure": lambda p: (STRIKE, DROP, BRUSH, THUMB) in shapes(p),
    "the silent skip alone": lambda p: kinds(p) == {STRIKE, SKIP, REST},
    "skip, then brush": lambda p: (
        kinds(p) <= {SKIP, REST, BRUSH, THUMB}
        and all(shape[:3] == (SKIP, REST, BRUSH) for shape in shapes(p))
    ),
    **{f"the skip figure with drop-thumb {n}": skip_figure_on(n) for n in INSIDE_STRINGS},
    "the skip figure with its accents moved": lambda p: (
        set(shapes(p)) == {SKIP_FIGURE} and len(accent_places(p) - {()}) >= 2
    ),
    "two skips in a row": lambda p: (SKIP, SKIP) in pairwise(falls(p)),
    "a skip on the second beat only": lambda p: (
        p.slots_per_beat == 2
        and all(shape[0] is not SKIP and shape[2:4] == (SKIP, DROP) for shape in shapes(p))
    ),
    **{f"{b} basic, {s} skip": alternates(b, s) for b, s in ((1, 1), (2, 2), (3, 1))},
    "hammer-on in the basic figure": lambda p: ornaments(p, HAMMER),
    "pull-off in the basic figure": lambda p: ornaments(p, PULL),
    "slide in the basic figure": lambda p: ornaments(p, SLIDE),
    "the left hand on a string not just struck": sounds_another_string,
    "the skip with the thumb on the short string": lambda p: (STRIKE, REST, SKIP, THUMB) in shapes(p),
    "thumb before and after the skip": lambda p: set(shapes(p)) == {(STRIKE, THUMB, SKIP, THUMB)},
    "the note brought forward to the thumb": lambda p: set(shapes(p)) == {(STRIKE, DROP, SKIP, THUMB)},
    "the brush on four strings": lambda p: brush_strings(p) == {(4, 3, 2, 1)},
    "the brush on two strings": lambda p: brush_strings(p) == {(2, 1)},
    "alternating bass": lambda p: set(shapes(p)) == {BASIC} and [b[0].strings[0] for b in p.bars] == [3, 4],
    "the drag over two beats": lambda p: set(shapes(p)) == {(BRUSH, REST, STRIKE, THUMB)},
    "a scale run with drop-thumb": lambda p: shapes(p)[:3] == [(STRIKE, DROP, STRIKE, DROP)] * 3,
    "a muted stroke": lambda p: any(s.muted for s in p.strokes),
    "a slide down": lambda p: any(
        left.kind is SLIDE and (left.fret or 0) < (struck.fret or 0) for struck, left in pairwise(p.strokes)
    ),
    "an ornament in three": lambda p: p.meter is Meter.THREE_FOUR and p.has_left_hand,
    "an ornament in six": lambda p: p.meter is Meter.SIX_EIGHT and p.has_left_hand,
    "drop-thumb in six": lambda p: p.meter is Meter.SIX_EIGHT and DROP in kinds(p) and SKIP not in kinds(p),
    "a skip in six": lambda p: p.meter is Meter.SIX_EIGHT and SKIP in kinds(p),
    "the basic figure in 4/4": lambda p: p.meter is Meter.FOUR_FOUR and set(shapes(p)) == {BASIC * 2},
    "the skip figure in 4/4": lambda p: p.meter is Meter.FOUR_FOUR and SKIP in kinds(p),
    "one in 9/8": lambda p: p.meter is Meter.NINE_EIGHT,
    "one in 3/4": lambda p: p.meter is Meter.THREE_FOUR,
    "one in 6/8": lambda p: p.meter is Meter.SIX_EIGHT,
    "four slots to a beat": lambda p: p.slots_per_beat == 4,
    "three slots to a quarter note": lambda p: p.slots_per_beat == 3 and p.meter is not Meter.SIX_EIGHT,
}


@pytest.mark.parametrize("meter", Meter)
def test_at_least_three_figures_fit_each_meter(meter: Meter) -> None:
    assert sum(p.meter is meter for p in PATTERNS.values()) >= 3


@each_pattern
def test_the_playing_tempo_is_that_of_a_dance_and_the_first_goal_that_of_a_slow_jam(pattern: Pattern) -> None:
    """A dance plays 110 to 120 half-note beats a minute, a slow jam 70 to 80: common practice, no source."""
    assert pattern.playing_bpm is not None
    assert pattern.slow_bpm < pattern.goal_bpm < pattern.playing_bpm
    if pattern.meter is Meter.TWO_FOUR and pattern.slots_per_beat == 2:
        figures = figures_a_minute(pattern.meter, pattern.slots_per_beat, pattern.playing_bpm)
        assert 100 <= figures <= 120
        assert 60 <= figures_a_minute(pattern.meter, pattern.slots_per_beat, pattern.goal_bpm) <= 80


def test_ornaments_do_not_wait_for_the_drop_thumb() -> None:
    simple = [p for p in PATTERNS.values() if p.level is Level.ORNAMENTS]
    assert len(simple) >= 8
    assert [p.name for p in simple if "drop-thumb" in " ".join(sorted(prepared(p)))] == []


def test_there_are_at_least_twenty_in_the_library_and_none_is_broken(tmp_path: Path) -> None:
    library = load_library(tmp_path)
    assert len(library.patterns) == len(FILES) >= 20
    assert library.problems == ()
    assert library.remarks == ()


def test_steps_number_the_course_without_a_gap() -> None:
    assert sorted(p.step for p in PATTERNS.values()) == list(range(1, len(PATTERNS) + 1))


@each_pattern
def test_what_a_pattern_needs_comes_earlier_in_the_course(pattern: Pattern) -> None:
    assert [need for need in pattern.needs if need not in PATTERNS] == []
    assert [need for need in pattern.needs if PATTERNS[need].step >= pattern.step] == []


def test_only_the_first_step_needs_nothing() -> None:
    assert [p.step for p in PATTERNS.values() if not p.needs] == [1]


def test_the_course_check_finds_nothing_to_say() -> None:
    assert course_remarks(PATTERNS) == ()


@each_pattern
def test_every_interval_at_the_playing_tempo_can_be_followed(pattern: Pattern) -> None:
    # Two passes, so that the step from the last stroke to the first is counted as well.
    targets = lay_out(pattern, Timeline.steady(pattern.fastest_bpm), passes=2)
    targets = tuple(t for t in targets if t.stroke.kind.sounds)
    assert min(b.song_s - a.song_s for a, b in pairwise(targets)) > SHORTEST_INTERVAL_S


@each_pattern
def test_the_slow_tempo_still_has_a_beat_and_is_below_the_goal(pattern: Pattern) -> None:
    assert 60 / float(pattern.slow_bpm) < LONGEST_BEAT_S
    assert pattern.goal_bpm >= pattern.slow_bpm * Fraction(3, 2)


@each_pattern
def test_the_teacher_says_one_sentence_and_it_can_be_said_in_one_breath(pattern: Pattern) -> None:
    assert pattern.teacher.endswith(".")
    assert pattern.teacher[:-1].count(".") == 0
    assert 6 <= len(pattern.teacher.split()) <= 32


@each_pattern
def test_levels_say_what_is_in_the_pattern(pattern: Pattern) -> None:
    left = any(s.kind.hand is Hand.LEFT or s.slid_from is not None or s.triplet for s in pattern.strokes)
    if Kind.SKIP in kinds(pattern):
        wanted = Level.SKIPS
    elif left:
        wanted = Level.ORNAMENTS
    else:
        wanted = Level.PLAIN
    assert pattern.level is wanted


@each_pattern
def test_text_survives_being_written_and_read_again(pattern: Pattern) -> None:
    assert read_pattern(write_pattern(pattern), name=pattern.name) == pattern


@each_pattern
def test_under_its_remarks_a_file_looks_as_the_program_would_write_it(pattern: Pattern) -> None:
    text = (FOLDER / f"{pattern.name}.toml").read_text(encoding="utf-8")
    assert re.sub(r"\A(?:#[^\n]*\n)*", "", text) == write_pattern(pattern)


@each_pattern
def test_a_pattern_asks_at_most_one_thing_that_nothing_before_it_taught(pattern: Pattern) -> None:
    new = skills(pattern) - prepared(pattern)
    assert len(new) <= 1, new
    # What is new here must be new in the course: otherwise the pattern that teaches it belongs in needs.
    taught = [p.name for p in PATTERNS.values() if p.step < pattern.step and new & skills(p)]
    assert taught == []


@each_pattern
def test_the_hand_falls_on_every_beat(pattern: Pattern) -> None:
    assert {pattern.motion[at].value for at in range(0, pattern.slots_per_bar, pattern.slots_per_beat)} == {
        "down"
    }


def test_file_names_are_plain_words_joined_by_hyphens() -> None:
    assert [p.stem for p in FILES if not p.stem.replace("-", "").isalpha() or p.stem != p.stem.lower()] == []


@pytest.mark.parametrize("topic", TOPICS)
def test_the_course_holds_a_pattern_for(topic: str) -> None:
    assert [p.name for p in PATTERNS.values() if TOPICS[topic](p)] != []


def test_the_course_uses_every_kind_of_stroke() -> None:
    assert set().union(*(kinds(p) for p in PATTERNS.values())) == set(Kind)
