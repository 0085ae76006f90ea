"""Find a tone in a wave."""

import numpy as np


def peak_near(wave: np.ndarray, hz: float, rate: int) -> float:
    """Refine the highest line of the spectrum by a parabola through its logarithm and its neighbours'."""
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 18))
    bin_hz = rate / (1 << 18)
    low, high = int(hz * 0.97 / bin_hz), int(hz * 1.03 / bin_hz) + 1
    top = low + int(spectrum[low:high].argmax())
    a, b, c = np.log(spectrum[top - 1 : top + 2])
    return float((top + 0.5 * (a - c) / (a - 2 * b + c)) * bin_hz)
