"""Put together what the step after a drill hangs on: the take, the ladder, the course and the session."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from trainer.app.context import Context
from trainer.app.drill_result import DrillResult
from trainer.practice.course import course_after
from trainer.practice.delays import delay_is_known
from trainer.practice.next_step import Following, LastDrill, NextStep, next_step, retimed
from trainer.practice.passes import passes_needed, passes_played
from trainer.practice.session import BREAK_S


def answer_to(context: Context, result: DrillResult) -> NextStep:
    """Return what a drill came to, and the one thing to do next; to a track that is at the track's tempo."""
    step = next_step(_played(context, result))
    track_bpm = context.own_track.played_bpm if context.own_track.is_ready else None
    if track_bpm is not None and step.bpm is not None and step.bpm != track_bpm:
        return replace(retimed(step, track_bpm), why="Your track gives the tempo.")
    return step


def _played(context: Context, result: DrillResult) -> LastDrill:
    pattern, judgement = result.request.pattern, result.judgement
    preferences, practising = context.preferences, context.practising
    passes = [p for _, p in sorted(passes_played(judgement, result.drill.timeline, pattern).items())]
    needed = passes_needed(pattern)
    runs = [(bpm, clean, len(list(run))) for (bpm, clean), run in groupby(passes, lambda p: (p.bpm, p.clean))]
    held = [bpm for bpm, clean, count in runs if clean and count >= needed]
    placed = result.summary.placement
    worst = result.changes.worst if result.changes is not None else None
    whole = result.request.whole
    simulated = result.request.hands is not None
    now_ns = context.now_ns
    return LastDrill(
        pattern=pattern,
        bpm=result.bpm,
        strokes=len(judgement.outcomes),
        taps=len(judgement.taps),
        clean_bpm=max(held, default=None),
        clean_passes=runs[-1][2] if runs and runs[-1][1] else 0,
        needed=needed,
        why=next((p.why for p in reversed(passes) if p.why), ""),
        reading=judgement.reading,
        findings=result.findings,
        mean_s=result.delay_s,
        half_interval_s=placed.half_interval_s,
        spread_s=placed.spread_s,
        delay_is_known=delay_is_known(
            preferences.settings, preferences.settings.input_name, preferences.output_name
        ),
        change_bar=worst.change.bar if worst is not None else None,
        ladder_bpm=result.ladder_bpm,
        whole_title=whole.pattern.title if whole is not None else None,
        whole_bpm=whole.bpm if whole is not None else None,
        following=_following(context, result),
        for_a_change=_for_a_change(context),
        rest=round(BREAK_S / 60) if practising.is_break_due(now_ns) and not simulated else 0,
        not_graded=result.not_graded,
    )


def _following(context: Context, result: DrillResult) -> Following | None:
    """Return what comes after a pattern: the next level of a break, the next in the course."""
    library = context.preferences.library
    known = (*library.patterns, *library.laid)
    after = course_after(result.request.pattern, known, context.practising.standings())
    if after is None:
        return None
    return Following(pattern=after.name, title=after.title, bpm=context.preferences.bpm_of(after))


def _for_a_change(context: Context) -> Following | None:
    """Return the figure that the session would have now; None before it is time for another."""
    practising, preferences = context.practising, context.preferences
    suggestion = practising.suggestion() if practising.is_time_to_rotate(context.now_ns) else None
    named = {p.name: p for p in (*preferences.library.patterns, *preferences.library.laid)}
    pattern = named.get(suggestion.pattern) if suggestion is not None else None
    if pattern is None:
        return None
    return Following(pattern=pattern.name, title=pattern.title, bpm=preferences.bpm_of(pattern))
