"""Which clicks are left out, and that a silent bar is silent."""

from dataclasses import replace

import numpy as np
import pytest

from tests.judging.helpers import pattern_of
from tests.sound.helpers import plan_of
from trainer.errors import BadSettings
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.pattern import Meter, usual_motion
from trainer.sound.clicks import Click
from trainer.sound.plan import RATE, SoundSettings, StreamPlan
from trainer.sound.render import render
from trainer.sound.stream_onsets import band_onsets, click_onsets, pluck_onsets
from trainer.sound.thinning import Thin, Thinning

LEFT = pattern_of("strike 3, hammer-on 3 fret 2, brush, thumb", "strike 3, rest, brush, thumb")
WITH_CHART = replace(LEFT, chart=Chart(key="G", spans=(ChordSpan(chord=Chord(degree=1), beats=LEFT.beats),)))


def beats_of(plan: StreamPlan, seconds: int) -> list[float]:
    """Beats from 0 on that click, at 60 beats a minute one a second."""
    onsets = click_onsets(plan, plan.origin_frame, plan.origin_frame + seconds * RATE)
    return [(o.frame - plan.origin_frame) / RATE for o in onsets]


def plan_with(thinning: Thinning, **more: bool) -> StreamPlan:
    return plan_of("60", pattern=WITH_CHART, settings=replace(SoundSettings(thinning=thinning), **more))  # type: ignore[arg-type]


def test_every_beat_is_the_usual_click() -> None:
    assert beats_of(plan_with(Thinning()), 5) == [0, 1, 2, 3, 4]


def test_the_first_of_the_bar_leaves_all_others_out_even_between_beats() -> None:
    assert beats_of(plan_with(Thinning(thin=Thin.FIRST), subdivide=True), 6) == [0, 2, 4]


def test_the_up_slots_click_where_the_hand_rises_with_a_beats_own_click() -> None:
    plan = plan_with(Thinning(thin=Thin.UP_SLOTS))
    assert beats_of(plan, 3) == [0.5, 1.5, 2.5]
    onsets = click_onsets(plan, plan.origin_frame, plan.origin_frame + 3 * RATE)
    assert {o.click for o in onsets} == {Click.BEAT}


def test_every_other_beat_is_counted_through_the_bars() -> None:
    assert beats_of(plan_with(Thinning(thin=Thin.EVERY_OTHER), subdivide=True), 6) == [0, 2, 4]
    three = Thinning(thin=Thin.EVERY_OTHER)
    motion = usual_motion(Meter.THREE_FOUR, 2)
    assert [b for b in range(9) if three.clicks(Meter.THREE_FOUR, motion, b, 0)] == [0, 2, 4, 6, 8]


@pytest.mark.parametrize(
    ("meter", "beats"), [("2/4", [1, 3, 5]), ("3/4", [1, 2, 4, 5]), ("4/4", [1, 3, 5]), ("6/8", [1, 3, 5])]
)
def test_the_off_beats_are_those_that_a_band_answers_on(meter: str, beats: list[int]) -> None:
    """Common practice, no source: two and four; in a waltz two and three."""
    off, motion = Thinning(thin=Thin.OFF_BEATS), usual_motion(Meter(meter), 3 if meter == "6/8" else 2)
    assert [b for b in range(6) if off.clicks(Meter(meter), motion, b, 0)] == beats
    assert not any(off.clicks(Meter(meter), motion, b, 1) for b in range(6))


@pytest.mark.parametrize(("slots", "wanted"), [(2, [1]), (3, [2]), (4, [2])])
def test_the_off_slots_lie_halfway_between_two_beats(slots: int, wanted: list[int]) -> None:
    off, motion = Thinning(thin=Thin.OFF_SLOTS), usual_motion(Meter.FOUR_FOUR, slots)
    for beat in range(4):
        found = [s for s in range(slots) if off.clicks(Meter.FOUR_FOUR, motion, beat, s)]
        assert found == wanted


def test_off_slots_click_as_loud_as_a_beat() -> None:
    plan = plan_with(Thinning(thin=Thin.OFF_SLOTS))
    assert beats_of(plan, 3) == [0.5, 1.5, 2.5]
    onsets = click_onsets(plan, plan.origin_frame, plan.origin_frame + 3 * RATE)
    assert {o.click for o in onsets} == {Click.BEAT}


