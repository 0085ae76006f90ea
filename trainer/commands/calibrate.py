"""Answer the command that finds how late sound and input are together.

Without options the window opens on its calibration. From files nothing is opened: taps along with a click
come from a MIDI file, and one recording of clicks and knocks from a WAV file.
"""

from __future__ import annotations

import argparse
import json
import math
import struct
import wave
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from trainer.commands.parsing import Answer, Commands, read_number, whole
from trainer.commands.window import open_window
from trainer.errors import BadSettings, BadTake, NoMidi
from trainer.judging.delay import MOST_TIMES, DelayAnswer, DelayFound, find_delay, find_device_delay
from trainer.music.timeline import as_tempo
from trainer.opening import Opening
from trainer.practice.delay_words import delay_dict, delay_sentences
from trainer.practice.delays import KEYS, all_delays, delay_of, with_delay
from trainer.practice.settings import LARGEST_DELAY_MS
from trainer.records.midifile import RecordedTake, read_take
from trainer.records.settings import load_settings, save_changes

RATES = (8_000, 192_000)
LONGEST_S = 120.0
FARTHEST_OFFSET_S = 86_400.0
COUNT_IN_BEATS = 8  # clicks before beat 0 that a recording may hold
NOT_FOUND = 1  # exit code: the files were read, and no delay can be told from them


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """One channel of a recording: samples from -1 to 1, and frames a second."""

    samples: NDArray[np.float64]
    rate: int


def add_to(each: Commands) -> None:
    """Add the command of this module."""
    parser = each.add_parser(
        "delay",
        aliases=["calibrate"],
        help="measure how late sound and input are together: in the window, or from files",
    )
    parser.add_argument("--taps", metavar="TAKE.mid", help="taps along with a click, a Standard MIDI File")
    parser.add_argument("--bpm", metavar="N", help="clicks a minute (default: the file's tempo)")
    parser.add_argument(
        "--offset", metavar="S", help="second of the MIDI file at which a click lies (default: its beat 0)"
    )
    parser.add_argument(
        "--wav", metavar="FILE.wav",
        help="one recording of the clicks and of the same taps' knocks; finds the devices' delay alone",
    )  # fmt: skip
    parser.add_argument("--set", metavar="MS", help="keep this delay, late positive")
    parser.add_argument("--input", metavar="NAME", help="MIDI input (default: the computer's keys)")
    parser.add_argument("--output", metavar="NAME", help="sound output (default: the one in use)")
    parser.add_argument("--show", action="store_true", help="list the delays that are kept")
    parser.add_argument("--json", action="store_true", help="print numbers for programs instead of words")
    parser.set_defaults(command=run)


def run(o: argparse.Namespace) -> Answer:
    """Do what the options ask for.

    Raises:
        TrainerError: an option or a file cannot be used, or the window cannot be opened.
    """
    asked = [name for name in ("set", "show", "taps") if getattr(o, name)]
    if len(asked) > 1:
        raise BadSettings(f"--{asked[0]} and --{asked[1]} were given together", "give one of them")
    if o.wav and not o.taps:
        raise BadSettings("a recording alone is not enough", "give the same taps as a MIDI file with --taps")
    if o.set:
        return set_delay(o.set, o.input or "", o.output, as_json=o.json)
    if o.show:
        return show_delays(as_json=o.json)
    if o.taps:
        return from_files(o)
    for name in ("bpm", "offset", "output", "json"):
        if getattr(o, name):
            raise BadSettings(f"--{name} means nothing without files", "add --taps, or leave it out")
    return Answer(exit_code=open_window(Opening(calibrate=True, input_name=o.input)))


def from_files(o: argparse.Namespace) -> Answer:
    """Return the delay that a MIDI file of taps speaks for, or with a recording the devices' alone.

    Raises:
        TrainerError: a file cannot be read, or no tempo is known.
    """
    take = read_take(Path(o.taps))
    gap_s = 60 / _bpm(take, o.bpm)
    offset_s = take.beat_0_s if o.offset is None else _offset_s(o.offset)
    taps = [note.file_s - offset_s for note in take.notes]
    taps = [tap for tap in taps if tap >= -gap_s / 2]  # in the count-in one listens
    first = -COUNT_IN_BEATS if o.wav else 0
    last = math.ceil(max(taps, default=0.0) / gap_s) + 1
    if last - first > MOST_TIMES or len(taps) > MOST_TIMES:
        raise BadTake(f"{o.taps} holds {len(taps)} taps over {last} beats", "cut it to a minute or two")
    clicks = [beat * gap_s for beat in range(first, last + 1)]
    if o.wav:
        answer = _from_recording(read_recording(Path(o.wav)), clicks, taps)
    else:
        answer = find_delay(clicks, taps)
    by_microphone = bool(o.wav)
    if o.json:
        lines: tuple[str, ...] = (
            json.dumps(delay_dict(answer, by_microphone=by_microphone), indent=1, ensure_ascii=False),
        )
    else:
        lines = delay_sentences(answer, by_microphone=by_microphone)
        if isinstance(answer, DelayFound):
            lines += (f"To keep it: thumbfall delay --set {round(answer.median_s * 1000)} --input NAME",)
    return Answer(lines=lines, exit_code=0 if isinstance(answer, DelayFound) else NOT_FOUND)


