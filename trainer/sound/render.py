"""Render any piece of a stream; the pieces are the same samples however the stream is cut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from trainer.sound.clicks import Click, click_samples
from trainer.sound.level import Samples, limited
from trainer.sound.plan import (
    PluckOnset,
    StreamPlan,
    click_onsets,
    longest_frames,
    pluck_onsets,
)
from trainer.sound.pluck import note_samples, stroke_plucks

CHANNELS = 2
CHOKE_S = 0.004  # a string that is sounded again lets its old note go within this


def render(plan: StreamPlan, first_frame: int, frames: int) -> NDArray[np.int16]:
    """Return ``frames`` frames from ``first_frame`` on, shape (frames, 2).

    Sounds are added as whole numbers and limited once, frame by frame, so nothing depends on the cut.
    """
    last_frame = first_frame + frames
    mix = np.zeros(frames, dtype=np.int32)
    since = first_frame - longest_frames(plan)
    for onset in click_onsets(plan, since, last_frame):
        _add(mix, first_frame, click_samples(onset.click, onset.gain_db, plan.rate), onset.frame)
    _add_plucks(mix, first_frame, plan, pluck_onsets(plan, since, last_frame))
    return np.repeat(limited(mix)[:, np.newaxis], CHANNELS, axis=1)


def make_sounds(plan: StreamPlan) -> None:
    """Make all sounds of a plan once, so that no piece of it takes longer for being the first.

    They are kept (clicks.click_samples, pluck.note_samples); this changes when they are made, not what
    they are.
    """
    for click in Click:
        click_samples(click, plan.settings.click_db, plan.rate)
    sounding = {stroke for stroke in plan.pattern.strokes if plan.settings.sounds(stroke)}
    for pluck in {pluck for stroke in sounding for pluck in stroke_plucks(stroke, plan.tuning)}:
        note_samples(pluck.note, plan.settings.stroke_db + pluck.gain_db, plan.rate, soft=pluck.soft)


def _add_plucks(
    mix: NDArray[np.int32], first_frame: int, plan: StreamPlan, onsets: tuple[PluckOnset, ...]
) -> None:
    choke = round(CHOKE_S * plan.rate)
    sounded_again: dict[int, int] = {}
    # Backwards, so that each note knows when its string is sounded next.
    for onset in reversed(onsets):
        pluck = onset.pluck
        samples = note_samples(pluck.note, onset.gain_db, plan.rate, soft=pluck.soft)
        stop = sounded_again.get(pluck.string)
        if stop is not None:
            kept = stop - onset.frame
            tail = samples[kept : kept + choke]
            fade = 1.0 - (np.arange(len(tail)) + 1) / (choke + 1)
            _add(mix, first_frame, samples[:kept], onset.frame)
            _add(mix, first_frame, np.rint(tail * fade).astype(np.int16), stop)
        else:
            _add(mix, first_frame, samples, onset.frame)
        sounded_again[pluck.string] = onset.frame


def _add(mix: NDArray[np.int32], first_frame: int, samples: Samples, at: int) -> None:
    start = max(at, first_frame)
    stop = min(at + len(samples), first_frame + len(mix))
    if start < stop:
        mix[start - first_frame : stop - first_frame] += samples[start - at : stop - at]
