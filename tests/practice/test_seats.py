"""Pads given out by touch: each is one player's, one alone or one for each hand; mistakes are taken back."""

from hypothesis import given
from hypothesis import strategies as st

from trainer.music.strokes import Hand
from trainer.practice.seats import MOST_SEATS, Seats, TouchSource

A, B = TouchSource(port="Pad:out", note=36), TouchSource(port="Pad:out", note=38)
C, D = TouchSource(key="q"), TouchSource(port="Other:out", note=38)


def given_out(seats: Seats, *sources: TouchSource) -> Seats:
    """Touch each of these once, a second apart."""
    for at, source in enumerate(sources):
        seats = seats.touched(source, float(at))
    return seats


def test_each_player_is_asked_in_turn_for_one_pad_or_two() -> None:
    seats = Seats.of(("Ann", "Bo"))
    assert seats.asked == "Ann"
    assert not seats.can_begin
    seats = given_out(seats, A, B)
    assert seats.asked == "Bo"
    assert given_out(seats, A) == seats
    seats = given_out(seats, C, C)
    assert seats.asked == ""
    assert seats.can_begin
    assert [seats.seat_of(each) for each in (A, B, C, D)] == [0, 0, 1, None]
    assert [seats.hand_of(each) for each in (A, B, C, D)] == [Hand.NAIL, Hand.THUMB, None, None]
    assert given_out(seats, D) == seats


def test_a_pad_that_sounds_twice_at_one_strike_is_touched_once() -> None:
    seats = Seats.of(("Ann", "Bo")).touched(A, 10.0)
    assert seats.touched(A, 10.1) == seats
    assert seats.touched(A, 10.4).asked == "Bo"


def test_who_is_not_there_is_left_out_and_the_next_is_asked() -> None:
    seats = given_out(Seats.of(tuple("ABCDEFGHIJ")).left_out(), A, B)
    assert seats.taken[0].name == "B"
    assert seats.left_out().away == ("A", "C")
    assert seats.left_out().undone() == seats
    # The ninth and the tenth of the class take the places of those who are not there.
    sources = [TouchSource(key=letter) for letter in "bbccddeeffgghh"]
    assert [seat.name for seat in given_out(seats.left_out(), *sources).taken] == list("BDEFGHIJ")


def test_the_last_touch_is_taken_back() -> None:
    seats = given_out(Seats.of(("Ann", "Bo")), A, B, C)
    assert seats.first == C
    assert seats.undone().first is None
    assert seats.undone().undone().asked == "Ann"
    assert seats.undone().undone().undone().undone() == Seats.of(("Ann", "Bo"))


def test_pads_are_named_as_short_as_they_are_still_told_apart() -> None:
    seats = given_out(Seats.of(("Ann", "Bo", "Cy")), A, B, C, C)
    assert [seat.in_words for seat in seats.taken] == ["nail 36, thumb 38 of Pad", "key Q"]
    apart = given_out(Seats.of(("Ann",)), A, D)
    assert apart.taken[0].in_words == "nail: note 36 of Pad, thumb: note 38 of Other"


def test_players_without_a_name_get_a_number() -> None:
    assert Seats.of(()).names == tuple(f"Player {at}" for at in range(1, 9))


@given(st.lists(st.integers(0, 12), max_size=60))
def test_no_pad_is_ever_two_players(touches: list[int]) -> None:
    seats = given_out(
        Seats.of(tuple("ABCDEFGHIJ")), *(TouchSource(port="Pad", note=note) for note in touches)
    )
    pads = [pad for seat in seats.taken for pad in (seat.nail, seat.thumb) if pad is not None]
    assert len(set(pads)) == len(pads)
    assert len(seats.taken) <= MOST_SEATS
