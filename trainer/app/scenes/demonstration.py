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
    HandLine,
    Showing,
    hand_line,
    is_faulty_stretch,
    showings_for,
    shown_outcomes,
    stretch_passes,
    stretch_taps,
)
from trainer.practice.showing_part import part_for
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.demonstration import DemonstrationView, Played
from trainer.screen.scenes.layers import SheetLayer
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window
from trainer.sound.left_hand import notes_before
from trainer.sound.pluck import stroke_samples

KEPT_LINES = 4  # stretches of which it is known how the hand moved
AHEAD_S = 3.0  # stretches are played into the queue this long before they begin
SLOW_SHARE = Fraction(3, 4)  # of the tempo that a learner begins with
SLOWEST = Fraction(30)  # slower, and the ear no longer joins the beats: Repp 2006, about 1800 ms


class DemonstrationController(Controller):
    """A demonstration of one pattern, from the count-in on until the teacher leaves."""

    def __init__(self, context: Context, pattern: Pattern, host_ns: int) -> None:
        self._context = context
        self._whole = pattern
        self._showings = showings_for(pattern)
        self._bpm = max(Fraction(round(pattern.slow_bpm * SLOW_SHARE)), SLOWEST)
        self._showing = Showing.CLEAN
        self._layers = frozenset(SheetLayer)
        self._theme: ThemeName | None = None  # of this demonstration alone
        self._stopped: Target | None = None
        self._stop_coming = False
        self._taken_s: float | None = None  # second of the tap with which the teacher took over
        self._song_s = 0.0
        self._moment: DrillMoment
        self._begin(host_ns)

    @property
    def in_time(self) -> bool:
        """Whether the sheet moves."""
        return self._stopped is None

    @property
    def pattern(self) -> Pattern:
        """What is demonstrated."""
        return self._whole

    def view(self, window: Window) -> DemonstrationView:
        """Return the sheet, and what is being shown on it."""
        moment, stopped = self._moment, self._stopped
        window = window if self._theme is None else replace(window, theme=self._theme)
        sheet = sheet_of(self._drill, moment, self._song_s, window)
        hand = self._hand_line(self._song_s).at(self._song_s)
        return DemonstrationView(
            window=window,
            drill=replace(
                sheet,
                count=moment.count if stopped is None else 0,
                sound=self._context.sound_words,
                simulated=self._taken_s is None,
                knows_left=True,
                layers=self._layers,
                bar_numbers=self._part.numbers,
                hand_beat=self._drill.timeline.beat(hand.path_s),
                hand_low=hand.low,
            ),
            title=self._whole.title,
            showing=self._showing,
            showings=self._showings,
            playing=self._playing,
            stopped_on=stopped,
            compared=self._compared,
            yours=self._yours() if self._taken_s is not None else (),
        )

    @property
    def _playing(self) -> Played:
        """Who plays what just now."""
        if self._taken_s is not None:
            return Played.YOURS
        return Played.FAULT if self._is_faulty(self._stretch_at(self._moment.pass_index)) else Played.CLEAN

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
            self._begin(host_ns)
        elif act is Act.THEME:
            self._turn_light()
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
            self._taken_s = song_s if self._taken_s is None else self._taken_s
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

    def _begin(
        self, host_ns: int, *, bar: int = 0, is_clean_first: bool = False, is_turn: bool = False
    ) -> None:
        """Begin from a bar of the part that is shown, with a count-in.

        Args:
            is_clean_first: whether a clean stretch comes first, and not the fault.
            is_turn: whether the teacher plays on.
        """
        preferences = self._context.preferences
        self._part = part_for(self._whole, self._showing).beginning_at(bar)
        pattern = self._part.pattern
        self._first_bar = bar
        self._is_clean_first = is_clean_first
        self._stopped, self._stop_coming = None, False
        self._drill = Drill(
            DrillSettings(
                pattern=pattern, bpm=self._bpm, passes=0, feel=preferences.feel, pocket=preferences.pocket
            )
        )
        self._taken_s = self._drill.start_s if is_turn else None
        self._stretches = 0  # how many are in the queue or played
        self._lines: list[HandLine] = []
        shown = dict.fromkeys((Showing.CLEAN, self._showing))
        self._compared = {
            showing: shown_outcomes(pattern, showing, self._bpm, preferences.feel) for showing in shown
        }
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
        """Begin from the bar that is up, in what is played there."""
        if self._song_s > 0:
            here = self._stopped or self._target_after(self._song_s)
            bar, pass_index = here.bar, here.pass_index
        else:
            bar, pass_index = 0, 0
        self._begin(
            host_ns,
            bar=(self._first_bar + bar) % len(self._part.numbers),
            is_clean_first=not self._is_faulty(self._stretch_at(pass_index)),
            is_turn=self._taken_s is not None,
        )

    def _show(self, at: int, host_ns: int) -> None:
        self._showing = self._showings[at]
        self._begin(host_ns)

    def _show_next(self, steps: int, host_ns: int) -> None:
        shown = self._showings
        self._show((shown.index(self._showing) + steps) % len(shown), host_ns)

    def _turn_light(self) -> None:
        """Turn this demonstration from dark to light or back; the program's own theme is in the settings."""
        themes = list(ThemeName)
        now = self._theme or ThemeName(self._context.preferences.settings.theme)
        self._theme = themes[(themes.index(now) + 1) % len(themes)]

    def _stretch_at(self, pass_index: int) -> int:
        return pass_index // stretch_passes(self._part.pattern)

    def _is_faulty(self, stretch: int) -> bool:
        return is_faulty_stretch(self._showing, stretch, is_clean_first=self._is_clean_first)

    def _fill(self, song_s: float) -> None:
        """Have the hands play the stretches that begin soon."""
        if self._taken_s is not None:
            return
        drill, passes = self._drill, stretch_passes(self._part.pattern)
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
            showing = self._showing if self._is_faulty(self._stretches) else Showing.CLEAN
            taps = stretch_taps(targets, showing, drill.settings.pattern)
            self._context.playback.add_due(taps)
            self._lines = [*self._lines[-KEPT_LINES:], hand_line(targets, taps, showing)]
            self._stretches += 1

    def _hand_line(self, song_s: float) -> HandLine:
        """Return how the hand moves just now; while the teacher plays it keeps to the path."""
        lines = self._lines if self._taken_s is None else []
        return next((line for line in lines if line.holds(song_s)), HandLine(hand_s=(), path_s=()))

    def _yours(self) -> tuple[Outcome, ...]:
        """Return what the teacher has played of the latest pass of which something is settled."""
        since_s = self._taken_s if self._taken_s is not None else 0.0
        outcomes = (*self._drill.outcomes, *self._moment.view.provisional)
        mine = [o for o in outcomes if o.target.song_s > since_s - o.target.slot_s / 2]
        if not mine:
            return ()
        whole = self._drill.pass_outcomes(mine[-1].target.pass_index)
        # Until the next pass has something to show, the last whole one stays.
        return tuple(o for o in mine if o.target.pass_index == mine[-1].target.pass_index) or whole

    def _advance(self, song_s: float) -> None:
        self._moment = self._drill.advance(song_s)

    # Stopping and stepping

    def _stop_or_go(self, host_ns: int) -> None:
        if self._stopped is not None:
            self._begin_here(host_ns)
        elif self._song_s < 0:
            # Nobody waits for the rest of a count-in.
            self._stop_on(self._target_after(self._song_s))
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
            tuning = self._whole.tuning
            before = notes_before(self._part.pattern, tuning)[target.bar][target.slot]
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
    """Demonstrate what is up: the pattern being drilled or reviewed, the bars marked, else the chosen one."""
    pattern = context.navigation.top.pattern or context.preferences.pattern
    if pattern is None:
        context.say("There is no pattern to show; thumbfall patterns says why.")
        return
    if isinstance(context.navigation.top, DemonstrationController):
        context.navigation.replace(lambda: DemonstrationController(context, pattern, host_ns))
    else:
        context.navigation.open(lambda: DemonstrationController(context, pattern, host_ns))