def set_delay(ms: str, input_name: str, output_name: str | None, *, as_json: bool = False) -> Answer:
    """Keep a delay by hand.

    Raises:
        BadSettings: no whole number within 300 ms.
        StoreProblem: the settings cannot be kept.
    """
    delay_ms = whole(ms, "--set", -LARGEST_DELAY_MS, most=LARGEST_DELAY_MS)
    settings, note = load_settings()
    name = "" if input_name in ("", KEYS) else _whole_name(input_name)
    output = _output_in_use() if output_name is None else output_name
    settings = save_changes(
        settings, replace(settings, known_delays=with_delay(settings, name, output, delay_ms))
    )
    kept = delay_of(settings, name, output)
    if as_json:
        table = {"input": name or KEYS, "output": output, "delay_ms": kept}
        return Answer(lines=(json.dumps(table, ensure_ascii=False),), notes=(note,) if note else ())
    line = f"Kept: {kept} ms are taken off each tap on {name or KEYS}, heard through {output}."
    return Answer(lines=(line,), notes=(note,) if note else ())


def show_delays(*, as_json: bool = False) -> Answer:
    """List the delays that are kept."""
    settings, note = load_settings()
    notes = (note,) if note else ()
    known = all_delays(settings)
    if as_json:
        table = [{"input": d.input_name, "output": d.output_name, "delay_ms": d.delay_ms} for d in known]
        return Answer(lines=(json.dumps(table, indent=1, ensure_ascii=False),), notes=notes)
    if not known:
        return Answer(lines=("No delay is kept yet.",), notes=notes)
    wide = max(len(d.input_name) for d in known)
    return Answer(
        lines=tuple(f"{d.delay_ms:>5} ms  {d.input_name:<{wide}}  {d.output_name}" for d in known),
        notes=notes,
    )


def read_recording(path: Path) -> Recording:
    """Read a WAV file of 16-bit samples; of several channels their mean.

    Raises:
        BadTake: not readable, no such WAV, empty, or too long.
    """
    try:
        with wave.open(str(path), "rb") as file:
            channels, width, rate = file.getnchannels(), file.getsampwidth(), file.getframerate()
            frames = file.getnframes()
            if width != 2 or not RATES[0] <= rate <= RATES[1] or not frames:
                raise BadTake(
                    f"{path} holds {frames} frames of {8 * width} bits at {rate} a second",
                    f"save it with 16 bits at {RATES[0]} to {RATES[1]}",
                )
            if frames > LONGEST_S * rate:
                raise BadTake(
                    f"{path} is {frames / rate:.0f} s long and at most {LONGEST_S:.0f} are heard",
                    "cut the recording",
                )
            raw = file.readframes(frames)
    except (wave.Error, EOFError, struct.error, RuntimeError) as err:
        raise BadTake(f"{path} is no WAV file of 16-bit PCM ({err})", "save it as one") from err
    except OSError as err:
        raise BadTake(f"{path} cannot be read ({err.strerror})", "check the path") from err
    samples = np.frombuffer(raw[: len(raw) // (2 * channels) * 2 * channels], dtype="<i2")
    mono = samples.reshape(-1, channels).mean(axis=1) / 32768
    return Recording(samples=np.asarray(mono, dtype=np.float64), rate=rate)


def _from_recording(recording: Recording, clicks: list[float], taps: list[float]) -> DelayAnswer:
    from trainer.sound.knocks import find_clicks, find_knocks, without_clicks

    heard = find_clicks(recording.samples, recording.rate)
    left = without_clicks(recording.samples, recording.rate, heard)
    return find_device_delay(
        clicks_heard_s=[click.time_s for click in heard],
        knocks_heard_s=find_knocks(left, recording.rate)[:MOST_TIMES],
        clicks_s=clicks,
        taps_s=taps,
    )


def _bpm(take: RecordedTake, text: str | None) -> float:
    if text is not None:
        return float(as_tempo(text))
    if take.bpm is None:
        raise BadSettings("the take names no tempo", "give the clicks a minute with --bpm")
    return float(as_tempo(round(take.bpm, 3)))


def _offset_s(text: str) -> float:
    return read_number(text, "the offset", -FARTHEST_OFFSET_S, FARTHEST_OFFSET_S)


def _whole_name(name: str) -> str:
    """Return the whole name of a port that is there now, or the name as it was given."""
    from trainer.devices.midi import MidiInputs  # loads the MIDI library

    inputs = MidiInputs()
    try:
        ports = inputs.ports()
    except NoMidi:
        ports = ()
    finally:
        inputs.end()
    fitting = [port for port in ports if name.casefold() in port.casefold()]
    return fitting[0] if len(fitting) == 1 else name


def _output_in_use() -> str:
    from trainer.devices.outputs import output_name  # loads the window library
    from trainer.devices.speaker import open_speaker

    speaker = open_speaker()
    try:
        return output_name(speaker)
    finally:
        speaker.close()
