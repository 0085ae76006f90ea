"""Run a drill from count-in to result: taps to the judge, the tempo up the ladder, all written down."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_begun import (
    Untapped,
    chosen_request,
    drill_of,
    hearing_of,
    listens,
    microphone_is_open,
    write_down,
)
from trainer.app.drill_ended import kept
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult, result_of
from trainer.app.drill_tempo import DrillTempo
from trainer.app.hands_taps import hands_taps
from trainer.app.heard_playing import WAITED_S, HeardPlaying
from trainer.app.playback import LOST
from trainer.app.preferences import TEMPO_ACTS
from trainer.app.scenes.review import ReviewController
from trainer.app.sheet_of import sheet_of
from trainer.app.tap_sound import play
from trainer.judging.readings import ReadingKind
from trainer.judging.spared import Span
from trainer.judging.take import Judgement, Tap
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.practice.classroom import pupil_of
from trainer.practice.drill import Drill, DrillMoment, Phase
from trainer.practice.input_event import InputEvent
from trainer.practice.placed_by import PlacedBy
from trainer.practice.reading_so_far import ReadingSoFar
from trainer.practice.settings import SIGNS_SHOWN
from trainer.screen.actions import Act, Action
from trainer.screen.key_help import gestures_of
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.page_words import letters_for
from trainer.screen.window import Banner, BannerKind, Window
from trainer.sound.plan import LEAD_S
from trainer.sound.thinning import EVERY_BEAT

UNPLUGGED = "the input was unplugged"
MOST_SOUNDED = 8  # taps of one frame; a flood of them would be noise
HANDS_PASSES = 4  # simulated hands do not go on until stopped

Done = Callable[[DrillResult], None]
"""Takes the result when the drill is over and its scene gone."""


def begin_drill(
    context: Context, host_ns: int, request: DrillRequest | None = None, done: Done | None = None
) -> None:
    """Begin a drill over the scene that is up: a given one, or what is chosen in the library.

    Args:
        done: takes the result; without it the result is reviewed.
    """
    request = request or chosen_request(context)
    if request is None:
        context.say("There is no pattern to drill; thumbfall patterns says why.")
        return
    if microphone_is_open(context, request):
        context.navigation.open(lambda: DrillController(context, request, host_ns, done))


class DrillController(Controller):
    """A drill that runs.

    Attributes:
        request: what is drilled; its tempo follows the ladder and the arrows.
        drill: the drill itself; ``moment`` where it stands.
        tempo: what moves it, by hand or up the ladder.
        paused: what has been played when it was interrupted; None while it runs.
    """

    gestures = gestures_of("drill")

    def __init__(self, context: Context, request: DrillRequest, host_ns: int, done: Done | None) -> None:
        self._context = context
        self._done = done
        self._is_over = False
        self.paused: DrillResult | None = None
        self._paused_why = ""
        self._unplugs = 0
        self.request: DrillRequest
        self.drill: Drill
        self.moment: DrillMoment
        self.tempo: DrillTempo
        self._click_off: bool
        self._untapped: Untapped
        self._hearing: HeardPlaying | None
        self._reading: ReadingSoFar
        self._begin(request, host_ns)

    @property
    def in_time(self) -> bool:
        """Whether it has not ended."""
        return not self._is_over

    @property
    def is_tapped_in(self) -> bool:  # type: ignore[override]
        """Whether a player taps."""
        return not self.is_simulated

    @property
    def hears_pads(self) -> bool:  # type: ignore[override]
        """Whether pads steer: while it is paused they do."""
        return self.paused is not None

    @property
    def pattern(self) -> Pattern:
        """What is drilled."""
        return self.request.pattern

    @property
    def is_simulated(self) -> bool:
        """Whether simulated hands are playing."""
        return self.request.hands is not None

    @property
    def _letters(self) -> str:
        """The key that chords are named in by letters; empty where they have numbers alone."""
        letters = letters_for(self.pattern) if self._context.preferences.settings.chord_letters else None
        return letters.shapes if letters is not None else ""

    @property
    def _hears_exchanged(self) -> bool:
        """Whether nail and thumb are read as exchanged, so that a key exchanges them."""
        reading = self._reading.reading if self.paused is None and not self.is_simulated else None
        return reading is not None and reading.kind is ReadingKind.PADS_EXCHANGED

    def view(self, window: Window) -> DrillView:
        """Return the sheet as it stands."""
        context, simulated = self._context, self.is_simulated
        if self.paused is not None and window.banner is None:
            window = replace(window, banner=Banner(kind=BannerKind.PROBLEM, lines=(self._paused_why,)))
        least_s = 0.0 if simulated or context.inputs.midi.open_name else context.inputs.least_uncertainty_s
        in_use = context.inputs.in_use
        if context.inputs.microphone.banjo.is_open:
            in_use = f"{in_use}, open"
        return replace(
            sheet_of(self.drill, self.moment, self.drill.timeline.seconds_of(self.moment.beat), window),
            next_bpm=self.tempo.next_bpm,
            player=pupil_of(self.request.player or ""),
            input_name="simulated hands" if simulated else in_use,
            uncertainty_s=self._uncertainty_s or least_s,
            climb=self.tempo.climb.words if self.tempo.climb is not None else "",
            sound=context.sound_words,
            simulated=simulated,
            knows_left=simulated or self.drill.settings.knows_left,
            paused=self.paused is not None,
            reading="" if self.paused is not None else self._reading.sentence,
            exchanged=self._hears_exchanged,
            letters=self._letters,
            is_turn=self._done is not None,
            explains_signs=not simulated and context.preferences.settings.signs_seen < SIGNS_SHOWN,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Stop, begin anew, go on after a pause, or change the tempo."""
        if action.act in (Act.STOP, Act.BACK):
            self._stop()
        elif self.paused is not None:
            if action.act not in (Act.GO_ON, Act.AGAIN):
                return False
            self._go_on(host_ns)
        elif action.act is Act.TELL_KEYS:
            if not self.is_simulated:
                self._context.say(self._context.inputs.how_to_tap)
        elif action.act is Act.AGAIN:
            self._begin(self.request, host_ns)
        elif action.act in TEMPO_ACTS:
            if not self.is_simulated:
                self.request = self.tempo.by_hand(self.request, action, self._last_song_s())
        elif action.act is Act.EXCHANGE_PADS and self._hears_exchanged:
            self._context.exchange_pads()
            self._begin(self.request, host_ns)
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take in a tap."""
        if event.touch is None or self.is_simulated or self.paused is not None:
            return False
        if event.touch.hand is Hand.NONE and not self.drill.settings.marks_skips:
            return True  # nobody is asked to mark skips
        song_s = event.song_s
        if song_s is None:
            song_s = self._context.tapped_s(event.host_ns)
        if song_s is not None:
            self._uncertainty_s = event.uncertainty_s
            self._play(event.tap(song_s))
        return True

    def tick(self) -> None:
        """Go on with the song."""
        playback = self._context.playback
        if self.paused is not None:
            return
        if playback.is_lost:
            self._stop()
            return
        if not self.is_simulated and self._context.inputs.unplugs > self._unplugs:
            self.pause(f"{self._context.inputs.in_use} was unplugged")
            return
        if self._hearing is not None:
            if self._hearing.problem:
                self.pause(self._hearing.problem)
                return
            self._spare(self._hearing.fresh_spans())
        self._click_off = self._click_off and not self._context.preferences.clicks
        self._spare(playback.fresh_spans())
        for tap in playback.due():
            self._play(tap)
        self._sounded = 0
        self.moment = self.drill.advance(playback.song_s)
        self.request = self.tempo.up_the_ladder(self.request, self._last_song_s())
        if not self._context.inputs.is_behind:
            self._reading.tick()
        if self._untapped.is_so(self._messages) and not self.is_simulated and self._done is None:
            self._show(self._conclude(self.drill.stop(self._last_song_s())))
            return
        self.tempo.reached(self.moment)
        if self.moment.phase is Phase.DONE:
            self._show(self._conclude(self.drill.judgement()))

    def pause(self, why: str) -> None:
        """Fall silent, keep what was played so far as a take of its own, and wait to go on."""
        if self._is_over or self.paused is not None:
            return
        self._context.notes.dismiss(in_time=True)  # a drill has room for one line, and this comes first
        self._paused_why = f"Paused: {why}. Space goes on with a count-in, Esc stops."
        self.paused = self._conclude(self.drill.stop(self._last_song_s()))

    def hidden(self) -> None:
        """Pause: nobody sees the sheet."""
        self.pause("the window was minimised")

    def unfocused(self) -> None:
        """Pause where taps come from the keys, which go elsewhere now; pads are heard as before."""
        if not self.is_simulated and self._context.inputs.uses_keys:
            self.pause("your keys go to another window; click on this one")

    def covered(self) -> None:
        """Pause: what was being played waits under the other scene, and the microphone is closed."""
        self.pause("you have looked at something else")
        self._context.inputs.microphone.stop_listening()

    def leave(self) -> None:
        """Fall silent, and give the microphone back; what was played until the window is closed is kept."""
        if not self._is_over and self.paused is None:
            self._conclude(self.drill.stop(self._last_song_s()))
        microphone = self._context.inputs.microphone
        if self._is_over and self._done is None:  # the review comes, from which one may begin again at once
            microphone.rest()
        else:
            microphone.stop_listening()

    # Beginning

    def _begin(self, request: DrillRequest, host_ns: int) -> None:
        context, preferences = self._context, self._context.preferences
        if request.hands is not None and not request.passes:
            request = replace(request, passes=HANDS_PASSES)
        request, backing = context.with_track(request)
        self.request = request
        self.drill = drill_of(context, request)
        self.tempo = DrillTempo(context, request, self.drill)
        self._untapped = Untapped(self.drill)
        self._reading = ReadingSoFar(self.drill)
        self._messages = 0
        self._sounded = 0
        self._uncertainty_s = 0.0
        self._unplugs = context.inputs.unplugs
        self._click_off = not preferences.clicks  # only a take wholly without it tells clock from hand
        # Where a track plays no bar is silent.
        self._thinning = preferences.thinning if backing is None else EVERY_BEAT
        hears = listens(context, request)
        context.playback.start(
            host_ns,
            request.pattern,
            self.drill.timeline,
            passes=request.passes,
            settings=context.sound_settings(),
            feel=preferences.feel,
            backing=backing,
            lead_s=WAITED_S if hears and not context.inputs.microphone.banjo.has_sound else LEAD_S,
            due=hands_taps(request, self.drill) if request.hands is not None else (),
        )
        has_track = backing is not None
        self._hearing = hearing_of(context, request, self.drill, has_track=has_track) if hears else None
        if context.midi_sync is not None:
            context.midi_sync.begin(context.playback.speaker, host_ns)
        write_down(context, request, self.drill)
        context.practising.started(host_ns, request.pattern)
        self.moment = self.drill.advance(self.drill.start_s)

    # While it runs

    def _play(self, tap: Tap) -> None:
        context = self._context
        self._messages += 1
        self.drill.tap(tap)
        if context.recorder is not None:
            context.recorder.tap(tap)
        if context.midi_sync is not None:
            context.midi_sync.tap(self.drill, tap, context.now_ns)
        self._sounded += 1
        sounds = context.preferences.settings.tap_sound and self._hearing is None
        if sounds and self._sounded <= MOST_SOUNDED:
            play(self.drill, tap, context.preferences.volume_db, context.playback.speaker)

    def _spare(self, spans: Sequence[Span]) -> None:
        """Judge nothing where the sound has stalled."""
        for first_s, last_s in spans:
            self.drill.spare(first_s, last_s)
        if spans and self._context.recorder is not None:
            self._context.recorder.spared(self.drill.spans)

    def _last_song_s(self) -> float:
        return self.drill.timeline.seconds(Fraction(self.moment.beat))

    def _go_on(self, host_ns: int) -> None:
        """Begin a new take with what is left of this one, from its count-in."""
        context, request = self._context, self.request
        if not microphone_is_open(context, request):
            return
        wanted = context.preferences.settings.input_name
        context.notes.dismiss(in_time=True)
        if wanted and context.inputs.uses_keys and not self.is_simulated:
            context.say(f"{wanted} is still unplugged: until it is back, tap on the computer's keys.")
        self.paused = None
        if request.passes and self._done is None:  # a turn of a class is one whole: it begins anew
            request = replace(request, passes=max(1, request.passes - self.moment.pass_index))
        self._begin(request, host_ns)

    # The end

    def _stop(self) -> None:
        """End with what was played so far."""
        if self.paused is not None:
            self._show(self.paused)
        elif not self._is_over:
            self._show(self._conclude(self.drill.stop(self._last_song_s())))

    def _conclude(self, judgement: Judgement) -> DrillResult:
        """Fall silent, and keep what was played."""
        context, request = self._context, self.request
        remarks = context.playback.speaker.notes
        self._fall_silent()
        result = result_of(
            request,
            self.drill,
            judgement,
            bpm=self.moment.bpm,
            not_graded=self._why_not_graded(),
            remarks=remarks,
            placed_by=self._hearing.placed_by if self._hearing is not None else PlacedBy.TAPS,
            placed_words=self._hearing.placed_words if self._hearing is not None else "",
            messages=self._messages,
            click_off=self._click_off,
            thinning=self._thinning,
        )
        return kept(context, result, self.tempo.climb, has_tapped=self._messages > 0)

    def _show(self, result: DrillResult) -> None:
        """Leave for what became of it."""
        context = self._context
        self._is_over, self.paused = True, None
        context.result = result
        if self._done is None:
            # Also when nothing has been played: the way out has as many steps as ever.
            context.navigation.replace(lambda: ReviewController(context, result, again=begin_drill))
        else:
            context.navigation.drop(self)
            if context.playback.is_lost and not result.judgement.outcomes:
                context.say(context.playback.sentence("nothing had been played yet"))
            self._done(result)

    def _why_not_graded(self) -> str:
        context = self._context
        if not context.playback.is_lost and not self.is_simulated and context.inputs.unplugs > self._unplugs:
            return UNPLUGGED
        return LOST if context.playback.is_lost else ""

    def _fall_silent(self) -> None:
        self._context.playback.stop()
        if self._context.midi_sync is not None:
            self._context.midi_sync.stop()
