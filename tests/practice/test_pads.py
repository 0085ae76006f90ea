"""Pads by touch and by words."""

import contextlib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadSettings
from trainer.music.strokes import Hand
from trainer.music.tuning import OPEN_G
from trainer.practice.pads import Pad, PadMap, PadTouch, Teaching, own_take_map, read_pads, write_pads


def test_nail_thumb_and_left_hand_are_taught_by_touch() -> None:
    teaching = Teaching()
    assert teaching.prompt == "touch the pad for your nail"
    teaching = teaching.touched(9, 36)
    assert teaching.prompt == "touch the pad for your thumb, or N for none"
    teaching = teaching.touched(9, 38).skipped()
    assert teaching.prompt == "touch the pad for marking skips, or N for none"
    teaching = teaching.skipped()
    assert teaching.prompt == "touch the pad for your nail on string 1, or N for none"
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
        if note == 42:
            teaching = teaching.skipped()
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


def test_one_pad_is_still_one_pad_after_it_was_written_down() -> None:
    pads = Teaching().touched(9, 36).skipped().result()
    assert write_pads(pads) == "any=36"
    assert read_pads("any=36").touch(9, 36) == PadTouch(hand=None, string=None)


@pytest.mark.parametrize("words", ["nail=36", "thumb=36", "any=36", "nail=36,nail3=40"])
def test_without_a_pad_for_each_no_hand_is_told(words: str) -> None:
    """With one pad alone the thumb must play on it too, so calling its taps the nail's would be wrong."""
    pads = read_pads(words)
    assert pads.touch(0, 36) == PadTouch(hand=None, string=None)
    assert not pads.knows_hand
    assert "timing only" in pads.in_words()


def test_the_left_hand_is_known_even_where_nail_and_thumb_share_a_pad() -> None:
    pads = read_pads("any=36,left=40")
    assert pads.touch(0, 36) == PadTouch(hand=None, string=None)
    assert pads.touch(0, 40) == PadTouch(hand=Hand.LEFT, string=None)
    assert (pads.knows_hand, pads.knows_left) == (False, True)
    assert pads.in_words() == "nail and thumb share a pad: timing only"


def test_a_hands_pad_can_become_that_of_a_string() -> None:
    teaching = Teaching().touched(0, 36).touched(0, 38).skipped().skipped()
    teaching = teaching.touched(0, 36)
    assert teaching.prompt == "touch the pad for your nail on string 2, or N for none"
    teaching = teaching.touched(0, 38)
    assert "taken already" in teaching.note
    teaching = teaching.touched(0, 36)
    assert "taken already" in teaching.note
    pads = teaching.touched(0, 41).skipped().touched(0, 38).skipped().result()
    assert write_pads(pads) == "nail1=36,thumb5=38,nail2=41"
    assert pads.touch(0, 36) == PadTouch(hand=Hand.NAIL, string=1)


def test_every_touch_and_skip_can_be_taken_back_to_the_start() -> None:
    steps = [Teaching()]
    for take in ("touch 36", "touch 38", "skip", "skip", "touch 36", "touch 41", "skip", "touch 38"):
        word, _, note = take.partition(" ")
        steps.append(steps[-1].touched(0, int(note)) if word == "touch" else steps[-1].skipped())
    back = steps[-1].touched(0, 36)
    assert back.note
    for step in reversed(steps[:-1]):
        back = back.undone()
        assert back == step
    assert back.undone() == Teaching()


def test_a_skipped_thumb_can_be_asked_for_again() -> None:
    done = Teaching().touched(0, 36).skipped()
    assert done.done
    assert done.undone().prompt == "touch the pad for your thumb, or N for none"


def test_pads_that_differ_only_in_channel_are_kept_apart() -> None:
    teaching = Teaching().touched(0, 36).touched(1, 36).skipped().skipped().skipped()
    words = write_pads(teaching.result())
    assert words == "nail=36@1,thumb=36@2"
    assert read_pads(words) == teaching.result()
    assert read_pads(words).touch(2, 36) is None


@given(
    st.lists(
        st.builds(
            Pad,
            note=st.integers(0, 127),
            channel=st.none() | st.integers(0, 15),
            hand=st.sampled_from([None, Hand.NAIL, Hand.THUMB, Hand.LEFT]),
            string=st.none() | st.integers(1, 5),
        ),
        min_size=1,
        max_size=12,
        unique_by=lambda pad: pad.note,
    )
)
def test_any_map_of_single_notes_comes_back_from_its_words_for_any_channel(pads: list[Pad]) -> None:
    wanted = PadMap(pads=tuple(replace(pad, channel=None) for pad in pads))
    assert read_pads(write_pads(PadMap(pads=tuple(pads)))) == wanted


@given(
    st.text(max_size=30) | st.from_regex(r"(nail|any|left|x)[0-9]?=[0-9@a]{0,6}(,nail=1)?", fullmatch=True)
)
def test_any_words_give_a_map_or_a_sentence(words: str) -> None:
    with contextlib.suppress(BadSettings):
        pads = read_pads(words)
        assert all(0 <= pad.note <= 127 and pad.channel in (None, *range(16)) for pad in pads.pads)


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
        ("nail6=36", "write nail=36"),
        ("nail=36@0", "the channel of nail"),
        ("nail=36@17", "from 1 to 16"),
        ("nail=36@2,thumb=36", "note 36 is given to two pads"),
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


def test_a_pad_for_marking_skips_is_taught_and_kept_and_is_nobodys_hand() -> None:
    pads = Teaching().touched(0, 36).touched(0, 38).skipped().touched(0, 42).skipped().skipped().result()
    assert write_pads(pads) == "nail=36,thumb=38,side=42"
    again = read_pads("nail=36,thumb=38,side=42")
    assert again.touch(0, 42) == PadTouch(hand=Hand.NONE, string=None)
    assert (again.knows_hand, again.knows_side, again.knows_left) == (True, True, False)
    assert again.in_words() == "nail and thumb, and one for skips"
    alone = read_pads("any=36,side=42")
    assert (alone.touch(0, 36), alone.knows_hand) == (PadTouch(hand=None, string=None), False)
