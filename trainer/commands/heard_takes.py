"""Take a sound file of a banjo in, so that it is graded as a recorded take is.

Tempo and beat 0 come from the clicks of the count-in, where the recording holds them; else the tempo must be
given, and beat 0 is looked for among the strokes. Nothing here needs a window, a sound card or a microphone;
pygame decodes the file, in a process of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from trainer.errors import BadTake
from trainer.hearing.bands import RATE, Wave
from trainer.hearing.click_line import ClickLine, click_line
from trainer.hearing.listening import HeardStroke, listen
from trainer.hearing.onsets import THRESHOLD
from trainer.hearing.room import LEAST_STRENGTH
from trainer.hearing.take import HeardTake
from trainer.hearing.taps import (
    BESIDE_CLICK_S,
    CLICK_MARGIN,
    SOFT_THRESHOLD,
    TOUCH_THRESHOLD,
    UNKNOWN_CLICK_RISE,
    UNKNOWN_CLICK_STRENGTH,
    BesideClicks,
    lone_click_strength,
)
from trainer.hearing.tone_edge import TONE_HZ, tone_began_s
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.timeline import count_in_beats
from trainer.sound.clicks import ClickVoice
from trainer.sound.knocks import BEATS, HeardClick, find_clicks, without_clicks

PIECE_S, OVERLAP_S = 20.0, 0.2
AGAIN = "record it again, nearer the banjo"
LOOKED_FOR = "beat 0 is looked for among the strokes"
NEAR_S = 0.05
LEAST_SHARE = 0.5  # of the beats, that must have a click where no count-in says what it is
COARSE = 0xFF  # the lower half of a sample, empty in a file of 8 bits but for what rounding leaves
ROUNDED = 1
CLIPPED = 0.999
CLIPPED_SHARE = 1e-3
SOFTEST = 10 ** (-60 / 20)
LIKELY = 0.36  # of clicks, in their likeness to the program's own


def hear_take(
    path: Path, pattern: Pattern, *, bpm: Fraction | None = None, feel: Feel = NO_FEEL
) -> HeardTake:
    """Read and hear a sound file.

    Args:
        bpm: the tempo where it is known.

    Raises:
        TrainerError: the file cannot be read, or nothing of a banjo can be heard in it.
    """
    from trainer.devices.backing import read_sound

    stereo = read_sound(path, RATE)
    wave = np.asarray(stereo, dtype=np.float32).mean(axis=1) / 32768
    # 8 bits a sample: what is softer than a step comes and goes as if it were played, and is new each time.
    tells_newness = bool((((stereo + ROUNDED) & COARSE) > 2 * ROUNDED).any())
    if not tells_newness:
        # Noise hides it from rises.
        wave = wave + np.random.default_rng(0).uniform(-1, 1, len(wave)) / 128
    peak = float(np.abs(wave).max())
    if peak < SOFTEST:
        raise BadTake(
            f"{path.name} is all but silent: nothing is louder than -60 dB",
            AGAIN,
        )
    notes = []
    if not tells_newness:
        notes.append(
            f"{path.name} has 8 bits a sample, too few for soft touches of a skip: record with 16 bits."
        )
    clipped = float((np.abs(wave) >= CLIPPED).mean())
    if clipped > CLIPPED_SHARE:
        notes.append(f"{100 * clipped:.1f} % of {path.name} is clipped: record more softly.")
    voice, clicks, line = _clicks(
        wave, count_in_beats(pattern.meter), None if bpm is None else 60 / float(bpm)
    )
    deaf: tuple[float, ...] = ()
    sound: Wave = wave
    if line is not None and voice is ClickVoice.TONE:
        deaf = TONE_HZ
    elif line is not None:
        sound = without_clicks(np.asarray(wave, dtype=np.float64), RATE, clicks)
        tells_newness = False  # what is left of a noisy click would be as new as a touch
    least = LEAST_STRENGTH if tells_newness else None
    strokes = listen(sound, threshold=SOFT_THRESHOLD, touch_threshold=least, deaf_hz=deaf)
    if not any(stroke.rise >= THRESHOLD for stroke in strokes):
        raise BadTake(f"no stroke can be heard in {path.name}", AGAIN)
    return HeardTake(
        pattern=pattern,
        strokes=strokes,
        line=line,
        tells_newness=tells_newness,
        beside_clicks=None if line is None else _beside_clicks(strokes, clicks, line, len(wave) / RATE),
        feel=feel,
        notes=(*notes, *_line_words(line)),
        faults=tuple(notes),
    )


def _clicks(
    wave: Wave, count_in: int, seconds_per_beat: float | None
) -> tuple[ClickVoice, Sequence[HeardClick], ClickLine | None]:
    """Return the voice whose clicks make the better line, these clicks and the line.

    A line that begins with a count-in is better than one that does not; then the one of more clicks.
    """
    best: tuple[ClickVoice, Sequence[HeardClick], ClickLine | None] = (ClickVoice.WOOD, (), None)
    rank = (False, 0)
    for voice in ClickVoice:
        clicks = clicks_in(wave, voice)
        line = click_line(clicks, wave, voice, count_in_beats=count_in, seconds_per_beat=seconds_per_beat)
        if line is None or (line.beat_0_s is None and seconds_per_beat is None):
            continue  # strokes that come as regularly as clicks do; only a count-in tells them apart
        if line.beat_0_s is None and line.clicks < LEAST_SHARE * len(wave) / RATE / line.seconds_per_beat:
            continue
        if (line.beat_0_s is not None, line.clicks) > rank:
            best, rank = (voice, clicks, line), (line.beat_0_s is not None, line.clicks)
    return best


def clicks_in(wave: Wave, voice: ClickVoice) -> Sequence[HeardClick]:
    """Return the clicks of one voice in a recording, mono at 48 kHz, in order."""
    clicks: list[HeardClick] = []
    for start in range(0, len(wave), round(PIECE_S * RATE)):
        piece = wave[start : start + round((PIECE_S + OVERLAP_S) * RATE)]
        for click in find_clicks(np.asarray(piece, dtype=np.float64), RATE, BEATS, voice=voice, beside=True):
            at_s = click.time_s
            if voice is ClickVoice.TONE:
                at_s = tone_began_s(piece, 0.0, at_s, click.click)
            at_s += start / RATE
            if click.likeness >= LIKELY and (not clicks or at_s - clicks[-1].time_s > OVERLAP_S):
                clicks.append(HeardClick(time_s=at_s, click=click.click, likeness=click.likeness))
    return clicks


def _beside_clicks(
    strokes: Sequence[HeardStroke], clicks: Sequence[HeardClick], line: ClickLine, seconds: float
) -> BesideClicks:
    """Return where the beats are, and how much a click stands out while nobody plays: in the count-in."""
    first = line.at_s - line.seconds_per_beat * int(line.at_s / line.seconds_per_beat)
    times = np.arange(first, seconds, line.seconds_per_beat)
    waited = [
        each.time_s for each in clicks if line.beat_0_s is not None and each.time_s < line.beat_0_s - NEAR_S
    ]
    alone = [
        stroke for stroke in strokes for time_s in waited if abs(stroke.time_s - time_s) <= BESIDE_CLICK_S
    ]
    return BesideClicks(
        times_s=tuple(times.tolist()),
        rise=CLICK_MARGIN * max((each.rise for each in alone), default=UNKNOWN_CLICK_RISE),
        strength=lone_click_strength([each.touch_strength for each in alone], TOUCH_THRESHOLD)
        if waited
        else UNKNOWN_CLICK_STRENGTH,
    )


def _line_words(line: ClickLine | None) -> tuple[str, ...]:
    if line is None:
        return (f"No click was heard, so the tempo must be given, and {LOOKED_FOR}.",)
    words = [
        f"{line.clicks} clicks were heard at {line.bpm:.2f} beats a minute; strokes are placed against them "
        f"(to {max(0.1, 1000 * line.uncertainty_s):.1f} ms, and 1 ms for every 34 cm that the loudspeaker is "
        "farther from the microphone than the banjo)."
    ]
    if line.beat_0_s is None:
        words.append(f"The count-in was not heard, so {LOOKED_FOR}.")
    words += [
        f"The recording jumps by {1000 * jump.size_s:+.0f} ms at {jump.from_s:.1f} s: what lies beyond is "
        "placed by the longest stretch without a jump."
        for jump in line.jumps
    ]
    return tuple(words)
