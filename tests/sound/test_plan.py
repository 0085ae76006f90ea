"""What sounds when: every onset on the frame that exact arithmetic gives."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import HEAD, pattern_of
from tests.sound.helpers import CLICKS_ONLY, plan_of
from tests.strategies import patterns
from trainer.errors import BadSettings
from trainer.music.layout import Feel, lay_out
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.sound.clicks import Click
from trainer.sound.left_hand import attack_of, lead_s
from trainer.sound.plan import RATE, SoundSettings, plan_for
from trainer.sound.stream_onsets import agree_before, click_onsets, pluck_onsets

HALF_HOUR = 1800 * RATE


def nearest(frames: Fraction) -> int:
    """The nearest whole frame, halves up: written out once more, apart from the timeline."""
    return (2 * frames.numerator + frames.denominator) // (2 * frames.denominator)


@pytest.mark.parametrize("bpm", ["61", "97.3", "133"])
def test_for_half_an_hour_every_click_stands_where_exact_arithmetic_puts_it(bpm: str) -> None:
    """Source: frame of beat n = 48000 * 60 * n / bpm in exact fractions, rounded once. Error: 0 frames."""
    plan = plan_of(bpm)
    found = [onset.frame - plan.origin_frame for onset in click_onsets(plan, 0, HALF_HOUR)]
    assert found == [nearest(Fraction(60 * RATE * n) / Fraction(bpm)) for n in range(-4, len(found) - 4)]
    assert len(found) > 1790 * float(bpm) / 60


def test_for_half_an_hour_tempo_changes_at_bar_lines_add_nothing_up() -> None:
    """61, 97.3 and 133 in turn, 40 beats each: the exact lengths are summed as fractions."""
    tempi = ["61", "97.3", "133"] * 30
    plan = plan_of(tempi[0], changes=tuple((40 * n, bpm) for n, bpm in enumerate(tempi) if n))
    exact, at = [], Fraction(0)
    for bpm in tempi:
        for _ in range(40):
            exact.append(nearest(at * RATE))
            at += 60 / Fraction(bpm)
    assert at > 1700
    # The count-in comes before beat 0.
    found = [o.frame - plan.origin_frame for o in click_onsets(plan, 0, plan.origin_frame + exact[-1] + 1)]
    assert found[4:] == exact


def test_triplets_stand_on_exact_thirds() -> None:
    head = HEAD.replace("slots_per_beat = 2", "slots_per_beat = 3")
    bars = 'bars = """\nstrike 3, rest, thumb, brush, rest, thumb\n"""\n'
    pattern = read_pattern(head + bars, name="triplets")
    plan = plan_of("61", pattern=pattern, settings=replace(CLICKS_ONLY, subdivide=True))
    found = [o.frame - plan.origin_frame for o in click_onsets(plan, plan.origin_frame, 600 * RATE)]
    assert found == [nearest(Fraction(60 * RATE * n, 61 * 3)) for n in range(len(found))]
    assert len(found) > 1500


def test_the_stream_begins_with_silence_and_a_count_in_of_whole_bars() -> None:
    plan = plan_of("60", passes=1)
    onsets = click_onsets(plan, 0, 20 * RATE)
    assert onsets[0].frame == round(0.6 * RATE)
    assert [o.click for o in onsets[:4]] == [Click.COUNT_IN_FIRST, Click.COUNT_IN] * 2
    assert [o.click for o in onsets[4:]] == [Click.FIRST_BEAT, Click.BEAT] * 2
    assert onsets[4].frame == plan.origin_frame
    assert plan.song_s(onsets[0].frame) == -4.0
    assert plan.frame_at(-4.0) == onsets[0].frame


def test_the_count_in_sounds_even_when_the_click_is_off() -> None:
    plan = plan_of("60", passes=1, settings=replace(CLICKS_ONLY, click=False))
    assert [o.click for o in click_onsets(plan, 0, 20 * RATE)] == [Click.COUNT_IN_FIRST, Click.COUNT_IN] * 2


def test_subdivisions_stand_on_the_swung_slots() -> None:
    """Source: a ratio r puts the up slot at r / (1 + r) of the beat: 3/2 at 60 bpm is 0.6 s."""
    plan = plan_of(
        "60", passes=1, settings=replace(CLICKS_ONLY, subdivide=True), feel=Feel(swing=Fraction(3, 2))
    )
    first = next(o for o in click_onsets(plan, 0, 20 * RATE) if o.click is Click.SUBDIVISION)
    assert first.frame == plan.origin_frame + 28_800


def test_subdivisions_fall_silent_at_the_tempo_where_they_stop_helping() -> None:
    plan = plan_of("100", passes=2, changes=((4, "140"),), settings=replace(CLICKS_ONLY, subdivide=True))
    change = plan.frame_of(Fraction(4))
    subdivisions = [o.frame for o in click_onsets(plan, 0, 20 * RATE) if o.click is Click.SUBDIVISION]
    assert len(subdivisions) == 4
    assert max(subdivisions) < change


@given(patterns(most_bars=3), st.booleans(), st.sampled_from([1, 2]))
def test_the_strokes_that_sound_are_those_of_the_layout(
    pattern: Pattern, everything: bool, passes: int
) -> None:
    """The second way round: the layout of the judge, in float seconds, against the onsets in frames."""
    feel = Feel(swing=Fraction(2), layback_s=((Kind.BRUSH, 0.020), (Kind.THUMB, -0.010)))
    timeline = Timeline.steady("97.3")
    settings = SoundSettings(strokes=everything)
    pattern = replace(pattern, parts=())  # what leads into the first pass is no target
    plan = plan_for(pattern, timeline, passes=passes, settings=settings, feel=feel)
    wanted = []
    for target in lay_out(pattern, timeline, passes=passes, feel=feel):
        stroke = target.stroke
        if not stroke.kind.sounds or not (everything or stroke.hand is Hand.LEFT):
            continue
        begins = plan.frame_at(target.song_s) - lead_s(attack_of(stroke)) * RATE
        wanted += [(begins + n * 0.009 * RATE, string) for n, string in enumerate(stroke.strings)]
        third = 60 / 97.3 / 3 * RATE
        wanted += [(begins + n * third, stroke.strings[0]) for n, _fret in enumerate(stroke.triplet, 1)]
    found = [(o.frame, o.pluck.string) for o in pluck_onsets(plan, 0, 10_000 * RATE)]
    assert len(found) == len(wanted)
    for (frame, string), (exact, wanted_string) in zip(
        sorted(found, key=lambda f: (f[1], f[0])), sorted(wanted, key=lambda w: (w[1], w[0])), strict=True
    ):
        assert string == wanted_string
        assert abs(frame - exact) <= 1.01


@given(st.integers(0, 20 * RATE), st.integers(0, 20 * RATE))
def test_onsets_of_two_pieces_are_the_onsets_of_the_whole(one: int, other: int) -> None:
    plan = plan_of("133", passes=5, settings=SoundSettings(strokes=True, subdivide=True))
    first, last = sorted((one, other))
    middle = (first + last) // 2
    for onsets in (click_onsets, pluck_onsets):
        assert onsets(plan, first, middle) + onsets(plan, middle, last) == onsets(plan, first, last)


def test_other_settings_hold_from_their_frame_on() -> None:
    plan = plan_of("60").with_settings(replace(CLICKS_ONLY, click_db=-20.0), from_frame=10 * RATE)
    gains = {o.gain_db for o in click_onsets(plan, 0, 10 * RATE)}
    later = {o.gain_db for o in click_onsets(plan, 10 * RATE, 20 * RATE)}
    assert (gains, later) == ({-11.5}, {-20.0})
    assert plan.settings.click_db == -20.0


def test_settings_set_twice_at_one_frame_are_the_latest() -> None:
    plan = plan_of("60")
    for click_db in (-20.0, -30.0):
        plan = plan.with_settings(replace(CLICKS_ONLY, click_db=click_db), from_frame=RATE)
    assert len(plan.spans) == 2
    assert plan.settings_at(RATE).click_db == -30.0
    assert plan.settings_at(RATE - 1).click_db == -11.5


def test_settings_that_are_over_can_be_forgotten_without_being_heard() -> None:
    plan = plan_of("133", settings=SoundSettings(strokes=True))
    for n in range(1, 30):
        plan = plan.with_settings(replace(plan.settings, click_db=-9.0 - n), from_frame=n * RATE // 4)
    now = 5 * RATE
    short = plan.forgetting(now)
    assert len(short.spans) == len(plan.spans) - 20
    assert click_onsets(short, now, 20 * RATE) == click_onsets(plan, now, 20 * RATE)
    assert plan.forgetting(0) == plan


def test_a_tempo_change_ahead_agrees_with_what_is_rendered_and_one_behind_does_not() -> None:
    plan = plan_of("97.3")
    changed = plan.with_timeline(plan.timeline.with_tempo("120", from_beat=Fraction(8)))
    change = plan.frame_of(Fraction(8))
    assert agree_before(plan, changed, change)
    # The click of beat 8 itself stands where it stood; the next one does not.
    assert not agree_before(plan, changed, plan.frame_of(Fraction(9)) + 1)
    assert not agree_before(plan, replace(plan, origin_frame=plan.origin_frame + 1), change)


@pytest.mark.parametrize("wrong", [{"click_db": 0.5}, {"stroke_db": -61.0}, {"click_db": float("nan")}])
def test_a_volume_that_is_none_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(BadSettings, match="is outside -60 to 0; choose one inside"):
        SoundSettings(**wrong)  # type: ignore[arg-type]


def test_what_the_program_plays_itself() -> None:
    pattern = pattern_of("strike 3, hammer-on 3 fret 2, brush, thumb")
    for settings, strings in (
        (SoundSettings(), [3]),
        (SoundSettings(left_hand=False), []),
        (SoundSettings(strokes=True), [3, 3, 3, 2, 1, 5]),
    ):
        plan = plan_of("60", pattern=pattern, passes=1, settings=settings)
        assert [o.pluck.string for o in pluck_onsets(plan, 0, 20 * RATE)] == strings
    silent = plan_of("60", pattern=pattern_of("skip, rest, skip, rest"), settings=SoundSettings(strokes=True))
    assert pluck_onsets(silent, 0, 20 * RATE) == ()
