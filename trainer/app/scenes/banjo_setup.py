"""Set a banjo up for the microphone in use: open it, go through what is to be done, keep what was learnt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from trainer.app.banjo import Heard
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.devices.speaker import SilentSpeaker
from trainer.errors import TrainerError
from trainer.hearing.room import read_room
from trainer.hearing.room_setup import RoomSetup, SetupFound, SetupStep
from trainer.hearing.sweep import sweep_wave
from trainer.music.tuning import OPEN_G, STRINGS
from trainer.practice.input_event import InputEvent
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.banjo_setup import BanjoSetupView
from trainer.screen.window import Window
from trainer.sound.gain import to_samples

NO_MICROPHONE = "Choose a microphone to play into first: settings, Input, Tap on."
RUNNING = (SetupStep.SILENCE, SetupStep.SWEEP, SetupStep.STRINGS, SetupStep.TOUCHES)
SWEEP_SAMPLES = to_samples(sweep_wave(), 0.0)


class BanjoSetupController(Controller):
    """The set-up of a banjo and a room; the microphone is open while it runs."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._setup: RoomSetup | None = None
        self._found: SetupFound | None = None
        self._swept = False
        self._touches_db: tuple[float, ...] = ()

    @property
    def in_time(self) -> bool:
        """Whether something is being listened to."""
        return self._setup is not None

    def view(self, window: Window) -> BanjoSetupView:
        """Return the set-up as it is now."""
        context, setup, found = self._context, self._setup, self._found
        settings = context.preferences.settings
        view = BanjoSetupView(
            window=window,
            has_sweep=self._has_loudspeaker,
            known=read_room(settings.rooms.get(settings.input_name, "")).words,
            input_name=context.inputs.in_use + (", open" if context.inputs.microphone.banjo.is_open else ""),
            sound=context.playback.speaker.name,
            can=found.can if found is not None else "",
            why_not=found.why_not if found is not None else (),
            remarks=found.remarks if found is not None else (),
            is_found=found is not None and not found.why_not,
            touches_db=self._touches_db,
        )
        return view if setup is None else _running(view, setup)

    def act(self, action: Action, host_ns: int) -> bool:  # noqa: ARG002 - nothing here has a time
        """Begin, leave something out, keep what was found, or stop."""
        if action.act is Act.START and self._setup is None:
            self._begin()
        elif action.act is Act.SKIP_PROMPT and self._setup is not None:
            self._setup.skip()
            self._see_whether_done()
        elif action.act is Act.USE and self._found is not None:
            self._use(self._found)
        elif action.act is Act.BACK and self._setup is not None:
            self._end()
        else:
            return False
        return True

    def taken_in(self, heard: Heard, host_ns: int) -> tuple[InputEvent, ...]:  # noqa: ARG002 - see HearsBanjo
        """Take in what the microphone hears; nothing of it is a tap."""
        for piece in heard.pieces:
            if self._setup is not None:
                self._setup.push(piece)
        return ()

    def tick(self) -> None:
        """Play the sweep when its time has come, and end when all is done."""
        if self._setup is None:
            return
        problem = self._context.inputs.microphone.banjo.problem
        if problem and self._setup.step is not SetupStep.DONE:
            self._end()
            self._context.say(f"{problem[:1].upper()}{problem[1:]}.")
            return
        if self._setup.step is SetupStep.SWEEP and not self._swept:
            self._swept = True
            self._context.playback.speaker.sound_tap(SWEEP_SAMPLES)
        self._see_whether_done()

    def leave(self) -> None:
        """Give the microphone back."""
        self._end()

    @property
    def _has_loudspeaker(self) -> bool:
        return not isinstance(self._context.playback.speaker, SilentSpeaker)

    def _begin(self) -> None:
        self._context.playback.stop()
        try:
            self._context.inputs.microphone.listen(self)
        except TrainerError as problem:
            self._context.say(str(problem))
            return
        pattern = self._context.preferences.pattern
        self._setup = RoomSetup(
            pattern.tuning if pattern is not None else OPEN_G, has_loudspeaker=self._has_loudspeaker
        )
        self._found, self._swept, self._touches_db = None, False, ()

    def _see_whether_done(self) -> None:
        if self._setup is not None and self._setup.step is SetupStep.DONE:
            self._found = self._setup.found()
            usual_db = self._setup.pluck_db
            self._touches_db = tuple(level - usual_db for level in self._setup.touches)
            self._end()

    def _end(self) -> None:
        self._setup = None
        self._context.inputs.microphone.stop_listening()

    def _use(self, found: SetupFound) -> None:
        preferences = self._context.preferences
        name = preferences.settings.input_name
        rooms = {**preferences.settings.rooms, name: found.room.text()}
        self._context.keep(lambda: preferences.change(rooms=rooms))
        self._context.navigation.back()
        self._context.say(f"Kept for {name}. {found.can}")


def _running(view: BanjoSetupView, setup: RoomSetup) -> BanjoSetupView:
    plucks = setup.plucks
    usual_db = setup.pluck_db
    return replace(
        view,
        running=RUNNING.index(setup.step) if setup.step in RUNNING else None,
        share=setup.share,
        levels_db=tuple(np.round(setup.levels, 1).tolist()),
        tuning=setup.tuning,
        string=setup.string,
        plucks=tuple(plucks[string] for string in range(1, STRINGS + 1)),
        touches_db=tuple(level - usual_db for level in setup.touches),
    )


def open_banjo_setup(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the set-up, where a microphone is in use."""
    if not context.inputs.hears_banjo:
        context.say(NO_MICROPHONE)
        return
    context.navigation.open(lambda: BanjoSetupController(context))
