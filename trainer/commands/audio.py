"""Answer the command that writes a play-along: a sound file of any of the parts, to take home."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

from trainer.commands.parsing import Answer, Commands, add_bpm, add_pattern, by_kind, read_swing, whole
from trainer.errors import BadSettings
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.named import one_of
from trainer.music.timeline import Timeline, as_tempo
from trainer.practice.settings import THINNED_BY_BARS, THINNINGS
from trainer.records.library import load_library, open_pattern
from trainer.records.wavfile import write_wav

ALL_PARTS = "click,banjo,bass,chop,drum"
CLICKS_OF = ("wood", "tone")
CLICKS_ON = tuple(words for words in THINNINGS if words != THINNED_BY_BARS)


@dataclass(frozen=True, slots=True, kw_only=True)
class AudioOrder:
    """What ``thumbfall audio`` was asked; texts are the words of the command line."""

    pattern: str
    to: Path
    bpm: str | None = None
    passes: int = 4
    parts: str = ALL_PARTS
    feel: Feel = NO_FEEL
    click_of: str = CLICKS_OF[0]
    click_on: str = CLICKS_ON[0]


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser("audio", help="write a play-along as a sound file: WAV")
    add_pattern(parser)
    add_bpm(parser)
    parser.add_argument("--passes", metavar="N", default="4", help="how often it is played (default: 4)")
    parser.add_argument(
        "--parts", metavar="A,B", default=ALL_PARTS,
        help="what is heard, of click, banjo, bass, chop and drum (default: all)",
    )  # fmt: skip
    parser.add_argument("--swing", metavar="R", default="1", help="long to short, 1 (default) is straight")
    parser.add_argument(
        "--lay-back", metavar="KIND=MS", action="append", default=[],
        help="play a kind of stroke, or all, so many ms behind the beat",
    )  # fmt: skip
    parser.add_argument(
        "--click-of", metavar="WHAT", default=CLICKS_OF[0],
        help="what the click is made of: wood (default), or tone, which cuts through a banjo",
    )  # fmt: skip
    parser.add_argument(
        "--click-on", metavar="WORDS", default=CLICKS_ON[0], help=f"one of: {', '.join(CLICKS_ON)}"
    )
    parser.add_argument("--to", metavar="FILE.wav", required=True, help="file to write")

    def run(o: argparse.Namespace) -> Answer:
        return write_audio(
            AudioOrder(
                pattern=o.pattern,
                to=Path(o.to),
                bpm=o.bpm,
                passes=whole(o.passes, "--passes", 1),
                parts=o.parts,
                feel=Feel(swing=read_swing(o.swing), layback_s=by_kind(o.lay_back, "--lay-back")),
                click_of=one_of(o.click_of, CLICKS_OF, "--click-of"),
                click_on=one_of(o.click_on, CLICKS_ON, "--click-on"),
            )
        )

    parser.set_defaults(command=run)


def write_audio(order: AudioOrder) -> Answer:
    """Write a play-along, a second of it at a time; a file of that name is replaced when all is written.

    Raises:
        TrainerError: the pattern or an option cannot be used, or the file cannot be written.
    """
    # Loaded here, so that the other commands start at once.
    from trainer.sound.clicks import ClickVoice
    from trainer.sound.play_along import (
        BAND,
        FilePart,
        play_along_blocks,
        play_along_frames,
        play_along_plan,
        read_parts,
    )
    from trainer.sound.thinning import Thinning

    to = order.to
    if to.suffix.lower() != ".wav":
        raise BadSettings(
            f'found "{to.name}" for a sound file, and only WAV can be written here',
            f"name it {to.stem or 'play-along'}.wav, which nearly all players read",
        )
    parts = read_parts(order.parts)
    pattern = open_pattern(order.pattern, load_library())
    tempo = pattern.slow_bpm if order.bpm is None else as_tempo(order.bpm)
    plan = play_along_plan(
        pattern,
        Timeline.steady(tempo),
        passes=order.passes,
        parts=parts,
        feel=order.feel,
        voice=ClickVoice(order.click_of),
        thinning=Thinning.named(order.click_on),
    )
    frames = play_along_frames(plan)
    blocks = (block.tobytes() for block in play_along_blocks(plan))
    write_wav(to, blocks, frames=frames, rate=plan.rate)
    silent = frozenset(BAND) if pattern.chart is None else frozenset[FilePart]()
    heard = ", ".join(part.value for part in FilePart if part in parts - silent)
    passes = "1 pass" if order.passes == 1 else f"{order.passes} passes"
    return Answer(
        lines=(
            f"{to}: {pattern.title}, {passes} at {float(tempo):g} beats a minute, "
            f"{frames / plan.rate:.0f} s of {heard}.",
        ),
        notes=(f"{pattern.name} has no chords, so no band plays to it.",) if parts & silent else (),
    )
