"""What cannot be seen reaches neither a terminal nor a font; everything else is as it was."""

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadNotation, BadSettings
from trainer.plain_text import drawable, is_clean, visible

ANY_TEXT = st.text(alphabet=st.characters(codec=None), max_size=60)


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("Ann Ó Súilleabháin 山田 ½", "Ann Ó Súilleabháin 山田 ½"),
        ("one\ttwo\nthree", "one\ttwo\nthree"),
        ("\x1b]0;title\x07\x1b[2J", "\\x1b]0;title\\x07\\x1b[2J"),
        ("abc\u202ecba", "abc\\u202ecba"),
        ("\ud800", "\\ud800"),
        ("a\r\x00b\x9b", "a\\x0d\\x00b\\x9b"),
        ("نمی\u200cخواهم", "نمی\u200cخواهم"),  # a joiner inside a Persian word is part of its spelling
    ],
)
def test_codes_are_spelt_out_and_words_are_not(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_a_file_name_that_is_no_utf_8_is_shown_by_its_bytes() -> None:
    assert visible(os.fsdecode(b"\xdcbung.toml")) == "\\xdcbung.toml"


@given(ANY_TEXT)
def test_what_is_visible_is_utf_8_without_a_code_in_it(text: str) -> None:
    shown = visible(text)
    shown.encode("utf-8")
    assert all(c in "\n\t" or is_clean(c) for c in shown)
    assert visible(shown) == shown


@given(ANY_TEXT)
def test_what_is_drawn_is_as_long_and_can_be_drawn(text: str) -> None:
    drawn = drawable(text)
    assert len(drawn) == len(text)
    assert drawn.isprintable()


def test_a_sentence_about_a_hostile_text_holds_no_code() -> None:
    assert str(BadSettings("found \x1b[2J", "leave it")) == "found \\x1b[2J; leave it."
    err = BadNotation(source="\x1b.toml", line=1, column=3, problem="x", remedy="y", line_text="\x1b\u202ez")
    assert "\x1b" not in str(err)
    # The caret stands under the third character although the first two are spelt out.
    *_, line, pointer = str(err).splitlines()
    assert line[len(pointer) - 1] == "z"


def test_a_sentence_about_a_very_long_word_is_one_that_can_be_read() -> None:
    text = str(BadSettings(f'found "{"x" * 9000}" for a key', "write one"))
    assert len(text) < 500
    assert text.startswith('found "xxx')
    assert text.endswith('xxx" for a key; write one.')


def test_of_a_very_long_line_only_what_lies_around_the_mistake_is_shown() -> None:
    line = "a" * 3000 + "!" + "b" * 3000
    err = BadNotation(source="x", line=1, column=3001, problem="p", remedy="r", line_text=line)
    *_, shown, pointer = str(err).splitlines()
    assert len(shown) < 130
    assert shown[len(pointer) - 1] == "!"
