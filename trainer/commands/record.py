"""Answer the command that records a banjo beside the click, and writes down what was heard of it.

For owners of real banjos: one command makes a sound file and a file of labels beside it, which can be looked
at, listened to and sent. Nothing is sent by the program.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from trainer.commands.parsing import Answer, Commands, add_bpm, add_pattern, whole
from trainer.errors import BadSettings, BadTake, DeviceProblem, TrainerError
from trainer.music.pattern import Pattern
from trainer.music.timeline import Timeline, as_tempo
from trainer.records.library import load_library, open_pattern
from trainer.records.wavfile import write_beside, write_wav
from trainer.version import version

AFTER_S = 1.0  # recorded after the last stroke's slot
WAITED_S = 3.0  # for a microphone's first sound
LONGEST_S = 600.0
LEAD_S = 1.0
LOOK_S = 0.01
BLOCK_FRAMES = 48_000
ABOUT = (
    "A recording of a banjo made with thumbfall record, and what the program heard in it. Seconds count from "
    "the recording's beginning. The labels are the program's own guesses and what was asked; nobody has "
    "checked them."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordOrder:
    """What ``thumbfall record`` was asked; texts are the words of the command line."""

    pattern: str
    to: Path
    bpm: str | None = None
    passes: int = 4
    microphone: str = ""
    banjo: str = ""


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser(
        "record", help="record your banjo beside the click, with what was heard: a sound file and its labels"
    )
    add_pattern(parser)
    parser.add_argument("--to", metavar="FILE.wav", required=True, help="file to write; labels go beside it")
    add_bpm(parser)
    parser.add_argument("--passes", metavar="N", default="4", help="how often it is played (default: 4)")
    parser.add_argument(
        "--microphone", metavar="NAME", default="", help="part of its name (default: the first)"
    )
    parser.add_argument(
        "--about", metavar="WORDS", default="", help="the banjo, the room, the microphone, in your words"
    )

    def run(o: argparse.Namespace) -> Answer:
        return record(
            RecordOrder(
                pattern=o.pattern,
                to=Path(o.to),
                bpm=o.bpm,
                passes=whole(o.passes, "--passes", 1),
                microphone=o.microphone,
                banjo=o.about,
            )
        )

    parser.set_defaults(command=run)


def record(order: RecordOrder) -> Answer:
    """Play the click from its count-in on, record the microphone, write both files.

    Raises:
        TrainerError: the pattern, a device or the file cannot be used; nothing is written then.
    """
    to = order.to
    if to.suffix.lower() != ".wav":
        raise BadSettings(f'found "{to.name}" for a sound file', f"name it {to.stem or 'banjo'}.wav")
    pattern = open_pattern(order.pattern, load_library())
    bpm = pattern.slow_bpm if order.bpm is None else as_tempo(order.bpm)
    timeline = Timeline.steady(bpm)
    seconds = timeline.seconds(Fraction(order.passes * pattern.beats)) + AFTER_S
    if seconds > LONGEST_S:
        raise BadSettings(
            f"{order.passes} passes at {float(bpm):g} take {seconds:.0f} s",
            f"ask for fewer: at most {LONGEST_S:.0f} s are recorded",
        )
    wave, microphone, output, came_whole = _recorded(pattern, timeline, order, seconds)
    labels, words = _labels(to, wave, pattern, bpm, order)
    labels |= {"microphone": microphone, "output": output, "came_whole": came_whole}
    beside = to.with_suffix(".heard.json")
    write_beside(beside, json.dumps(labels, indent=1, ensure_ascii=False) + "\n")
    whole_words = () if came_whole else ("Some sound was lost on its way in; record it again if you can.",)
    return Answer(
        lines=(f"{to}: {len(wave) / 48_000:.1f} s.", f"{beside}: {words}", "Nothing was sent to anybody."),
        notes=whole_words,
    )


def _recorded(
    pattern: Pattern, timeline: Timeline, order: RecordOrder, seconds: float
) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], str, str, bool]:
    """Return the sound, the names of microphone and output, and whether as much came as time has passed."""
    # Loaded here, so that the other commands start at once.
    from trainer.devices.clock import now_ns
    from trainer.devices.microphone import open_live
    from trainer.devices.outputs import capture_names, output_name
    from trainer.devices.speaker import SilentSpeaker, open_speaker
    from trainer.sound.clicks import ClickVoice
    from trainer.sound.plan import SoundSettings, plan_for

    speaker = open_speaker()
    try:
        if isinstance(speaker, SilentSpeaker):
            raise DeviceProblem(
                "there is no sound, so there is no click to play with", "look at the sound output"
            )
        fitting = [name for name in capture_names() if order.microphone.casefold() in name.casefold()]
        if order.microphone and not fitting:
            raise DeviceProblem(
                f'no microphone has "{order.microphone}" in its name',
                f"choose one of: {', '.join(capture_names()) or 'none is there'}",
            )
        microphone = open_live(fitting[0] if fitting else "")
        try:
            microphone.start()
            began = now_ns()
            pieces = [chunk.wave for chunk in microphone.fresh()]
            while not pieces:
                if (now_ns() - began) / 1e9 > WAITED_S:
                    raise DeviceProblem(
                        "the microphone gives no sound", "let the system allow it, or choose another"
                    )
                time.sleep(LOOK_S)
                pieces += [chunk.wave for chunk in microphone.fresh()]
            plan = plan_for(
                pattern,
                timeline,
                passes=order.passes,
                settings=SoundSettings(click_voice=ClickVoice.TONE),
                rate=speaker.rate,
                lead_s=LEAD_S,
            )
            began, had = now_ns(), sum(map(len, pieces))
            speaker.start(plan, began)
            while (song_s := speaker.song_s(now_ns())) is not None and song_s < seconds:
                speaker.pump(now_ns())
                pieces += [chunk.wave for chunk in microphone.fresh()]
                time.sleep(LOOK_S)
            wave = np.concatenate([*pieces, *(chunk.wave for chunk in microphone.fresh())])
            lasted_s = (now_ns() - began) / 1e9
            came_whole = abs((len(wave) - had) / microphone.rate / lasted_s - 1) < 0.01
            return wave, microphone.name, output_name(speaker), came_whole
        finally:
            microphone.close()
    finally:
        speaker.close()


def _labels(
    to: Path,
    wave: np.ndarray[tuple[int], np.dtype[np.float64]],
    pattern: Pattern,
    bpm: Fraction,
    order: RecordOrder,
) -> tuple[dict[str, object], str]:
    """Write the sound; return what was asked and heard, and in a few words how much that is."""
    from trainer.commands.heard_takes import hear_take

    if not len(wave) or not np.abs(wave).max():
        raise BadTake("the microphone gave nothing but zeros", "let the system allow this program to use it")
    samples = np.rint(np.clip(wave, -1, 1) * 32767).astype(np.int16)
    stereo = np.repeat(samples[:, None], 2, axis=1)
    blocks = (stereo[at : at + BLOCK_FRAMES].tobytes() for at in range(0, len(stereo), BLOCK_FRAMES))
    write_wav(to, blocks, frames=len(stereo), rate=48_000)
    labels: dict[str, object] = {
        "about": ABOUT,
        "program": f"thumbfall {version()}",
        "sound": to.name,
        "your_words": order.banjo,
        "pattern": pattern.name,
        "bpm": float(bpm),
        "passes": order.passes,
        "asked": [
            {"beat": str(beat), "kind": each.kind.value, "strings": each.strings, "frets": each.all_frets}
            for beat, each in zip(_beats(pattern), pattern.strokes, strict=True)
        ],
    }
    try:
        heard = hear_take(to, pattern, bpm=bpm)
    except TrainerError as problem:
        return {**labels, "problem": str(problem), "strokes": []}, f"nothing could be heard in it: {problem}"
    labels |= {
        "beat_0_s": None if heard.beat_0_s is None else round(heard.beat_0_s, 6),
        "notes": list(heard.notes),
        "strokes": [
            {
                "time_s": round(each.time_s, 6),
                "uncertainty_ms": round(1000 * each.uncertainty_s, 1),
                "rise": round(each.rise, 3),
                "level_db": round(each.level_db, 1),
            }
            for each in heard.strokes
        ],
    }
    if heard.beat_0_s is not None:
        labels["taps"] = [
            {"song_s": round(tap.song_s, 6), "string": tap.string, "velocity": tap.velocity}
            for tap in heard.taps(bpm, offset_s=heard.beat_0_s)
        ]
    return labels, f"{len(heard.strokes)} strokes and soft sounds heard, with their times"


def _beats(pattern: Pattern) -> list[Fraction]:
    return [Fraction(at, pattern.slots_per_beat) for at in range(len(pattern.strokes))]
