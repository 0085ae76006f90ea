"""Make banjo sound whose truth is known: strokes of a pattern at known moments, in a room, with noise.

Instruments: two sampled banjos, where FluidSynth and its sound fonts are installed (Debian: fluidsynth,
fluid-soundfont-gm, timgm6mb-soundfont; programme 106 of General MIDI), the program's own string, and a
string with the modes of a drum head. The moment of a stroke is that of its main attack: the first frame
within 12 dB of the peak of its first 40 ms.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from dataclasses import dataclass, field
from pathlib import Path

import mido
import numpy as np
from numpy.typing import NDArray

from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline, count_in_beats
from trainer.music.tuning import note_to_hz
from trainer.sound.clicks import Click, ClickVoice, beat_click, click_samples
from trainer.sound.string import loop_for, run_loop, string_wave

Wave = NDArray[np.float64]
RATE = 48_000
FONTS = {
    "sampled A": Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    "sampled B": Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
}
BANJO = 105  # programme 106 of General MIDI, counted from 0
NOTES = range(48, 84)
VELOCITIES = (30, 40, 50, 60, 70, 80, 95, 110)
NOTE_S, GAP_S = 1.5, 2.0
ATTACK_DB = -12.0
_HEAD_MODES = (
    (290, 1.0, 0.018),
    (560, 1.0, 0.012),
    (780, 0.8, 0.010),
    (1350, 0.5, 0.006),
    (2300, 0.4, 0.004),
)


@dataclass
class Instrument:
    """Notes of one instrument, each with the frame of its main attack."""

    name: str
    bank: Wave | None = None
    _kept: dict[tuple[int, int], tuple[Wave, int]] = field(default_factory=dict)

    def note(self, note: int, velocity: float) -> tuple[Wave, int]:
        """Return a note's samples and the frame of its main attack."""
        layer = int(np.argmin(np.abs(np.array(VELOCITIES) - velocity)))
        if (note, layer) not in self._kept:
            samples = self._made(note, layer)
            loud = np.abs(samples[: round(0.06 * RATE)])
            held = np.maximum.reduceat(loud, np.arange(0, len(loud), 12))
            share = 10 ** (ATTACK_DB / 20)
            attack = 12 * int(np.argmax(held >= share * held[: round(0.04 * RATE) // 12].max()))
            self._kept[note, layer] = samples, attack
        return self._kept[note, layer]

    def _made(self, note: int, layer: int) -> Wave:
        if self.bank is not None:
            return np.asarray(self.bank[(note - NOTES[0]) * len(VELOCITIES) + layer], dtype=np.float64)
        gain = 0.3 * (VELOCITIES[layer] / 110) ** 2
        if self.name == "own string":
            return gain * string_wave(note_to_hz(note), RATE)
        loop = loop_for(note_to_hz(note), RATE, t60_s=1.0)
        burst = np.random.default_rng(note).uniform(-1, 1, loop.delay)
        burst -= 0.85 * np.roll(burst, max(1, loop.delay // 7))
        t = np.arange(round(0.12 * RATE)) / RATE
        head = sum(a * np.exp(-t / d) * np.sin(2 * np.pi * f * t) for f, a, d in _HEAD_MODES)
        head = np.asarray(head)
        head[0] += 3
        out = np.convolve(run_loop(loop, burst, round(1.4 * RATE)), head)[: round(1.4 * RATE)]
        return np.asarray(gain * out / np.abs(out).max())


def instruments() -> dict[str, Instrument]:
    """Return the instruments that can be had here; the sampled ones need FluidSynth and their fonts."""
    found = {name: Instrument(name) for name in ("own string", "string and head")}
    if shutil.which("fluidsynth"):
        found |= {name: Instrument(name, _sampled(path)) for name, path in FONTS.items() if path.is_file()}
    return found


def _sampled(font: Path) -> Wave:
    notes = [(note, velocity) for note in NOTES for velocity in VELOCITIES]
    with tempfile.TemporaryDirectory() as folder:
        score, out = Path(folder) / "notes.mid", Path(folder) / "notes.wav"
        track = mido.MidiTrack([mido.Message("program_change", program=BANJO)])
        for note, velocity in notes:
            track.append(mido.Message("note_on", note=note, velocity=velocity, time=100))
            track.append(mido.Message("note_off", note=note, time=round(1000 * GAP_S) - 100))
        # 1000 ticks to a second.
        mido.MidiFile(ticks_per_beat=500, tracks=[track]).save(score)
        command = ["fluidsynth", "-ni", "-q", "-g", "0.8", "-R", "0", "-C", "0", "-r", str(RATE)]
        subprocess.run([*command, "-F", str(out), str(font), str(score)], check=True, capture_output=True)
        with wave.open(str(out)) as file:
            data = np.frombuffer(file.readframes(file.getnframes()), dtype=np.int16)
            mono = data.reshape(-1, file.getnchannels()).mean(axis=1) / 32768
    starts = [round((0.1 + GAP_S * n) * RATE) for n in range(len(notes))]
    return np.array([mono[at : at + round(NOTE_S * RATE)] for at in starts])


@dataclass(frozen=True, kw_only=True)
class Played:
    """One stroke that was played: second of the recording, first string, its note, what, how hard."""

    time_s: float
    string: int
    note: int
    kind: Kind
    velocity: float


@dataclass(frozen=True, kw_only=True)
class Recording:
    """Sound and its truth; ``skips`` are (second asked, whether touched), ``touches`` when they were."""

    wave: Wave
    played: tuple[Played, ...]
    skips: tuple[tuple[float, bool], ...]
    touches: tuple[float, ...]
    beat_0_s: float
    bpm: float


def play(
    pattern: Pattern,
    instrument: Instrument,
    *,
    bpm: float,
    passes: int,
    seed: int,
    jitter_s: float = 0.008,
    touch_db: float = -18.0,
    touch_share: float = 0.0,
    click: ClickVoice | None = None,
    click_db: float = -6.0,
    drift_ppm: float = 0.0,
    click_wanders_db: float = 0.0,
) -> Recording:
    """Return a pattern as played by a hand with some jitter, dry.

    Args:
        touch_db: peak of a touch as it sounds, against that of a usual stroke.
        touch_share: of the skips that are touched, by half as a thump and by half as a soft note.
        click: what the loudspeaker beside the microphone plays, from the count-in on; None for headphones.
        click_db: its peak against that of a usual stroke.
        drift_ppm: by how much the recording's clock is fast against the click's.
        click_wanders_db: standard deviation of the level of single clicks.
    """
    rng = np.random.default_rng(seed)
    beat_s = 60 / bpm * (1 + drift_ppm * 1e-6)
    count_in = count_in_beats(pattern.meter)
    beat_0_s = 1.0 + count_in * 60 / bpm
    targets = lay_out(pattern, Timeline.steady(bpm), passes=passes)
    total = round((beat_0_s + targets[-1].song_s * beat_s * bpm / 60 + 1.8) * RATE)
    out = np.zeros(total)
    sounded: dict[int, list[tuple[float, int, float]]] = {string: [] for string in range(1, 6)}
    played, skips, touches = [], [], []
    for target in targets:
        time_s = beat_0_s + target.song_s * beat_s * bpm / 60 + rng.normal(0, jitter_s)
        stroke = target.stroke
        if stroke.kind is Kind.SKIP:
            touched = bool(rng.random() < touch_share)
            skips.append((beat_0_s + target.song_s * beat_s * bpm / 60, touched))
            touches += [time_s] if touched else []
            continue
        notes = pattern.tuning.stroke_notes(stroke)
        velocity = float(rng.uniform(45, 110)) * (0.55 if stroke.hand is Hand.LEFT else 1.0)
        at_s = time_s
        for string, note in zip(stroke.strings, notes, strict=True):
            sounded[string].append((at_s, note, velocity))
            at_s += float(rng.uniform(0.005, 0.014))
        if notes:
            played.append(
                Played(
                    time_s=time_s,
                    string=stroke.strings[0],
                    note=notes[0],
                    kind=stroke.kind,
                    velocity=velocity,
                )
            )
    for notes_of in sounded.values():
        notes_of.sort()
        for at, (time_s, note, velocity) in enumerate(notes_of):
            samples, attack = instrument.note(note, velocity)
            until = notes_of[at + 1][0] if at + 1 < len(notes_of) else time_s + NOTE_S
            _add(out, samples[: max(0, round((until - time_s) * RATE))], round(time_s * RATE) - attack)
    usual = float(np.median([np.abs(out[round(p.time_s * RATE) :][: RATE // 25]).max() for p in played]))
    for time_s in touches:
        thump = bool(rng.random() < 0.5)
        note = 50 if thump else int(rng.choice([50, 55, 59, 62]))
        samples, attack = instrument.note(note, 60)
        touch = faded(samples, attack, 0.013 if thump else 0.125)
        _add(out, touch * usual * 10 ** (touch_db / 20), round(time_s * RATE) - attack)
    if click is not None:
        loudest = np.abs(click_samples(Click.FIRST_BEAT, -6.0, RATE, click)).max()
        for beat in range(-count_in, int((total / RATE - beat_0_s) / beat_s)):
            samples = (
                click_samples(beat_click(pattern.meter, beat), -6.0, RATE, click)
                / loudest
                * usual
                * 10 ** ((click_db + rng.normal(0, 1) * click_wanders_db) / 20)
            )
            _add(out, samples, round((beat_0_s + beat * beat_s) * RATE))
    return Recording(
        wave=out,
        played=tuple(sorted(played, key=lambda p: p.time_s)),
        skips=tuple(skips),
        touches=tuple(touches),
        beat_0_s=beat_0_s,
        bpm=bpm,
    )


def faded(samples: Wave, attack: int, decay_s: float) -> Wave:
    """Return a note that dies away from its main attack on, at its peak 1: a string touched, not played."""
    after_s = np.maximum(0, np.arange(len(samples)) - attack) / RATE
    touch = samples * np.exp(-after_s / decay_s)
    return np.asarray(touch / np.abs(touch[: RATE // 20]).max())


def in_room(sound: Wave, *, snr_db: float, seed: int, rt60_s: float = 0.3, direct_db: float = 6.0) -> Wave:
    """Return sound as it comes out of a room: an echo that falls by 60 dB in a time, and pink noise.

    Args:
        snr_db: mean power of the playing over that of the noise.
        direct_db: power of the direct sound over that of the echo.
    """
    rng = np.random.default_rng(seed)
    t = np.arange(round(rt60_s * RATE)) / RATE
    echo = rng.standard_normal(len(t)) * 10 ** (-3 * t / rt60_s)
    echo[: RATE // 500] = 0
    echo *= 10 ** (-direct_db / 20) / np.sqrt((echo**2).sum())
    echo[0] = 1
    size = 1 << (len(sound) + len(echo)).bit_length()
    wet = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(echo, size), size)[: len(sound)]
    lines = np.fft.rfft(rng.standard_normal(len(sound)))
    hz = np.fft.rfftfreq(len(sound), 1 / RATE)
    noise = np.fft.irfft(np.where(hz < 40, 0, lines / np.sqrt(np.maximum(hz, 40))), len(sound))
    return np.asarray(wet + noise / noise.std() * np.sqrt((wet[RATE:] ** 2).mean()) * 10 ** (-snr_db / 20))


def _add(out: Wave, samples: Wave, start: int) -> None:
    piece = samples[max(0, -start) : max(0, len(out) - start)].copy()
    fade = min(96 if len(piece) < len(samples) else 9600, len(piece))
    if fade:
        piece[-fade:] *= np.linspace(1, 0, fade)
    out[max(0, start) : max(0, start) + len(piece)] += piece
