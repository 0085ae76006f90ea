"""A take as it is kept: judged again as it was, and summed up by tempo."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.app.playing import begin, play, taps_for
from tests.judging.helpers import as_asked
from tests.records.takes import FIGURE, a_take, takes
from trainer.judging.statistics import placement_of, summarise, timed_placements
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.stored_take import (
    StoredTake,
    judgement_of,
    pooled_spread_s,
    reached,
    rungs_of,
    summarised,
    targets_of,
)


def kept(**more: object) -> StoredTake:
    return a_take(**more)  # type: ignore[arg-type]


def test_the_summary_is_that_of_the_take_judged_again() -> None:
    take = kept(jitter_s=0.03)
    summary = summarise(judgement_of(take))
    assert (take.asked, take.clean) == (summary.asked, summary.clean)
    assert (take.mean_s, take.spread_s) == (summary.placement.mean_s, summary.placement.spread_s)


@given(takes())
def test_summing_up_twice_changes_nothing(take: StoredTake) -> None:
    assert summarised(take) == take


@given(takes())
def test_the_rungs_share_out_all_strokes_of_the_take(take: StoredTake) -> None:
    assert sum(rung.asked for rung in take.rungs) == take.asked
    assert sum(rung.clean for rung in take.rungs) == take.clean
    assert sum(rung.taps for rung in take.rungs) == len(timed_placements(judgement_of(take).outcomes))
    assert all(rung.clean_in_a_row <= rung.clean_passes <= rung.passes for rung in take.rungs)


def ladder_take() -> StoredTake:
    """Two clean passes at 60, two at 63 of which the first was botched, one at 60 again."""
    beats = FIGURE.beats
    timeline = Timeline.steady(60).with_tempo(63, from_beat=Fraction(2 * beats))
    timeline = timeline.with_tempo(60, from_beat=Fraction(4 * beats))
    targets = lay_out(FIGURE, timeline, passes=5)
    taps = [t for t in as_asked(targets) if not 2 * beats <= timeline.beat(t.song_s) < 2.5 * beats]
    bare = replace(kept(), timeline=timeline, passes=5, slots_asked=len(targets), taps=tuple(taps))
    return summarised(bare)


def test_each_group_of_passes_at_one_tempo_is_a_rung_in_the_order_played() -> None:
    rungs = ladder_take().rungs
    assert [(r.bpm, r.passes, r.clean_passes, r.clean_in_a_row) for r in rungs] == [
        (60, 2, 2, 2),
        (63, 2, 1, 1),
        (60, 1, 1, 1),
    ]


def test_a_tempo_is_held_only_with_as_many_clean_passes_in_a_row_as_the_ladder_needs() -> None:
    # The figure has 7 strokes and skips, so 16 strokes need three passes.
    assert [rung.held for rung in ladder_take().rungs] == [False, False, False]
    assert [rung.held for rung in kept(passes=3).rungs] == [True]
    assert [rung.held for rung in kept(passes=2).rungs] == [False]


def test_the_fastest_clean_tempo_is_none_when_the_take_does_not_count() -> None:
    assert kept().fastest_clean == 60
    assert replace(kept(), not_graded="the sound was interrupted").fastest_clean is None
    assert replace(kept(), simulated=True).fastest_clean is None


def test_a_last_pass_that_was_broken_off_is_no_pass_but_its_strokes_count() -> None:
    whole = kept(passes=3)
    broken = summarised(replace(whole, slots_asked=whole.slots_asked - 4))
    assert (broken.rungs[0].passes, whole.rungs[0].passes) == (2, 3)
    assert broken.asked == whole.asked - 3  # strike, rest, brush, thumb


@pytest.mark.parametrize("stop_s", [None, 0.3, 2.9, 5.01])
@pytest.mark.parametrize("change", [False, True])
def test_judged_again_a_take_is_what_the_drill_made_of_it(stop_s: float | None, change: bool) -> None:
    playing = begin(FIGURE, passes=4)
    if change:
        playing.drill.change_tempo(Fraction(132), 0.0)
    taps = taps_for(FIGURE, playing.drill.timeline, jitter_s=0.03)
    play(playing, [t for t in taps if stop_s is None or t.song_s <= stop_s])
    played = playing.ended(stop_s=stop_s)
    slots = max(o.target.index for o in played.judgement.outcomes) + 1
    take = replace(
        kept(knows_left=True),
        timeline=playing.drill.timeline,
        passes=-(-slots // len(FIGURE.strokes)),
        slots_asked=slots,
        taps=playing.drill.taps,
    )
    again = judgement_of(summarised(take))
    assert [(o.verdict, o.placement_s, o.tap_index) for o in again.outcomes] == [
        (o.verdict, o.placement_s, o.tap_index) for o in played.judgement.outcomes
    ]
    assert again.strays == played.judgement.strays
    assert rungs_of(again, take) == rungs_of(played.judgement, take)


def test_minutes_count_from_the_first_beat_to_the_last_tap() -> None:
    take = kept()
    assert take.seconds_played == take.taps[-1].song_s
    late = summarised(replace(take, taps=(*take.taps, replace(take.taps[-1], song_s=500.0))))
    assert late.seconds_played == 16.0  # 4 passes of 4 beats at 60
    assert summarised(replace(take, taps=())).seconds_played == 0


def test_a_take_whose_end_nobody_saw_ends_with_its_last_tap() -> None:
    take = kept(passes=4)
    cut = reached(replace(take, passes=0, slots_asked=0, taps=take.taps[:8]))
    assert cut.passes == 2
    assert [o.tap is not None for o in judgement_of(cut).outcomes if o.target.stroke.kind.sounds] == [
        True
    ] * 8
    assert targets_of(reached(replace(take, taps=())))[:1] == targets_of(take)[:1]


def test_a_last_stroke_that_came_before_its_time_was_asked() -> None:
    take = kept(passes=2)
    early = tuple(as_asked(targets_of(take), late_s=-0.02))
    cut = reached(replace(take, taps=early))
    assert (cut.passes, cut.slots_asked) == (take.passes, take.slots_asked)


def test_pooled_spread_is_the_residual_standard_deviation_of_the_groups() -> None:
    """Against the residuals themselves: groups centred on their own means, divided by n less the groups."""
    rng = np.random.default_rng(5)
    groups = [rng.normal(mean, 0.01, size) for mean, size in ((0.0, 9), (0.02, 30), (-0.01, 4))]
    residuals = np.concatenate([group - group.mean() for group in groups])
    expected = float(np.sqrt((residuals**2).sum() / (residuals.size - len(groups))))
    rungs = [(p.n, p.spread_s) for p in map(placement_of, [tuple(map(float, group)) for group in groups])]
    assert pooled_spread_s(rungs) == pytest.approx(expected, rel=1e-12)


@given(st.lists(st.tuples(st.integers(0, 2), st.none()), max_size=3))
def test_groups_without_a_spread_pool_to_none(rungs: list[tuple[int, None]]) -> None:
    assert pooled_spread_s(rungs) is None
