"""The attack itself: the same case from the same number, and a rule that is broken is found."""

import random
from pathlib import Path

import pytest

from tests.attack.spoiling import FAULTS, Fault, spoilt
from tests.attack.targets import TARGETS, said
from trainer.errors import BadSettings


def test_a_case_follows_from_its_number_alone() -> None:
    data = b'title = "x"\nbars = """\nskip, thumb\n"""\n' * 3
    cases = [spoilt(data, random.Random(f"patterns:{n}")) for n in range(200)]
    assert cases == [spoilt(data, random.Random(f"patterns:{n}")) for n in range(200)]
    assert len(set(cases)) > 150


@pytest.mark.parametrize("fault", dict.fromkeys(FAULTS))
@pytest.mark.parametrize("data", [b"", b"a", b"a\nb\nc"])
def test_every_fault_bears_the_shortest_input(fault: Fault, data: bytes) -> None:
    for seed in range(30):
        assert isinstance(fault(data, random.Random(seed)), bytes)


@pytest.mark.parametrize("sentence", ["found \ud800", "x" * 3000])
def test_a_sentence_that_cannot_be_shown_is_found(sentence: str) -> None:
    class Unshowable(BadSettings):
        def __str__(self) -> str:
            return sentence

    with pytest.raises((AssertionError, UnicodeEncodeError)):
        said(Unshowable("x", "y"))
    said(BadSettings(f"found {sentence}", "leave it"))


@pytest.mark.parametrize("kind", ["patterns", "charts", "settings", "tracks", "midi", "port", "words"])
def test_some_cases_of_each_quick_kind_break_no_rule(kind: str, tmp_path: Path) -> None:
    attack = TARGETS[kind](tmp_path)
    for number in range(60):
        attack(random.Random(f"{kind}:{number}"))
