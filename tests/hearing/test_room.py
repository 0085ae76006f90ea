"""What a set-up learns of rooms whose truth is known, and what it says of microphones that will not do."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from tests.hearing.performance import performance
from trainer.hearing.room import Room, read_room
from trainer.hearing.room_setup import RoomSetup, SetupFound, SetupStep
from trainer.hearing.taps import TOUCH_THRESHOLD
from trainer.music.tuning import OPEN_G, Tuning

Wave = np.ndarray[tuple[int], np.dtype[np.float64]]
PIECE = 512


def set_up(wave: Wave, *, has_loudspeaker: bool = True, tuning: Tuning = OPEN_G) -> SetupFound:
    setup = RoomSetup(tuning, has_loudspeaker=has_loudspeaker)
    for start in range(0, len(wave), PIECE):
        setup.push(wave[start : start + PIECE])
    return setup.found()


def gated(wave: Wave) -> Wave:
    """A gate that opens at -40 dB and cuts off 20 ms after the sound has fallen below that."""
    level = np.array([np.abs(wave[at : at + 480]).max() for at in range(0, len(wave), 480)])
    level = np.repeat(level, 480)[: len(wave)]
    return np.where(level > 0.02, wave, wave * 1e-3)


def levelled(wave: Wave) -> Wave:
    """A gain that falls at once with loud sound and takes a second to rise again, by up to 20 dB."""
    gain, gains = 10.0, np.empty(len(wave) // 480 + 1)
    for number in range(len(gains)):
        loud = float(np.abs(wave[number * 480 : (number + 1) * 480]).max(initial=1e-9))
        gain = min(10.0, 0.3 / loud, gain * 1.02)
        gains[number] = gain
    return np.clip(wave * np.repeat(gains, 480)[: len(wave)] / 3, -1, 1)


@pytest.mark.parametrize("instrument", ["own string", "string and head"])
def test_a_good_room_is_learnt(instrument: str) -> None:
    found = set_up(performance(instrument=instrument))
    assert found.why_not == ()
    assert found.can.startswith("In this room: strokes to 3 ms, touches to −1")
    assert found.can.endswith("strings yes.")
    assert any("is heard" in each for each in found.remarks)
    assert sorted(found.room.taught or {}) == [1, 2, 3, 4, 5]
    assert 0.08 <= found.room.soft_threshold <= 0.3
    assert found.room.touch_threshold <= 0.03


def test_headphones_are_noticed() -> None:
    found = set_up(performance(sweep_db=None))
    assert any("not heard" in each for each in found.remarks)
    assert set_up(performance(sweep_db=None), has_loudspeaker=False).remarks == ()


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (gated, "gate"),
        (levelled, "gain"),
        (lambda wave: np.clip(wave * 12, -1, 1), "clipped"),
        (lambda wave: wave * 0, "zeros"),
        (lambda wave: wave + np.random.default_rng(1).normal(0, 0.1, len(wave)), ""),
    ],
    ids=["gate", "gain control", "clipping", "no permission", "noise"],
)
def test_what_will_not_do_is_said_with_its_reason(spoil: Callable[[Wave], Wave], word: str) -> None:
    found = set_up(spoil(performance()))
    assert found.can == ""
    assert any(word in each for each in found.why_not), found.why_not


def test_what_is_asked_for_goes_on_by_itself_and_can_be_skipped() -> None:
    setup = RoomSetup()
    wave = performance()
    steps: list[SetupStep] = []
    for start in range(0, len(wave), PIECE):
        setup.push(wave[start : start + PIECE])
        if not steps or steps[-1] is not setup.step:
            steps.append(setup.step)
    assert steps == list(SetupStep)
    assert setup.plucks == dict.fromkeys(range(1, 6), 3)
    assert setup.seconds < 30 or setup.step is SetupStep.DONE
    skipped = RoomSetup()
    for _ in range(8):
        skipped.skip()
    assert skipped.step is SetupStep.DONE
    assert skipped.found().why_not


def test_a_room_comes_back_from_its_text() -> None:
    room = set_up(performance()).room
    back = read_room(room.text())
    assert back.soft_threshold == pytest.approx(room.soft_threshold, abs=1e-3)
    assert back.touch_threshold == pytest.approx(room.touch_threshold, abs=1e-4)
    assert back.words == room.words
    assert len(room.text()) < 4000
    for string, colour in (room.taught or {}).items():
        assert float(colour @ (back.taught or {})[string]) / np.linalg.norm(colour) > 0.999


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"touch":1}', '{"touch":0.1,"notes":[1],"colours":{},"words":""}']
)
def test_what_does_not_fit_is_as_if_nothing_was_learnt(text: str) -> None:
    assert read_room(text).touch_threshold == TOUCH_THRESHOLD


def test_strings_taught_under_a_capo_are_known_without_it() -> None:
    taught = {2: np.zeros(129)}
    taught[2][40] = 1.0
    room = Room(tuning=Tuning(capo=2), taught=taught)
    (moved,) = room.taught_for(OPEN_G)[2]
    assert int(np.argmax(moved)) == 36  # two semitones of two bands
