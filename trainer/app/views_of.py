"""Show the stage: fill the view of whichever scene is up."""

from __future__ import annotations

from dataclasses import replace

from trainer.app.places import Place
from trainer.app.played import LEAST_SWING, Played
from trainer.app.stage import Stage
from trainer.app.steering import pads_help
from trainer.devices.keys import SCAN_S
from trainer.judging.two_level import TwoLevels
from trainer.practice.drill import Drill, DrillMoment, Recent
from trainer.screen.scenes.setting_rows import InputItem
from trainer.screen.scenes.settings import SettingsView
from trainer.screen.views import (
    Banner,
    DrillView,
    LibraryView,
    ReviewView,
    View,
    Window,
)

SURE = 0.05
LEAST_DRIFT_S = 0.006  # a listener notices no less: Friberg & Sundberg 1995
# More than the widest sheet shows of the past.
SHOWN_BACK_S = 6.0
SHOWN_BACK_BEATS = 32.0


def view_of(stage: Stage, window: Window) -> View:
    """Return the view of the scene that is up, with what is said over it."""
    window = replace(window, banner=_banner(stage))
    if stage.place is Place.CORNER and stage.corner is not None:
        return stage.corner.view(window)
    if stage.place is Place.DRILL and stage.drill is not None and stage.moment is not None:
        return _drill(stage, window)
    if stage.place is Place.REVIEW and stage.played is not None:
        return _review(stage, stage.played, window)
    if stage.place is Place.SETTINGS:
        return _settings(stage, window)
    return _library(stage, window)


def _banner(stage: Stage) -> Banner | None:
    # In a drill there is room for one line, and eyes for none of the cautions: they wait.
    return None if stage.caution and stage.place is Place.DRILL else stage.banner


def _library(stage: Stage, window: Window) -> LibraryView:
    chosen = stage.chosen
    problems = tuple(str(problem).split("\n")[0] for problem in chosen.library.problems)
    return LibraryView(
        window=window,
        shelf=chosen.shelves.shelf,
        rows=stage.practising.rows(),
        selected=chosen.selected,
        preview=chosen.pattern,
        choice_words=chosen.shelves.choice_words,
        player=chosen.settings.player,
        suggestion=stage.practising.words(stage.heard_ns),
        break_due=stage.practising.is_break_due(stage.heard_ns),
        pads_help=pads_help(stage),
        bpm=chosen.bpm,
        passes=chosen.settings.passes,
        input_name=stage.hearing.in_use,
        sound=stage.sound_words,
        problems=problems + chosen.library.remarks,
    )


def _drill(stage: Stage, window: Window) -> DrillView:
    drill, moment = stage.drill, stage.moment
    assert drill is not None
    assert moment is not None
    song_s = drill.timeline.seconds_of(moment.beat)
    return replace(
        sheet_of(drill, moment, song_s, window),
        next_bpm=stage.next_bpm,
        input_name="simulated hands" if stage.simulated else stage.hearing.in_use,
        uncertainty_s=stage.uncertainty_s or _least_uncertainty_s(stage),
        climb=stage.climb.words if stage.climb is not None else "",
        sound=stage.sound_words,
        simulated=stage.simulated,
    )


def sheet_of(drill: Drill, moment: DrillMoment, song_s: float, window: Window) -> DrillView:
    """Return the sheet of a drill at a second of its song: what can be seen of it, and no more.

    So a picture costs as much late in a long drill as at its begin.
    """
    recent = recent_of(drill, song_s)
    return DrillView(
        window=window,
        pattern=drill.settings.pattern,
        targets=recent.targets,
        timeline=drill.timeline,
        outcomes=(*recent.outcomes, *moment.view.provisional),
        strays=recent.strays,
        taps=recent.taps,
        song_s=song_s,
        bpm=moment.bpm,
        pass_index=moment.pass_index,
        passes=drill.settings.passes,
        count=moment.count,
        count_in_beats=drill.count_in_beats,
        pocket=drill.settings.pocket,
    )


def recent_of(drill: Drill, song_s: float) -> Recent:
    """Return what the widest sheet shows of a drill at a second of its song."""
    back = drill.timeline.seconds_of(drill.timeline.beat(song_s) - SHOWN_BACK_BEATS)
    return drill.recent(min(song_s - SHOWN_BACK_S, back))


def _least_uncertainty_s(stage: Stage) -> float:
    """Return what is known of the next tap's uncertainty before the first has come."""
    return 0.0 if stage.hearing.midi.open_name or stage.simulated else SCAN_S


