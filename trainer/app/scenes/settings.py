"""Go through the settings, a row at a time: change them, teach pads, give keys, and take changes back."""

from __future__ import annotations

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.music.strokes import Hand
from trainer.practice.delays import DELAY_STEP_MS
from trainer.practice.input_event import InputEvent
from trainer.practice.settings import MICROPHONE, SCREEN_GESTURES
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.setting_rows import InputItem, row_index
from trainer.screen.scenes.settings import SettingsView
from trainer.screen.window import Window

HAND_KEYS = {
    Act.NAIL_KEY: Hand.NAIL,
    Act.THUMB_KEY: Hand.THUMB,
    Act.LEFT_KEY: Hand.LEFT,
    Act.SIDE_KEY: Hand.NONE,
}


class SettingsController(Controller):
    """Everything that can be chosen."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._focus = 0

    def view(self, window: Window) -> SettingsView:
        """Return the settings as they are."""
        context, preferences, inputs = self._context, self._context.preferences, self._context.inputs
        items = inputs.inputs()
        names = [name for name, _ in items]
        teaching, last = inputs.teaching, preferences.undoing.last
        return SettingsView(
            window=window,
            settings=preferences.settings,
            focus=self._focus,
            inputs=tuple(InputItem(name=name, present=present) for name, present in items),
            input_in_use=names.index(inputs.in_use) if inputs.in_use in names else 0,
            midi_note=inputs.midi.note,
            waiting_key=inputs.waiting_key,
            teach_prompt=teaching.prompt if teaching is not None else "",
            pads=self._pads(),
            subdivide_helps=preferences.subdivision_helps(),
            records_path=str(context.store.path) if context.store is not None else "",
            undo=last.words if last is not None else "",
            can_unteach=teaching is not None and teaching.before is not None,
            delay_ms=preferences.delay_ms,
            sound=context.sound_words,
        )

    def _pads(self) -> str:
        """Return what is known of the pads in use, or of the banjo that a microphone hears."""
        settings = self._context.preferences.settings
        if settings.input_name.startswith(MICROPHONE):
            return "set up" if settings.input_name in settings.rooms else ""
        return self._context.preferences.pads.in_words() if settings.input_name else ""

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Do what a row is for."""
        act, value = action.act, action.value
        context, preferences, inputs = self._context, self._context.preferences, self._context.inputs
        if act is Act.SELECT:
            self._focus = max(0, value)
        elif act is Act.CHANGE:
            context.change(action.setting, value)
        elif act is Act.DELAY:
            context.keep(lambda: preferences.set_delay(preferences.delay_ms + value * DELAY_STEP_MS))
        elif act is Act.INPUT:
            names = [name for name, _present in inputs.inputs()]
            if 0 <= value < len(names):
                inputs.use(names[value])
        elif act is Act.TEACH:
            inputs.teach()
        elif act is Act.SKIP_PROMPT:
            inputs.skip_prompt()
        elif act is Act.BACK and inputs.teaching is not None:
            inputs.leave()  # what was taught so far is kept
        elif act in HAND_KEYS:
            inputs.waiting_key = HAND_KEYS[act]
        elif act is Act.OWN_KEY:
            if 0 <= value < len(SCREEN_GESTURES):
                inputs.waiting_key = SCREEN_GESTURES[value]
        elif act is Act.MIDI_OUT:
            if context.midi_sync is not None:
                context.midi_sync.step(value)
        elif act is Act.UNDO:
            self._undo()
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take a key or a pad for whatever waits for one."""
        inputs = self._context.inputs
        return inputs.taught_by(event) or bool(event.source.key and inputs.new_key(event.source.key))

    def leave(self) -> None:
        """Ask for nothing any more."""
        self._context.inputs.leave()

    def _undo(self) -> None:
        """Take the last pad taught back, or else the last change of the settings, and go to its row."""
        if self._context.inputs.teaching is not None:
            self._context.inputs.unteach()
            return
        change = self._context.undo()
        if change is None:
            return
        index = row_index(self.view(Window(width=1, height=1)), change.names[0])
        if index is not None:
            self._focus = index


def open_settings(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the settings."""
    context.navigation.open(lambda: SettingsController(context))
