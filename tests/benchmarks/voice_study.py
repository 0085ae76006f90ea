"""Print where the sounds have their energy and how loud they are, beside sampled instruments.

Run from the checkout: ``python -m tests.benchmarks.voice_study [FOLDER]``; with a folder, pictures of the
spectra over time are kept there (they need matplotlib). Sampled instruments: tests/benchmarks/sampled.py
says what to install; without them their rows are left out, and that is said. Nobody has listened: all that
stands here was measured.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.benchmarks.sampled import ACOUSTIC_BASS, BANJO, NYLON_GUITAR, sampled_note, sound_fonts
from tests.benchmarks.sound_bench import break_plan
from tests.sound.loudness import loudness, true_peak_db
from tests.sound.spectrum import centre_hz, partial_levels_db, peak_near, share
from trainer.music.layout import lay_out
from trainer.music.tuning import note_to_hz
from trainer.sound.band import BandPart
from trainer.sound.band_voices import bass_wave, brush_wave, chop_wave, drum_wave
from trainer.sound.clicks import ClickVoice
from trainer.sound.gain import FILE_CEILING, panned_tap
from trainer.sound.plan import RATE, SoundSettings, StreamPlan
from trainer.sound.pluck import stroke_samples
from trainer.sound.render import render
from trainer.sound.stream_onsets import click_onsets
from trainer.sound.string import banjo_wave
from trainer.sound.volumes import band_volume_db, volume_db

HEARD_S = 20
BANJO_NOTES = (50, 55, 59, 60, 62, 64, 67, 71, 74)
TAP_JITTER_S = 0.02

Wave = NDArray[np.float64]
PEAK_OFFSETS_MS = (-40, -20, -10, -5, 0, 5, 10, 20, 40)


def percent(value: float) -> str:
    return f"{100 * value:5.1f} %"


def print_band() -> None:
    print(f"{'band':28} {'< 100 Hz':>9} {'200-1000':>9} {'> 1 kHz':>9} {'centre':>9}")
    rows: list[tuple[str, Wave]] = [
        (f"bass, note {note}", bass_wave(note, RATE)) for note in (28, 31, 36, 42)
    ]
    rows += [
        ("chopped chord G", chop_wave((55, 59, 62), RATE)),
        ("chopped chord C", chop_wave((60, 64, 67), RATE)),
    ]
    rows += [("drum", drum_wave(RATE)), ("brush", brush_wave(RATE))]
    for font in sound_fonts():
        rows += [
            (f"{font.stem}: bass {note}", sampled_note(font, ACOUSTIC_BASS, note)[:RATE]) for note in (31, 36)
        ]
        chord = sum(sampled_note(font, NYLON_GUITAR, note)[: RATE // 5] for note in (55, 59, 62))
        rows.append((f"{font.stem}: guitar G", np.asarray(chord)))
    for name, wave in rows:
        parts = [share(wave, *band) for band in ((0, 100), (200, 1000), (1000, RATE / 2))]
        print(f"{name:28} {' '.join(f'{percent(part):>9}' for part in parts)} {centre_hz(wave):6.0f} Hz")


def print_banjo() -> None:
    print(f"\n{'banjo, 0.3 s':28} {'147-5200':>9} {'500-800':>9} {'fundamental':>12} {'cents off':>10}")
    for note in BANJO_NOTES:
        hz = note_to_hz(note)
        rows = [(f"ours, note {note}", banjo_wave(hz, RATE))]
        rows += [(f"  {font.stem}", sampled_note(font, BANJO, note)) for font in sound_fonts()]
        for name, wave in rows:
            piece = wave[: round(0.3 * RATE)]
            lowest = partial_levels_db(piece, hz)[0]
            cents = 1200 * np.log2(peak_near(wave, hz, RATE) / hz)
            shares = f"{percent(share(piece, 140, 5200)):>9} {percent(share(piece, 500, 800)):>9}"
            print(f"{name:28} {shares} {lowest:9.1f} dB {cents:10.3f}")


def heard(plan: StreamPlan, *, ceiling: int | None = None) -> NDArray[np.int16]:
    more = {} if ceiling is None else {"ceiling": ceiling}
    return render(plan, plan.origin_frame, HEARD_S * RATE, **more)


def print_balance() -> None:
    off = SoundSettings(click=False, count_in=False, left_hand=False)
    rows = {
        "click of wood": replace(off, click=True),
        "click of tone": replace(off, click=True, click_voice=ClickVoice.TONE),
        "banjo": replace(off, strokes=True),
        **{f"band: {part.value}": replace(off, band=True, band_parts=frozenset({part})) for part in BandPart},
        "band": replace(off, band=True),
        "all, as in a file": replace(off, click=True, strokes=True, band=True),
    }
    print(f"\n{'a break, 104, first volumes':28} {'LUFS':>8} {'dBTP':>8}")
    for name, settings in rows.items():
        sound = heard(break_plan(settings), ceiling=FILE_CEILING)
        print(f"{name:28} {loudness(sound):8.1f} {true_peak_db(sound):8.1f}")


def taps_over(plan: StreamPlan, gain_db: float, rng: np.random.Generator) -> Wave:
    """Every stroke of a break tapped, a little off each, as the device's mixer adds them."""
    out = np.zeros(((HEARD_S + 3) * RATE, 2))
    for target in lay_out(plan.pattern, plan.timeline, passes=3):
        if not target.stroke.kind.sounds or target.song_s > HEARD_S:
            continue
        samples = stroke_samples(target.stroke, gain_db, RATE, plan.tuning)
        at = max(0, round((target.song_s + rng.normal(0, TAP_JITTER_S)) * RATE))
        out[at : at + len(samples)] += panned_tap(samples, plan.settings.stroke_pan)
    return out[: HEARD_S * RATE]


