"""A take whose sound was interrupted is marked; one where it only looked so is not."""

from dataclasses import dataclass

import pytest

from tests.app.bench import Bench
from trainer.devices.speaker import SilentSpeaker
from trainer.screen.actions import Act


@dataclass
class Stalls:
    """How often a speaker says that it has stalled, from a second of the song on."""

    at: tuple[tuple[float, int], ...]

    def by(self, song_s: float) -> int:
        return next((n for since, n in reversed(self.at) if song_s >= since), 0)


def not_graded(stalls: Stalls, monkeypatch: pytest.MonkeyPatch) -> str:
    bench = Bench()
    bench.wish(Act.START)

    def xruns(speaker: SilentSpeaker) -> int:
        return stalls.by(speaker.song_s(bench.system.ns) or 0.0)

    stalling = type("Stalling", (SilentSpeaker,), {"xruns": property(xruns, lambda _speaker, _n: None)})
    monkeypatch.setattr(bench.speaker, "__class__", stalling)
    bench.until(99.0)
    assert bench.scene == "review"
    return bench.result.not_graded


def test_a_take_in_which_the_sound_stalled_is_not_graded(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not_graded(Stalls(at=((1.0, 1),)), monkeypatch) == "the sound was interrupted"


def test_a_stall_that_was_none_after_all_marks_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not_graded(Stalls(at=((1.0, 1), (1.2, 0))), monkeypatch) == ""


def test_a_stall_that_was_none_does_not_hide_a_later_one(monkeypatch: pytest.MonkeyPatch) -> None:
    stalls = Stalls(at=((1.0, 1), (1.2, 0), (2.0, 1)))
    assert not_graded(stalls, monkeypatch) == "the sound was interrupted"
