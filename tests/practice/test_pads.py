"""Pads by touch and by words."""

import pytest

from trainer.errors import BadSettings
from trainer.music.strokes import Hand
from trainer.music.tuning import OPEN_G
from trainer.practice.pads import PadMap, PadTouch, Teaching, own_take_map, read_pads, write_pads


def test_nail_thumb_and_left_hand_are_taught_by_touch() -> None:
    teaching = Teaching()
    assert teaching.prompt == "touch the pad for your nail"
    teaching = teaching.touched(9, 36)
    assert teaching.prompt == "touch the pad for your thumb, or skip"
    teaching = teaching.touched(9, 38).skipped()
    assert teaching.prompt == "touch the pad for your nail on string 1, or skip"
    teaching = teaching.skipped().skipped()
    assert teaching.done
    pads = teaching.result()
    assert pads.touch(9, 36) == PadTouch(hand=Hand.NAIL, string=None)
    assert pads.touch(9, 38) == PadTouch(hand=Hand.THUMB, string=None)
    assert pads.touch(9, 40) is None
    assert (pads.knows_hand, pads.knows_left, pads.knows_strings) == (True, False, False)
    assert pads.in_words() == "nail and thumb"


def test_one_pad_alone_knows_no_hand() -> None:
    pads = Teaching().touched(0, 60).skipped().result()
    assert pads.touch(0, 60) == PadTouch(hand=None, string=None)
    assert not pads.knows_hand
    assert pads.in_words() == "one pad: timing only"


def test_pads_by_string_go_on_to_the_end() -> None:
    teaching = Teaching()
    for note in range(40, 51):
        teaching = teaching.touched(0, note)
    assert teaching.done
    pads = teaching.result()
    assert pads.touch(0, 43) == PadTouch(hand=Hand.NAIL, string=1)
    assert pads.touch(0, 47) == PadTouch(hand=Hand.THUMB, string=5)
    assert pads.knows_strings
    assert pads.knows_left


def test_a_pad_cannot_be_two_things_and_the_last_can_be_taken_back() -> None:
    teaching = Teaching().touched(0, 36).touched(0, 36)
    assert "taken already" in teaching.note
    assert teaching.prompt.startswith("touch the pad for your thumb")
    teaching = teaching.touched(0, 38).undone()
    assert teaching.prompt.startswith("touch the pad for your thumb")
    assert "needed" in Teaching().skipped().note


def test_an_untaught_input_takes_every_note_for_a_tap() -> None:
    assert PadMap().touch(3, 77) == PadTouch(hand=None, string=None)


def test_words_for_pads_are_read_and_written() -> None:
    words = "nail=36,thumb=38,left=40,nail3=41,thumb5=43"
    pads = read_pads(words)
    assert pads.touch(5, 41) == PadTouch(hand=Hand.NAIL, string=3)
    assert write_pads(pads) == words
    assert read_pads("thumb5=50, nail=7").touch(0, 50) == PadTouch(hand=Hand.THUMB, string=5)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("nail", "write nail=36"),
        ("toe=36", '"toe=36"'),
        ("nail=128", "from 0 to 127"),
        ("nail=x", "from 0 to 127"),
        ("nail=36,thumb=36", "note 36 is given to two pads"),
        ("", "write nail=36"),
        ("nail12=36", "write nail=36"),
    ],
)
def test_words_that_mean_nothing_are_refused(words: str, says: str) -> None:
    with pytest.raises(BadSettings) as caught:
        read_pads(words)
    assert says in str(caught.value)


def test_our_own_takes_tell_hand_by_channel_and_open_string_by_pitch() -> None:
    pads = own_take_map()
    assert pads.touch(0, OPEN_G.note(3)) == PadTouch(hand=Hand.NAIL, string=3)
    assert pads.touch(1, OPEN_G.note(5)) == PadTouch(hand=Hand.THUMB, string=5)
    assert pads.touch(1, OPEN_G.note(2)) == PadTouch(hand=Hand.THUMB, string=2)
    assert pads.touch(0, OPEN_G.note(3) + 2) == PadTouch(hand=Hand.NAIL, string=None)
    assert pads.touch(7, 60) is None
