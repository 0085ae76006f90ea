"""What was measured on a machine becomes numbers and plain words.

Percentiles are held against numpy's on the same values or worked out by hand; the layout of the JSON is the
module's own documentation.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.practice.checkups import FRAMES, GOOD, LOOKS, MIDI, NOWHERE, SOUND
from trainer.practice.checkup import (
    FRAME_S,
    Checkup,
    Frames,
    Looks,
    RoundTrip,
    Sound,
    checkup_dict,
    checkup_lines,
    frames_of,
    looks_of,
    round_trip_of,
    sound_of,
    verdict,
)


def even(n: int) -> list[float]:
    """Moments of n frames on time, worked out exactly."""
    return [float(Fraction(k, 60)) for k in range(n)]


def test_frames_on_time_are_sixty_a_second_and_none_late() -> None:
    found = frames_of(even(601), 1920, 1080)
    assert isinstance(found, Frames)
    assert (found.width, found.height, found.drawn, found.late) == (1920, 1080, 601, 0)
    assert found.per_second == pytest.approx(60)
    assert found.median_s == pytest.approx(FRAME_S)
    assert found.is_steady


@pytest.mark.parametrize(("wait_frames", "late"), [(2.9, 0), (3.1, 1)])
def test_a_frame_is_late_when_it_comes_more_than_two_frame_times_after_it_was_due(
    wait_frames: float, late: int
) -> None:
    before = even(300)
    after = [before[-1] + wait_frames * FRAME_S + at for at in even(300)]
    found = frames_of([*before, *after], 1280, 720)
    assert isinstance(found, Frames)
    assert found.late == late
    assert found.is_steady == (not late)


def test_a_slow_picture_is_uneven_though_no_frame_is_late() -> None:
    found = frames_of([at * 2 for at in even(100)], 1280, 720)
    assert isinstance(found, Frames)
    assert found.late == 0
    assert found.per_second == pytest.approx(30)
    assert not found.is_steady


@pytest.mark.parametrize("drawn_s", [[], [1.0]])
def test_fewer_than_two_frames_say_nothing(drawn_s: list[float]) -> None:
    assert frames_of(drawn_s, 1280, 720) == (
        "The picture was not measured: the window was closed before anything was drawn."
    )


def test_a_key_goes_down_in_a_long_interval_as_much_more_often_as_it_is_longer() -> None:
    """Ten waits of 1 ms and one of 10 ms: half of all time, and so half of all keys, lies in the long one."""
    found = looks_of([0.001] * 10 + [0.0101], 0.004)
    assert isinstance(found, Looks)
    assert (found.n, found.median_s, found.longest_s) == (11, 0.0101, 0.0101)


def test_the_interval_in_which_keys_hide_agrees_with_keys_pressed_at_random() -> None:
    rng = np.random.default_rng(5)
    apart = rng.uniform(0.0002, 0.003, 4000)
    ends = np.cumsum(apart)
    pressed = rng.uniform(0, ends[-1], 200_000)
    hidden = apart[np.searchsorted(ends, pressed)]
    found = looks_of(apart, 0.004)
    assert isinstance(found, Looks)
    assert found.median_s == pytest.approx(np.median(hidden), rel=0.01)
    assert found.p99_s == pytest.approx(np.percentile(hidden, 99), rel=0.01)
    assert found.keys_s == pytest.approx(found.p99_s / 2 + 0.004)


def test_no_looks_and_no_blocks_and_no_notes_are_said_in_a_sentence() -> None:
    assert looks_of([], 0.004) == (
        "Keys were not measured: the window was closed before anything was looked at."
    )
    assert sound_of([], stalls=0, speed_error=0.0) == (
        "Sound was not measured: no block had begun when the time was over."
    )
    assert round_trip_of([], sent=40, taken_off=0.0) == (
        "MIDI was not measured: none of 40 notes sent to a port of our own came back."
    )


def test_blocks_before_and_behind_the_line_count_alike() -> None:
    off = np.linspace(-0.002, 0.001, 301)
    found = sound_of(off, stalls=0, speed_error=0.0)
    assert isinstance(found, Sound)
    assert found.off_p99_s == pytest.approx(np.percentile(np.abs(off), 99))
    assert found.off_longest_s == pytest.approx(0.002)
    assert not found.is_steady


@pytest.mark.parametrize(
    ("sound", "words"),
    [
        (SOUND, "sound steady"),
        (replace(SOUND, off_p99_s=0.0034), "sound to 4 ms"),
        (replace(SOUND, stalls=1), "sound stopped once"),
        (replace(SOUND, stalls=3), "sound stopped 3 times"),
        (replace(SOUND, speed_error=0.012), "sound 1.2% slow"),
        (replace(SOUND, speed_error=-0.05), "sound 5.0% fast"),
    ],
)
def test_the_verdict_says_of_the_sound_what_matters_most(sound: Sound, words: str) -> None:
    assert verdict(replace(GOOD, sound=sound)).split(", ")[2] == words
    assert sound.is_steady == (words == "sound steady")


def test_the_constant_way_of_notes_is_taken_off_and_what_varies_stays() -> None:
    rng = np.random.default_rng(2)
    way = 0.0053 + rng.normal(0, 0.001, 500)
    found = round_trip_of(way, sent=510, taken_off=0.25)
    assert isinstance(found, RoundTrip)
    assert (found.sent, found.heard, found.taken_off) == (510, 500, 0.25)
    assert found.way_s == pytest.approx(np.median(way))
    assert found.off_p99_s == pytest.approx(np.percentile(np.abs(way - np.median(way)), 99))


def test_pads_are_never_said_to_be_finer_than_their_cable() -> None:
    """A full-speed USB device is asked once a millisecond (USB 2.0 specification, 8.4.3, from memory)."""
    assert replace(MIDI, off_p99_s=0.00001).pads_s == 0.001
    assert replace(MIDI, off_p99_s=0.0042).pads_s == 0.0042


def test_the_verdict_is_one_sentence_and_rounds_up() -> None:
    assert verdict(GOOD) == "MIDI pads to 1 ms, keys to 6 ms, sound steady, picture steady."
    coarse = replace(
        GOOD,
        midi=replace(MIDI, off_p99_s=0.0021),
        looks=replace(LOOKS, p99_s=0.0122),
        frames=replace(FRAMES, late=2),
    )
    assert verdict(coarse) == "MIDI pads to 3 ms, keys to 11 ms, sound steady, picture uneven."


def test_what_was_not_measured_is_left_out_of_the_verdict() -> None:
    assert verdict(replace(GOOD, midi=NOWHERE.midi)).startswith("Keys to 6 ms, ")
    assert verdict(NOWHERE) == "Nothing could be measured here."


def test_the_lines_are_the_verdict_and_a_sentence_for_each_part() -> None:
    lines = checkup_lines(GOOD)
    assert lines[0] == verdict(GOOD)
    assert [line.split(":")[0] for line in lines[1:]] == ["MIDI", "Keys", "Sound", "Picture"]
    assert checkup_lines(NOWHERE) == (
        "Nothing could be measured here.",
        *map(str, (NOWHERE.midi, NOWHERE.looks, NOWHERE.sound, NOWHERE.frames)),
    )


def test_what_is_not_as_it_should_be_is_followed_by_what_to_do() -> None:
    bad = Checkup(
        seconds=60.0,
        frames=replace(FRAMES, late=1),
        looks=replace(LOOKS, p99_s=0.02),
        sound=replace(SOUND, stalls=2, speed_error=0.01),
        midi=replace(MIDI, heard=319, off_p99_s=0.007),
    )
    more = [line for line in checkup_lines(bad)[1:] if line not in checkup_lines(GOOD)]
    said = "\n".join(more)
    for words in (
        "1 note got lost: end other programs that use MIDI.",
        "shorten them.",
        "Drums and pads on MIDI are finer",
        "marked and not graded",
        "Its clock is off",
        "nothing heard or judged hangs on it",
    ):
        assert words in said


def test_the_numbers_for_programs_are_in_milliseconds_and_survive_json() -> None:
    found = json.loads(json.dumps(checkup_dict(GOOD), allow_nan=False))
    assert list(found) == [
        *("format", "verdict", "seconds", "pads_ms", "keys_ms", "sound_steady", "picture_steady"),
        *("frames", "looks", "sound", "midi"),
    ]
    assert (found["format"], found["pads_ms"], found["keys_ms"]) == (1, 1, 6)
    assert found["frames"]["median_ms"] == pytest.approx(16.667, abs=0.001)
    assert set(found["looks"]) == {"n", "median_ms", "p99_ms", "longest_ms", "scan_ms"}
    assert set(found["sound"]) == {"blocks", "off_p99_ms", "off_longest_ms", "stalls", "speed_error"}
    assert found["midi"]["way_median_ms"] == pytest.approx(3.1)
    assert set(found["midi"]) == {
        *("sent", "heard", "way_median_ms", "off_p99_ms", "off_longest_ms", "taken_off")
    }


def test_a_part_that_was_not_measured_is_its_reason_and_its_claim_is_null() -> None:
    found = checkup_dict(NOWHERE)
    assert [found[name] for name in ("pads_ms", "keys_ms", "sound_steady", "picture_steady")] == [None] * 4
    for name in ("frames", "looks", "sound", "midi"):
        assert found[name] == {"not_measured": getattr(NOWHERE, name)}


@pytest.mark.parametrize("p99_ms", [0.2, 1.0, 3.96, 4.0, 4.04, 7.3])
def test_a_claim_in_whole_milliseconds_is_no_finer_than_what_was_measured(p99_ms: float) -> None:
    """To a tenth: 4.04 ms is no reason to say 5."""
    found = checkup_dict(replace(GOOD, midi=replace(MIDI, off_p99_s=p99_ms / 1000)))
    claimed = found["pads_ms"]
    assert isinstance(claimed, int)
    assert claimed >= p99_ms - 0.05
    assert claimed == max(1, math.ceil(p99_ms - 0.05))
