"""Fit a line from audio frames to host seconds, through observations that come late and unevenly.

An observation says "frame x was reached at host second y, or at most ``blind_s`` before". The line is
least squares over the latest observations, centred first (raw sums lose milliseconds after a day), its
slope held near nominal, late outliers dropped. The mean delay between a frame and its observation stays
in: it is one of the constants that calibration takes off. After a real jump (the device ran dry while the
host clock went on) the window starts anew and ``restarts`` says so. On a busy machine the thread that fills
the device's buffer may come late several times in a row without the buffer running empty, which looks the
same at first; but a device that has stood still stays late for good, so one observation back where the
line was before takes the restart back. A device whose clock is plainly off,
so that one steeper line fits all observations, is followed at its own speed; ``rate_error`` says by how
much.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

WINDOW = 512
LARGEST_SLOPE_ERROR = 500e-6  # sound cards are within 100 ppm or so
LARGEST_FOLLOWED_ERROR = 0.2
LEAST_OUTLIER_S = 0.001
OUTLIER_MADS = 3.0
JUMP_OBSERVATIONS = 3
JUMP_MADS = 4.0
KEEN_BLIND_S = 0.0005  # an observation blind for this long has half the weight of one that was seen
FOLLOW_OBSERVATIONS = 6
FOLLOWED_JUMP_BUFFERS = 2
UNDONE_OBSERVATIONS = 48  # about two seconds
FOLLOW_WINDOW = 24  # a device with no quartz of its own wanders, so only the last second tells its speed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClockLine:
    """A frozen affine map: host_s = host_at_s + (frame - frame_at) * seconds_per_frame.

    Attributes:
        rate: nominal frames a second.
        buffer_frames: size of the device's buffer; a jump is more than half of it.
        points: observations in the window, shape (n, 3), read-only: frame, host second, blind seconds.
        noise_s: median absolute deviation of the observations from the line, in seconds.
        late: how many observations in a row lay a jump away on one side; the sign tells the side.
        restarts: how often the window has been started anew, those left out that were taken back.
        follows: whether the device's own speed has replaced the nominal one.
        window: the most observations kept.
        before: the line as it was before a jump that may still prove to be none.
        since: observations since then.
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
    window: int = WINDOW
    before: ClockLine | None = None
    since: int = 0

    @classmethod
    def started(
        cls,
        frame: int,
        host_s: float,
        *,
        rate: int,
        buffer_frames: int,
        blind_s: float = 0.0,
        window: int = WINDOW,
    ) -> ClockLine:
        """Return a line through one observation (see observed) with the nominal slope."""
        middle_s = host_s - blind_s / 2
        return cls(
            rate=rate,
            buffer_frames=buffer_frames,
            frame_at=float(frame),
            host_at_s=middle_s,
            seconds_per_frame=1.0 / rate,
            points=_frozen(np.array([[frame, middle_s, blind_s]])),
            window=window,
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

    def observed(self, frame: int, host_s: float, *, blind_s: float = 0.0) -> ClockLine:
        """Return the line with one more observation.

        Args:
            frame: larger than that of the observation before.
            host_s: when the frame was seen to have been reached.
            blind_s: how long before that nobody had looked; its middle is taken for the moment.
        """
        if self.before is not None and self._is_back(self.before, frame, host_s):
            return self.before.observed(frame, host_s, blind_s=blind_s)
        middle_s = host_s - blind_s / 2
        most = min(self.window, FOLLOW_WINDOW) if self.follows else self.window
        points = np.vstack([self.points, [frame, middle_s, blind_s]])[-most:]
        late = self._late_after(middle_s - self.host_s(frame), blind_s)
        if abs(late) >= JUMP_OBSERVATIONS:
            return self._followed(points) or self._restarted(points, late)
        # A suspect observation waits outside until the next ones tell whether it was a jump.
        fitted = _fit(self, points[: len(points) - abs(late)])
        before = self.before if self.since < UNDONE_OBSERVATIONS else None
        return replace(fitted, points=_frozen(points), late=late, before=before, since=self.since + 1)

    def started_anew(self, frame: int, host_s: float, *, blind_s: float = 0.0) -> ClockLine:
        """Return a line that begins again at an observation, for a stall that the caller knows of."""
        points = np.array([[frame, host_s - blind_s / 2, blind_s]])
        return replace(_fit(self, points), restarts=self.restarts + 1, before=None)

    def _is_back(self, before: ClockLine, frame: int, host_s: float) -> bool:
        # Whatever was seen at a moment had begun by then, however long nobody had looked.
        return host_s - before.host_s(frame) < self.buffer_frames / self.rate / 4

    def _late_after(self, residual_s: float, blind_s: float) -> int:
        buffer_s = self.buffer_frames / self.rate
        if self.follows:
            # A device with no quartz of its own stalls a little with every busy moment of the machine.
            jump_s = FOLLOWED_JUMP_BUFFERS * buffer_s
        else:
            # Where a busy machine makes all observations uneven, half a buffer is no jump yet; a whole is.
            jump_s = min(max(buffer_s / 2, JUMP_MADS * self.noise_s), buffer_s)
        jump_s += blind_s / 2
        if residual_s > jump_s:
            return max(self.late, 0) + 1
        if residual_s < -jump_s:
            return min(self.late, 0) - 1
        return 0

    def _restarted(self, points: NDArray[np.float64], late: int) -> ClockLine:
        anew = _fit(self, points[-JUMP_OBSERVATIONS:])
        if late < 0 and self.before is not None:
            # The jump before went too far, for its observations were late themselves.
            return replace(anew, since=self.since + 1)
        before = self.before
        if before is None and late > 0 and not self.follows:
            before = replace(self, points=self.points[: len(self.points) - late + 1], late=0)
        return replace(anew, restarts=self.restarts + 1, before=before, since=0)

    def _followed(self, points: NDArray[np.float64]) -> ClockLine | None:
        """Return the line that follows the device's own speed; None when no single speed fits."""
        if len(points) < FOLLOW_OBSERVATIONS:
            return None
        line = _fit(replace(self, follows=True, before=None), points)
        worst_s = np.abs(_residuals(line, points)) - points[:, 2] / 2
        tight = float(worst_s.max()) < self.buffer_frames / self.rate / 4
        return line if tight and abs(line.rate_error) < LARGEST_FOLLOWED_ERROR else None


def _fit(line: ClockLine, points: NDArray[np.float64]) -> ClockLine:
    """Return the line through these points, with no suspects."""
    fitted = _least_squares(line, points)
    residuals = _residuals(fitted, points)
    # Inside its blind time an observation is no further off than a seen one.
    off = np.maximum(np.abs(residuals - np.median(residuals)) - points[:, 2] / 2, 0.0)
    noise_s = float(np.median(off))
    kept = points[off <= max(OUTLIER_MADS * noise_s, LEAST_OUTLIER_S)]
    if len(kept) < len(points):
        fitted = _least_squares(line, kept)
    return replace(fitted, points=_frozen(points), noise_s=noise_s, late=0)


def _least_squares(line: ClockLine, points: NDArray[np.float64]) -> ClockLine:
    weights = 1.0 / (1.0 + (points[:, 2] / KEEN_BLIND_S) ** 2)
    frame_at, host_at_s = weights @ points[:, :2] / weights.sum()
    x, y = points[:, 0] - frame_at, points[:, 1] - host_at_s
    below = float(weights * x @ x)
    nominal = 1.0 / line.rate
    slope = float(weights * x @ y) / below if below > 0 else line.seconds_per_frame
    if line.follows:
        # Three points right after a stall say less about the speed than all that came before.
        slope = slope if len(points) >= FOLLOW_OBSERVATIONS else line.seconds_per_frame
    else:
        slope = min(max(slope, nominal * (1 - LARGEST_SLOPE_ERROR)), nominal * (1 + LARGEST_SLOPE_ERROR))
    return replace(line, frame_at=float(frame_at), host_at_s=float(host_at_s), seconds_per_frame=slope)


def _residuals(line: ClockLine, points: NDArray[np.float64]) -> NDArray[np.float64]:
    return points[:, 1] - (line.host_at_s + (points[:, 0] - line.frame_at) * line.seconds_per_frame)


def _frozen(points: NDArray[np.float64]) -> NDArray[np.float64]:
    points = np.array(points, dtype=np.float64)
    points.flags.writeable = False
    return points
