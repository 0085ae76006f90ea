"""The calibration as it looks in its usual steps and its fullest ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trainer.judging.delay import BetweenClicks, DelayFound, NotHeard, TooSpread
from trainer.practice.delay_words import delay_sentences
from trainer.screen.scenes.calibration import CalibrationView, Step, Way
from trainer.screen.window import Banner, BannerKind, Window

LONG_INPUT = "A practice pad with a name as long as some makers give them MIDI 1"
LONG_OUTPUT = "Built-in analogue stereo of a make with a long name"
WIRELESS = (
    "Wireless headphones seems to be wireless: its sound comes 100 ms and more late, and not always by the "
    "same. Use a wire, or measure the delay anew each time."
)


def calibration_view(window: Window, **more: object) -> CalibrationView:
    return CalibrationView(
        window=window,
        delay_ms=35,
        input_name="Computer keys",
        uncertainty_s=0.0045,
        output_name="sound on",
        microphone="A microphone in the lid",
        microphones=2,
        **more,  # type: ignore[arg-type]
    )


def tapped(window: Window, n: int, *, jitter_s: float = 0.012, **more: object) -> CalibrationView:
    placed = np.random.default_rng(2).normal(-0.04, jitter_s, n)
    low, middle, high = np.percentile(placed, [25, 50, 75])
    return calibration_view(
        window,
        placements_s=tuple(float(p) for p in placed),
        taps=n,
        quarter_s=float(low),
        middle_s=float(middle),
        three_quarters_s=float(high),
        **more,  # type: ignore[arg-type]
    )


def calibration_views(window: Window) -> dict[str, CalibrationView]:
    found = DelayFound(median_s=-0.0391, spread_s=0.0131, n=16, half_interval_s=0.0082, gap_s=0.6)
    wild = TooSpread(spread_s=0.148, most_s=0.060, n=32)
    between = BetweenClicks(median_s=0.284, gap_s=0.6, n=16)
    banner = Banner(
        kind=BannerKind.NOTE,
        lines=(
            f"Kept: a delay of -39 ms for {LONG_INPUT}, heard through {LONG_OUTPUT}. It is taken off each "
            "tap from now on.",
        ),
    )
    mic: dict[str, object] = {"way": Way.MICROPHONE, "wanted": 12}
    return {
        "calibration": calibration_view(window),
        "calibration, count-in": calibration_view(window, step=Step.RUNNING, count=3),
        "calibration, running": tapped(window, 9, step=Step.RUNNING),
        "calibration, found": tapped(
            window, 16, found_ms=-39, sentences=delay_sentences(found), step=Step.ANSWERED
        ),
        "calibration, refused": tapped(
            window, 32, jitter_s=0.11, sentences=delay_sentences(wild), step=Step.ANSWERED
        ),
        "calibration, between": tapped(window, 16, sentences=delay_sentences(between), step=Step.ANSWERED),
        "calibration, wireless, banner": calibration_view(replace(window, banner=banner), warning=WIRELESS),
        "calibration, microphone": calibration_view(window, **mic),
        "calibration, microphone running": calibration_view(window, step=Step.RUNNING, taps=5, **mic),
        "calibration, working": calibration_view(window, step=Step.WORKING, taps=12, **mic),
        "calibration, microphone found": calibration_view(
            window,
            taps=12,
            found_ms=43,
            sentences=delay_sentences(found, by_microphone=True),
            **mic,
            step=Step.ANSWERED,
        ),
        "calibration, not heard": calibration_view(
            window,
            taps=12,
            sentences=delay_sentences(NotHeard(what="knock", n=3, wanted=8), by_microphone=True),
            **mic,
            step=Step.ANSWERED,
        ),
        "calibration, by hand": calibration_view(window, way=Way.HAND, warning=WIRELESS),
    }
