"""Render any piece of a stream; the pieces are the same samples however the stream is cut."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from trainer.sound.backing import LEAD_IN_S, LEAD_OUT_S, backing_piece, led_out
from trainer.sound.band import BandPart, band_samples
from trainer.sound.clicks import Click, click_samples
from trainer.sound.gain import CEILING, MARGIN, PAN_STEPS, Samples, Sums, limited, panned
from trainer.sound.plan import StreamPlan
from trainer.sound.pluck import pluck_samples, stroke_plucks
from trainer.sound.stream_onsets import band_onsets, click_onsets, longest_frames, pluck_onsets

CHANNELS = 2
CHOKE_S = 0.004  # a string that is sounded again lets its old note go within this

Buses = dict[float, Sums]
"""Mono sums by the pan that they are heard at, from -1, left, to 1, right."""


def render(plan: StreamPlan, first_frame: int, frames: int, *, ceiling: int = CEILING) -> NDArray[np.int16]:
    """Return ``frames`` frames from ``first_frame`` on, shape (frames, 2), none over the ceiling.

    Sounds are added as whole numbers and limited by a gain that depends on a few milliseconds round each
    frame, which are rendered too; so nothing depends on the cut.
    """
    first_frame, frames = first_frame - MARGIN, frames + 2 * MARGIN
    last_frame = first_frame + frames
    buses: Buses = {0.0: np.zeros(frames, dtype=np.int32)}
    since = first_frame - longest_frames(plan)
    for onset in click_onsets(plan, since, last_frame):
        samples = click_samples(onset.click, onset.gain_db, plan.rate, onset.voice)
        _add(_bus(buses, onset.pan), first_frame, samples, onset.frame)
    _add_strings(
        buses,
        first_frame,
        plan.rate,
        [
            (o.frame, o.pluck.string, pluck_samples(o.pluck, o.gain_db, plan.rate), o.pan)
            for o in pluck_onsets(plan, since, last_frame)
        ],
    )
    _add_band(buses, first_frame, plan, since, last_frame)
    mix = panned(buses)
    if plan.backing is not None:
        mix += PAN_STEPS * _backing(plan, first_frame, frames)
    return limited(mix, ceiling=ceiling)


def make_sounds(plan: StreamPlan) -> None:
    """Make all sounds of a plan once, so that no piece of it takes longer for being the first.

    They are kept (clicks.click_samples, pluck.note_samples); this changes when they are made, not what
    they are.
    """
    for click in Click:
        click_samples(click, plan.settings.click_db, plan.rate, plan.settings.click_voice)
    for bar, before in zip(plan.pattern.bars, plan.before, strict=True):
        for stroke, note in set(zip(bar, before, strict=True)):
            if not plan.settings.sounds(stroke, in_count_in=bar is plan.pattern.bars[-1]):
                continue
            for pluck in stroke_plucks(stroke, plan.tuning, note):
                pluck_samples(pluck, plan.settings.stroke_db + pluck.gain_db, plan.rate)
    # The band may be let in at any time.
    for note_ in {note_ for beat in plan.band for note_ in beat}:
        band_samples(note_.part, note_.notes, plan.settings.band_db + note_.gain_db, plan.rate)


def _add_strings(
    buses: Buses, first_frame: int, rate: int, sounded: Sequence[tuple[int, int, Samples, float]]
) -> None:
    """Add (stream frame, string, samples, pan) in order of time; a string sounded again stops as it was."""
    choke = round(CHOKE_S * rate)
    sounded_again: dict[int, int] = {}
    # Backwards, so that each note knows when its string is sounded next.
    for frame, string, samples, pan in reversed(sounded):
        bus = _bus(buses, pan)
        stop = sounded_again.get(string)
        if stop is not None:
            kept = stop - frame
            tail = samples[kept : kept + choke]
            fade = 1.0 - (np.arange(len(tail)) + 1) / (choke + 1)
            _add(bus, first_frame, samples[:kept], frame)
            _add(bus, first_frame, np.rint(tail * fade).astype(np.int16), stop)
        else:
            _add(bus, first_frame, samples, frame)
        sounded_again[string] = frame


def _add_band(buses: Buses, first_frame: int, plan: StreamPlan, since: int, last_frame: int) -> None:
    bass = []
    for onset in band_onsets(plan, since, last_frame):
        samples = band_samples(onset.part, onset.notes, onset.gain_db, plan.rate)
        if onset.part is BandPart.BASS:
            bass.append((onset.frame, 0, samples, onset.pan))
        else:
            _add(_bus(buses, onset.pan), first_frame, samples, onset.frame)
    _add_strings(buses, first_frame, plan.rate, bass)


def _bus(buses: Buses, pan: float) -> Sums:
    """Return the sum of all that is heard at a pan."""
    if pan not in buses:
        buses[pan] = np.zeros_like(buses[0.0])
    return buses[pan]


def _backing(plan: StreamPlan, first_frame: int, frames: int) -> NDArray[np.int32]:
    """Return the backing track at its volume, shape (frames, 2); silence before it leads in and after it."""
    assert plan.backing is not None
    zero_frame, end_frame = plan.frame_of(Fraction(0)), plan.backing_end_frame
    last_frame = first_frame + frames
    out = np.zeros((frames, CHANNELS), dtype=np.int32)
    if last_frame <= zero_frame - round(LEAD_IN_S * plan.rate):
        return out
    if end_frame is not None and first_frame >= end_frame + round(LEAD_OUT_S * plan.rate):
        return out
    piece = backing_piece(plan.backing, zero_frame, first_frame, frames)
    if end_frame is not None:
        piece = led_out(piece, first_frame, end_frame, plan.rate)
    # Each stretch of settings has its own volume; a stretch begins at the frame of its span.
    edges = [span.from_frame for span in plan.spans if first_frame < span.from_frame < last_frame]
    for start, stop in itertools.pairwise([first_frame, *edges, last_frame]):
        settings = plan.settings_at(start)
        if settings.backing:
            gain = 10.0 ** (settings.backing_db / 20.0)
            part = slice(start - first_frame, stop - first_frame)
            out[part] = np.rint(piece[part] * gain)
    return out


def _add(mix: Sums, first_frame: int, samples: Samples, at: int) -> None:
    start = max(at, first_frame)
    stop = min(at + len(samples), first_frame + len(mix))
    if start < stop:
        mix[start - first_frame : stop - first_frame] += samples[start - at : stop - at]