def _review(stage: Stage, played: Played, window: Window) -> ReviewView:
    return ReviewView(
        window=window,
        pattern=played.run.pattern,
        bpm=played.bpm,
        passes=played.passes,
        slots=played.slots,
        take=played.summary,
        pocket=played.drill.settings.pocket,
        advice=played.advice,
        standing=_standing(played),
        besides=_besides(played),
        can_adopt_delay=played.can_be_delay,
        can_adopt_swing=played.adoptable_swing is not None,
        undo=stage.chosen.undoing.last.words if stage.chosen.undoing.last is not None else "",
        pads_help=pads_help(stage),
        first_row=stage.first_row,
        not_graded=played.not_graded,
        input_name="simulated hands" if played.run.hands is not None else stage.hearing.in_use,
        uncertainty_s=played.uncertainty_s,
        simulated=played.run.hands is not None,
    )


def _besides(played: Played) -> tuple[str, ...]:
    """Say what chord changes cost, and how time was kept in the silence."""
    found = []
    changes = played.changes
    if changes is not None and changes.difference is not None:
        size_ms, half_ms = changes.difference.size * 1000, changes.difference.half_interval * 1000
        way = "later" if size_ms >= 0 else "earlier"
        words = f"After a change {abs(size_ms):.0f} ms {way} than inside a chord (±{half_ms:.0f})."
        worst = changes.worst
        if worst is not None and worst.difference is not None and size_ms > 0:
            worst_ms, sure_ms = worst.difference.size * 1000, worst.difference.half_interval * 1000
            words += f" Most: {worst.place.words}, {worst_ms:.0f} ms (±{sure_ms:.0f})."
        found.append(words)
    return (*found, played.in_silence) if played.in_silence else tuple(found)


def _standing(played: Played) -> str:
    """Say where the player sits, how steadily, whether that moves, and how much the up slots swing."""
    placed = played.summary.placement
    if placed.mean_s is None or placed.spread_s is None:
        return ""
    mean_ms = round(placed.mean_s * 1000)
    where = f"{abs(mean_ms)} ms {'late' if mean_ms > 0 else 'early'}" if mean_ms else "on the click"
    words = [f"On average {where}", f"spread {placed.spread_s * 1000:.0f} ms"]
    drift = played.drift
    if drift is not None and drift.probability < SURE and abs(drift.moved_s) >= LEAST_DRIFT_S:
        way = "later" if drift.moved_s > 0 else "earlier"
        words.append(f"drifting {way} by {abs(drift.moved_s) * 1000:.0f} ms")
    elif drift is not None:
        words.append("no drift")
    if (
        played.swing is not None
        and abs(played.swing.ratio - 1) >= LEAST_SWING
        and not played.swing.is_straight
    ):
        words.append(f"swing {played.swing.ratio:.2f}")
    if isinstance(played.levels, TwoLevels):
        clock, motor = played.levels.clock_sd_s * 1000, played.levels.motor_sd_s * 1000
        words.append(f"without the click: inner clock {clock:.0f} ms, hand {motor:.0f} ms")
    elif played.levels is not None:
        words.append("without the click: clock and hand cannot be told apart here")
    return ", ".join(words) + "."


def _settings(stage: Stage, window: Window) -> SettingsView:
    chosen, settings = stage.chosen, stage.chosen.settings
    store = stage.recorder.store if stage.recorder is not None else None
    items = stage.hearing.inputs()
    names = [name for name, _ in items]
    return SettingsView(
        window=window,
        settings=settings,
        focus=stage.focus,
        inputs=tuple(InputItem(name=name, present=present) for name, present in items),
        input_in_use=names.index(stage.hearing.in_use) if stage.hearing.in_use in names else 0,
        midi_note=stage.hearing.midi.note,
        waiting_key=stage.hearing.waiting_key,
        teach_prompt=stage.hearing.teaching.prompt if stage.hearing.teaching is not None else "",
        pads=chosen.pads.in_words() if settings.input_name else "",
        subdivide_helps=chosen.subdivision_helps(),
        records_place=str(store.path) if store is not None else "",
        undo=chosen.undoing.last.words if chosen.undoing.last is not None else "",
        can_unteach=stage.hearing.teaching is not None and stage.hearing.teaching.before is not None,
        delay_ms=chosen.delay_ms,
        sound=stage.sound_words,
    )
