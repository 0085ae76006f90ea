"""Put a judged take into words for people and into numbers for programs.

Both count passes, bars and slots from 1, as players do. Placements are tap minus target in ms, late
positive. Seconds count from the first beat of the first pass.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.judging.advice import Finding, advise
from trainer.judging.chance import Contrast
from trainer.judging.changes import around_changes
from trainer.judging.pocket import Pocket
from trainer.judging.readings import Reading, ReadingKind
from trainer.judging.statistics import SlotSummary, TakeSummary, by_slot, summarise
from trainer.judging.take import Judgement, Outcome, Tap, Verdict
from trainer.judging.wording import Fault
from trainer.music.chart import Chart
from trainer.music.notation import stroke_words
from trainer.music.pattern import Pattern
from trainer.practice.breakdown_report import breakdown_dict
from trainer.practice.json_values import Json, milliseconds, rounded
from trainer.practice.placed_by import PlacedBy
from trainer.practice.report_schema import GRADE

COLUMNS = 80
MOST_STRAYS_LISTED = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class GradedTake:
    """A judged take and all that a report says about how it was judged.

    Attributes:
        pattern: what was asked.
        bpm: beats a minute, None when the tempo changes.
        passes: how often the pattern was asked.
        pocket, swing: how it was judged.
        source: what to call the take, such as its file's name.
        offset_s: second of the source at which beat 0 lies.
        click_off: whether the click was off after the count-in.
        placed_by: what the strokes were placed against.
        judgement: what was made of it.
    """

    pattern: Pattern
    bpm: Fraction | None
    passes: int
    pocket: Pocket = Pocket.MIDDLE
    swing: Fraction = Fraction(1)
    source: str = ""
    offset_s: float = 0.0
    click_off: bool = False
    placed_by: PlacedBy = PlacedBy.TAPS
    judgement: Judgement


def report_lines(graded: GradedTake) -> tuple[str, ...]:
    """Return the report as lines of at most 80 characters."""
    judgement = graded.judgement.told
    reading, summary = judgement.reading, summarise(judgement)
    lines = _head(graded)
    if reading is not None and reading.says_something:
        lines += ["", *textwrap.wrap(reading.sentence, COLUMNS)]
    if reading is None or summary.asked:
        lines += ["", *_table(by_slot(judgement))]
    lines.append("")
    chart = graded.pattern.chart
    for sentence in (*_sentences(judgement, summary), *_change_words(judgement, chart)):
        lines.extend(textwrap.wrap(sentence, COLUMNS, subsequent_indent="  "))
    advice = _limits(judgement, chart)
    if advice:
        lines += ["", "What the numbers bear out:"]
    for finding in advice:
        lines.extend(textwrap.wrap(f"- {finding.sentence}", COLUMNS, subsequent_indent="  "))
    return tuple(lines)


def report_dict(graded: GradedTake) -> dict[str, Json]:
    """Return the report as plain values; every field is in :mod:`trainer.practice.report_schema`."""
    judgement = graded.judgement.told
    return {
        "format": GRADE.format,
        "pattern": graded.pattern.name,
        "title": graded.pattern.title,
        "source": graded.source,
        "bpm": None if graded.bpm is None else float(graded.bpm),
        "passes": graded.passes,
        "pocket": graded.pocket.value,
        "swing": float(graded.swing),
        "offset_s": round(graded.offset_s, 6),
        "placed_by": graded.placed_by.value or None,
        "hand_known": any(tap.hand is not None for tap in judgement.taps),
        "reading": _reading_dict(judgement.reading),
        "strokes": [
            _stroke_dict(outcome, pocket_s)
            for outcome, pocket_s in zip(judgement.outcomes, judgement.pocket_s, strict=True)
        ],
        "strays": [_stray_dict(judgement.taps[at]) for at in judgement.strays],
        "summary": _summary_dict(summarise(judgement)),
        "advice": [_finding_dict(finding) for finding in _limits(judgement, graded.pattern.chart)],
        "breakdown": breakdown_dict(judgement, graded.pattern, click_off=graded.click_off),
    }


def _reading_dict(reading: Reading | None) -> dict[str, Json] | None:
    if reading is None:
        return None
    return {
        "kind": reading.kind.value,
        "sentence": reading.sentence,
        "amount": rounded(reading.amount),
        "unit": reading.unit,
        "margin": rounded(reading.margin),
        "also": [kind.value for kind in reading.also],
        "figure": reading.figure or None,
    }


def _stroke_dict(outcome: Outcome, pocket_s: float) -> dict[str, Json]:
    target = outcome.target
    strings = target.stroke.strings
    return {
        "pass": target.pass_index + 1,
        "bar": target.bar + 1,
        "slot": target.slot + 1,
        "kind": target.stroke.kind.value,
        "string": strings[0] if strings else None,
        "expected_s": round(target.song_s, 6),
        "tapped_s": None if outcome.tap is None else round(outcome.tap.song_s, 6),
        "placement_ms": milliseconds(outcome.placement_s),
        "pocket_ms": milliseconds(pocket_s),
        "verdict": outcome.verdict.value,
        "rushed_gap": outcome.rushed_gap,
    }


def _stray_dict(tap: Tap) -> dict[str, Json]:
    return {
        "tapped_s": round(tap.song_s, 6),
        "hand": None if tap.hand is None else tap.hand.value,
        "string": tap.string,
        "velocity": tap.velocity,
    }


def _summary_dict(summary: TakeSummary) -> dict[str, Json]:
    placement = summary.placement
    return {
        "asked": summary.asked,
        "clean": summary.clean,
        "clean_share": None if summary.clean_share is None else round(summary.clean_share, 6),
        "counts": {verdict.value: n for verdict, n in summary.counts},
        "taps": placement.n,
        "mean_ms": milliseconds(placement.mean_s),
        "half_interval_ms": milliseconds(placement.half_interval_s),
        "spread_ms": milliseconds(placement.spread_s),
        "rushed_gaps": summary.rushed_gaps,
    }


def _finding_dict(finding: Finding) -> dict[str, Json]:
    return {
        "fault": finding.fault.value,
        "sentence": finding.sentence,
        "kind": None if finding.kind is None else finding.kind.value,
        "change": finding.change or None,
        "size_ms": milliseconds(finding.size_s),
        "half_interval_ms": milliseconds(finding.half_interval_s),
        "hits": finding.hits,
        "n": finding.n,
        "probability": finding.probability,
    }


def _head(graded: GradedTake) -> list[str]:
    tempo = "changing tempo" if graded.bpm is None else f"{float(graded.bpm):g} beats a minute"
    facts = [tempo, _count(graded.passes, "pass", "passes"), f"{graded.pocket.value} pocket"]
    if graded.swing != 1:
        facts.append(f"swing {float(graded.swing):g} to 1")
    if graded.source:
        facts.append(graded.source)
    widths = sorted({round(width * 1000) for width in graded.judgement.pocket_s})
    pocket = f" The pocket is {' or '.join(f'{w}' for w in widths[:3])} ms either way." if widths else ""
    return [
        *textwrap.wrap(f"{graded.pattern.title} ({graded.pattern.name})", COLUMNS),
        *textwrap.wrap(", ".join(facts), COLUMNS),
        f"Placements are in ms, late +, early -.{pocket}",
    ]


def _table(slots: Sequence[SlotSummary]) -> list[str]:
    words = [stroke_words(slot.stroke) for slot in slots]
    wide = max([len(w) for w in words] + [len("stroke")])
    lead = f"{'bar':>3} {'slot':>4}  {'stroke':<{wide}} {'asked':>5} {'mean':>7} {'spread':>6}  "
    room = COLUMNS - len(lead)  # at least 8: a brush of four strings, accented, each at its fret
    lines = [f"{lead}verdicts"]
    for slot, word in zip(slots, words, strict=True):
        row = (
            f"{slot.bar + 1:>3} {slot.slot + 1:>4}  {word:<{wide}} {slot.n:>5} "
            f"{_signed(slot.mean_s):>7} {_plain(slot.spread_s):>6}  "
        )
        first, *more = textwrap.wrap(_verdict_words(slot.counts, slot.rushed_gaps), room) or [""]
        lines.append((row + first).rstrip())
        lines.extend(" " * len(lead) + text for text in more)
    return lines


def _verdict_words(counts: Iterable[tuple[Verdict, int]], rushed_gaps: int) -> str:
    parts = [f"{n} {verdict.value}" for verdict, n in counts]
    if rushed_gaps:
        parts.append(_count(rushed_gaps, "rushed gap", "rushed gaps"))
    return ", ".join(parts)


def _sentences(judgement: Judgement, summary: TakeSummary) -> list[str]:
    counts = dict(summary.counts)
    sentences = []
    if summary.clean_share is None:
        sentences.append("Nothing could be judged.")
    else:
        in_time, silent = counts.get(Verdict.IN_TIME, 0), counts.get(Verdict.KEPT_SILENT, 0)
        skips = f" and {_count(silent, 'skip', 'skips')} kept silent" if silent else ""
        sentences.append(
            f"{_measure(judgement.reading)}: {summary.clean} of {summary.asked} "
            f"({100 * summary.clean_share:.0f} %): {in_time} in time{skips}."
        )
    others = [(v, n) for v, n in summary.counts if not v.is_clean and v is not Verdict.STRAY]
    if others:
        sentences.append(f"Otherwise: {_verdict_words(others, 0)}.")
    placement = summary.placement
    if placement.mean_s is not None:
        sentences.append(_placement_words(summary))
    if summary.rushed_gaps:
        sentences.append(
            f"Rushed gaps: {summary.rushed_gaps}. The stroke after a skip came early because the silence "
            "before it was cut short."
        )
    if judgement.strays:
        sentences.append(_stray_words(judgement))
    if judgement.taps and all(tap.hand is None for tap in judgement.taps):
        sentences.append("The hand is not judged: the taps do not tell nail from thumb.")
    if Verdict.NOT_JUDGED in counts:
        sentences.append(
            "Not judged: a left hand that the input cannot hear, or a skip with nothing played beside it."
        )
    return sentences


def _limits(judgement: Judgement, chart: Chart | None) -> list[Finding]:
    """Return the advice without the reading, which a report says in a place of its own."""
    return [finding for finding in advise(judgement, chart) if finding.fault is not Fault.READING]


def _measure(reading: Reading | None) -> str:
    """Return what clean strokes are clean by."""
    if reading is None or reading.kind is ReadingKind.AS_ASKED:
        return "Played as asked"
    return "Clean, seen so"


def _change_words(judgement: Judgement, chart: Chart | None) -> list[str]:
    """Say where the strokes after a chord change sat, and which change costs most."""
    around = around_changes(judgement, chart)
    if around is None:
        return []
    after, inside = around.after.placement, around.inside.placement
    if around.difference is None or after.mean_s is None or inside.mean_s is None:
        return ["Too few strokes came just after a chord change to compare them with the others."]
    sentences = [
        f"After a chord change: mean {_signed(after.mean_s)} ms over {_count(after.n, 'tap', 'taps')}, "
        f"spread {_plain(after.spread_s)} ms; inside a chord {_signed(inside.mean_s)} ms, spread "
        f"{_plain(inside.spread_s)} ms. Against the same strokes inside a chord: "
        f"{_difference(around.difference)}."
    ]
    worst = around.worst
    if worst is not None and worst.difference is not None and len(around.changes) > 1:
        sentences.append(
            f"The change that costs most: {worst.change.words}, {_difference(worst.difference)}."
        )
    return sentences


def _difference(found: Contrast) -> str:
    way = "later" if found.size >= 0 else "earlier"
    return f"{_plain(abs(found.size))} ms {way} (±{_plain(found.half_interval)} ms, 95 %)"


def _placement_words(summary: TakeSummary) -> str:
    placement = summary.placement
    text = f"Mean placement {_signed(placement.mean_s)} ms over {_count(placement.n, 'tap', 'taps')}"
    if placement.half_interval_s is None or placement.spread_s is None:
        return f"{text}; too few to say how steady."
    return (
        f"{text}, sure to ±{_plain(placement.half_interval_s)} ms (95 %); "
        f"spread {_plain(placement.spread_s)} ms."
    )


def _stray_words(judgement: Judgement) -> str:
    times = [f"{judgement.taps[at].song_s:.3f} s" for at in judgement.strays[:MOST_STRAYS_LISTED]]
    more = len(judgement.strays) - len(times)
    tail = f" and {more} more" if more else ""
    return f"Strays, taps that no stroke asked for: {len(judgement.strays)}, at {', '.join(times)}{tail}."


def _count(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def _signed(seconds: float | None) -> str:
    if seconds is None:
        return ""
    text = f"{seconds * 1000:+.1f}"
    return "0.0" if text in ("+0.0", "-0.0") else text


def _plain(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds * 1000:.1f}"
