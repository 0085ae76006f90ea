"""A take is read as a whole: what was played is said before any stroke is judged."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.shipped import shipped
from trainer.judging.advice import Finding, advise
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.readings import ReadingKind
from trainer.judging.statistics import summarise
from trainer.judging.take import Judgement, Tap, Verdict
from trainer.judging.wording import Fault
from trainer.music.layout import Feel, lay_out
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.records.library import open_pattern

LIBRARY = shipped()
BPM = 100
SLOT_S = 0.3  # two slots to a beat at 100 beats a minute
BAR_S = 1.2
STEADY = Faults(jitter_s=0.012)
Deed = Callable[[list[Tap]], list[Tap]]


def played(
    figure: str,
    deed: Deed = list,
    *,
    faults: Faults = STEADY,
    passes: int = 8,
    known: bool = True,
    seed: int = 1,
    instead: str = "",
    feel: Feel | None = None,
    knows_string: bool = False,
) -> Judgement:
    pattern = open_pattern(figure, LIBRARY)
    timeline = Timeline.steady(BPM)
    targets = lay_out(pattern, timeline, passes=passes)
    other = open_pattern(instead or figure, LIBRARY)
    other_passes = max(1, len(targets) // len(other.strokes))
    hit = lay_out(other, timeline, passes=other_passes, feel=feel or Feel())
    taps = simulate(hit, faults, np.random.default_rng(seed)).taps
    done = deed(list(taps) if knows_string else [replace(tap, string=None) for tap in taps])
    asked = Asked(pattern=pattern, timeline=timeline, passes=passes if known else None)
    return reading_of(asked, targets, done, others=LIBRARY.patterns)


def moved(seconds: Callable[[float], float]) -> Deed:
    return lambda taps: [replace(tap, song_s=seconds(tap.song_s)) for tap in taps]


def exchanged(taps: Sequence[Tap]) -> list[Tap]:
    other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL, None: None}
    return [replace(tap, hand=other[tap.hand]) for tap in taps]


def limits(found: Judgement) -> list[Finding]:
    """The advice without the reading itself."""
    return [finding for finding in advise(found) if finding.fault is not Fault.READING]


def kind_of(judgement: Judgement) -> ReadingKind:
    assert judgement.reading is not None
    return judgement.reading.kind


def sentence_of(judgement: Judgement) -> str:
    assert judgement.reading is not None
    return judgement.reading.sentence


def is_clean(judgement: Judgement) -> bool:
    share = summarise(judgement).clean_share
    return share is not None and share >= 0.9


FIGURES = ("basic-figure", "skip-figure", "one-basic-one-skip", "drop-thumb-in-basic-figure")
both_pads = pytest.mark.parametrize("one_pad", [False, True])
each_figure = pytest.mark.parametrize("figure", FIGURES)


@each_figure
@both_pads
@pytest.mark.parametrize("share", [0.95, 0.98, 1.03, 1.05, 0.8])
def test_another_tempo_is_told_with_its_number(figure: str, one_pad: bool, share: float) -> None:
    found = played(figure, moved(lambda s: s / share), faults=replace(STEADY, one_pad=one_pad), passes=12)
    assert kind_of(found) is ReadingKind.OTHER_TEMPO
    assert found.reading is not None
    assert found.reading.amount == pytest.approx(BPM * share, abs=0.5)
    assert f"You played at {BPM * share:g}, the click was at 100;" in sentence_of(found)
    assert is_clean(found)
    assert not limits(found)


@pytest.mark.parametrize(
    ("late_s", "kind"),
    [
        (SLOT_S, ReadingKind.SLOT_LATE),
        (2 * SLOT_S, ReadingKind.BEAT_LATE),
        (BAR_S, ReadingKind.BAR_LATE),
        (2 * BAR_S, ReadingKind.TWO_BARS_LATE),
        (-SLOT_S, ReadingKind.SLOT_EARLY),
        (-2 * SLOT_S, ReadingKind.BEAT_EARLY),
        (-BAR_S, ReadingKind.BAR_EARLY),
    ],
)
@both_pads
@pytest.mark.parametrize("figure", ["skip-figure", "three-basic-one-skip"])
def test_a_shift_is_told_and_the_rest_is_clean(
    figure: str, one_pad: bool, late_s: float, kind: ReadingKind
) -> None:
    found = played(figure, moved(lambda s: s + late_s), faults=replace(STEADY, one_pad=one_pad))
    assert kind_of(found) is kind
    assert "otherwise clean" in sentence_of(found)
    assert is_clean(found)
    assert not limits(found)


@both_pads
def test_a_quarter_of_a_second_late_is_told_in_ms_and_is_not_called_ahead(one_pad: bool) -> None:
    found = played("skip-figure", moved(lambda s: s + 0.25), faults=replace(STEADY, one_pad=one_pad))
    assert kind_of(found) is ReadingKind.LATE
    assert found.reading is not None
    assert (found.reading.unit, found.reading.amount) == ("ms", pytest.approx(250, abs=5))
    assert not any("ahead" in finding.sentence for finding in limits(found))


def test_exchanged_pads_are_told_and_then_no_stroke_is_of_the_wrong_hand() -> None:
    found = played("skip-figure", exchanged)
    assert sentence_of(found) == "Your pads are exchanged; Enter changes them."
    assert Verdict.WRONG_HAND not in {o.verdict for o in found.outcomes}


def test_a_bar_late_on_exchanged_pads_tells_both() -> None:
    found = played("skip-figure", lambda taps: moved(lambda s: s + BAR_S)(exchanged(taps)))
    assert kind_of(found) is ReadingKind.BAR_LATE
    assert found.reading is not None
    assert found.reading.also == (ReadingKind.PADS_EXCHANGED,)
    assert "your pads are exchanged" in sentence_of(found)


@each_figure
@both_pads
def test_half_and_double_time_are_told(figure: str, one_pad: bool) -> None:
    faults = replace(STEADY, one_pad=one_pad)
    assert kind_of(played(figure, moved(lambda s: 2 * s), faults=faults)) is ReadingKind.HALF_TIME
    assert kind_of(played(figure, moved(lambda s: s / 2), faults=faults)) is ReadingKind.DOUBLE_TIME


@both_pads
def test_a_tempo_that_runs_away_is_told_with_both_ends(one_pad: bool) -> None:
    """Second s is played at s - 0.002 s**2, so the tempo is 100 / (1 - 0.004 s): 108 after 19 seconds."""
    found = played(
        "three-basic-one-skip",
        moved(lambda s: s - 0.002 * s * s),
        faults=replace(STEADY, one_pad=one_pad),
        passes=4,
    )
    assert kind_of(found) is ReadingKind.DRIFTING_TEMPO
    assert "You sped up from 100 to 108" in sentence_of(found)


@both_pads
def test_a_bar_left_out_and_a_bar_played_twice_are_told(one_pad: bool) -> None:
    def left_out(taps: list[Tap]) -> list[Tap]:
        return [
            tap if tap.song_s < 8 * BAR_S - 0.1 else replace(tap, song_s=tap.song_s - BAR_S)
            for tap in taps
            if not 7 * BAR_S - 0.1 <= tap.song_s < 8 * BAR_S - 0.1
        ]

    def twice(taps: list[Tap]) -> list[Tap]:
        again = [t for t in taps if 7 * BAR_S - 0.1 <= t.song_s < 8 * BAR_S - 0.1]
        later = [replace(t, song_s=t.song_s + BAR_S) for t in taps if t.song_s >= 7 * BAR_S - 0.1]
        return [t for t in taps if t.song_s < 7 * BAR_S - 0.1] + again + later

    faults = replace(STEADY, one_pad=one_pad)
    dropped = played("three-basic-one-skip", left_out, faults=faults)
    repeated = played("three-basic-one-skip", twice, faults=faults)
    assert kind_of(dropped) is ReadingKind.BAR_DROPPED
    assert kind_of(repeated) is ReadingKind.BAR_REPEATED
    for found in (dropped, repeated):
        assert is_clean(found)
        assert not found.strays
        indices = [o.target.index for o in found.outcomes]
        assert indices == sorted(set(indices))


@both_pads
def test_who_joins_in_half_way_or_stops_is_judged_for_what_was_played(one_pad: bool) -> None:
    faults = replace(STEADY, one_pad=one_pad)
    half_s = 8 * BAR_S - 0.1
    begun = played("skip-figure", lambda taps: [t for t in taps if t.song_s >= half_s], faults=faults)
    stopped = played("skip-figure", lambda taps: [t for t in taps if t.song_s < half_s], faults=faults)
    assert kind_of(begun) is ReadingKind.BEGUN_LATE
    assert kind_of(stopped) is ReadingKind.STOPPED_EARLY
    for found in (begun, stopped):
        assert Verdict.MISSED not in {o.verdict for o in found.outcomes}
        assert is_clean(found)


@both_pads
def test_who_stops_half_way_is_not_told_of_a_simpler_figure(one_pad: bool) -> None:
    """Middles of four kinds once made the spread too small, so that a figure of one kind looked likelier."""
    half_s = 8 * BAR_S - 0.1
    for seed in (51, 57, 62, 77, 107):
        stopped = played(
            "drop-thumb-in-basic-figure",
            lambda taps: [t for t in taps if t.song_s < half_s],
            faults=replace(STEADY, one_pad=one_pad),
            passes=4,
            seed=seed,
        )
        assert kind_of(stopped) is ReadingKind.STOPPED_EARLY


def test_a_figure_that_differs_by_its_strings_is_told_where_strings_are_known() -> None:
    judgement = played("basic-figure", instead="skip-figure", passes=4, knows_string=True)
    assert judgement.reading is not None
    assert judgement.reading.kind is ReadingKind.ANOTHER_FIGURE
    assert "The skip figure" in judgement.reading.sentence


def test_one_hand_alone_is_told() -> None:
    nail = played("skip-figure", lambda taps: [t for t in taps if t.hand is Hand.NAIL])
    thumb = played("skip-figure", lambda taps: [t for t in taps if t.hand is Hand.THUMB])
    assert sentence_of(nail).startswith("You played only the nail;")
    assert sentence_of(thumb).startswith("You played only the thumb;")
    assert [finding.fault for finding in advise(nail)] == [Fault.READING]


@both_pads
def test_the_basic_figure_in_place_of_the_skip_figure_is_told(one_pad: bool) -> None:
    found = played("skip-figure", faults=replace(STEADY, one_pad=one_pad), instead="basic-figure")
    assert kind_of(found) is ReadingKind.ANOTHER_FIGURE
    assert found.reading is not None
    assert found.reading.figure == "basic-figure"
    assert 'You played another figure, "The basic figure"' in sentence_of(found)
    assert is_clean(found)


@each_figure
@both_pads
def test_swing_is_told_as_swing(figure: str, one_pad: bool) -> None:
    found = played(
        figure, faults=replace(STEADY, one_pad=one_pad), feel=Feel(swing=Fraction(13, 10)), passes=12
    )
    assert kind_of(found) is ReadingKind.SWUNG
    assert found.reading is not None
    assert found.reading.amount == pytest.approx(1.3, abs=0.08)
    assert not limits(found)


class TestNothing:
    @both_pads
    def test_twenty_taps_a_second_are_nothing(self, one_pad: bool) -> None:
        hand = None if one_pad else Hand.NAIL
        found = played("skip-figure", lambda _: [Tap(song_s=0.05 * k, hand=hand) for k in range(384)])
        assert kind_of(found) is ReadingKind.NOTHING_FITS
        assert summarise(found).clean == 0
        assert summarise(found).clean_share is None
        assert sentence_of(found).startswith("Your taps come evenly, 20 a second, whatever was asked;")

    @both_pads
    def test_taps_at_random_fit_nothing(self, one_pad: bool) -> None:
        """Uniform times are a Poisson process of that many points; no reading gains over it."""
        rng = np.random.default_rng(4)
        hands = [None, None] if one_pad else [Hand.NAIL, Hand.THUMB]
        taps = [Tap(song_s=float(s), hand=hands[k % 2]) for k, s in enumerate(rng.uniform(0, 19, 48))]
        assert kind_of(played("skip-figure", lambda _: taps)) is ReadingKind.NOTHING_FITS

    def test_no_taps_are_told(self) -> None:
        found = played("skip-figure", lambda _: [])
        assert kind_of(found) is ReadingKind.NOTHING_PLAYED
        assert summarise(found).asked == 0


class TestAnOrdinaryLearner:
    @each_figure
    @both_pads
    @pytest.mark.parametrize(
        "faults",
        [
            Faults(jitter_s=0.025, miss=0.1, touch_skips=0.15, rush_gap_s=0.06),
            Faults(jitter_s=0.015, lean_s=((Kind.DROP_THUMB, -0.04),)),
            Faults(jitter_s=0.012, rush_gap_s=0.15, touch_skips=0.1),
            Faults(jitter_s=0.02, stray=0.05, double=0.05, miss=0.05),
        ],
    )
    def test_stays_as_asked(self, figure: str, one_pad: bool, faults: Faults) -> None:
        for seed in range(3):
            found = played(figure, faults=replace(faults, one_pad=one_pad), seed=seed)
            assert kind_of(found) is ReadingKind.AS_ASKED

    @both_pads
    def test_who_taps_ahead_as_people_do_is_told_so_and_not_advised(self, one_pad: bool) -> None:
        """Taps lead a click by 20 to 80 ms (Aschersleben 2002; Repp 2005, from memory)."""
        lead = tuple((kind, -0.040) for kind in (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB))
        found = played("skip-figure", faults=Faults(jitter_s=0.012, lean_s=lead, one_pad=one_pad))
        assert kind_of(found) is ReadingKind.AS_ASKED
        assert sentence_of(found).startswith("You sat 41 ms ahead of the click, steadily")
        assert not limits(found)


def test_the_margin_of_a_plain_take_is_that_of_a_bayes_factor() -> None:
    """A take that fits one figure only is surer the longer it is: margins add up like log odds."""
    short, long = (played("three-basic-one-skip", passes=n) for n in (2, 8))
    assert short.reading is not None
    assert long.reading is not None
    assert 0 < short.reading.margin < long.reading.margin


def test_every_kind_has_its_own_word() -> None:
    words = [kind.value for kind in ReadingKind]
    assert len(words) == len(set(words))
