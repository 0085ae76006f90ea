"""A recording slowed down: its length, pitch, attacks and loudness, of sounds that are made by formula."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import find_peaks

from trainer.sound.stretch import attacks, stretched, stretched_length

RATE = 48_000
SHARES = (0.5, 0.63, 0.8, 0.95)


def all_of(samples: NDArray[np.int16], share: float, **more: int) -> NDArray[np.int16]:
    return np.concatenate(list(stretched(samples, share, RATE, **more)))


def stereo(left: NDArray[np.float64], right: NDArray[np.float64] | None = None) -> NDArray[np.int16]:
    both = np.stack((left, left if right is None else right), axis=1)
    return np.asarray(np.round(both), dtype=np.int16)


def tone(seconds: float, *hertz: float) -> NDArray[np.float64]:
    at = np.arange(round(seconds * RATE)) / RATE
    return np.asarray(sum(5000.0 * np.sin(2 * np.pi * each * at) for each in hertz))


def plucks(times: list[float], seconds: float) -> NDArray[np.float64]:
    """Strings of eleven partials that begin within a third of a millisecond and die away."""
    sound = np.zeros(round(seconds * RATE))
    for number, begin in enumerate(times):
        at = np.arange(round(0.6 * RATE)) / RATE
        pitch = (196.0, 246.9, 293.7, 392.0)[number % 4]
        note = sum(np.sin(2 * np.pi * pitch * h * at) / h * np.exp(-at * (3 + h)) for h in range(1, 12))
        note = note * (1 - at / 0.6)
        first = round(begin * RATE)
        last = min(first + len(at), len(sound))
        sound[first:last] += (note * (1 - np.exp(-at * 3000)))[: last - first] * 6000
    return sound


@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("block", [1 << 12, 1 << 16])
def test_it_is_as_much_longer_as_it_is_slower_however_it_is_cut(share: float, block: int) -> None:
    samples = stereo(tone(1.3, 330.0))
    found = all_of(samples, share, block=block)
    assert len(found) == stretched_length(len(samples), share) == round(len(samples) / share)
    assert np.array_equal(found, all_of(samples, share))


def test_at_its_own_speed_it_is_itself() -> None:
    samples = stereo(plucks([0.1, 0.4], 1.0))
    assert np.array_equal(all_of(samples, 1.0), samples)


@pytest.mark.parametrize("share", SHARES)
def test_the_pitch_stays_within_half_a_cent_and_nothing_else_is_heard(share: float) -> None:
    """Peaks of a long transform, found by scipy; a cent is a hundredth of a half step."""
    wanted = (196.0, 440.3, 1234.5)
    found = all_of(stereo(tone(4.0, *wanted)), share)[RATE : 3 * RATE, 0]
    power = np.abs(np.fft.rfft(found * np.hanning(len(found)), 1 << 20)) ** 2
    hertz = np.fft.rfftfreq(1 << 20, 1 / RATE)
    peaks = find_peaks(power, height=power.max() / 100, distance=400)[0]
    assert len(peaks) == len(wanted)
    for peak, pitch in zip(peaks, wanted, strict=True):
        assert abs(1200 * np.log2(hertz[peak] / pitch)) < 0.5
    near = np.min(np.abs(hertz[:, None] - np.array(wanted)), axis=1) < 4
    assert 10 * np.log10(power[~near].sum() / power.sum()) < -50


@pytest.mark.parametrize("share", SHARES)
def test_attacks_come_at_their_places_sharp_as_they_were(share: float) -> None:
    times = [0.3 + 0.21 * n for n in range(14)]
    samples = stereo(plucks(times, 3.6))
    found = all_of(samples, share)[:, 0].astype(float)
    was = samples[:, 0].astype(float)
    for begin in times[1:]:
        there, here = round(begin * RATE), round(begin / share * RATE)
        # 20 ms round the attack as they were, laid over what is heard at every lag up to 4 ms.
        piece = was[there - 480 : there + 480]
        likeness = [
            float(piece @ heard / np.sqrt((piece @ piece) * (heard @ heard)))
            for lag in range(-192, 193)
            for heard in (found[here + lag - 480 : here + lag + 480],)
        ]
        assert abs(int(np.argmax(likeness)) - 192) <= 0.001 * RATE
        assert max(likeness) > 0.9


def test_attacks_are_found_where_they_are_made_and_none_in_a_steady_tone() -> None:
    times = [0.3, 0.55, 1.1, 1.9]
    found = attacks(stereo(plucks(times, 2.5)), RATE) / RATE
    assert np.allclose(found, times, atol=0.003)
    steady = tone(2.0, 220.0, 331.0) * np.linspace(0, 1, 2 * RATE)
    assert len(attacks(stereo(steady), RATE)) == 0


@pytest.mark.parametrize("share", SHARES)
def test_it_is_as_loud_as_it_was_and_left_stays_left(share: float) -> None:
    left = plucks([0.2 + 0.3 * n for n in range(8)], 2.8)
    samples = stereo(left, left * 0.25)
    found = all_of(samples, share).astype(float)
    was, now = (np.sqrt(np.mean(each.astype(float) ** 2, axis=0)) for each in (samples, found))
    assert np.all(np.abs(20 * np.log10(now / was)) < 1.5)
    assert now[0] / now[1] == pytest.approx(was[0] / was[1], rel=0.02)


def test_silence_stays_silence_and_a_share_outside_is_refused() -> None:
    assert not all_of(np.zeros((5000, 2), dtype=np.int16), 0.5).any()
    with pytest.raises(ValueError, match="outside"):
        list(stretched(np.zeros((10, 2), dtype=np.int16), 0.2, RATE))
