"""Delays by input and output."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.practice.delays import KnownDelay, all_delays, delay_of, with_delay
from trainer.practice.settings import Settings

names = st.text(max_size=20)


@given(names, names, st.integers(-300, 300))
def test_a_delay_is_kept_for_its_pair(input_name: str, output_name: str, delay_ms: int) -> None:
    settings = Settings(known_delays=with_delay(Settings(), input_name, output_name, delay_ms))
    assert delay_of(settings, input_name, output_name) == delay_ms


def test_another_output_has_its_own() -> None:
    settings = Settings(known_delays=with_delay(Settings(), "Pad", "wire", 12))
    settings = Settings(known_delays=with_delay(settings, "Pad", "wireless", 180))
    assert [delay_of(settings, "Pad", output) for output in ("wire", "wireless", "third")] == [12, 180, 0]
    assert delay_of(settings, "", "wire") == 0


def test_a_delay_of_the_input_alone_holds_until_the_pair_has_one() -> None:
    settings = Settings(delays_ms={"Pad": "30", "": "45"})
    assert delay_of(settings, "Pad", "wire") == 30
    assert delay_of(settings, "", "wire") == 45
    settings = Settings(delays_ms={"Pad": "30"}, known_delays=with_delay(settings, "Pad", "wire", 0))
    assert delay_of(settings, "Pad", "wire") == 0
    assert delay_of(settings, "Pad", "other") == 30


@pytest.mark.parametrize(("asked", "kept"), [(301, 300), (-999, -300), (300, 300)])
def test_a_delay_is_held_within_300_ms(asked: int, kept: int) -> None:
    settings = Settings(known_delays=with_delay(Settings(), "Pad", "wire", asked))
    assert delay_of(settings, "Pad", "wire") == kept


def test_what_is_no_number_is_passed_over() -> None:
    settings = Settings(known_delays={"Pad | wire": "soon"}, delays_ms={"Pad": "30", "Old": "never"})
    assert delay_of(settings, "Pad", "wire") == 30
    assert all_delays(settings) == (KnownDelay(input_name="Pad", output_name="any output", delay_ms=30),)


def test_all_delays_are_listed_by_name_even_with_bars_in_them() -> None:
    settings = Settings(known_delays=with_delay(Settings(), "A | B", "left | right", 5), delays_ms={"": "7"})
    assert all_delays(settings) == (
        KnownDelay(input_name="A | B", output_name="left / right", delay_ms=5),
        KnownDelay(input_name="Computer keys", output_name="any output", delay_ms=7),
    )
