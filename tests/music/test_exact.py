"""Numbers that people write are read exactly, and never spelt out when they are monstrous."""

from contextlib import suppress
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import BadSettings
from trainer.music.bounded_toml import BadToml, read_toml
from trainer.music.exact import read_decimal, read_exact
from trainer.music.source import shown
from trainer.music.timeline import as_tempo

# Each keeps Fraction or Decimal busy for hours, or raises what nobody expects.
MONSTERS = [
    "1e999999999",
    "1e-999999999",
    "1e99999999999999999999",
    "9" * 5000,
    "1/" + "9" * 5000,
    "0." + "0" * 99,
]
NO_NUMBERS = [
    "",
    "nan",
    "inf",
    "-Infinity",
    "1/0",
    "1//2",
    "1_000",
    "٣",
    "0x10",
    "1e",
    "e5",
    "--1",
    "1 2",
    "1.5/2",
]


@pytest.mark.parametrize("text", MONSTERS + NO_NUMBERS)
def test_a_monster_and_what_is_no_number_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"number|exponent|ratio"):
        read_exact(text)
    with pytest.raises(BadSettings):
        as_tempo(text)


@given(st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=9))
def test_a_decimal_is_read_as_it_stands(value: Decimal) -> None:
    assert read_exact(f" {value} ") == Fraction(value)
    assert read_decimal(str(value)) == value


@given(st.floats(allow_nan=False, allow_infinity=False).filter(lambda x: x == 0 or 1e-20 < abs(x) < 1e20))
def test_every_float_that_a_computer_writes_is_read(value: float) -> None:
    assert float(read_exact(repr(value))) == value


def test_a_ratio_is_exact() -> None:
    assert read_exact("973/10") == as_tempo("97.3") == Fraction(973, 10)


def test_a_number_too_long_to_be_spelt_out_is_shown_in_words() -> None:
    assert shown(16**5000) == "a huge number"


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("a = " + "[" * 3000, 12),
        ("a = " + "{b = " * 3000, 44),
        (".".join("a" * 30_000) + " = 1", 0),  # half a minute in tomllib, a quarter of a second for each 3000
        (".".join(['"a"'] * 9000) + " = 1", 0),
        ("[" + ".".join("a" * 30_000) + "]\n", 1),
        ("a = 1\nb = " + "1" * 5000, 10),
        ("b = 0x" + "f" * 60_000, 4),
        ("goal = 1e999999999999999999999", 7),
        ("goal = inf", 7),
    ],
)
def test_toml_that_would_keep_the_reader_busy_is_refused_with_its_place(text: str, at: int) -> None:
    with pytest.raises(BadToml) as caught:
        read_toml(text)
    assert caught.value.at == at


def test_what_stands_in_strings_and_remarks_is_no_nesting() -> None:
    hidden = "[" * 50 + "." * 50 + "1" * 90
    lines = (
        f'a = "{hidden}"  # {hidden}',
        f'b = """\n{hidden} \\" "\n"""',
        f"c = '{hidden}'",
        f"d = '''\n{hidden}'''",
    )
    table = read_toml("\n".join(lines))
    assert (table["a"], table["c"], table["d"]) == (hidden, hidden, hidden)


@given(st.text(alphabet="[]{}\"'\\#=.,a1e\n -", max_size=200))
def test_whatever_is_no_toml_is_refused_in_one_way(text: str) -> None:
    with suppress(BadToml):
        read_toml(text)
