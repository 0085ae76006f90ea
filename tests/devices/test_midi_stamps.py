"""Stamps with the driver's times as a cross-check, on simulated drivers whose true times are known.

What each kind of driver does with its deltas is described in the sources of RtMidi 5.0.0 and in the threads
of python-rtmidi named in the module; the delays are the test's own: a constant way, and on top of it the
waits for an interpreter that is busy.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from trainer.devices.midi_stamps import MidiStamps

MS = 1_000_000
NS = 1_000_000_000
WAY_NS = 60_000  # cable, driver, thread: on every message
N = 3000
WORSE_NS = 100_000

Times = NDArray[np.int64]


@dataclass(frozen=True, kw_only=True)
class Stamped:
    """Errors in ns against the true times plus the way, with the cross-check and by arrival alone."""

    checked: NDArray[np.float64]
    arrival: NDArray[np.float64]
    believed: float  # share of messages at which the driver was believed

    @property
    def worst_beyond_arrival(self) -> float:
        return float((np.abs(self.checked) - np.abs(self.arrival)).max())


def played(seed: int, *, n: int = N, offs: bool = False) -> Times:
    """Times of taps 60 to 400 ms apart; with note-offs 30 to 50 ms after each."""
    rng = np.random.default_rng(seed)
    ons = np.cumsum(rng.uniform(0.060, 0.400, n)) * NS
    if offs:
        ons = np.sort(np.concatenate([ons, ons + rng.uniform(0.030, 0.050, n) * NS]))
    return np.asarray(ons, dtype=np.int64)


def waits(seed: int, n: int, *, busy: bool) -> Times:
    """How long the interpreter let a message wait: idle some tens of microseconds, busy up to 2.5 ms."""
    rng = np.random.default_rng(seed + 1000)
    idle = rng.exponential(30e-6, n)
    slices = np.where(rng.random(n) < 0.45, rng.uniform(0, 0.0025, n), 0.0) if busy else np.zeros(n)
    return np.asarray((idle + slices) * NS, dtype=np.int64)


def deltas(driver_ns: NDArray[np.int64]) -> NDArray[np.float64]:
    """Seconds since the message before, to a microsecond; 0.0 for the first."""
    return np.concatenate([[0.0], np.round(np.diff(driver_ns) / 1000) * 1e-6])


def stamped(true_ns: Times, arrived_ns: Times, delta_s: NDArray[np.float64]) -> Stamped:
    stamps = MidiStamps()
    arrived_ns = np.maximum.accumulate(arrived_ns)
    checked, believed = [], 0
    for arrived, delta in zip(arrived_ns.tolist(), delta_s.tolist(), strict=True):
        checked.append(stamps.stamp(arrived, delta))
        believed += stamps.believed
    return Stamped(
        checked=np.asarray(np.array(checked) - true_ns - float(WAY_NS), dtype=np.float64),
        arrival=np.asarray(arrived_ns - true_ns - float(WAY_NS), dtype=np.float64),
        believed=believed / len(checked),
    )


def p99(errors: NDArray[np.float64]) -> float:
    return float(np.percentile(np.abs(errors), 99))


@pytest.mark.parametrize("drift", [0.0, 60e-6, -60e-6])
@pytest.mark.parametrize("offs", [False, True])
def test_a_driver_that_stamps_the_message_itself_takes_our_own_lateness_off(drift: float, offs: bool) -> None:
    """As ALSA's queue and CoreMIDI's packets do; their clock may drift as quartz does."""
    true_ns = played(1, offs=offs)
    found = stamped(
        true_ns,
        true_ns + WAY_NS + waits(1, len(true_ns), busy=True),
        deltas(np.asarray(true_ns * (1 + drift), dtype=np.int64)),
    )
    assert found.believed > 0.8
    assert p99(found.arrival) > 1.5 * MS
    assert np.percentile(np.abs(found.checked), 90) < 0.25 * MS
    assert np.abs(found.checked).mean() < 0.3 * np.abs(found.arrival).mean()
    assert found.worst_beyond_arrival < WORSE_NS


def test_idle_nothing_is_lost_by_the_cross_check() -> None:
    true_ns = played(2)
    found = stamped(true_ns, true_ns + WAY_NS + waits(2, N, busy=False), deltas(true_ns))
    assert p99(found.checked) < 0.1 * MS
    assert found.worst_beyond_arrival < WORSE_NS


@pytest.mark.parametrize("busy", [False, True])
def test_whole_milliseconds_of_a_driver_make_no_stamp_too_early(busy: bool) -> None:
    """As WinMM: the tick in which the message came, so up to a millisecond before the truth."""
    true_ns = played(3)
    found = stamped(true_ns, true_ns + WAY_NS + waits(3, N, busy=busy), deltas(true_ns // MS * MS))
    assert found.checked.min() > -float(WAY_NS)
    assert found.worst_beyond_arrival < WORSE_NS
    if busy:
        assert p99(found.checked) < p99(found.arrival) - 0.3 * MS


@pytest.mark.parametrize("period_ns", [64 * NS // 48_000, 256 * NS // 48_000, 1024 * NS // 48_000])
def test_times_rounded_down_to_a_period_are_not_believed(period_ns: int) -> None:
    true_ns = played(4)
    rounded = deltas(true_ns // period_ns * period_ns)
    found = stamped(true_ns, true_ns + WAY_NS + waits(4, N, busy=True), rounded)
    worse = np.abs(found.checked) > np.abs(found.arrival) + WORSE_NS
    # A period hardly longer than our own lateness may pass for it once in a long while.
    assert worse.mean() < (0.001 if period_ns < 2 * MS else 1e-9)


@pytest.mark.parametrize("period_ns", [256 * NS // 48_000, 1024 * NS // 48_000])
def test_a_server_that_delivers_by_the_period_is_no_worse_than_its_arrivals(period_ns: int) -> None:
    """As JACK: all messages of a period are told at its end and have nearly one time, that of the telling."""
    true_ns = played(5, offs=True)
    told_ns = (true_ns // period_ns + 1) * period_ns
    arrived_ns = told_ns + WAY_NS + waits(5, len(told_ns), busy=True)
    found = stamped(true_ns, arrived_ns, deltas(told_ns))
    assert found.worst_beyond_arrival < WORSE_NS
    assert (found.checked > 0).all(), "what the period adds is not ours to take off"


@pytest.mark.parametrize("every_ns", [300 * MS, NS // 48])
def test_deltas_lost_with_filtered_messages_are_not_believed(every_ns: int) -> None:
    """As JACK again: a filtered message (active sensing, or 24 clocks a beat at 120) swallows its delta."""
    true_ns = played(6)
    last_ns = np.maximum(true_ns // every_ns * every_ns, np.concatenate([[0], true_ns[:-1]]))
    delta_s = np.concatenate([[0.0], np.round((true_ns - last_ns)[1:] / 1000) * 1e-6])
    found = stamped(true_ns, true_ns + WAY_NS + waits(6, N, busy=True), delta_s)
    assert found.believed == 0.0
    np.testing.assert_array_equal(found.checked, found.arrival)


def test_deltas_told_twice_for_one_packet_are_not_believed() -> None:
    """As CoreMIDI with this library: two pads hit at once come in one packet and repeat one delta."""
    single = played(7)
    rng = np.random.default_rng(7)
    doubled = rng.random(N) < 0.2
    true_ns = np.repeat(single, 1 + doubled)
    delta_s = np.repeat(deltas(single), 1 + doubled)
    found = stamped(true_ns, true_ns + WAY_NS + waits(7, len(true_ns), busy=True), delta_s)
    assert found.worst_beyond_arrival < WORSE_NS


def test_one_packet_told_twice_costs_belief_and_no_stamp() -> None:
    true_ns = played(8, n=200)
    delta_s = deltas(true_ns)
    delta_s[100] += delta_s[99]
    found = stamped(true_ns, true_ns + WAY_NS + waits(8, 200, busy=True), delta_s)
    assert found.worst_beyond_arrival < WORSE_NS
    assert 0.4 < found.believed < 0.95


@pytest.mark.parametrize("constant_s", [0.0, 0.1])
def test_a_driver_without_times_is_not_believed(constant_s: float) -> None:
    true_ns = played(9)
    found = stamped(true_ns, true_ns + WAY_NS + waits(9, N, busy=True), np.full(N, constant_s))
    assert found.believed == 0.0
    np.testing.assert_array_equal(found.checked, found.arrival)


def test_a_clock_of_another_speed_is_not_believed() -> None:
    """Two in a thousand: no quartz, so the driver counts something else."""
    true_ns = played(10)
    for speed in (0.998, 1.002):
        driver_ns = np.asarray(true_ns * speed, dtype=np.int64)
        found = stamped(true_ns, true_ns + WAY_NS + waits(10, N, busy=True), deltas(driver_ns))
        assert found.worst_beyond_arrival < WORSE_NS


def test_what_the_first_message_says_is_not_used() -> None:
    """Some drivers say 0.0 and some the seconds since the port was opened."""
    true_ns = played(11, n=100)
    arrived_ns = true_ns + WAY_NS + waits(11, 100, busy=True)
    told = deltas(true_ns)
    plain = stamped(true_ns, arrived_ns, told)
    told[0] = 17.0
    np.testing.assert_array_equal(stamped(true_ns, arrived_ns, told).checked, plain.checked)


def test_a_message_that_waited_longer_than_we_can_be_late_keeps_its_arrival() -> None:
    true_ns = played(12, n=100)
    wait = waits(12, 100, busy=False)
    wait[50] = 20 * MS
    found = stamped(true_ns, true_ns + WAY_NS + wait, deltas(true_ns))
    assert found.checked[50] == found.arrival[50]
    assert p99(np.delete(found.checked, 50)) < 0.1 * MS


def test_stamps_keep_the_order_of_the_messages() -> None:
    true_ns = played(13, offs=True)
    stamps = MidiStamps()
    arrived_ns = np.maximum.accumulate(true_ns + WAY_NS + waits(13, len(true_ns), busy=True))
    found = [stamps.stamp(a, d) for a, d in zip(arrived_ns.tolist(), deltas(true_ns).tolist(), strict=True)]
    assert found == sorted(found)
    assert all(stamp <= arrived for stamp, arrived in zip(found, arrived_ns.tolist(), strict=True))
