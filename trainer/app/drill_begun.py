"""Make what a drill begins with: request, drill, ladder, hearing, and the first lines that are kept."""

from __future__ import annotations

from trainer.app.climbing import Climb
from trainer.app.context import Context
from trainer.app.drill_request import DrillRequest
from trainer.app.heard_playing import LATENESS_S as HEARD_LATENESS_S
from trainer.app.heard_playing import HeardPlaying
from trainer.errors import TrainerError
from trainer.hearing.room import read_room
from trainer.judging.live import LATENESS_S
from trainer.judging.take import Verdict
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.ladder import LadderKind
from trainer.practice.reading_so_far import figures_beside

LEAST_UNHEARD = 8  # strokes; shorter passes go by while one still looks for the keys


def chosen_request(context: Context) -> DrillRequest | None:
    """Return what a drill of the chosen pattern would be; None on an empty shelf."""
    preferences = context.preferences
    if preferences.pattern is None:
        return None
    passes = 0 if preferences.climbs else preferences.settings.passes
    return DrillRequest(pattern=preferences.pattern, bpm=preferences.bpm, passes=passes)


def listens(context: Context, request: DrillRequest) -> bool:
    """Return whether the drill hears a banjo, and not pads, keys or simulated hands."""
    return context.inputs.hears_banjo and request.hands is None


def microphone_is_open(context: Context, request: DrillRequest) -> bool:
    """Open the microphone where a banjo is to be heard; return whether the drill can begin."""
    if listens(context, request):
        try:
            context.inputs.microphone.listen()
        except TrainerError as problem:
            context.say(str(problem))
            return False
    return True


def drill_of(context: Context, request: DrillRequest) -> Drill:
    """Return the drill that a request asks for, as the player's settings and input have it."""
    preferences, inputs = context.preferences, context.inputs
    taps = request.hands is None
    return Drill(
        DrillSettings(
            pattern=request.pattern,
            bpm=request.bpm,
            passes=request.passes,
            feel=preferences.feel,
            pocket=preferences.pocket,
            knows_left=inputs.hears_left and taps,
            marks_skips=preferences.settings.mark_skips and inputs.hears_side and taps,
            lateness_s=HEARD_LATENESS_S if listens(context, request) else LATENESS_S,
            others=figures_beside(request.pattern, preferences.library.patterns),
        )
    )


def climb_of(context: Context, request: DrillRequest) -> Climb | None:
    """Return the way up the ladder; None without one."""
    climbs = context.preferences.climbs and request.hands is None and not request.passes
    kind = LadderKind.named(context.preferences.settings.ladder) if climbs else LadderKind.OFF
    return None if kind is LadderKind.OFF else Climb(kind, request.pattern, request.bpm)


def hearing_of(context: Context, request: DrillRequest, drill: Drill, *, has_track: bool) -> HeardPlaying:
    """Begin to hear the banjo."""
    settings = context.preferences.settings
    playing = HeardPlaying(
        context.inputs.microphone.banjo,
        context.playback,
        drill,
        room=read_room(settings.rooms.get(settings.input_name, "")),
        plays_along=has_track or (settings.band and request.pattern.chart is not None),
        delay_ms=context.preferences.delay_ms,
    )
    context.inputs.microphone.listener = playing
    return playing


def write_down(context: Context, request: DrillRequest, drill: Drill) -> None:
    """Begin to write the drill down, so that it outlives even the program."""
    if context.recorder is None:
        return
    player = request.player if request.player is not None else context.preferences.settings.player
    note = context.recorder.begins(
        request,
        drill,
        player=player,
        input_name=context.inputs.in_use,
        sound=context.playback.speaker.name,
        delay_ms=context.preferences.delay_ms,
    )
    if note:
        context.say(note)


class Untapped:
    """Sees when a pass, and enough strokes to have found the keys in, have gone by without a tap."""

    def __init__(self, drill: Drill) -> None:
        self._drill = drill
        self._passes = 0  # that were looked through
        self._taps = 0
        self._strokes = 0

    def is_so(self, taps: int) -> bool:
        """Return whether it is so by now; ``taps`` is how many there were."""
        done = self._drill.pass_outcomes(self._passes)
        if not done:
            return False
        self._passes += 1
        missed = sum(1 for outcome in done if outcome.verdict is Verdict.MISSED)
        self._strokes = self._strokes + missed if taps == self._taps else 0
        self._taps = taps
        # Who has played already may well rest for a pass.
        return self._strokes >= (LEAST_UNHEARD if not taps else 2 * LEAST_UNHEARD)
