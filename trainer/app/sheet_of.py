"""Show a drill at a moment of its song: what can be seen of it, and no more."""

from __future__ import annotations

from trainer.music.excerpt import bar_numbers
from trainer.practice.drill import Drill, DrillMoment, Recent
from trainer.screen.scenes.drill import DrillView
from trainer.screen.window import Window

# More than the widest sheet shows of the past.
SHOWN_BACK_S = 6.0
SHOWN_BACK_BEATS = 32.0


def sheet_of(drill: Drill, moment: DrillMoment, song_s: float, window: Window) -> DrillView:
    """Return the sheet of a drill at a second of its song.

    A picture costs as much late in a long drill as at its begin.
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
        knows_left=drill.settings.knows_left,
        bar_numbers=bar_numbers(drill.settings.pattern),
    )


def recent_of(drill: Drill, song_s: float) -> Recent:
    """Return what the widest sheet shows of a drill at a second of its song."""
    back = drill.timeline.seconds_of(drill.timeline.beat(song_s) - SHOWN_BACK_BEATS)
    return drill.recent(min(song_s - SHOWN_BACK_S, back))
