"""The report says what was judged, in words that fit a terminal and in documented numbers."""

import json
import re
from fractions import Fraction

import numpy as np

from tests.judging.helpers import SKIP_FIGURE, as_asked, pattern_of, tap
from trainer.judging.take import Tap
from trainer.judging.verdicts import judge
from trainer.music.layout import Feel, lay_out
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.practice.faults import Faults
from trainer.practice.hands import simulate
from trainer.practice.json_values import Json
from trainer.practice.report import COLUMNS, GradedTake, report_dict, report_lines

NAIL, THUMB = Hand.NAIL, Hand.THUMB


def graded(bars: tuple[str, ...], taps: list[Tap], *, passes: int = 1, bpm: int = 60) -> GradedTake:
    pattern = pattern_of(*bars)
    targets = lay_out(pattern, Timeline.steady(bpm), passes=passes)
    return GradedTake(
        pattern=pattern, bpm=Fraction(bpm), passes=passes, source="take.mid", judgement=judge(targets, taps)
    )


def skip_take(*taps: Tap) -> GradedTake:
    """The skip figure once, slots at 0, 0.5, 1 and 1.5 s, half-width of the pocket 50 ms."""
    return graded((SKIP_FIGURE,), list(taps))


CLEAN = (tap(0.5, THUMB, 2), tap(1.0, NAIL, 3), tap(1.5, THUMB, 5))


def strokes_in(take: GradedTake) -> list[dict[str, Json]]:
    strokes = report_dict(take)["strokes"]
    assert isinstance(strokes, list)
    return strokes


def text_of(take: GradedTake) -> str:
    return " ".join(" ".join(report_lines(take)).split())


class TestWords:
    def test_a_skip_kept_silent_counts_as_played_as_asked(self) -> None:
        text = text_of(skip_take(*CLEAN))
        assert "Played as asked: 4 of 4 (100 %): 3 in time and 1 skip kept silent." in text
        assert "1 1 skip 1 1 kept silent" in text

    def test_each_slot_has_a_row_with_mean_and_verdicts(self) -> None:
        rows = [
            row
            for row in report_lines(skip_take(tap(0.4, THUMB, 2), tap(1.02, NAIL, 3)))
            if re.match(r" +1 +\d", row)
        ]
        assert [row.split() for row in rows] == [
            ["1", "1", "skip", "1", "1", "kept", "silent"],
            ["1", "2", "drop-thumb", "2", "1", "-100.0", "1", "early,", "1", "rushed", "gap"],
            ["1", "3", "brush", "1", "+20.0", "1", "in", "time"],
            ["1", "4", "thumb", "1", "1", "missed"],
        ]

    def test_a_rushed_gap_is_explained(self) -> None:
        text = text_of(skip_take(tap(0.4, THUMB, 2), *CLEAN[1:]))
        assert "Rushed gaps: 1. The stroke after a skip came early because the silence" in text

    def test_a_touched_skip_is_not_a_rushed_gap(self) -> None:
        text = text_of(skip_take(tap(0.01, NAIL, 3), *CLEAN))
        assert "1 touched" in text
        assert "Rushed gaps" not in text

    def test_strays_are_said_with_their_times(self) -> None:
        assert "no stroke asked for: 1, at 0.750 s." in text_of(skip_take(*CLEAN, tap(0.75, NAIL, 1)))

    def test_of_many_strays_only_the_first_are_listed(self) -> None:
        extra = [tap(0.62 + 0.02 * n, NAIL, 1) for n in range(11)]
        assert "no stroke asked for: 11, at 0.620 s, 0.640 s" in text_of(skip_take(*CLEAN, *extra))
        assert "0.760 s and 3 more." in text_of(skip_take(*CLEAN, *extra))

    def test_an_empty_take_is_all_missed_and_nothing_is_claimed_of_the_skip(self) -> None:
        text = text_of(skip_take())
        assert "Played as asked: 0 of 3 (0 %)" in text
        assert "Otherwise: 3 missed, 1 not judged." in text
        assert "Mean placement" not in text

    def test_too_few_taps_have_no_spread(self) -> None:
        text = text_of(skip_take(CLEAN[0], CLEAN[1]))
        assert "Mean placement 0.0 ms over 2 taps; too few to say how steady." in text

    def test_mean_interval_and_spread_are_those_of_the_textbook(self) -> None:
        """Placements -10, 0 and 10 ms: sd 10, half-interval 4.303 * 10 / sqrt(3) = 24.8 (table of t)."""
        text = text_of(skip_take(tap(0.49, THUMB, 2), tap(1.0, NAIL, 3), tap(1.51, THUMB, 5)))
        assert "Mean placement 0.0 ms over 3 taps, sure to ±24.8 ms (95 %); spread 10.0 ms." in text

    def test_taps_of_one_pad_have_no_hand_to_judge(self) -> None:
        text = text_of(skip_take(tap(0.5), tap(1.0), tap(1.5)))
        assert "The hand is not judged: the taps do not tell nail from thumb." in text

    def test_a_left_hand_that_cannot_be_heard_is_not_judged(self) -> None:
        take = graded(
            ("strike 3, hammer-on 3, brush, thumb",), [tap(0, NAIL, 3), tap(1, NAIL, 3), tap(1.5, THUMB, 5)]
        )
        text = text_of(take)
        assert "Played as asked: 3 of 3 (100 %)" in text
        assert "Not judged: a left hand that the input cannot hear" in text

    def test_the_head_names_pattern_tempo_passes_pocket_and_take(self) -> None:
        lines = report_lines(skip_take(*CLEAN))
        assert lines[:3] == (
            "Figure (figure)",
            "60 beats a minute, 1 pass, middle pocket, take.mid",
            "Placements are in ms, late +, early -. The pocket is 50 ms either way.",
        )

    def test_a_swing_is_named(self) -> None:
        pattern = pattern_of(SKIP_FIGURE)
        swing = Fraction(3, 2)
        targets = lay_out(pattern, Timeline.steady(60), feel=Feel(swing=swing))
        take = GradedTake(
            pattern=pattern, bpm=None, passes=1, swing=swing, judgement=judge(targets, as_asked(targets))
        )
        assert report_lines(take)[1] == "changing tempo, 1 pass, middle pocket, swing 1.5 to 1"

    def test_no_line_is_wider_than_the_terminal_whatever_the_pattern(self) -> None:
        bars = (
            "accented strike 3 fret 22, accented hammer-on 4 fret 12, accented brush 4 to 1, thumb",
            "skip, accented drop-thumb 2 fret 17, brush, accented pull-off 1 fret 0",
        )
        pattern = pattern_of(*bars)
        targets = lay_out(pattern, Timeline.steady(120), passes=30)
        faults = Faults(jitter_s=0.06, miss=0.2, stray=0.3, double=0.2, touch_skips=0.5, wrong_hand=0.3)
        simulated = simulate(targets, faults, np.random.default_rng(5))
        take = GradedTake(
            pattern=pattern,
            bpm=Fraction(120),
            passes=30,
            source="a-rather-long-name-of-a-take-that-somebody-recorded-on-a-long-evening.mid",
            judgement=judge(targets, simulated.taps, knows_left=True),
        )
        lines = report_lines(take)
        assert max(len(line) for line in lines) <= COLUMNS
        assert any("wrong hand" in line for line in lines)

    def test_advice_stands_under_the_numbers_that_bear_it_out(self) -> None:
        pattern = pattern_of(SKIP_FIGURE)
        targets = lay_out(pattern, Timeline.steady(90), passes=20)
        taps = simulate(targets, Faults(jitter_s=0.008, rush_gap_s=0.08), np.random.default_rng(1)).taps
        take = GradedTake(pattern=pattern, bpm=Fraction(90), passes=20, judgement=judge(targets, taps))
        assert "What the numbers bear out: - After a skip you come in" in text_of(take)