def print_volumes() -> None:
    print(f"\n{'stream and taps together':28} {'LUFS':>8} {'dBTP':>8} {'clipped frames':>15}")
    rng = np.random.default_rng(1)
    for click, band in ((7, 5), (10, 5), (7, 10), (10, 10)):
        settings = SoundSettings(
            left_hand=False,
            band=True,
            subdivide=True,
            click_db=volume_db(click),
            band_db=band_volume_db(band),
        )
        plan = break_plan(settings)
        total = (heard(plan) + taps_over(plan, volume_db(click), rng)) / 32768
        clipped = int((np.abs(total) >= 1).any(axis=1).sum())
        name = f"click {click}, band {band}"
        print(f"{name:28} {loudness(total):8.1f} {true_peak_db(total):8.1f} {clipped:15}")


def print_worst_peak() -> None:
    """Print the highest true peak of stream and taps over all volumes and offsets that are tried."""
    worst, where, tried, clipped = -np.inf, "", 0, 0
    for click, band in product((1, 4, 7, 10), (0, 5, 10)):
        settings = SoundSettings(
            left_hand=False,
            band=band > 0,
            subdivide=True,
            click_db=volume_db(click),
            band_db=band_volume_db(band),
        )
        plan = break_plan(settings)
        stream = heard(plan)
        for offset_ms in PEAK_OFFSETS_MS:
            taps = taps_over(plan, volume_db(click), np.random.default_rng(1))
            total = (stream + np.roll(taps, round(offset_ms * RATE / 1000), axis=0)) / 32768
            peak, tried = true_peak_db(total), tried + 1
            clipped += int((np.abs(total) >= 1).any(axis=1).sum())
            if peak > worst:
                worst, where = peak, f"click and taps {click}, band {band}, taps {offset_ms:+} ms"
    print(f"\nworst true peak of {tried} mixes: {worst:.1f} dBTP ({where}); {clipped} frames clipped")


def print_masking() -> None:
    """How far a click stands out of all else in its best critical band, 25 ms, the worst click of 20 s."""
    print(f"\n{'click at 7 over the band':28} {'worst':>8}")
    for voice in ClickVoice:
        for band in (5, 10):
            settings = SoundSettings(left_hand=False, click_voice=voice, band_db=band_volume_db(band))
            plan = break_plan(settings)
            band_plan = break_plan(replace(settings, click=False, count_in=False, band=True))
            clicks, others = heard(plan).mean(axis=1), heard(band_plan).mean(axis=1)
            worst = np.inf
            for onset in click_onsets(plan, plan.origin_frame, plan.origin_frame + (HEARD_S - 1) * RATE):
                at = onset.frame - plan.origin_frame
                pieces = clicks[at : at + 1200], others[at : at + 1200]
                worst = min(worst, max(_ratio_db(pieces, hz) for hz in range(900, 3200, 100)))
            print(f"{f'{voice.value}, band {band}':28} {worst:5.1f} dB")


def _ratio_db(pieces: tuple[Wave, Wave], hz: float) -> float:
    half = 24.7 * (4.37 * hz / 1000 + 1) / 2  # Glasberg & Moore 1990, Hearing Research 47:103-138
    low, high = hz - half, hz + half
    click, others = (share(piece, low, high) * float((piece**2).sum()) for piece in pieces)
    return float(10 * np.log10(max(click, 1e-9) / max(others, 1e-9)))


def keep_pictures(folder: Path, notes: Iterable[int] = (50, 62, 67)) -> None:
    from matplotlib import pyplot  # only for the pictures

    folder.mkdir(parents=True, exist_ok=True)
    sounds = {f"ours {note}": banjo_wave(note_to_hz(note), RATE) for note in notes}
    for font in sound_fonts():
        sounds |= {
            f"{font.stem} {note}": sampled_note(font, BANJO, note)[: round(1.4 * RATE)] for note in notes
        }
    rows = len(sounds) // 3
    figure, axes = pyplot.subplots(rows, 3, figsize=(15, 4 * rows), squeeze=False)
    for axis, (name, wave) in zip(axes.flat, sounds.items(), strict=True):
        axis.specgram(wave / np.abs(wave).max(), NFFT=1024, noverlap=896, Fs=RATE, vmin=-140, vmax=-40)
        axis.set_ylim(0, 8000)
        axis.set_title(name)
    figure.tight_layout()
    figure.savefig(folder / "banjo.png", dpi=70)


def main() -> None:
    if not sound_fonts():
        print("no FluidSynth or no sound font is installed, so nothing sampled stands beside ours\n")
    print_band()
    print_banjo()
    print_balance()
    print_volumes()
    print_worst_peak()
    print_masking()
    if len(sys.argv) > 1:
        keep_pictures(Path(sys.argv[1]))


if __name__ == "__main__":
    main()
