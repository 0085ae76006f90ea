"""The microphone while a scene listens: when each sound came, and what was lost on its way in."""

from __future__ import annotations

import numpy as np
import pytest

from trainer.app.banjo import ALL_ZEROS, NO_SOUND, Banjo
from trainer.devices.microphone import LIVE_CHUNK_FRAMES, RATE, Chunk

CHUNK_S = LIVE_CHUNK_FRAMES / RATE


class Chunks:
    """A microphone whose chunks come when the test says."""

    name, rate, seconds = "Lid", RATE, 0.0

    def __init__(self) -> None:
        self.waiting: list[Chunk] = []

    def start(self) -> None:
        self.waiting = []

    def recorded(self) -> np.ndarray:
        return np.zeros(0)

    def fresh(self) -> tuple[Chunk, ...]:
        found, self.waiting = tuple(self.waiting), []
        return found

    def close(self) -> None:
        pass

    def send(self, host_s: float) -> None:
        noise = np.random.default_rng(1).normal(0, 1e-3, LIVE_CHUNK_FRAMES)
        self.waiting.append(Chunk(wave=noise, host_ns=round(host_s * 1e9)))


def listened(times_s: np.ndarray) -> Banjo:
    chunks = Chunks()
    banjo = Banjo(open_microphone=lambda _name: chunks, names=lambda: ("Lid",), clock=lambda: 0)
    banjo.open("Lid")
    for host_s in times_s:
        chunks.send(float(host_s))
        banjo.poll()
    return banjo


@pytest.mark.parametrize("ppm", [-100.0, 0.0, 100.0])
def test_a_second_of_the_recording_has_its_host_time_within_a_millisecond(ppm: float) -> None:
    jitter = np.random.default_rng(2).gamma(1.0, 0.0005, 600)
    due = 5.0 + CHUNK_S * (1 + ppm * 1e-6) * np.arange(1, 601)
    banjo = listened(due + jitter)
    assert banjo.host_ns(3.0) / 1e9 == pytest.approx(5.0 + 3.0 * (1 + ppm * 1e-6), abs=0.001)
    assert banjo.heard_s(round(8.0e9)) == pytest.approx(3.0 / (1 + ppm * 1e-6), abs=0.001)
    assert banjo.gaps == []


def test_lost_chunks_are_a_gap_and_late_ones_are_none() -> None:
    due = 5.0 + CHUNK_S * np.arange(1, 601)
    lost = due.copy()
    lost[300:] += 4 * CHUNK_S
    ((from_s, to_s),) = listened(lost).gaps
    assert from_s <= due[299] <= due[302] <= to_s
    late = due.copy()
    late[300:306] = due[306]
    assert listened(np.maximum.accumulate(late)).gaps == []


def test_microphones_are_asked_for_their_names_every_two_seconds_and_not_at_every_look() -> None:
    asked: list[int] = []
    now_ns = 0

    def names() -> tuple[str, ...]:
        asked.append(now_ns)
        return ("Lid", "Desk")[: len(asked)]

    banjo = Banjo(open_microphone=lambda _name: Chunks(), names=names, clock=lambda: now_ns)
    for now_ns in range(0, 5_000_000_000, 100_000_000):  # noqa: B007 - it is the clock
        assert banjo.names() == ("Lid", "Desk")[: len(asked)]
    assert asked == [0, 2_100_000_000, 4_200_000_000]


def test_the_recordings_seconds_begin_with_its_first_frame_at_every_opening() -> None:
    due = 5.0 + CHUNK_S * np.arange(1, 41)
    banjo = listened(due)
    assert banjo.heard_s(round(due[0] * 1e9)) == pytest.approx(CHUNK_S, abs=1e-6)
    assert banjo.has_sound
    banjo.close()
    assert not banjo.is_open
    assert not banjo.has_sound
    assert banjo.heard_s(round(9.0e9)) is None
    assert banjo.problem == ""
    banjo.close()  # once more does no harm


def test_seconds_count_from_the_moment_that_somebody_listens() -> None:
    due = 5.0 + CHUNK_S * np.arange(1, 41)
    banjo = listened(due)
    banjo.listen(threshold=10.0, deaf_hz=())
    assert banjo.heard_s(round(due[-1] * 1e9)) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("sends", "problem"), [(True, ALL_ZEROS), (False, NO_SOUND)])
def test_three_seconds_of_nothing_are_said(sends: bool, problem: str) -> None:
    now_ns = 0
    chunks = Chunks()
    banjo = Banjo(open_microphone=lambda _name: chunks, names=lambda: ("Lid",), clock=lambda: now_ns)
    banjo.open("Lid")
    said: dict[str, float] = {}
    for n in range(1, round(4.0 / CHUNK_S)):
        now_ns = round(n * CHUNK_S * 1e9)
        if sends:
            chunks.waiting.append(Chunk(wave=np.zeros(LIVE_CHUNK_FRAMES), host_ns=now_ns))
        banjo.poll()
        said.setdefault(banjo.problem, now_ns / 1e9)
    assert list(said) == ["", problem]
    assert said[problem] == pytest.approx(3.0, abs=2 * CHUNK_S)
    if sends:
        chunks.send(4.0)
        banjo.poll()
        assert banjo.problem == ""