class TestNumbers:
    def test_a_stroke_is_told_with_all_its_numbers_counted_from_one(self) -> None:
        assert strokes_in(skip_take(tap(0.4, THUMB, 2), tap(1.02, NAIL, 3)))[1] == {
            "pass": 1,
            "bar": 1,
            "slot": 2,
            "kind": "drop-thumb",
            "string": 2,
            "expected_s": 0.5,
            "tapped_s": 0.4,
            "placement_ms": -100.0,
            "pocket_ms": 50.0,
            "verdict": "early",
            "rushed_gap": True,
        }

    def test_a_silent_skip_has_no_string_and_no_tap(self) -> None:
        skip = strokes_in(skip_take(*CLEAN))[0]
        assert (skip["string"], skip["tapped_s"], skip["placement_ms"]) == (None, None, None)
        assert skip["verdict"] == "kept silent"

    def test_a_later_pass_has_its_number(self) -> None:
        take = graded((SKIP_FIGURE, "strike 3, rest, brush, thumb"), [], passes=2)
        places = [(s["pass"], s["bar"], s["slot"]) for s in strokes_in(take)]
        assert places[0] == (1, 1, 1)
        assert places[-1] == (2, 2, 4)
        assert (2, 2, 2) not in places

    def test_the_summary_agrees_with_the_strokes(self) -> None:
        take = skip_take(tap(0.4, THUMB, 2), tap(1.02, NAIL, 3), tap(0.75, NAIL, 1))
        report = report_dict(take)
        assert report["summary"] == {
            "asked": 4,
            "clean": 2,
            "clean_share": 0.5,
            "counts": {"kept silent": 1, "early": 1, "in time": 1, "missed": 1, "stray": 1},
            "taps": 2,
            "mean_ms": -40.0,
            "half_interval_ms": None,
            "spread_ms": None,
            "rushed_gaps": 1,
        }
        assert report["strays"] == [{"tapped_s": 0.75, "hand": "nail", "string": 1, "velocity": None}]

    def test_it_is_valid_json_without_nan(self) -> None:
        text = json.dumps(report_dict(skip_take()), allow_nan=False)
        assert json.loads(text)["format"] == 2
