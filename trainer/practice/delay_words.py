"""Say in sentences what a calibration found, and how it is written for programs."""

from __future__ import annotations

from trainer.judging.delay import (
    BetweenClicks,
    DelayAnswer,
    DelayFound,
    NotHeard,
    TooFewTaps,
    TooSpread,
)

# Reference: Aschersleben & Prinz 1995; Repp 2005.
HABIT = "It is the devices' delay together with your own habit; most people tap some tens of ms ahead."
DEVICES = "It is the devices' delay alone; your own habit of tapping ahead is not in it."
WHICH = (
    "Tap along with headphones, or without a microphone: it finds the devices' delay and your own habit of "
    "tapping ahead, together.",
    "Take the microphone if it hears both loudspeaker and pad: it finds the devices' delay alone.",
)


def delay_sentences(answer: DelayAnswer, *, by_microphone: bool = False) -> tuple[str, ...]:
    """Return one or two sentences: what was found, and what it is; or why nothing was, and what to do."""
    if isinstance(answer, DelayFound):
        return (_found(answer, by_microphone), DEVICES if by_microphone else HABIT)
    if isinstance(answer, TooFewTaps):
        what = "Tap once between clicks, so" if by_microphone else "Tap once with every click, so"
        return (f"{answer.n} {_taps(answer.n)} could be used. {what} that there are {answer.wanted}.",)
    if isinstance(answer, TooSpread):
        return _too_spread(answer, by_microphone)
    if isinstance(answer, BetweenClicks):
        ms, where = abs(round(answer.median_s * 1000)), "before" if answer.median_s < 0 else "after"
        return (
            f"Your taps lie {ms} ms {where} the click, so they may be meant for another one. "
            "Tap with the click that you hear; the next try goes slower.",
        )
    return (_not_heard(answer),)


def in_ms(seconds: float) -> str:
    """Return a placement in words: "40 ms early", "12 ms late", "0 ms"."""
    ms = round(seconds * 1000)
    return f"{abs(ms)} ms {'early' if ms < 0 else 'late'}" if ms else "0 ms"


def delay_dict(answer: DelayAnswer, *, by_microphone: bool = False) -> dict[str, object]:
    """Return an answer for programs.

    ``found`` says whether there is a delay; ``way`` is "taps" or "microphone". Then ``delay_ms`` (late
    positive), ``spread_ms`` (interquartile range), ``half_interval_ms`` (95 %), ``taps`` and ``steady``, or
    else ``reason``: "too few taps", "too spread", "between clicks", "click not heard", "knock not heard".
    ``sentences`` says it in words. What is not known is ``null``.
    """
    found = answer if isinstance(answer, DelayFound) else None
    spread_s = answer.spread_s if isinstance(answer, DelayFound | TooSpread) else None
    return {
        "found": found is not None,
        "way": "microphone" if by_microphone else "taps",
        "delay_ms": round(found.median_s * 1000, 2) if found else None,
        "spread_ms": round(spread_s * 1000, 2) if spread_s is not None else None,
        "half_interval_ms": round(found.half_interval_s * 1000, 2) if found else None,
        "taps": answer.n,
        "steady": found.is_steady if found else None,
        "reason": _reason(answer),
        "sentences": list(delay_sentences(answer, by_microphone=by_microphone)),
    }


def _found(answer: DelayFound, by_microphone: bool) -> str:
    sure = f"sure to ± {max(1, round(answer.half_interval_s * 1000))} ms"
    spread = f"spread {answer.spread_s * 1000:.0f} ms"
    if by_microphone:
        return f"Sound and input are {in_ms(answer.median_s)} together ({answer.n} taps, {spread}, {sure})."
    where = "on the click" if round(answer.median_s * 1000) == 0 else in_ms(answer.median_s)
    steady = ", steady" if answer.is_steady else ""
    return f"You tap {where}{steady} ({answer.n} taps, {spread}, {sure})."


def _too_spread(answer: TooSpread, by_microphone: bool) -> tuple[str, ...]:
    spread, most = round(answer.spread_s * 1000), round(answer.most_s * 1000)
    says = f"the middle half of them spreads over {spread} ms, and above {most} the middle says nothing."
    if by_microphone:
        return (
            f"Taps and knocks do not fit together: {says}",
            "Keep the room quiet, and tap on nothing but the pad.",
        )
    return (
        f"Your {answer.n} taps lie too far apart: {says}",
        "Listen to a few clicks, then tap small and evenly; or set the delay by hand.",
    )


def _not_heard(answer: NotHeard) -> str:
    if answer.what == "click":
        return (
            "The click was not heard in the recording. Play it through a loudspeaker near the microphone, or "
            "turn it up."
        )
    return (
        f"Of {answer.wanted} knocks at least, {answer.n} {'was' if answer.n == 1 else 'were'} heard. Tap "
        "harder, or put the microphone nearer to the pad."
    )


def _reason(answer: DelayAnswer) -> str | None:
    if isinstance(answer, NotHeard):
        return f"{answer.what} not heard"
    reasons = {TooFewTaps: "too few taps", TooSpread: "too spread", BetweenClicks: "between clicks"}
    return reasons.get(type(answer))


def _taps(n: int) -> str:
    return "tap" if n == 1 else "taps"
