"""Lead through the first minute: the keys light up, the hand plays one bar, and the player taps it once.

Nothing is asked and nothing judged. It can be left at any moment, and never comes back by itself.
"""

from __future__ import annotations

from fractions import Fraction

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.notes import CAUTIONS
from trainer.app.tap_sound import play
from trainer.devices.midi import VIRTUAL_NAME
from trainer.judging.take import Tap
from trainer.music.excerpt import excerpt
from trainer.music.layout import lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.first_bar import FirstBarView, Stage
from trainer.screen.window import Window

FIRST = "basic-figure"  # nail and thumb in one short bar
WATCHED, TAPPED = 2, 2  # passes
BEFORE = Fraction(1, 4)  # of a beat: a tap so long before the bar belongs to it


class FirstStartController(Controller):
    """The first bar."""

    is_tapped_in = True

    def __init__(self, context: Context) -> None:
        self._context = context
        context.notes.leave_cautions()  # they are shown here instead
        patterns = context.preferences.library.patterns
        chosen = next((p for p in patterns if p.name == FIRST), patterns[0])
        self._pattern = excerpt(chosen, 0, 0)
        self._stage = Stage.READY
        self._tapped: list[tuple[Hand | None, float]] = []
        self._drill = self._new_drill()

    @property
    def in_time(self) -> bool:
        """Whether the hand moves."""
        return self._stage not in (Stage.READY, Stage.DONE)

    @property
    def pattern(self) -> Pattern:
        """The bar."""
        return self._pattern

    def view(self, window: Window) -> FirstBarView:
        """Return the bar as it stands."""
        moving = self.in_time
        moment = self._drill.advance(self._context.playback.song_s) if moving else None
        beat = float(moment.beat) % self._pattern.beats if moment is not None and moment.beat >= 0 else None
        return FirstBarView(
            window=window,
            stage=self._stage,
            pattern=self._pattern,
            bpm=float(self._pattern.slow_bpm),
            beat=beat,
            count=moment.count if moment is not None else 0,
            tapped=tuple(self._tapped),
            other_input=self._other_input,
            remarks=CAUTIONS,
        )

    @property
    def _other_input(self) -> str:
        """A pad that is there and not in use; a port for other programs is nothing to tap on."""
        inputs = self._context.inputs
        if self.in_time or not inputs.uses_keys:
            return ""
        return next((n for n in inputs.midi.ports() if n != VIRTUAL_NAME), "")

    def act(self, action: Action, host_ns: int) -> bool:
        """Begin, begin again, or go on to the library."""
        if action.act is Act.START and self._stage is Stage.DONE:
            self._context.navigation.back()
        elif action.act in (Act.START, Act.AGAIN):
            self._begin(host_ns)
        elif action.act is Act.CHANGE:
            self._context.change(action.setting, action.value)
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take in a tap: it sounds, and while it is the player's turn it leaves a dot."""
        if event.touch is None:
            return False
        song_s = self._context.tapped_s(event.host_ns)
        if self.in_time and song_s is not None:
            tap = Tap(
                song_s=song_s,
                hand=event.touch.hand,
                string=event.touch.string,
                velocity=event.velocity,
                uncertainty_s=event.uncertainty_s,
            )
            self._sound(tap)
            self._mark(tap)
        return True

    def tick(self) -> None:
        """Let the hand play its passes, and then the player."""
        if not self.in_time:
            return
        context = self._context
        playback = context.playback
        if playback.is_lost:
            self._stage = Stage.READY
            context.say(playback.sentence("Enter begins anew"))
            return
        for tap in playback.due():
            self._sound(tap)
            context.touched.touch(tap.hand, context.now_ns)  # the keys show whose stroke it is
        moment = self._drill.advance(playback.song_s)
        if moment.beat < 0:
            self._stage = Stage.COUNT
        elif moment.beat < self._first_own_beat:
            self._stage = Stage.WATCH
        elif moment.beat < self._first_own_beat + TAPPED * self._pattern.beats:
            self._stage = Stage.TAP
        else:
            self._stage = Stage.DONE
            playback.stop()

    def covered(self) -> None:
        """Fall silent, and stand ready when what was laid over it is gone."""
        self._context.playback.stop()
        if self.in_time:
            self._stage = Stage.READY

    def leave(self) -> None:
        """Never come back by itself, however far one has come."""
        self._context.playback.stop()
        self._context.keep(lambda: self._context.preferences.change(cautions_seen=True))

    @property
    def _first_own_beat(self) -> int:
        return WATCHED * self._pattern.beats

    def _new_drill(self) -> Drill:
        passes = WATCHED + TAPPED
        return Drill(DrillSettings(pattern=self._pattern, bpm=self._pattern.slow_bpm, passes=passes))

    def _begin(self, host_ns: int) -> None:
        context = self._context
        self._tapped.clear()
        self._drill = self._new_drill()
        self._stage = Stage.COUNT
        shown = lay_out(self._pattern, self._drill.timeline, passes=WATCHED)
        due = [
            Tap(song_s=t.song_s, hand=t.stroke.hand, string=t.stroke.strings[0])
            for t in shown
            if t.stroke.hand in (Hand.NAIL, Hand.THUMB)
        ]
        context.playback.start(
            host_ns,
            self._pattern,
            self._drill.timeline,
            passes=WATCHED + TAPPED,
            settings=context.sound_settings(),
            due=due,
        )

    def _sound(self, tap: Tap) -> None:
        play(self._drill, tap, self._context.preferences.volume_db, self._context.playback.speaker)

    def _mark(self, tap: Tap) -> None:
        """Leave a dot where a tap came, in the bar that it is nearest to."""
        beat = self._drill.timeline.beat(tap.song_s)
        if beat < self._first_own_beat - BEFORE:
            return
        beats = self._pattern.beats
        within = (beat + float(BEFORE)) % beats - float(BEFORE)
        self._tapped.append((tap.hand, within))


def open_first_start(context: Context) -> None:
    """Lead through the first minute; where there is no figure to show, only the cautions are said."""
    if context.preferences.library.patterns:
        context.navigation.open(lambda: FirstStartController(context))
