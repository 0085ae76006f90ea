"""Every take kept and found again; progress asked for; players and single takes taken out."""

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.judging.helpers import BASIC_FIGURE, pattern_of
from tests.records.takes import DAY, FIGURE, a_take, takes
from tests.shipped import shipped
from trainer.errors import BadRecords, BadSettings, DamagedRecords
from trainer.practice.course import standings
from trainer.practice.stored_take import StoredTake, judgement_of
from trainer.records.library import open_pattern
from trainer.records.store import Store, records_path
from trainer.records.take_codec import USUAL_TEXT

OTHER = replace(pattern_of(BASIC_FIGURE), name="other")
REUSED = settings(suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = Store.open(tmp_path / "takes.sqlite")
    yield opened
    opened.close()


def plain(take: StoredTake) -> StoredTake:
    """A take without what the records add."""
    return replace(take, id=None, uid="")


@REUSED
@given(take=takes())
def test_a_take_comes_back_as_it_was_kept(store: Store, take: StoredTake) -> None:
    again = store.take(store.keep(take))
    assert replace(again, id=None) == take
    assert judgement_of(again) == judgement_of(take)
    assert again.id is not None
    store.forget_take(again.id)  # the next example may have the same uid


def test_a_take_without_a_uid_gets_one(store: Store) -> None:
    again = store.take(store.keep(a_take()))
    assert len(again.uid) == 32
    assert plain(again) == a_take()


def test_takes_outlive_the_program(tmp_path: Path) -> None:
    store = Store.open(tmp_path / "deep" / "takes.sqlite")
    number = store.keep(a_take(player="Ann"))
    store.close()
    again = Store.open(tmp_path / "deep" / "takes.sqlite")
    assert plain(again.take(number)) == a_take(player="Ann")
    assert again.note == ""
    again.close()


def test_the_same_take_is_kept_once(store: Store) -> None:
    take = a_take()
    assert store.keep(take) == store.keep(take)
    assert store.keep_all([take, a_take(minutes=1)]) == 1
    assert store.count() == 2


def test_takes_are_kept_together_or_not_at_all(store: Store) -> None:
    with pytest.raises(BadRecords, match="time of a take"):
        store.keep_all([a_take(), replace(a_take(), begun="yesterday")])
    assert store.count() == 0


def test_one_text_is_kept_once_and_a_changed_pattern_keeps_its_old_text(store: Store) -> None:
    changed = replace(FIGURE, title="Figure, changed")
    first, second, third = (
        store.keep(a_take(pattern=p, minutes=n)) for n, p in enumerate((FIGURE, FIGURE, changed))
    )
    assert [store.take(n).pattern for n in (first, second, third)] == [FIGURE, FIGURE, changed]
    assert store.patterns_played("")[0].title == "Figure, changed"
    assert store.patterns_played("")[0].takes == 3


@pytest.mark.parametrize(
    "asked", ["basic-figure", "barn-lantern at skips", "barn-lantern in A", "the-gate-left-open"]
)
def test_whatever_can_be_drilled_can_be_kept(store: Store, asked: str) -> None:
    pattern = open_pattern(asked, shipped())
    take = a_take(pattern=pattern, passes=1)
    assert plain(store.take(store.keep(take))) == take
    assert store.pattern(pattern.name) == pattern


def test_a_pattern_is_known_as_it_was_played_last(store: Store) -> None:
    for days, title in enumerate(("first", "second", "first")):
        store.keep(a_take(pattern=replace(FIGURE, title=title), days=days))
        assert store.pattern("figure").title == title
        assert store.patterns_played("")[0].title == title
    with pytest.raises(BadSettings, match='"waltz" was never played'):
        store.pattern("waltz")


def test_takes_are_listed_the_newest_first_and_page_by_page(store: Store) -> None:
    for minutes in (3, 1, 2, 0):
        store.keep(a_take(minutes=minutes))
    all_rows = store.takes()
    assert [row.begun[14:16] for row in all_rows] == ["08", "07", "06", "05"]
    pages = [store.takes(limit=3)]
    pages.append(store.takes(limit=3, before_id=pages[0][-1].id))
    assert pages[0] + pages[1] == all_rows
    row = all_rows[0]
    assert (row.pattern, row.title, row.first_bpm, row.asked, row.clean) == ("figure", "Figure", 60, 28, 28)
    assert row.fastest_clean == 60


def test_takes_are_found_by_player_and_pattern(store: Store) -> None:
    for n, (player, pattern) in enumerate([("Ann", FIGURE), ("Bo", FIGURE), ("Ann", OTHER)]):
        store.keep(a_take(player=player, pattern=pattern, minutes=n))
    assert [row.pattern for row in store.takes(player="Ann")] == ["other", "figure"]
    assert [row.player for row in store.takes(pattern="figure")] == ["Bo", "Ann"]
    assert [t.player for t in store.each_take(player="Ann", pattern="figure")] == ["Ann"]


def test_a_number_that_is_not_there_is_said(store: Store) -> None:
    with pytest.raises(BadSettings, match="no take 7"):
        store.take(7)


def test_a_take_can_be_forgotten_and_put_back_under_its_number(store: Store) -> None:
    first = store.keep(a_take(player="Ann"))
    store.keep(a_take(minutes=1))
    gone = store.forget_take(first)
    assert (store.count(), store.players()) == (1, ())
    assert store.restore_take(gone) == first
    assert (store.take(first), store.players()) == (gone, ("Ann",))


def test_players_are_named_in_order_and_nobody_is_no_name(store: Store) -> None:
    for n, player in enumerate(("bo", "", "Ann", "Zoë")):
        store.keep(a_take(player=player, minutes=n))
    assert store.players() == ("Ann", "bo", "Zoë")


@pytest.mark.parametrize("with_takes", [True, False])
def test_a_forgotten_name_leaves_no_trace_in_the_files(tmp_path: Path, with_takes: bool) -> None:
    store = Store.open(tmp_path / "takes.sqlite")
    name = "Quetzalina"
    for n in range(20):
        store.keep(a_take(player=name, minutes=n))
    store.forget_player(name, with_takes=with_takes)
    assert store.players() == ()
    assert store.count() == (0 if with_takes else 20)
    assert all(name.encode() not in file.read_bytes() for file in tmp_path.iterdir())
    with pytest.raises(BadSettings, match=name):
        store.forget_player(name, with_takes=with_takes)
    store.close()


def test_a_backup_is_whole_while_the_records_are_in_use(store: Store, tmp_path: Path) -> None:
    number = store.keep(a_take())
    store.backup(tmp_path / "copy.sqlite")
    store.keep(a_take(minutes=1))
    copy = Store.open(tmp_path / "copy.sqlite")
    assert copy.count() == 1
    assert copy.take(number) == store.take(number)
    copy.close()
    with pytest.raises(BadSettings, match="the file of the records itself"):
        store.backup(store.path)


def test_two_windows_can_keep_takes_in_one_file(store: Store) -> None:
    other = Store.open(store.path)
    numbers = {store.keep(a_take(minutes=0)), other.keep(a_take(minutes=1)), store.keep(a_take(minutes=2))}
    assert numbers == {1, 2, 3}
    assert other.count() == 3
    other.close()


def test_the_place_is_the_users_data_folder_or_a_folder_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("THUMBFALL_RECORDS", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", "/elsewhere")
    monkeypatch.setenv("HOME", "/home/someone")
    assert records_path("~/takes") == Path("/home/someone/takes/takes.sqlite")
    assert records_path().name == "takes.sqlite"
    assert records_path().parent.name == "thumbfall"


# Progress


def test_the_fastest_clean_tempo_of_each_day(store: Store) -> None:
    drills: list[tuple[int, str, float]] = [
        (0, "60", 0.004), (0, "66.6", 0.004), (0, "90", 0.2), (1, "70", 0.2), (2, "63", 0.004),
    ]  # fmt: skip
    for n, (days, bpm, jitter_s) in enumerate(drills):
        store.keep(a_take(days=days, minutes=n, bpm=bpm, jitter_s=jitter_s))
    assert store.fastest_clean_by_day("", "figure") == ((DAY, Fraction("66.6")), (DAY + 2, 63))
    (played,) = store.patterns_played("")
    assert (played.takes, played.last_day, played.fastest_clean) == (5, DAY + 2, Fraction("66.6"))


def test_what_does_not_count_is_no_progress_but_minutes_are_minutes(store: Store) -> None:
    store.keep(a_take(not_graded="the sound was interrupted"))
    store.keep(a_take(minutes=1, simulated=True))
    assert store.fastest_clean_by_day("", "figure") == ()
    assert store.spread_by_day("", "figure", Fraction(60)) == ()
    (day,) = store.minutes_by_day("", 0)
    assert day == (DAY, pytest.approx(a_take().seconds_played / 60))
    assert [rung.clean for rung in store.clean_rungs("")] == [False]


def test_the_spread_of_a_day_is_pooled_over_takes_at_about_the_tempo(store: Store) -> None:
    same = [a_take(bpm=60, jitter_s=0.01, seed=1), a_take(bpm=61, minutes=1, jitter_s=0.02, seed=2)]
    for take in (*same, a_take(bpm=70, minutes=2, jitter_s=0.05)):
        store.keep(take)
    (day,) = store.spread_by_day("", "figure", Fraction(60))
    # By hand: both have 24 taps, so the pooled variance is the mean of the two.
    assert all(take.rungs[0].taps == 24 for take in same)
    variances = [take.rungs[0].spread_s ** 2 for take in same if take.rungs[0].spread_s is not None]
    assert day == (DAY, pytest.approx((sum(variances) / 2) ** 0.5), 48)


def test_minutes_are_told_from_a_day_on_and_by_player(store: Store) -> None:
    for days in range(4):
        store.keep(a_take(player="Ann", days=days))
    store.keep(a_take(player="Bo", days=3))
    assert [each.day for each in store.minutes_by_day("Ann", DAY + 2)] == [DAY + 2, DAY + 3]


def test_the_course_learns_of_each_visit(store: Store) -> None:
    for n, (pattern, days, bpm, jitter_s) in enumerate(
        [
            (FIGURE, 0, 60, 0.004), (FIGURE, 0, 63, 0.004), (FIGURE, 0, 90, 0.2),
            (OTHER, 0, 80, 0.2), (FIGURE, 0, 66, 0.004), (FIGURE, 1, 60, 0.004),
        ]
    ):  # fmt: skip
        passes = 8 if pattern is OTHER else 4
        store.keep(
            a_take(pattern=pattern, days=days, minutes=n, bpm=bpm, jitter_s=jitter_s, passes=passes, seed=n)
        )
    assert [(r.pattern, r.bpm, r.clean, r.day - DAY, r.order) for r in store.clean_rungs("")] == [
        ("figure", 63, True, 0, 0),
        ("other", 80, False, 0, 1),
        ("figure", 66, True, 0, 2),
        ("figure", 60, True, 1, 2),
    ]


@pytest.mark.parametrize(("between", "reached"), [(FIGURE, False), (OTHER, True)])
def test_the_goal_is_reached_with_another_pattern_in_between(
    store: Store, between: object, reached: bool
) -> None:
    goal = int(FIGURE.goal_bpm)
    for n, pattern in enumerate((FIGURE, between, FIGURE)):
        store.keep(a_take(pattern=pattern, minutes=n, bpm=goal, passes=8))  # type: ignore[arg-type]
    assert standings([FIGURE], store.clean_rungs(""))["figure"].goal_reached is reached


def test_a_body_is_json_that_anyone_can_unpack(store: Store) -> None:
    """zlib with its preset dictionary (RFC 1950) and Python's json."""
    take = a_take(player="Ann", uid="a" * 32)
    store.keep(take)
    (body,) = store._connection.execute("SELECT body FROM takes").fetchone()
    table = json.loads(zlib.decompressobj(zdict=USUAL_TEXT).decompress(body))
    assert table["taps"]["at_us"] == [round(tap.song_s * 1e6) for tap in take.taps]
    assert "Ann" not in json.dumps(table)
    # As when the first take was kept: with another none of them could be read.
    assert hashlib.sha256(USUAL_TEXT).hexdigest()[:16] == "32aaa6b9a9c6a768"


def test_a_take_whose_pattern_is_gone_is_damaged_and_the_others_are_read(tmp_path: Path) -> None:
    path = tmp_path / "takes.sqlite"
    store = Store.open(path)
    whole, broken = store.keep(a_take()), store.keep(a_take(pattern=OTHER, minutes=1))
    store.close()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM patterns WHERE name = 'other'")
    store = Store.open(path)
    assert plain(store.take(whole)) == a_take()
    with pytest.raises(DamagedRecords):
        store.take(broken)
    store.close()
