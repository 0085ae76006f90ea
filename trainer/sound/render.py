"""Render any piece of a stream; the pieces are the same samples however the stream is cut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.sound.clicks import CLICK_S
from trainer.sound.plan import StreamPlan, events
from trainer.sound.pluck import PLUCK_S, STRUM_S

CHANNELS = 2


def longest_frames(plan: StreamPlan) -> int:
    """Return how many frames the longest sound of a plan lasts."""
    rings = plan.settings.strokes or (plan.settings.left_hand and plan.pattern.has_left_hand)
    return round((PLUCK_S + 4 * STRUM_S if rings else CLICK_S) * plan.rate) + 1


def render(plan: StreamPlan, first_frame: int, frames: int) -> NDArray[np.int16]:
    """Return ``frames`` frames from ``first_frame`` on, shape (frames, 2).

    Sounds are added as whole numbers and limited once, frame by frame, so nothing depends on the cut.
    """
    last_frame = first_frame + frames
    mix = np.zeros(frames, dtype=np.int32)
    for event in events(plan, first_frame - longest_frames(plan), last_frame):
        start = max(event.frame, first_frame)
        stop = min(event.frame + len(event.samples), last_frame)
        if start < stop:
            mix[start - first_frame : stop - first_frame] += event.samples[
                start - event.frame : stop - event.frame
            ]
    mono = np.clip(mix, -32768, 32767).astype(np.int16)
    return np.repeat(mono[:, np.newaxis], CHANNELS, axis=1)
