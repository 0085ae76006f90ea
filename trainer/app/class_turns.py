"""Make the turn of a class from a drill that is over, and say why one does not count by itself."""

from __future__ import annotations

import uuid
from datetime import datetime

from trainer.app.drill_result import DrillResult
from trainer.music.strokes import Kind
from trainer.practice.turns import Turn, turn_of
from trainer.records.take_text import utc_text


def turn_from(
    result: DrillResult, *, now: datetime, uid: str = "", disturbed: str = "", together: bool = False
) -> Turn:
    """Return a turn.

    Args:
        now: the present moment, with the time zone of the class.
        uid: of the take in the records; empty where none was kept.
        disturbed: what else disturbed it; empty for what the drill itself knows.
    """
    return turn_of(
        result.judgement,
        pattern=result.request.pattern,
        bpm=result.drill.timeline.spans[0].bpm,
        day=now.date().toordinal(),
        begun=utc_text(now),
        uid=uid or uuid.uuid4().hex,
        disturbed=disturbed or why_disturbed(result),
        together=together,
    )


def why_disturbed(result: DrillResult) -> str:
    """Return why a turn does not count by itself: lost, broken off, another tempo; empty when it does."""
    if result.not_graded:
        return result.not_graded
    played = len(result.judgement.outcomes)
    strokes = sum(1 for stroke in result.request.pattern.strokes if stroke.kind is not Kind.REST)
    asked = result.request.passes * strokes
    if played < asked:
        return f"broken off after {played} of {asked} strokes"
    if len(result.drill.timeline.spans) > 1:
        return "the tempo was changed"
    return ""
