"""Keep what a drill came to: on the ladder, in the records, in the course, and in the settings."""

from __future__ import annotations

from dataclasses import replace

from trainer.app.climbing import Climb
from trainer.app.context import Context
from trainer.app.drill_result import DrillResult
from trainer.practice.settings import SIGNS_SHOWN


def kept(context: Context, result: DrillResult, climb: Climb | None, *, has_tapped: bool) -> DrillResult:
    """Keep a drill that has ended, and return it with the tempo that the ladder has for the next one."""
    preferences, request = context.preferences, result.request
    if climb is not None:
        # Not while it climbed: writing to the disk takes time that a tap may need.
        tempo = climb.ladder.next_time_bpm
        result = replace(result, ladder_bpm=tempo)
        context.keep(lambda: preferences.remember_tempo(request.pattern, tempo))
    if context.recorder is not None:
        note = context.recorder.ends(result)
        if note:
            context.say(note)
    has_played = request.hands is None and bool(result.judgement.taps)
    context.practising.stopped(context.now_ns, has_played=has_played)
    seen = preferences.settings.signs_seen
    if seen < SIGNS_SHOWN and request.hands is None and has_tapped:
        context.keep(lambda: preferences.change(signs_seen=seen + 1))
    return result
