"""Hold what scenes may use: a few things, each with a job of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.app.drill_request import DrillRequest
from trainer.app.inputs import Inputs
from trainer.app.midi_sync import MidiSync
from trainer.app.navigation import Navigation
from trainer.app.notes import Notes
from trainer.app.own_track import OwnTrack
from trainer.app.playback import Playback
from trainer.app.practising import Practising
from trainer.app.preferences import Preferences, tempo_after
from trainer.app.recording import Recorder
from trainer.app.touched import Touched
from trainer.app.undoing import Change
from trainer.errors import TrainerError
from trainer.music.pattern import Pattern
from trainer.practice.settings import TABLE, Follows
from trainer.records.store import Store
from trainer.screen.actions import Action
from trainer.screen.window import TapKey
from trainer.sound.backing import Backing
from trainer.sound.clicks import ClickVoice
from trainer.sound.plan import SoundSettings

if TYPE_CHECKING:
    from trainer.app.drill_result import DrillResult


@dataclass(slots=True, kw_only=True, eq=False)
class Context:
    """What every scene is given.

    Attributes:
        preferences: what the player has chosen, and the library it is chosen from.
        notes: what is said; ``navigation`` which scenes are up.
        inputs: what is tapped on; ``playback`` what is heard.
        practising: the course and the session of the player.
        own_track: the track that drills are played to.
        recorder: keeps takes; None when none are kept.
        midi_sync: sends MIDI along; None when nothing can be sent.
        now_ns: the host time of the last tick.
        result: what the last drill came to; None before the first.
        touched: which hands' keys or pads were touched a moment ago.
        is_ended: whether the player has said that the program may end.
    """

    preferences: Preferences
    notes: Notes
    navigation: Navigation
    inputs: Inputs
    playback: Playback
    practising: Practising
    own_track: OwnTrack
    recorder: Recorder | None = None
    midi_sync: MidiSync | None = None
    now_ns: int = 0
    result: DrillResult | None = None
    touched: Touched = field(default_factory=Touched)
    is_ended: bool = False

    @property
    def store(self) -> Store | None:
        """The records; None when none are kept."""
        return self.recorder.store if self.recorder is not None else None

    @property
    def sound_words(self) -> str:
        """What can be heard, in a few words."""
        return self.playback.speaker.name if self.preferences.settings.click else "click off"

    @property
    def taps(self) -> tuple[TapKey, ...]:
        """What is tapped on, with what was touched a moment ago lit."""
        return tuple(
            TapKey(label=label, words=words, lit=self.touched.is_lit(hand, self.now_ns))
            for label, words, hand in self.inputs.tapped_on
        )

    def sound_settings(self) -> SoundSettings:
        """Return what a stream should sound like; the program plays what the input cannot hear."""
        sound = self.preferences.sound_settings(hears_left=self.inputs.hears_left)
        # A tone can be told from a banjo that is played beside it, wood cannot.
        voice = ClickVoice.TONE if self.inputs.hears_banjo else sound.click_voice
        return replace(sound, backing_db=self.own_track.volume_db, click_voice=voice)

    def tapped_s(self, host_ns: int) -> float | None:
        """Return the second that a tap of a host time is meant for: the one heard then, less the delay.

        None while nothing plays.
        """
        heard_s = self.playback.heard_s(host_ns)
        return None if heard_s is None else heard_s - self.preferences.delay_ms / 1000

    def say(self, *lines: str) -> None:
        """Show a note over whatever is up, until it is dismissed."""
        self.notes.say(*lines)

    def keep(self, change: Callable[[], object]) -> None:
        """Make a change of the preferences; a failure to keep it is shown, not raised."""
        self.notes.keep(change)

    def change(self, setting: str, steps: int) -> None:
        """Change a setting by some steps, and let follow what hangs on it."""
        self.keep(lambda: self.preferences.step(setting, steps))
        self._follow((setting,))

    def exchange_pads(self) -> None:
        """Exchange nail and thumb of the input in use, for now and in the settings."""
        self.inputs.exchange()
        self.say("Nail and thumb are exchanged from now on.")

    def undo(self) -> Change | None:
        """Take the last change of the settings back; return it, or None when there is none."""
        change = self.preferences.undoing.last
        if change is not None:
            self.keep(self.preferences.undo)
            self._follow(change.names)
        return change

    def _follow(self, settings: tuple[str, ...]) -> None:
        for follows in {TABLE[name].follows for name in settings}:
            if follows is Follows.SOUND:
                self.playback.set_sound(self.sound_settings())
            elif follows is Follows.INPUT:
                self.inputs.follow()
            elif follows is Follows.MIDI_OUT and self.midi_sync is not None:
                self.midi_sync.follow()

    def with_track(self, request: DrillRequest) -> tuple[DrillRequest, Backing | None]:
        """Return a drill as the player's own track has it: with its tempo, and no longer than it."""
        track = self.own_track
        if not track.is_ready or track.played_bpm is None:
            return request, None
        try:
            backing = track.backing_for(request.pattern)
        except TrainerError as problem:
            self.say(str(problem))
            return request, None
        fit = backing.passes_that_fit(request.pattern.beats)
        return replace(request, bpm=track.played_bpm, passes=min(request.passes or fit, fit)), backing

    def change_tempo(self, pattern: Pattern | None, base: Fraction, action: Action) -> Fraction | None:
        """Remember a tempo some steps from ``base`` for a pattern, as one of ``TEMPO_ACTS`` asks; return it.

        None where none can be chosen: a drill to a track has the track's tempo.
        """
        if pattern is None:
            return None
        if self.own_track.is_ready:
            self.say("The tempo is that of your track: B slows it down, or puts it away.")
            return None
        bpm = tempo_after(action.value, base, action.act)
        self.keep(lambda: self.preferences.remember_tempo(pattern, bpm))
        return bpm
