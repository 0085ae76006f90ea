"""Write a class as rows of text: one for each turn, whatever board it is on."""

from __future__ import annotations

from datetime import date

from trainer.practice.classroom import Classroom
from trainer.practice.turns import Turn

CSV_COLUMNS = (
    "name", "date", "pattern", "level", "bpm", "turn", "strokes_asked", "strokes_clean", "mean_ms",
    "spread_ms", "gaps_rushed", "skips_touched", "not_judged", "played_as", "together", "counts", "disturbed",
)  # fmt: skip
COUNTS, BY_WORD, HELD_BACK = "yes", "by the teacher's word", "no"


def csv_rows(room: Classroom) -> tuple[tuple[str, ...], ...]:
    """Return the class as rows of text, the columns' names first.

    ``turn`` counts the turns of one name on one board from 1; milliseconds to a tenth, late positive;
    ``date`` is ISO 8601, empty where an older file does not say; ``counts`` is yes, no, or by the teacher's
    word.
    """
    rows: list[tuple[str, ...]] = [CSV_COLUMNS]
    for pupil in room.pupils:
        for turn in pupil.turns:
            number = pupil.on(turn.board).index(turn) + 1
            rows.append((pupil.name, *_cells(turn, number)))
        if not pupil.turns:
            rows.append((pupil.name, *[""] * (len(CSV_COLUMNS) - 1)))
    return tuple(rows)


def _cells(turn: Turn, number: int) -> tuple[str, ...]:
    counts = HELD_BACK if not turn.counts else BY_WORD if turn.disturbed else COUNTS
    return (
        "" if turn.day is None else date.fromordinal(turn.day).isoformat(),
        turn.pattern,
        turn.level,
        f"{float(turn.bpm):g}",
        str(number),
        str(turn.asked),
        str(turn.clean),
        _ms(turn.mean_s),
        _ms(turn.spread_s),
        str(turn.rushed),
        str(turn.touched),
        str(turn.not_judged),
        turn.reading or "as asked",
        "yes" if turn.together else "no",
        counts,
        turn.disturbed,
    )


def _ms(seconds: float | None) -> str:
    return "" if seconds is None else f"{seconds * 1000:.1f}"
