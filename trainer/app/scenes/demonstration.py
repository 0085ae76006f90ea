"""Demonstrate a pattern to a class: hands that play it clean and with a fault, in turn, on the big sheet.

The teacher can stop on a stroke and step from stroke to stroke, change the tempo, choose the fault, hide what
should not be looked at yet, and take over on a pad at any moment: from the first tap on the hands are silent.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.preferences import TEMPO_ACTS, tempo_after
from trainer.app.sheet_of import sheet_of
from trainer.app.tap_sound import play
from trainer.judging.take import Outcome, Tap
from trainer.music.layout import Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.practice.drill import Drill, DrillMoment, DrillSettings
from trainer.practice.input_event import InputEvent
from trainer.practice.showing import (
    Showing,
    beginning_at,
    is_faulty_stretch,
    showings_for,
    stretch_passes,
    stretch_taps,
)
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.demonstration import DemonstrationView
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.window import Window
from trainer.sound.left_hand import notes_before
from trainer.sound.pluck import stroke_samples

AHEAD_S = 3.0  # stretches are played into the queue this long before they begin
SLOW_SHARE = Fraction(3, 4)  # of the tempo that a learner begins with
SLOWEST = Fraction(30)  # slower, and the ear no longer joins the beats: Repp 2006, about 1800 ms


class DemonstrationController(Controller):
    """A demonstration of one pattern, from the count-in on until the teacher leaves."""

    def __init__(self, context: Context, pattern: Pattern, host_ns: int) -> None:
        self._context = context
        self._pattern = pattern
        self._bpm = max(Fraction(round(pattern.slow_bpm * SLOW_SHARE)), SLOWEST)
        self._showing = Showing.CLEAN
        self._layers = frozenset(SheetLayer)
        self._stopped: Target | None = None
        self._stop_coming = False
        self._taken_over = False
        self._song_s = 0.0
        self._moment: DrillMoment
        self._begin(host_ns, bar=0)

    @property
    def in_time(self) -> bool:
        """Whether the sheet moves."""
        return self._stopped is None

    @property
    def pattern(self) -> Pattern:
        """What is demonstrated."""
        return self._pattern

    def view(self, window: Window) -> DemonstrationView:
        """Return the sheet, and what is being shown on it."""
        moment, stopped = self._moment, self._stopped
        sheet = sheet_of(self._drill, moment, self._song_s, window)
        return DemonstrationView(
            window=window,
            drill=replace(
                sheet,
                count=moment.count if stopped is None else 0,
                sound=self._context.sound_words,
                simulated=not self._taken_over,
                knows_left=True,
                layers=self._layers,
            ),
            showing=self._showing,
            showings=showings_for(self._pattern),
            is_faulty=is_faulty_stretch(self._showing, self._stretch_at(moment.pass_index)),
            taken_over=self._taken_over,
            stopped_on=stopped,
            compared=self._compared,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what the teacher asks for."""
        act, value = action.act, action.value
        if act is Act.SHOW:
            self._show(value, host_ns)
        elif act is Act.STOP:
            self._stop_or_go(host_ns)
        elif act is Act.STEP:
            if self._stopped is None:
                self._show_next(value, host_ns)
            else:
                self._step(value)
        elif act in TEMPO_ACTS:
            self._bpm = tempo_after(value, self._bpm, act)
            self._begin_here(host_ns)
        elif act is Act.LAYER:
            self._layers ^= {list(SheetLayer)[value]}
        elif act is Act.AGAIN:
            self._begin(host_ns, bar=0)
        else:
            return False
        return True

    def tick(self) -> None:
        """Let the hands play what is due, and stop where the teacher wants to."""
        if self._stopped is not None:
            return
        playback = self._context.playback
        if playback.is_lost:
            self._context.say(playback.sentence("Space begins anew"))
            self._stop_on(self._target_after(self._song_s))
            return
        coming = self._target_after(self._song_s)
        self._song_s = playback.song_s
        self._fill(self._song_s)
        if self._stop_coming and self._song_s >= coming.song_s:
            self._stop_on(coming)
            return
        for tap in playback.due():
            self._sound(tap)
        self._advance(self._song_s)

    def heard(self, event: InputEvent) -> bool:
        """Take over: from the first tap on the hands are silent."""
        if event.touch is None:
            return False
        song_s = self._context.tapped_s(event.host_ns)
        if self._stopped is None and song_s is not None:
            self._taken_over = True
            self._context.playback.forget_due()
            self._sound(event.tap(song_s))
        return True

    def covered(self) -> None:
        """Stop on the stroke that comes next, and wait there under the other scene."""
        if self._stopped is None:
            self._stop_on(self._target_after(self._song_s))

    def leave(self) -> None:
        """Fall silent."""
        self._context.playback.stop()

    # Beginning and going on

    def _begin(self, host_ns: int, *, bar: int) -> None:
        """Begin from a bar of the pattern, with a count-in."""
        preferences = self._context.preferences
        pattern = beginning_at(self._pattern, bar)
        self._first_bar = bar
        self._stopped, self._stop_coming, self._taken_over = None, False, False
        self._drill = Drill(
            DrillSettings(
                pattern=pattern, bpm=self._bpm, passes=0, feel=preferences.feel, pocket=preferences.pocket
            )
        )
        self._stretches = 0  # how many are in the queue or played
        self._compared: dict[bool, tuple[Outcome, ...]] = {}
        self._context.playback.start(
            host_ns,
            pattern,
            self._drill.timeline,
            passes=0,
            settings=replace(self._context.sound_settings(), left_hand=True),
            feel=preferences.feel,
        )
        self._song_s = self._drill.start_s
        self._moment = self._drill.advance(self._song_s)
        self._fill(self._song_s)

    def _begin_here(self, host_ns: int) -> None:
        """Begin from the bar that is up."""
        bar = self._target_after(self._song_s).bar if self._song_s > 0 else 0
        self._begin(host_ns, bar=(self._first_bar + bar) % len(self._pattern.bars))

    def _show(self, at: int, host_ns: int) -> None:
        self._showing = showings_for(self._pattern)[at]
        self._begin(host_ns, bar=0)

    def _show_next(self, steps: int, host_ns: int) -> None:
        shown = showings_for(self._pattern)
        self._show((shown.index(self._showing) + steps) % len(shown), host_ns)

    def _stretch_at(self, pass_index: int) -> int:
        return pass_index // stretch_passes(self._pattern)

    def _fill(self, song_s: float) -> None:
        """Have the hands play the stretches that begin soon."""
        if self._taken_over:
            return
        drill, passes = self._drill, stretch_passes(self._pattern)
        while True:
            first = self._stretches * passes
            begin_s = drill.timeline.seconds(Fraction(first * drill.settings.pattern.beats))
            if begin_s > song_s + AHEAD_S:
                return
            targets = lay_out(
                drill.settings.pattern,
                drill.timeline,
                passes=passes,
                first_pass=first,
                feel=drill.settings.feel,
            )
            faulty = is_faulty_stretch(self._showing, self._stretches)
            showing = self._showing if faulty else Showing.CLEAN
            self._context.playback.add_due(stretch_taps(targets, showing, drill.settings.pattern))
            self._stretches += 1

    def _advance(self, song_s: float) -> None:
        self._moment = self._drill.advance(song_s)
        self._compare()

    def _compare(self) -> None:
        """Keep the last whole pass without the fault, and the last with it, to be seen side by side."""
        for done in (self._moment.pass_index - 1, self._moment.pass_index - 2):
            found = self._drill.pass_outcomes(done) if done >= 0 else ()
            if found:
                faulty = is_faulty_stretch(self._showing, self._stretch_at(done))
                self._compared[faulty] = found
                return

    # Stopping and stepping

    def _stop_or_go(self, host_ns: int) -> None:
        if self._stopped is not None:
            self._begin_here(host_ns)
        else:
            self._stop_coming = True

    def _stop_on(self, target: Target) -> None:
        self._context.playback.stop()
        self._stop_coming = False
        self._hold(target)

    def _step(self, steps: int) -> None:
        """Go to the stroke before or after the one stopped on."""
        assert self._stopped is not None
        shown = [t for t in self._drill.targets if t.stroke.kind is not Kind.REST]
        at = bisect_right([t.index for t in shown], self._stopped.index) - 1 + steps
        self._fill(self._stopped.song_s + AHEAD_S)
        if 0 <= at < len(shown):
            self._hold(shown[at])

    def _hold(self, target: Target) -> None:
        """Show the sheet as it stands when a stroke is due, with what the hands have played of it."""
        self._stopped = target
        for tap in self._context.playback.due(target.song_s + 0.5 * target.slot_s):
            self._sound(tap)
        if target.stroke.hand is Hand.LEFT:
            # While the sheet moves, the stream plays it.
            speaker, gain_db = self._context.playback.speaker, self._context.preferences.volume_db
            tuning = self._pattern.tuning
            before = notes_before(self._pattern, tuning)[target.bar][target.slot]
            speaker.sound_tap(stroke_samples(target.stroke, gain_db, speaker.rate, tuning, before))
        if target.song_s > self._song_s:
            self._advance(target.song_s)
        self._song_s = target.song_s

    def _target_after(self, song_s: float) -> Target:
        """Return the next stroke that asks for something, a skip included."""
        coming = self._drill.recent(song_s).targets
        return next(t for t in coming if t.song_s > song_s + 1e-6 and t.stroke.kind is not Kind.REST)

    # Sounds

    def _sound(self, tap: Tap) -> None:
        self._drill.tap(tap)
        play(self._drill, tap, self._context.preferences.volume_db, self._context.playback.speaker)


def open_demonstration(context: Context, host_ns: int) -> None:
    """Demonstrate what is up: the pattern being drilled or reviewed, else the chosen one."""
    pattern = context.navigation.top.pattern or context.preferences.pattern
    if pattern is None:
        context.say("There is no pattern to show; thumbfall patterns says why.")
        return
    if isinstance(context.navigation.top, DemonstrationController):
        context.navigation.replace(lambda: DemonstrationController(context, pattern, host_ns))
    else:
        context.navigation.open(lambda: DemonstrationController(context, pattern, host_ns))
