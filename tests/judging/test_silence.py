"""Keeping time in silent bars: simulated players whose drift is known, and scipy as the outside check."""

import numpy as np
import pytest
import scipy.stats

from tests.judging.helpers import as_asked, pattern_of
from trainer.judging.silence import ALLOWED_RATE, Silences, silence_sentence, silences_of
from trainer.judging.take import Judgement, Tap
from trainer.judging.verdicts import judge
from trainer.music.layout import Target, lay_out
from trainer.music.timeline import Timeline

BPM = 100
BEATS_PER_BAR = 2
BAR_S = BEATS_PER_BAR * 60 / BPM
PATTERN = pattern_of(*["strike 3, thumb, brush, thumb"] * 2)


def silent_bars(bars: int, off: int = 2, of: int = 4) -> frozenset[int]:
    return frozenset(bar for bar in range(bars) if bar % of >= of - off)


def targets(passes: int) -> tuple[Target, ...]:
    return lay_out(PATTERN, Timeline.steady(BPM), passes=passes)


def played(
    passes: int,
    silent: frozenset[int],
    *,
    seed: int,
    drift_s_per_bar: float = 0.0,
    clock_s: float = 0.006,
    hand_s: float = 0.006,
    lead_s: float = 0.0,
) -> Judgement:
    """A player with a timekeeper and a hand (Wing & Kristofferson 1973) who corrects to a click that sounds.

    In silence the timekeeper's errors add up, and each of its intervals is off by a share of the drift.
    """
    rng = np.random.default_rng(seed)
    asked = targets(passes)
    late_s = 0.0
    taps = []
    for target in asked:
        quiet = int(target.beat // BEATS_PER_BAR) in silent
        late_s += rng.normal(0, clock_s) + (drift_s_per_bar * target.slot_s / BAR_S if quiet else 0.0)
        if not quiet:
            late_s *= 0.5
        taps.append(Tap(song_s=target.song_s + lead_s + late_s + rng.normal(0, hand_s)))
    return judge(asked, taps)


def found(judgement: Judgement, silent: frozenset[int]) -> Silences:
    silences = silences_of(judgement, silent, BEATS_PER_BAR)
    assert silences is not None
    return silences


def test_each_silence_has_the_line_that_scipy_lays() -> None:
    """Outside check: scipy.stats.linregress over the strokes of one silence, less each kind's usual place.

    The usual place is that of the bars with the click, but for the first after a silence.
    """
    silent = silent_bars(16)
    judgement = played(8, silent, seed=1, drift_s_per_bar=0.02)
    outcomes = judgement.outcomes
    usual = {
        kind: np.median(
            [
                o.placement_s
                for o in outcomes
                if o.target.stroke.kind is kind and not {o.target.beat // 2, o.target.beat // 2 - 1} & silent
            ]
        )
        for kind in {o.target.stroke.kind for o in outcomes}
    }
    for silence in found(judgement, silent).silences:
        own = [o for o in outcomes if silence.first_bar <= o.target.beat // 2 < silence.first_bar + 2]
        line = scipy.stats.linregress(
            [float(o.target.beat) / 2 for o in own],
            [o.placement_s - usual[o.target.stroke.kind] for o in own],
        )
        assert silence.s_per_bar == pytest.approx(line.slope, abs=1e-12)
        assert silence.taps == len(own) == 8


def test_the_interval_and_the_chance_are_scipys_over_the_silences() -> None:
    """Outside checks: scipy.stats.ttest_1samp against none, and its confidence interval."""
    silent = silent_bars(24)
    silences = found(played(12, silent, seed=2, drift_s_per_bar=0.01), silent)
    test = scipy.stats.ttest_1samp([s.s_per_bar for s in silences.silences], 0.0)
    interval = test.confidence_interval(0.95)
    assert silences.drift.mean_s == pytest.approx((interval.low + interval.high) / 2)
    assert silences.drift.half_interval_s == pytest.approx((interval.high - interval.low) / 2)
    assert silences.drift_probability == pytest.approx(test.pvalue, abs=1e-9)
    back = scipy.stats.ttest_1samp([s.return_s for s in silences.silences if s.return_s is not None], 0.0)
    assert silences.return_probability == pytest.approx(back.pvalue, abs=1e-9)


@pytest.mark.parametrize("drift_s", [-0.02, 0.0, 0.03])
def test_the_drift_of_a_simulated_player_is_recovered(drift_s: float) -> None:
    """Mean over 40 takes of 6 silences within three of its own standard errors."""
    silent = silent_bars(24)
    drifts = [
        found(played(12, silent, seed=seed, drift_s_per_bar=drift_s), silent).drift.mean_s or 0.0
        for seed in range(40)
    ]
    assert abs(np.mean(drifts) - drift_s) < 3 * np.std(drifts, ddof=1) / np.sqrt(len(drifts))


def test_players_who_keep_the_tempo_are_seldom_told_otherwise() -> None:
    """400 players without a drift, errors adding up in silence: at most 5 % and chance on top (binomial)."""
    silent = silent_bars(16)
    told = 0
    for seed in range(400):
        words = silence_sentence(found(played(8, silent, seed=1000 + seed, lead_s=-0.03), silent))
        told += words.startswith(("In silent bars you", "When the click"))
    assert told <= scipy.stats.binom.ppf(0.999, 400, ALLOWED_RATE)


@pytest.mark.parametrize(("drift_s", "way"), [(-0.02, "hurry"), (0.02, "slow down")])
def test_a_player_who_drifts_is_told_which_way_and_by_how_much(drift_s: float, way: str) -> None:
    silent = silent_bars(32)
    silences = found(played(16, silent, seed=5, drift_s_per_bar=drift_s, clock_s=0.002, hand_s=0.004), silent)
    words = silence_sentence(silences)
    assert words.startswith(f"In silent bars you {way} by ")
    assert "When the click comes back you are" in words
    assert ("before" in words) == (drift_s < 0)


def test_the_return_is_the_first_stroke_after_the_silence() -> None:
    """Each of eight silent strokes 10 ms later than the one before, then 80 ms late on the first click."""
    silent = silent_bars(12)
    asked = targets(6)
    taps, late_s = [], 0.0
    for target in asked:
        late_s = late_s + 0.01 if int(target.beat // 2) in silent else 0.0
        first_back = target.bar == 0 and target.slot == 0 and target.pass_index > 0 and target.beat % 8 == 0
        taps.append(Tap(song_s=target.song_s + (0.08 if first_back else late_s)))
    silences = found(judge(asked, taps), silent)
    assert [s.return_s for s in silences.silences] == [pytest.approx(0.08), pytest.approx(0.08), None]
    assert silences.silences[0].s_per_bar == pytest.approx(0.04)
    assert [p.mean_s for p in silences.by_bar] == [pytest.approx(0.025), pytest.approx(0.065)]
    assert silences.silences[0].moved_s == pytest.approx(0.07)


def test_a_habit_of_being_ahead_is_no_drift() -> None:
    silent = silent_bars(16)
    asked = targets(8)
    silences = found(judge(asked, as_asked(asked, late_s=-0.04)), silent)
    assert silences.drift.mean_s == pytest.approx(0.0, abs=1e-9)
    assert silences.returns.mean_s == pytest.approx(0.0, abs=1e-9)
    assert silences.spread_silent_s == pytest.approx(0.0, abs=1e-6)
    assert silence_sentence(silences).startswith("You kept the tempo through 4 silences")


def test_the_scatter_of_the_hand_is_told_apart_from_what_adds_up() -> None:
    """Without a timekeeper's error the scatter about the lines is the hand's own, click or no click."""
    silent = silent_bars(64)
    silences = found(played(32, silent, seed=7, clock_s=0.0, hand_s=0.010), silent)
    assert silences.spread_silent_s == pytest.approx(0.010, rel=0.15)
    assert silences.spread_clicked_s == pytest.approx(0.010, rel=0.15)


def test_with_too_few_silences_nothing_is_claimed() -> None:
    silent = silent_bars(8)
    words = silence_sentence(found(played(4, silent, seed=3, drift_s_per_bar=0.05), silent))
    assert words == (
        "2 silences played through: at least 3 are wanted to say how you keep time in them; play more passes."
    )


def test_without_a_silent_bar_or_a_stroke_in_one_there_is_nothing_to_say() -> None:
    asked = targets(4)
    judgement = judge(asked, as_asked(asked))
    assert silences_of(judgement, frozenset(), BEATS_PER_BAR) is None
    silent = silent_bars(8)
    quiet = judge(asked, [tap for tap in as_asked(asked) if int(tap.song_s // BAR_S) not in silent])
    assert silences_of(quiet, silent, BEATS_PER_BAR) is None
