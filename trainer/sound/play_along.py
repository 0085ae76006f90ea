"""Lay out a file to play along with: which parts sound, and the blocks of samples one after another.

The parts are those of a stream at their first volumes, so that all together they are about -20 LUFS; a file
has no taps on top, so it may peak higher than a stream.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from trainer.errors import BadSettings
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.source import nearest
from trainer.music.timeline import Timeline
from trainer.sound.band import BandPart
from trainer.sound.clicks import ClickVoice
from trainer.sound.gain import FILE_CEILING
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.render import make_sounds, render
from trainer.sound.stream_onsets import longest_frames
from trainer.sound.thinning import EVERY_BEAT, Thinning

BLOCK_FRAMES = RATE  # a second; all that is ever held in memory besides the sounds themselves
LEAD_S = 0.2
MOST_MINUTES = 60


class FilePart(enum.Enum):
    """What a file can hold; each value is the word of the command line."""

    CLICK = "click"
    BANJO = "banjo"
    BASS = "bass"
    CHOP = "chop"
    DRUM = "drum"


BAND = {
    FilePart.BASS: frozenset({BandPart.BASS}),
    FilePart.CHOP: frozenset({BandPart.CHOP}),
    FilePart.DRUM: frozenset({BandPart.DRUM, BandPart.BRUSH}),
}


def read_parts(words: str) -> frozenset[FilePart]:
    """Return the parts that words with commas between them name.

    Raises:
        BadSettings: no part is called so, or none is named.
    """
    known = {heard.value: heard for heard in FilePart}
    named = [word.strip().lower() for word in words.split(",") if word.strip()]
    for word in named:
        if word not in known:
            near = nearest(word, tuple(known))
            raise BadSettings(
                f'found "{word[:40]}" for a part',
                f"did you mean {near}" if near else f"choose from {', '.join(known)}, with commas between",
            )
    if not named:
        raise BadSettings("found no part to be heard", f"choose from {', '.join(known)}, with commas between")
    return frozenset(known[word] for word in named)


def play_along_plan(
    pattern: Pattern,
    timeline: Timeline,
    *,
    passes: int,
    parts: Iterable[FilePart] = tuple(FilePart),
    feel: Feel = NO_FEEL,
    voice: ClickVoice = ClickVoice.WOOD,
    thinning: Thinning = EVERY_BEAT,
) -> StreamPlan:
    """Return the plan of a file; it counts in where a click is heard, else it begins with beat 0.

    Raises:
        BadSettings: it would last longer than an hour, or nothing in it would sound.
    """
    parts = frozenset(parts)
    has_chords = pattern.chart is not None
    if not has_chords and parts <= BAND.keys():
        raise BadSettings(
            f"{pattern.name} has no chords, so no band plays to it",
            "name click or banjo too, or take a break",
        )
    minutes = timeline.seconds(Fraction(pattern.beats * passes)) / 60
    if minutes > MOST_MINUTES:
        raise BadSettings(
            f"{passes} passes of {pattern.name} last {minutes:.0f} minutes",
            f"write at most {MOST_MINUTES} minutes, {int(passes * MOST_MINUTES / minutes)} passes",
        )
    click, banjo = FilePart.CLICK in parts, FilePart.BANJO in parts
    settings = SoundSettings(
        click=click,
        count_in=click,
        click_voice=voice,
        thinning=thinning,
        strokes=banjo,
        left_hand=banjo,
        band=has_chords,
        band_parts=frozenset().union(*(BAND[part] for part in parts if part in BAND)),
    )
    plan = plan_for(pattern, timeline, passes=passes, settings=settings, feel=feel, lead_s=LEAD_S)
    if click:
        return plan
    return replace(plan, origin_frame=round(LEAD_S * plan.rate))


def play_along_frames(plan: StreamPlan) -> int:
    """Return how long a file is, with what rings after its end."""
    assert plan.end_beat is not None
    return plan.frame_of(plan.end_beat) + longest_frames(plan)


def play_along_blocks(plan: StreamPlan) -> Iterator[NDArray[np.int16]]:
    """Give a file's samples in blocks of a second, each of shape (frames, 2)."""
    make_sounds(plan)
    frames = play_along_frames(plan)
    for first in range(0, frames, BLOCK_FRAMES):
        yield render(plan, first, min(BLOCK_FRAMES, frames - first), ceiling=FILE_CEILING)
