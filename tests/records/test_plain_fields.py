"""A table of plain values is read field by field, and what does not fit is named in one sentence."""

from collections.abc import Callable

import pytest

from trainer.errors import BadRecords
from trainer.records.plain_fields import LARGEST, MOST, Fields, words_in

TABLE = {"n": 7, "x": 1.5, "t": "wörter", "yes": True, "rows": [1, "a"], "none": None, "big": 10**400}


def test_each_kind_of_value_is_read_as_what_it_is() -> None:
    fields = Fields(TABLE)
    assert (fields.whole("n"), fields.whole("n", least=7, most=7)) == (7, 7)
    assert (fields.number("x"), fields.number("n"), fields.maybe("none")) == (1.5, 7.0, None)
    assert (fields.text("t"), fields.words("t"), fields.flag("yes")) == ("wörter", "wörter", True)
    assert (fields.rows("rows"), words_in(["a", "b"])) == ([1, "a"], ["a", "b"])
    assert (fields.has("n"), fields.has("gone")) == (True, False)
    assert Fields({"edge": LARGEST}).number("edge") == LARGEST
    assert Fields({"edge": -LARGEST}).maybe("edge") == -LARGEST
    assert Fields({"edge": MOST}).whole("edge") == MOST


@pytest.mark.parametrize(
    ("read", "found", "remedy"),
    [
        (lambda f: f.whole("x"), "1.5 for x", "write a whole number from 0"),
        (lambda f: f.whole("yes"), "True for yes", "write a whole number from 0"),
        (lambda f: f.whole("n", least=1, most=6), "7 for n", "write a whole number from 1 to 6"),
        (lambda f: f.whole("n", least=8, most=9), "7 for n", "write a whole number from 8 to 9"),
        (lambda f: f.number("none"), "None for none", "write a number"),
        (lambda f: f.number("t"), "wörter", "write a number or null"),
        (lambda f: f.maybe("yes"), "True for yes", "write a number or null"),
        (lambda f: f.maybe("big"), "for big", "write a number or null"),
        (lambda f: f.text("n"), "7 for n", "write words in quotes"),
        (lambda f: f.words("none"), "None for none", "write words in quotes"),
        (lambda f: f.flag("n"), "7 for n", "write true or false"),
        (lambda f: f.rows("t"), "wörter", "write a list"),
        (lambda f: f.value("gone"), "the field gone is missing", "export the takes again"),
        (lambda _f: Fields([1]), "where a table should be", "export the takes again"),
        (lambda _f: words_in(["a", 1]), "where a list of words should be", "export the takes again"),
        (lambda _f: words_in("ab"), "ab where a list of words should be", "export the takes again"),
    ],
)
def test_what_does_not_fit_is_named_with_what_to_do(
    read: Callable[[Fields], object], found: str, remedy: str
) -> None:
    with pytest.raises(BadRecords) as caught:
        read(Fields(TABLE))
    assert found in caught.value.problem.replace('"', "")
    assert caught.value.remedy == remedy


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1.1e9, -1.1e9])
def test_no_number_of_ours_is_endless_or_none_or_larger_than_any_can_be(value: float) -> None:
    with pytest.raises(BadRecords, match="for x"):
        Fields({"x": value}).number("x")
