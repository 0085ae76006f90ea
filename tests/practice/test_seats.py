"""Pads given out by touch: each pad is one player's, and mistakes can be taken back."""

from hypothesis import given
from hypothesis import strategies as st

from trainer.practice.seats import MOST_SEATS, Seats, TouchSource

A, B, C = TouchSource(port="Pad", note=36), TouchSource(port="Pad", note=38), TouchSource(key="q")


def test_each_player_is_asked_in_turn() -> None:
    seats = Seats.of(("Ann", "Bo"))
    assert seats.asked == "Ann"
    assert not seats.can_begin
    seats = seats.touched(A)
    assert seats.asked == "Bo"
    assert seats.touched(A) == seats
    seats = seats.touched(C)
    assert seats.asked == ""
    assert seats.can_begin
    assert (seats.seat_of(A), seats.seat_of(C), seats.seat_of(B)) == (0, 1, None)
    assert seats.touched(B) == seats


def test_the_last_pad_is_taken_back() -> None:
    seats = Seats.of(("Ann", "Bo")).touched(A).touched(B).undone()
    assert seats.asked == "Bo"
    assert seats.undone().undone().sources == ()


def test_players_without_a_name_get_a_number() -> None:
    assert Seats.of(()).names == tuple(f"Player {at}" for at in range(1, 9))


@given(st.lists(st.integers(0, 12), max_size=40))
def test_no_pad_is_ever_two_players(touches: list[int]) -> None:
    seats = Seats.of(tuple("ABCDEFGHIJ"))
    for note in touches:
        seats = seats.touched(TouchSource(port="Pad", note=note))
    assert len(set(seats.sources)) == len(seats.sources) == min(len(set(touches)), MOST_SEATS)
