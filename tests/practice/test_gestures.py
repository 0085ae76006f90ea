"""Two touches with silence round them are a gesture; playing never is."""

import numpy as np
import pytest

from tests.shipped import shipped
from trainer.music.layout import lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.gestures import QUIET_AFTER_DRILL_S, Gesture, GestureSoFar, in_words
from trainer.practice.hands import simulate

NAIL, THUMB, LEFT = Hand.NAIL, Hand.THUMB, Hand.LEFT
LOOK_S = 0.016  # about a frame


def gestures_of(touches: list[tuple[float, Hand | None]], state: GestureSoFar, end_s: float) -> list[Gesture]:
    """All that is heard when the state is looked at in every frame."""
    heard, waiting = [], sorted(touches, key=lambda touch: touch[0])
    now = 0.0
    while now < end_s:
        now += LOOK_S
        while waiting and waiting[0][0] <= now:
            at, hand = waiting.pop(0)
            state = state.touched(hand, at)
        state, gesture = state.heard(now)
        if gesture is not None:
            heard.append(gesture)
    return heard


@pytest.mark.parametrize(
    ("hands", "gesture"),
    [
        ((NAIL, NAIL), Gesture.START),
        ((THUMB, THUMB), Gesture.NEXT),
        ((NAIL, THUMB), Gesture.FASTER),
        ((THUMB, NAIL), Gesture.SLOWER),
        ((None,) * 2, Gesture.START),
        ((None,) * 3, Gesture.NEXT),
        ((None,) * 4, Gesture.FASTER),
        ((None,) * 5, Gesture.SLOWER),
    ],
)
def test_a_word_of_touches_after_a_quiet_second_is_a_wish(
    hands: tuple[Hand | None, ...], gesture: Gesture
) -> None:
    touches = [(1.5 + 0.3 * at, hand) for at, hand in enumerate(hands)]
    assert gestures_of(touches, GestureSoFar.since(0.0, after_drill=False), 6.0) == [gesture]


@pytest.mark.parametrize(
    "hands", [(NAIL,), (None,), (NAIL, NAIL, NAIL), (LEFT, LEFT), (NAIL, LEFT), (None,) * 6, (None,) * 9]
)
def test_other_words_mean_nothing(hands: tuple[Hand | None, ...]) -> None:
    touches = [(1.5 + 0.3 * at, hand) for at, hand in enumerate(hands)]
    assert gestures_of(touches, GestureSoFar.since(0.0, after_drill=False), 9.0) == []


def test_touches_too_far_apart_are_no_word() -> None:
    assert gestures_of([(1.5, NAIL), (2.05, NAIL)], GestureSoFar.since(0.0, after_drill=False), 9.0) == []


def test_a_wish_is_heard_only_when_silence_has_followed() -> None:
    state = GestureSoFar.since(0.0, after_drill=False).touched(NAIL, 1.5).touched(NAIL, 1.8)
    assert state.heard(2.3)[1] is None
    assert state.heard(2.31)[1] is Gesture.START


def test_touches_without_a_quiet_second_before_them_put_the_wish_off() -> None:
    touches: list[tuple[float, Hand | None]] = [
        (0.2, NAIL),
        (0.9, NAIL),
        (1.2, NAIL),
        (2.1, NAIL),
        (2.3, NAIL),
    ]
    assert gestures_of(touches, GestureSoFar.since(0.0, after_drill=False), 9.0) == []
    assert gestures_of(
        [*touches, (3.4, NAIL), (3.7, THUMB)], GestureSoFar.since(0.0, after_drill=False), 9.0
    ) == [Gesture.FASTER]


def test_a_second_wish_needs_a_quiet_second_too() -> None:
    first = [(1.5, NAIL), (1.7, THUMB)]
    state = GestureSoFar.since(0.0, after_drill=False)
    assert gestures_of([*first, (2.4, NAIL), (2.6, THUMB)], state, 9.0) == [Gesture.FASTER]
    assert gestures_of([*first, (2.8, NAIL), (3.0, THUMB)], state, 9.0) == [Gesture.FASTER] * 2


@pytest.mark.parametrize("bpm", [40, 60, 75, 100, 160, 240])
@pytest.mark.parametrize("knows_hand", [True, False])
def test_nobody_who_plays_on_after_the_end_of_a_drill_asks_for_anything(bpm: int, knows_hand: bool) -> None:
    """Every shipped figure, played on for four passes past the end of its drill with a human scatter and
    then broken off after any of its strokes."""
    for pattern in shipped().patterns:
        if bpm > float(pattern.goal_bpm) * 1.5:
            continue
        targets = lay_out(pattern, Timeline.steady(bpm), passes=4)
        take = simulate(targets, Faults(jitter_s=0.02), np.random.default_rng(bpm))
        touches = [(tap.song_s, tap.hand if knows_hand else None) for tap in take.taps]
        for end in range(1, min(len(touches), 12)):
            state = GestureSoFar.since(0.0, after_drill=True)
            early = [touch for touch in touches[:end] if touch[0] < QUIET_AFTER_DRILL_S]
            assert gestures_of(early, state, 6.0) == [], (pattern.name, end)


def test_the_help_names_every_wish() -> None:
    for knows_hand in (True, False):
        assert all(gesture.value in in_words(knows_hand=knows_hand) for gesture in Gesture)
