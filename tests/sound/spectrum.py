"""Where a sound has its energy: shares of bands, centres, and levels of partials, by numpy's transform."""

import numpy as np
from numpy.typing import NDArray

Wave = NDArray[np.float64]

RATE = 48_000
SIZE = 1 << 17


def power(wave: Wave) -> tuple[Wave, Wave]:
    """Return frequencies in Hz and the energy at each."""
    spectrum = np.abs(np.fft.rfft(np.asarray(wave, dtype=np.float64), max(SIZE, len(wave)))) ** 2
    return np.asarray(np.fft.rfftfreq(max(SIZE, len(wave)), 1 / RATE), dtype=np.float64), spectrum


def share(wave: Wave, low_hz: float, high_hz: float) -> float:
    """Return how much of the energy lies in a band, 0 to 1."""
    hz, energy = power(wave)
    return float(energy[(hz >= low_hz) & (hz <= high_hz)].sum() / energy.sum())


def centre_hz(wave: Wave) -> float:
    """Return the centre of gravity of the energy over frequency."""
    hz, energy = power(wave)
    return float((hz * energy).sum() / energy.sum())


def partial_levels_db(wave: Wave, hz: float, count: int = 20) -> Wave:
    """Return how far each partial of a note lies under the strongest, in dB, 0 or less."""
    freqs, energy = power(wave * np.hanning(len(wave)))
    found = []
    for number in range(1, count + 1):
        near = np.abs(freqs - number * hz) < 0.03 * hz * number
        if number * hz < RATE / 2 - 1000:
            found.append(10 * np.log10(energy[near].max() + 1e-12))
    return np.array(found) - max(found)


def peak_near(wave: np.ndarray, hz: float, rate: int) -> float:
    """Refine the highest line of the spectrum by a parabola through its logarithm and its neighbours'."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 18))
    bin_hz = rate / (1 << 18)
    low, high = int(hz * 0.97 / bin_hz), int(hz * 1.03 / bin_hz) + 1
    top = low + int(spectrum[low:high].argmax())
    a, b, c = np.log(spectrum[top - 1 : top + 2])
    return float((top + 0.5 * (a - c) / (a - 2 * b + c)) * bin_hz)
