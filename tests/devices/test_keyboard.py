"""Keys as taps: repeats, bounces, the uncertainty of a look at the queue."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.devices.keyboard import SCAN_S, HandKeys, KeyTaps
from trainer.music.strokes import Hand

MS = 1_000_000


def test_a_tap_lies_in_the_middle_of_the_interval_in_which_the_key_went_down() -> None:
    tap = KeyTaps(HandKeys()).down("f", host_ns=100 * MS, looked_ns=96 * MS)
    assert tap is not None
    assert (tap.host_ns, tap.hand) == (98 * MS, Hand.NAIL)
    assert tap.uncertainty_s == pytest.approx(0.002 + SCAN_S)


def test_a_held_key_taps_once_and_again_only_after_it_was_let_go() -> None:
    taps = KeyTaps(HandKeys())
    assert taps.down("j", host_ns=0, looked_ns=0) is not None
    assert taps.down("j", host_ns=500 * MS, looked_ns=499 * MS) is None
    taps.up("j")
    assert taps.down("j", host_ns=600 * MS, looked_ns=599 * MS) is not None


def test_a_bounce_is_no_second_tap() -> None:
    taps = KeyTaps(HandKeys())
    assert taps.down("j", host_ns=100 * MS, looked_ns=99 * MS) is not None
    taps.up("j")
    assert taps.down("j", host_ns=105 * MS, looked_ns=104 * MS) is None


def test_two_keys_of_one_look_are_marked_as_sharing_their_time() -> None:
    taps = KeyTaps(HandKeys())
    first = taps.down("f", host_ns=50 * MS, looked_ns=48 * MS)
    second = taps.down("j", host_ns=50 * MS, looked_ns=48 * MS)
    assert first is not None
    assert second is not None
    assert (first.shared, second.shared) == (False, True)


def test_other_keys_are_no_hands() -> None:
    tap = KeyTaps(HandKeys()).down("x", host_ns=0, looked_ns=0)
    assert tap is not None
    assert tap.hand is None


def test_taking_the_other_hands_key_swaps_the_two() -> None:
    assert HandKeys().with_key(Hand.NAIL, "j") == HandKeys(nail="j", thumb="f")
    assert HandKeys().with_key(Hand.THUMB, "k") == HandKeys(nail="f", thumb="k")


def test_the_left_hand_has_a_key_only_when_one_is_given() -> None:
    keys = HandKeys().with_key(Hand.LEFT, "space")
    assert keys.hand("space") is Hand.LEFT
    assert keys.with_key(Hand.LEFT, "").hand("space") is None
    assert HandKeys().hand("") is None


@given(
    st.lists(st.tuples(st.sampled_from([Hand.NAIL, Hand.THUMB, Hand.LEFT]), st.sampled_from(["", *"fjkd"])))
)
def test_no_key_is_ever_two_hands_and_nail_and_thumb_always_have_one(
    changes: list[tuple[Hand, str]],
) -> None:
    keys = HandKeys()
    for hand, key in changes:
        keys = keys.with_key(hand, key)
        assert keys.nail
        assert keys.thumb
        assert len({keys.nail, keys.thumb, keys.left}) == 3


def test_keys_are_forgotten_when_the_window_loses_the_keyboard() -> None:
    taps = KeyTaps(HandKeys())
    assert taps.down("f", host_ns=0, looked_ns=0) is not None
    taps.forget()
    assert taps.down("f", host_ns=900 * MS, looked_ns=899 * MS) is not None
