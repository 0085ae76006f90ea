"""The watch over the machine itself."""

from contextlib import nullcontext

import pytest

from tests.system import apparatus
from tests.system.apparatus import ApparatusFailed, Machine, measured, watched

pytestmark = pytest.mark.system


def test_a_measurement_is_made_again_until_its_apparatus_holds() -> None:
    seen = []

    def measure(attempt: int) -> str:
        seen.append(attempt)
        if attempt < 2:
            raise ApparatusFailed("dry")
        return "found"

    assert measured(measure) == "found"
    assert seen == [0, 1, 2]


def test_one_that_never_holds_is_skipped_with_its_reason() -> None:
    def measure(_attempt: int) -> str:
        raise ApparatusFailed("the card ran dry")

    with pytest.raises(pytest.skip.Exception, match="NOT MEASURED, 3 times over: the card ran dry"):
        measured(measure)


def wrong(_attempt: int) -> str:
    raise AssertionError("wrong")


def test_a_failure_of_the_program_is_no_failure_of_the_apparatus(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apparatus, "watched", lambda: nullcontext(Machine(p99_ms=0.2, worst_ms=0.2)))
    with pytest.raises(AssertionError, match="wrong"):
        measured(wrong)


def test_what_fails_on_a_machine_that_does_not_keep_time_says_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(apparatus, "watched", lambda: nullcontext(Machine(p99_ms=9.0, worst_ms=30.0)))
    with pytest.raises(
        pytest.skip.Exception, match=r"NOT MEASURED, 3 times over: .* 9\.0 ms late .*; then: wrong"
    ):
        measured(wrong)


def test_the_machine_is_watched_by_a_process_of_its_own() -> None:
    with watched() as machine:
        sum(range(3_000_000))
    assert 0 < machine.p99_ms <= machine.worst_ms
    with pytest.raises(ApparatusFailed, match=r"woken 9\.0 ms late"):
        Machine(p99_ms=9.0, worst_ms=9.0).must_have_kept_time()
    Machine(p99_ms=1.9, worst_ms=50.0).must_have_kept_time()
