"""Join devices, records and scenes: what the window's loop, or a test in its place, drives.

No window library here: the loop hands in key names and the host time, and takes views out. So everything a
person can do can be tested without a display.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from trainer.app.banjo import Banjo
from trainer.app.context import Context
from trainer.app.gestures import PadGestures
from trainer.app.inputs import Inputs
from trainer.app.midi_sync import MidiSync
from trainer.app.navigation import Navigation
from trainer.app.notes import Notes
from trainer.app.own_track import OwnTrack
from trainer.app.playback import DEEPENED, Playback
from trainer.app.practising import Practising
from trainer.app.preferences import Preferences
from trainer.app.recording import Recorder
from trainer.app.scene_table import SCENES, take_dropped
from trainer.app.scenes.library import LibraryController
from trainer.devices.midi import MidiInputs
from trainer.devices.midi_out import MidiOut
from trainer.devices.outputs import output_name
from trainer.devices.speaker import SpeakerLike, open_speaker
from trainer.errors import NoSound
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.draw import View
from trainer.screen.window import Window


class Application:
    """All that is behind the window; from the app's thread only.

    Args:
        banjo: the microphone.
        reopen: opens another speaker when the device was lost.

    Attributes:
        context: what the scenes use.
    """

    def __init__(
        self,
        *,
        preferences: Preferences,
        speaker: SpeakerLike,
        midi: MidiInputs,
        recorder: Recorder | None = None,
        midi_out: MidiOut | None = None,
        banjo: Banjo | None = None,
        reopen: Callable[[], SpeakerLike] = open_speaker,
    ) -> None:
        notes = Notes(preferences)
        preferences.output_name = output_name(speaker)
        _deepen_as_known(speaker, preferences)
        self.context = Context(
            preferences=preferences,
            notes=notes,
            navigation=Navigation(notes),
            inputs=Inputs(preferences, midi, notes.say, banjo),
            playback=Playback(speaker, reopen=reopen, reopened=self._reopened, deepened=self._deepened),
            practising=Practising(preferences, recorder, notes.say),
            own_track=OwnTrack(),
            recorder=recorder,
            midi_sync=MidiSync(preferences, midi_out, notes.say) if midi_out is not None else None,
        )
        self._gestures = PadGestures(self.context, self.act)
        self.context.navigation.open(lambda: LibraryController(self.context))

    def view(self, window: Window) -> View:
        """Return what is shown."""
        top = self.context.navigation.top
        taps = self.context.taps if top.is_tapped_in else ()
        return self.context.navigation.view(replace(window, taps=taps))

    def act(self, action: Action, host_ns: int) -> None:
        """Do what a key, a click or a pad asks for; FULL_SCREEN is the window's own."""
        context = self.context
        if context.navigation.top.act(action, host_ns):
            return
        if action.act is Act.BACK:
            context.navigation.back()
        elif action.act is Act.DISMISS:
            context.notes.dismiss(in_time=context.navigation.top.in_time)
        elif action.act is Act.THEME:
            context.change("theme", 1)
        elif action.act in SCENES:
            SCENES[action.act](context, host_ns)

    def gesture(self, name: str, host_ns: int) -> bool:
        """Do what a key of one's own asks for, where it means something; return whether it did."""
        action = self.context.navigation.top.gestures.get(name)
        if action is not None:
            self.act(action, host_ns)
        return action is not None

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:
        """Take in a key; return whether it was used, so that it means nothing else.

        Args:
            host_ns: when it was seen to be down; ``looked_ns`` when the queue was looked at before that.
        """
        event = self.context.inputs.key(key, host_ns=host_ns, looked_ns=looked_ns)
        self._light(event)
        return self.context.navigation.heard(event)

    def poll(self) -> None:
        """Take in what pads have sent."""
        for event in self.context.inputs.poll():
            self._light(event)
            if not self.context.navigation.heard(event):
                self._gestures.heard(event)

    def tick(self, host_ns: int) -> None:
        """Move on to a moment of the host clock; called before every frame."""
        context = self.context
        context.now_ns = host_ns
        context.notes.tick(host_ns, in_time=context.navigation.top.in_time)
        context.inputs.scan()
        self._gestures.tick(host_ns)
        context.playback.tick(host_ns)
        if context.midi_sync is not None:
            context.midi_sync.tick(context.playback.speaker, host_ns)
        self._read_track()
        context.navigation.top.tick()
        self._keep_records(host_ns)

    def dropped(self, path: Path) -> None:
        """Take a file that was dropped on the window."""
        take_dropped(self.context, path)

    def recall_track(self) -> None:
        """Begin to read the track that was used last."""
        context = self.context
        path = context.preferences.settings.own_track
        if path:
            with suppress(NoSound):  # without sound it is not missed
                context.own_track.open(Path(path), context.playback.speaker.rate)

    def _read_track(self) -> None:
        """See whether the player's own track is read, and remember which it is."""
        context, own = self.context, self.context.own_track
        was_reading = own.is_reading
        problem = own.tick()
        if problem and not context.navigation.top.shows_track:
            context.say(problem)
        if was_reading and own.track is not None:
            path = str(own.track.path)
            if path != context.preferences.settings.own_track:
                context.keep(lambda: context.preferences.change(own_track=path))

    def end(self) -> str:
        """Give back what was opened for the scenes, before the program ends.

        Returns:
            A sentence on takes that found no place, or an empty text.
        """
        context = self.context
        context.navigation.top.leave()
        context.own_track.give_up()
        context.inputs.microphone.stop_listening()
        if context.midi_sync is not None:
            context.midi_sync.end()
        return context.recorder.close() if context.recorder is not None else ""

    def _light(self, event: InputEvent) -> None:
        if event.touch is not None and not event.is_repeat:
            self.context.touched.touch(event.touch.hand, event.host_ns)

    def _keep_records(self, host_ns: int) -> None:
        """Say what is wrong with the records for as long as it is, and try again while nobody plays."""
        context, recorder = self.context, self.context.recorder
        if recorder is None:
            return
        context.notes.standing = recorder.problem
        if not context.navigation.top.in_time:
            note = recorder.calm(host_ns)
            if note:
                context.say(note)

    def _deepened(self, speaker: SpeakerLike) -> None:
        self.context.say(DEEPENED)
        self.context.keep(lambda: self.context.preferences.set_sound_depth(speaker.depth))

    def _reopened(self, speaker: SpeakerLike) -> None:
        self.context.preferences.output_name = output_name(speaker)
        _deepen_as_known(speaker, self.context.preferences)
        if speaker.notes:
            self.context.say(*speaker.notes)


def _deepen_as_known(speaker: SpeakerLike, preferences: Preferences) -> None:
    """Give an output that has stalled before the buffers that it was found to need."""
    with suppress(NoSound):  # it is lost then, and looked for again at the next start
        while speaker.depth < preferences.sound_depth and speaker.deepen():
            pass
