"""A varied session with breaks: only playing counts, and nothing interrupts it."""

from dataclasses import replace
from fractions import Fraction

from tests.practice.courses import COURSE, named, rung
from trainer.practice.course import Rung, standings
from trainer.practice.session import Role, Session, Stretch, Suggestion, session_of, suggest

MINUTE = 60.0


def played(session: Session, now_s: float, minutes: float, pattern: str = "one") -> tuple[Session, float]:
    end_s = now_s + minutes * MINUTE
    return session.started(now_s, pattern).stopped(end_s), end_s


def test_only_playing_counts() -> None:
    session, now_s = played(Session(), 100.0, 2)
    session, _ = played(session, now_s + 4 * MINUTE, 1)
    assert (session.played_s, session.total_s, session.here_s) == (180, 180, 180)


def test_a_break_is_asked_for_after_twenty_five_minutes_and_never_in_a_drill() -> None:
    """Klickstein, The Musician's Way: five minutes after 25."""
    session, now_s = played(Session(), 0.0, 24.9)
    assert not session.is_break_due(now_s)
    running = session.started(now_s, "one")
    assert not running.is_break_due(now_s + 10 * MINUTE)
    assert running.in_words(now_s + 10 * MINUTE, None) == ""
    session, now_s = played(session, now_s, 0.1)
    assert session.is_break_due(now_s)
    assert session.in_words(now_s, None) == "25 minutes of playing: rest for 5 minutes"


def test_a_pause_of_five_minutes_is_the_break() -> None:
    session, now_s = played(Session(), 0.0, 26)
    assert session.is_break_due(now_s + 4.9 * MINUTE)
    assert not session.is_break_due(now_s + 5 * MINUTE)
    after, _ = played(session, now_s + 5 * MINUTE, 1)
    assert (after.played_s, after.total_s) == (MINUTE, 27 * MINUTE)
    going_on, later_s = played(session, now_s + 4.9 * MINUTE, 1)
    assert going_on.is_break_due(later_s)


def test_after_three_minutes_another_figure_is_next() -> None:
    then = Suggestion(pattern="two", title="Two", role=Role.REFRESH)
    session, now_s = played(Session(), 0.0, 2.9)
    assert session.in_words(now_s, then) == "then Two, one to refresh (N)"
    session, now_s = played(session, now_s, 0.2)
    assert session.is_time_to_rotate(now_s)
    assert session.in_words(now_s, then) == "3 minutes here: next Two, one to refresh (N)"
    session, now_s = played(session, now_s, 0.5, "two")
    assert not session.is_time_to_rotate(now_s)
    assert session.recent == ("one", "two")


def test_a_drill_begun_over_another_ends_it_and_a_clock_set_back_takes_nothing() -> None:
    session = Session().started(0.0, "one").started(60.0, "two").stopped(30.0)
    assert session.total_s == 60
    assert session.stopped(99.0) is session


def test_a_program_that_was_closed_remembers_from_its_takes() -> None:
    takes = [Stretch(pattern="one", start_s=n * 360.0, end_s=n * 360.0 + 300) for n in range(5)]
    session = session_of(takes)
    assert session.is_break_due(takes[-1].end_s)
    assert session.total_s == 1500


def rows(*each: tuple[str, int]) -> list[Rung]:
    return [rung(name, bpm, order) for order, (name, bpm) in enumerate(each)]


def test_it_begins_with_what_is_being_learnt_else_with_what_is_new() -> None:
    new = suggest(Session(), COURSE, standings(COURSE, ()))
    assert new == Suggestion(pattern="one", title="One", role=Role.NEW)
    assert Session().in_words(0.0, new) == "begin with One, a new one (N)"
    begun = suggest(Session(), COURSE, standings(COURSE, rows(("one", 60))))
    assert begun is not None
    assert (begun.pattern, begun.role) == ("one", Role.LEARNING)


def test_learning_refreshing_and_new_take_turns() -> None:
    """Mixed, not in blocks: Carter & Grahn 2016."""
    course = (named("old"), named("mid", "old"), named("fresh", "mid"), named("far", "fresh"))
    history = [
        rung("old", 120, 0), rung("mid", 90, 1), rung("old", 120, 2, day=2), rung("mid", 90, 3, day=2),
    ]  # fmt: skip
    found = standings(course, history)
    session, now_s, seen = Session(), 0.0, []
    for _ in range(3):
        suggestion = suggest(session, course, found)
        assert suggestion is not None
        seen.append((suggestion.pattern, suggestion.role))
        session, now_s = played(session, now_s, 3, suggestion.pattern)
        # What was new is being learnt from its first take on.
        found = {**found, suggestion.pattern: replace(found[suggestion.pattern], last_order=9)}
    assert seen == [("mid", Role.LEARNING), ("old", Role.REFRESH), ("fresh", Role.NEW)]
    suggestion = suggest(session, course, found)
    assert suggestion is not None
    assert suggestion.pattern != "far"


def test_the_figure_just_played_is_never_suggested_and_what_waits_still_can_be() -> None:
    one_played = played(Session(), 0.0, 1)[0]
    assert suggest(one_played, COURSE[:1], standings(COURSE[:1], ())) is None
    still = suggest(one_played, COURSE, standings(COURSE, ()))
    assert still is not None
    assert still.pattern == "two"
    assert suggest(Session(), (), {}) is None


def test_of_two_being_learnt_the_one_longest_away_comes_first() -> None:
    found = standings(COURSE, rows(("one", 60), ("two", 60), ("three", 60)))
    session, _ = played(Session(), 0.0, 1, "two")
    session, _ = played(session, 61.0, 1, "one")
    following = suggest(session, COURSE, found)
    assert following is not None
    assert following.pattern == "three"


def test_what_is_clean_enough_is_refreshed_as_long_as_no_goal_is_reached() -> None:
    found = standings(COURSE, rows(("one", 80), ("two", 60)))
    session, _ = played(Session(), 0.0, 1, "two")
    following = suggest(session, COURSE, found)
    assert following is not None
    assert (following.pattern, following.role) == ("one", Role.REFRESH)


def test_fractions_of_a_beat_are_said_with_one_decimal() -> None:
    slow = replace(named("slow"), slow_bpm=Fraction(141, 2), goal_bpm=Fraction(141, 2))
    assert standings((slow, named("next", "slow")), ())["next"].in_words() == "first: Slow, clean at 70.5"
