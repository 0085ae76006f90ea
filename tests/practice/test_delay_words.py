"""What a calibration says, word for word."""

import pytest

from trainer.judging.delay import BetweenClicks, DelayAnswer, DelayFound, NotHeard, TooFewTaps, TooSpread
from trainer.practice.delay_words import DEVICES, HABIT, WHICH, delay_dict, delay_sentences, in_ms

FOUND = DelayFound(median_s=-0.0402, spread_s=0.0131, n=16, half_interval_s=0.0062, gap_s=0.6)


def test_forty_ms_early_is_a_place_and_steady_and_no_fault() -> None:
    """Aschersleben & Prinz 1995: people tap 30 to 50 ms ahead of the click."""
    assert delay_sentences(FOUND) == (
        "You tap 40 ms early, steady (16 taps, spread 13 ms, sure to ± 6 ms).",
        HABIT,
    )


def test_on_the_click_and_not_steady() -> None:
    on = DelayFound(median_s=0.0003, spread_s=0.045, n=31, half_interval_s=0.0142, gap_s=0.6)
    assert delay_sentences(on)[0] == "You tap on the click (31 taps, spread 45 ms, sure to ± 14 ms)."


def test_the_microphones_figure_is_called_the_devices() -> None:
    late = DelayFound(median_s=0.043, spread_s=0.0012, n=12, half_interval_s=0.0004, gap_s=0.6)
    assert delay_sentences(late, by_microphone=True) == (
        "Sound and input are 43 ms late together (12 taps, spread 1 ms, sure to ± 1 ms).",
        DEVICES,
    )


@pytest.mark.parametrize(
    ("answer", "by_microphone", "words"),
    [
        (TooFewTaps(n=1, wanted=16), False, "1 tap could be used. Tap once with every click"),
        (TooFewTaps(n=5, wanted=8), True, "5 taps could be used. Tap once between clicks"),
        (TooSpread(spread_s=0.0853, most_s=0.06, n=32), False, "spreads over 85 ms, and above 60 the middle"),
        (TooSpread(spread_s=0.04, most_s=0.015, n=12), True, "Taps and knocks do not fit together"),
        (BetweenClicks(median_s=0.284, gap_s=0.6, n=16), False, "Your taps lie 284 ms after the click"),
        (BetweenClicks(median_s=-0.2, gap_s=0.6, n=16), False, "Your taps lie 200 ms before the click"),
        (NotHeard(what="click", n=0, wanted=2), True, "The click was not heard"),
        (NotHeard(what="knock", n=1, wanted=8), True, "Of 8 knocks at least, 1 was heard"),
    ],
    ids=lambda value: type(value).__name__ if not isinstance(value, str) else value[:20],
)
def test_a_refusal_says_why_and_what_to_do(answer: DelayAnswer, by_microphone: bool, words: str) -> None:
    sentences = delay_sentences(answer, by_microphone=by_microphone)
    assert words in sentences[0]
    assert all(sentence.endswith(".") for sentence in sentences)
    table = delay_dict(answer, by_microphone=by_microphone)
    assert (table["found"], table["delay_ms"]) == (False, None)
    assert table["reason"]


def test_an_answer_for_programs_has_every_number() -> None:
    assert delay_dict(FOUND) == {
        "found": True,
        "way": "taps",
        "delay_ms": -40.2,
        "spread_ms": 13.1,
        "half_interval_ms": 6.2,
        "taps": 16,
        "steady": True,
        "reason": None,
        "sentences": list(delay_sentences(FOUND)),
    }


def test_two_sentences_say_which_way_to_take() -> None:
    assert len(WHICH) == 2
    assert [sentence.count(".") for sentence in WHICH] == [1, 1]


@pytest.mark.parametrize(
    ("seconds", "words"), [(-0.0404, "40 ms early"), (0.012, "12 ms late"), (0.0004, "0 ms")]
)
def test_a_placement_in_words(seconds: float, words: str) -> None:
    assert in_ms(seconds) == words
