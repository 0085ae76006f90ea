"""What is said of each stroke, for takes whose truth is known by construction."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, tap, targets_of
from trainer.errors import BadSettings, BadTimes
from trainer.judging.advice import advise
from trainer.judging.live import LiveJudge
from trainer.judging.pocket import Pocket
from trainer.judging.take import Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.strokes import Hand, Kind

SILENT, IN_TIME = Verdict.KEPT_SILENT, Verdict.IN_TIME


def verdicts(targets: object, taps: list[Tap], **more: object) -> list[Verdict]:
    return [o.verdict for o in judge(targets, taps, **more).outcomes]  # type: ignore[arg-type]


def test_a_figure_played_as_asked_is_all_clean_and_the_skip_counts_as_played_well() -> None:
    targets = targets_of(SKIP_FIGURE)
    judged = judge(targets, as_asked(targets))
    assert [o.verdict for o in judged.outcomes] == [SILENT, IN_TIME, IN_TIME, IN_TIME]
    assert all(o.verdict.is_clean for o in judged.outcomes)
    assert judged.strays == ()


def test_early_is_negative_and_late_is_positive() -> None:
    targets = targets_of(BASIC_FIGURE)
    taps = as_asked(targets)
    taps[0] = dataclasses.replace(taps[0], song_s=-0.080)
    taps[1] = dataclasses.replace(taps[1], song_s=targets[2].song_s + 0.090)
    judged = judge(targets, taps)
    assert [o.verdict for o in judged.outcomes] == [Verdict.EARLY, Verdict.LATE, IN_TIME]
    assert [o.placement_s for o in judged.outcomes] == [-0.080, pytest.approx(0.090), 0.0]


def test_the_edge_of_the_pocket_is_inside_it_to_the_microsecond() -> None:
    targets = targets_of(BASIC_FIGURE)
    width = Pocket.MIDDLE.half_width_s(targets[0].slot_s)
    assert width == pytest.approx(0.050)
    for at, said in ((width, IN_TIME), (width + 1e-6, Verdict.LATE), (-width - 1e-6, Verdict.EARLY)):
        assert verdicts(targets[:1], [tap(at)]) == [said]


def test_a_verdict_claims_no_more_than_the_taps_uncertainty_allows() -> None:
    targets = targets_of(BASIC_FIGURE)
    assert verdicts(targets[:1], [tap(0.053)]) == [Verdict.LATE]
    assert verdicts(targets[:1], [tap(0.053, uncertainty_s=0.004)]) == [IN_TIME]
    assert verdicts(targets[:1], [tap(0.055, uncertainty_s=0.004)]) == [Verdict.LATE]


def test_a_touched_skip_is_not_a_rushed_gap() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    taps = [*as_asked(targets), tap(targets[4].song_s + 0.02, Hand.NAIL)]
    judged = judge(targets, taps)
    assert judged.outcomes[3].verdict is Verdict.TOUCHED
    assert not any(o.rushed_gap for o in judged.outcomes)


def test_a_rushed_gap_is_an_early_stroke_and_a_silent_skip() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    taps = as_asked(targets)
    taps[3] = dataclasses.replace(taps[3], song_s=taps[3].song_s - 0.30)
    judged = judge(targets, taps)
    skip, drop = judged.outcomes[3:5]
    assert (skip.verdict, drop.verdict, drop.rushed_gap) == (SILENT, Verdict.EARLY, True)
    assert judged.strays == ()


def test_a_player_who_is_steadily_early_rushes_no_gap() -> None:
    """Taps lead clicks by some 30 to 50 ms of themselves: Aschersleben & Prinz 1995."""
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE, passes=3)
    judged = judge(targets, as_asked(targets, late_s=-0.060))
    assert {o.verdict for o in judged.outcomes} == {Verdict.EARLY, SILENT}
    assert not any(o.rushed_gap for o in judged.outcomes[1:])


def test_the_wrong_hand_and_the_wrong_string_are_named() -> None:
    targets = targets_of(SKIP_FIGURE)
    taps = as_asked(targets)
    taps[0] = dataclasses.replace(taps[0], hand=Hand.NAIL, string=None)
    taps[2] = dataclasses.replace(taps[2], string=2)
    assert verdicts(targets, taps) == [SILENT, Verdict.WRONG_HAND, IN_TIME, Verdict.WRONG_STRING]


def test_a_stopped_hand_is_not_praised_for_its_silence() -> None:
    targets = targets_of(SKIP_FIGURE, passes=2)
    said = verdicts(targets, [])
    assert said.count(Verdict.NOT_JUDGED) == 2
    assert said.count(Verdict.MISSED) == 6


def test_with_one_pad_the_hand_is_not_judged() -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE)
    taps = [dataclasses.replace(t, hand=None, string=None) for t in as_asked(targets)]
    assert all(v.is_clean for v in verdicts(targets, taps))


def test_a_left_hand_sound_is_judged_only_where_the_input_hears_it() -> None:
    targets = targets_of("strike 3, hammer-on 3 fret 2, brush, thumb")
    right_hand = [t for t in as_asked(targets) if t.hand is not Hand.LEFT]
    assert verdicts(targets, right_hand)[1] is Verdict.NOT_JUDGED
    assert verdicts(targets, right_hand, knows_left=True)[1] is Verdict.MISSED
    assert verdicts(targets, as_asked(targets), knows_left=True)[1] is IN_TIME


@pytest.mark.parametrize("hand", [Hand.NAIL, Hand.THUMB, None])
def test_nothing_is_made_of_a_tap_along_with_a_left_hand_sound_that_cannot_be_heard(
    hand: Hand | None,
) -> None:
    targets = targets_of("strike 3, hammer-on 3 fret 2, brush, thumb", passes=4)
    along = [dataclasses.replace(t, hand=hand) if t.hand is Hand.LEFT else t for t in as_asked(targets)]
    judged = judge(targets, along)
    assert judged.strays == ()
    for outcome in judged.outcomes:
        is_left = outcome.target.stroke.hand is Hand.LEFT
        assert outcome.verdict is (Verdict.NOT_JUDGED if is_left else IN_TIME)
        assert (outcome.tap is None) is is_left
    assert advise(judged) == ()


def test_a_left_hand_sound_takes_no_tap_that_another_stroke_needs() -> None:
    targets = targets_of("strike 3, hammer-on 3 fret 2, brush, thumb", passes=4)
    taps = [
        dataclasses.replace(t, song_s=t.song_s + 0.6 * targets[0].slot_s)
        for t in as_asked(targets)
        if t.hand is Hand.NAIL
    ]
    nails = [o for o in judge(targets, taps).outcomes if o.target.stroke.hand is Hand.NAIL]
    assert {o.verdict for o in nails} == {Verdict.LATE}


def test_tapping_along_with_the_count_in_is_nobodys_mistake() -> None:
    targets = targets_of(BASIC_FIGURE)
    taps = [tap(-4.0), tap(-3.0), tap(-2.0), tap(-1.0), *as_asked(targets), tap(9.0)]
    judged = judge(targets, taps)
    assert judged.strays == ()
    assert all(o.verdict.is_clean for o in judged.outcomes)


def test_a_tap_in_a_rest_is_a_stray() -> None:
    targets = targets_of(BASIC_FIGURE)
    taps = [*as_asked(targets), tap(targets[1].song_s, Hand.THUMB)]
    judged = judge(targets, taps)
    assert [judged.taps[at].song_s for at in judged.strays] == [targets[1].song_s]


@given(
    st.lists(st.floats(-0.5, 9.0), max_size=30),
    st.floats(-100, 100),
)
def test_the_order_of_taps_in_the_list_does_not_matter(times: list[float], seed: float) -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE, passes=2)
    taps = [tap(t) for t in times]
    shuffled = sorted(taps, key=lambda t: math.sin(t.song_s * 1000 + seed))
    one, other = judge(targets, taps), judge(targets, shuffled)
    assert [(o.verdict, o.placement_s) for o in one.outcomes] == [
        (o.verdict, o.placement_s) for o in other.outcomes
    ]


@given(st.lists(st.floats(-0.5, 9.0), max_size=30))
def test_every_tap_is_given_once_or_is_a_stray_or_lies_outside(times: list[float]) -> None:
    targets = targets_of(BASIC_FIGURE, SKIP_FIGURE, passes=2)
    judged = judge(targets, [tap(t) for t in times])
    given_out = [o.tap_index for o in judged.outcomes if o.tap_index is not None]
    assert len(given_out) == len(set(given_out))
    assert not set(given_out) & set(judged.strays)
    left = set(range(len(times))) - set(given_out) - set(judged.strays)
    for at in left:
        assert not targets[0].song_s - 0.25 < judged.taps[at].song_s < targets[-1].song_s + 0.5
    kinds = {o.target.stroke.kind for o in judged.outcomes}
    assert Kind.REST not in kinds


def test_a_time_that_is_no_number_is_refused() -> None:
    with pytest.raises(BadTimes, match="nan"):
        judge(targets_of(BASIC_FIGURE), [tap(math.nan)])


def test_pockets_grow_with_the_slot_and_never_meet() -> None:
    assert [p.half_width_s(0.25) for p in Pocket] == [0.020, 0.030, 0.045]
    assert [p.half_width_s(0.5) for p in Pocket] == pytest.approx([0.030, 0.050, 0.075])
    assert all(p.half_width_s(0.08) < 0.04 for p in Pocket)
    assert Pocket.named("wide") is Pocket.WIDE
    with pytest.raises(BadSettings, match='for the pocket; write one of "narrow", "middle", "wide"'):
        Pocket.named("huge")


def test_two_rushes_in_a_row_are_both_flagged() -> None:
    """The second gap is measured from the last stroke that was not rushed: both drops are 120 ms early."""
    targets = targets_of("skip, drop-thumb 3, skip, drop-thumb 2", "brush, thumb, brush, thumb", passes=2)
    taps = as_asked(targets)
    rushed = [
        dataclasses.replace(tap, song_s=tap.song_s - 0.12)
        if tap.hand is Hand.THUMB and tap.string in (2, 3)
        else tap
        for tap in taps
    ]
    flagged = {(o.target.bar, o.target.slot) for o in judge(targets, rushed).outcomes[8:] if o.rushed_gap}
    assert flagged == {(0, 1), (0, 3)}


def test_a_known_lead_makes_no_rushed_stroke_a_touched_skip() -> None:
    """One pad, all 60 ms ahead, drops rushed by 170 of 300 ms: by the click they lie nearer to the skip."""
    targets = targets_of(SKIP_FIGURE, bpm=100, passes=6)
    early = {Kind.DROP_THUMB: 0.17}
    taps = [tap(t.song_s - 0.06 - early.get(t.stroke.kind, 0.0)) for t in targets if t.stroke.kind.sounds]
    by_click = {o.verdict for o in judge(targets, taps).outcomes if o.target.stroke.kind is Kind.SKIP}
    from_own = {o.verdict for o in judge(targets, taps, constant_s=-0.06).outcomes
                if o.target.stroke.kind is Kind.SKIP}  # fmt: skip
    assert by_click == {Verdict.TOUCHED}
    assert from_own == {Verdict.KEPT_SILENT}


class TestMarkedSkips:
    """The hand's fall through a skip, made audible on a side pad, is a stroke with a place."""

    TARGETS = targets_of(SKIP_FIGURE, passes=4)

    def taps(self, late_s: float) -> list[Tap]:
        marks = [tap(t.song_s + late_s, Hand.NONE) for t in self.TARGETS if t.stroke.kind is Kind.SKIP]
        return as_asked(self.TARGETS) + marks

    @pytest.mark.parametrize(
        ("late_s", "verdict"), [(0.0, IN_TIME), (0.04, IN_TIME), (0.09, Verdict.LATE), (-0.09, Verdict.EARLY)]
    )
    def test_a_mark_is_judged_for_its_placement(self, late_s: float, verdict: Verdict) -> None:
        judged = judge(self.TARGETS, self.taps(late_s), marks_skips=True)
        skips = [o for o in judged.outcomes if o.target.stroke.kind is Kind.SKIP]
        assert [o.verdict for o in skips] == [verdict] * 4
        assert [o.placement_s for o in skips] == pytest.approx([late_s] * 4)
        assert not judged.strays

    def test_a_hand_that_only_waits_has_missed_the_skip(self) -> None:
        judged = judge(self.TARGETS, as_asked(self.TARGETS), marks_skips=True)
        assert {o.verdict for o in judged.outcomes if o.target.stroke.kind is Kind.SKIP} == {Verdict.MISSED}

    def test_the_nail_on_the_strings_is_a_touch_as_ever(self) -> None:
        skips = [t for t in self.TARGETS if t.stroke.kind is Kind.SKIP]
        taps = as_asked(self.TARGETS) + [tap(t.song_s, Hand.NAIL, 1) for t in skips]
        judged = judge(self.TARGETS, taps, marks_skips=True)
        assert {o.verdict for o in judged.outcomes if o.target.stroke.kind is Kind.SKIP} == {Verdict.TOUCHED}

    def test_live_says_the_same(self) -> None:
        live = LiveJudge(marks_skips=True)
        live.expect(self.TARGETS)
        for each in sorted(self.taps(0.03), key=lambda t: t.song_s):
            live.add_tap(each)
            live.view(each.song_s)
        live.finish()
        assert live.judgement() == judge(self.TARGETS, self.taps(0.03), marks_skips=True)