def test_silent_bars_come_last_in_their_round_and_go_through_all_passes() -> None:
    """Off for 1 bar in 3, over a pattern of two bars: bars 2, 5, 8, counted from 0."""
    thinning = Thinning(thin=Thin.SILENT_BARS, off=1, of=3)
    assert beats_of(plan_with(thinning), 14) == [0, 1, 2, 3, 6, 7, 8, 9, 12, 13]
    assert thinning.silent_bars(9) == {2, 5, 8}
    assert Thinning(thin=Thin.FIRST).silent_bars(9) == frozenset()


@pytest.mark.parametrize("thin", Thin)
def test_the_count_in_always_clicks(thin: Thin) -> None:
    plan = plan_with(Thinning(thin=thin))
    assert len(click_onsets(plan, 0, plan.origin_frame)) == 4


def test_nothing_at_all_is_heard_in_a_silent_bar() -> None:
    """The bar before has a second for its last sounds to die away."""
    plan = plan_with(Thinning(thin=Thin.SILENT_BARS, off=2, of=4), band=True)
    bar = 2 * RATE
    stream = render(plan, plan.origin_frame, 16 * bar)
    silent = plan.settings.thinning.silent_bars(16)
    for n in range(16):
        heard = bool(np.abs(stream[n * bar : (n + 1) * bar].astype(int)).max() > 0)
        assert heard == (n not in silent)


@pytest.mark.parametrize("slide", ["slide 3 fret 2", "slide 3 fret 4"])
def test_a_slide_into_the_first_slot_after_a_silent_bar_tells_nothing_in_it(slide: str) -> None:
    """Bars of two beats at 60: every second one is silent, and a slide sets out before its slot."""
    pattern = pattern_of(f"{slide}, rest, brush, thumb", "strike 3, rest, brush, thumb")
    thinning = Thinning(thin=Thin.SILENT_BARS, off=1, of=2)
    plan = plan_of("60", pattern=pattern, settings=SoundSettings(thinning=thinning))
    bar = 2 * RATE
    stream = render(plan, plan.origin_frame, 6 * bar).astype(int)
    for n in (1, 3, 5):
        assert not stream[n * bar + RATE : (n + 1) * bar].any()
    for n in (2, 4):
        assert np.abs(stream[n * bar : n * bar + RATE // 20]).max() > 0
    # In front of the first bar, which no silent one precedes, the slide sets out as ever.
    assert pluck_onsets(plan, 0, plan.origin_frame + bar)[0].frame < plan.origin_frame


def test_a_demonstration_plays_its_strokes_on_through_silent_bars() -> None:
    plan = plan_with(Thinning(thin=Thin.SILENT_BARS), strokes=True, click=False)
    late_in_a_silent_bar = plan.origin_frame + 7 * RATE + RATE // 2
    assert render(plan, late_in_a_silent_bar, RATE // 4).any()


def test_the_band_rests_with_the_click() -> None:
    plan = plan_with(Thinning(thin=Thin.SILENT_BARS), band=True)
    frames = [o.frame - plan.origin_frame for o in band_onsets(plan, 0, plan.origin_frame + 8 * RATE)]
    assert max(frames) < 4 * RATE
    assert min(frames) == 0


def test_the_words_of_the_settings_name_each_thinning() -> None:
    for thin in Thin:
        assert Thinning.named(thin.value, 1, 4).thin is thin
    assert Thinning.named("off for N bars in M", 3, 8) == Thinning(thin=Thin.SILENT_BARS, off=3, of=8)
    with pytest.raises(BadSettings, match='"never" for the click thinning; write one of "every beat", '):
        Thinning.named("never")


@pytest.mark.parametrize(("off", "of"), [(0, 4), (4, 4), (5, 4), (2, 17)])
def test_silences_without_begin_or_end_are_refused(off: int, of: int) -> None:
    with pytest.raises(BadSettings, match=f"off for {off} bars in {of}"):
        Thinning(thin=Thin.SILENT_BARS, off=off, of=of)
