"""Fit a line from audio frames to host seconds, through observations that come late and unevenly.

An observation says "frame x had just been reached at host second y". The line is least squares over the
latest observations, centred first (raw sums lose milliseconds after a day), its slope held near nominal,
late outliers dropped. The mean delay between a frame and its observation stays in: it is one of the
constants that calibration takes off. After a real jump (the device ran dry while the host clock went on)
the window starts anew and the line says so. A device whose clock is plainly off, so that one steeper line
fits all observations, is followed at its own speed; ``rate_error`` tells by how much.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

WINDOW = 256
LARGEST_SLOPE_ERROR = 500e-6
LEAST_OUTLIER_S = 0.001
OUTLIER_MADS = 3.0
JUMP_OBSERVATIONS = 3
JUMP_MADS = 4.0
STEADY_S = 0.0015


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockLine:
    """A frozen affine map: host_s = host_at_s + (frame - frame_at) * seconds_per_frame.

    Attributes:
        points: observations in the window, shape (n, 2): frame, host second.
        noise_s: median absolute deviation of the observations from the line, in seconds.
        late: how many observations in a row lay far off on one side; the sign tells the side. Far is half
            a buffer, or four times the noise where a busy machine makes all observations uneven.
        restarts: how often the window has been started anew.
        follows: whether the device's own speed has replaced the nominal one.
    """

    rate: int
    buffer_frames: int
    frame_at: float
    host_at_s: float
    seconds_per_frame: float
    points: NDArray[np.float64]
    noise_s: float = 0.0
    late: int = 0
    restarts: int = 0
    follows: bool = False

    @classmethod
    def started(cls, frame: int, host_s: float, *, rate: int, buffer_frames: int) -> ClockLine:
        """Return a line through one observation with the nominal slope."""
        return cls(
            rate=rate,
            buffer_frames=buffer_frames,
            frame_at=float(frame),
            host_at_s=host_s,
            seconds_per_frame=1.0 / rate,
            points=np.array([[frame, host_s]], dtype=np.float64),
        )

    @property
    def rate_error(self) -> float:
        """How much slower the device runs than it should, as a share; negative when faster."""
        return self.seconds_per_frame * self.rate - 1

    def host_s(self, frame: float) -> float:
        """Return the host second of a frame."""
        return self.host_at_s + (frame - self.frame_at) * self.seconds_per_frame

    def frame(self, host_s: float) -> float:
        """Return the frame at a host second."""
        return self.frame_at + (host_s - self.host_at_s) / self.seconds_per_frame

    def observed(self, frame: int, host_s: float) -> ClockLine:
        """Return the line with one more observation."""
        residual = host_s - self.host_s(frame)
        jump_s = max(self.buffer_frames / self.rate / 2, JUMP_MADS * self.noise_s)
        late = 0
        if residual > jump_s:
            late = max(self.late, 0) + 1
        elif residual < -jump_s:
            late = min(self.late, 0) - 1
        points = np.vstack([self.points, [frame, host_s]])[-WINDOW:]
        if abs(late) >= JUMP_OBSERVATIONS:
            followed = _fit(replace(self, follows=True), points)
            if followed.noise_s < STEADY_S and followed.largest_of_last(JUMP_OBSERVATIONS) < jump_s:
                return followed
            fresh = ClockLine.started(
                int(points[-JUMP_OBSERVATIONS, 0]),
                float(points[-JUMP_OBSERVATIONS, 1]),
                rate=self.rate,
                buffer_frames=self.buffer_frames,
            )
            return replace(_fit(fresh, points[-JUMP_OBSERVATIONS:]), restarts=self.restarts + 1)
        return replace(_fit(self, points), late=late)

    def largest_of_last(self, count: int) -> float:
        """Return the largest distance in seconds of the latest observations from the line."""
        last = self.points[-count:]
        there = self.host_at_s + (last[:, 0] - self.frame_at) * self.seconds_per_frame
        return float(np.abs(last[:, 1] - there).max())


def _fit(line: ClockLine, points: NDArray[np.float64]) -> ClockLine:
    slope, frame_at, host_at = _least_squares(points, line)
    residuals = points[:, 1] - (host_at + (points[:, 0] - frame_at) * slope)
    middle = float(np.median(residuals))
    spread = float(np.median(np.abs(residuals - middle)))
    kept = points[np.abs(residuals - middle) <= max(OUTLIER_MADS * spread, LEAST_OUTLIER_S)]
    if 2 <= len(kept) < len(points):
        slope, frame_at, host_at = _least_squares(kept, line)
    return replace(line, points=points, frame_at=frame_at, host_at_s=host_at, seconds_per_frame=slope, late=0)


def _least_squares(points: NDArray[np.float64], line: ClockLine) -> tuple[float, float, float]:
    centre = points.mean(axis=0)
    x, y = (points - centre).T
    below = float(x @ x)
    nominal = 1.0 / line.rate
    slope = float(x @ y) / below if below > 0 else nominal
    if not line.follows:
        # Sound cards are within 100 ppm or so; a steeper slope is noise of a short window.
        slope = min(max(slope, nominal * (1 - LARGEST_SLOPE_ERROR)), nominal * (1 + LARGEST_SLOPE_ERROR))
    return slope, float(centre[0]), float(centre[1])
