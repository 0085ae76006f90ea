"""Do what a key, a click or a pad asks for."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from trainer.app.calibrating import Calibrating
from trainer.app.classing import Classing
from trainer.app.demonstrating import demonstrate
from trainer.app.looking_back import LookingBack
from trainer.app.naming import naming_for
from trainer.app.paging import open_page
from trainer.app.places import Place
from trainer.app.preferences import unsaved
from trainer.app.recording import local_now
from trainer.app.stage import Stage
from trainer.app.tracking import Tracking
from trainer.app.views_of import view_of
from trainer.music.strokes import Hand
from trainer.practice.delays import DELAY_STEP_MS
from trainer.practice.settings import SCREEN_WISHES, TABLE, Follows
from trainer.screen.scenes.setting_rows import place_of
from trainer.screen.scenes.settings import SettingsView
from trainer.screen.views import Act, Action, Window

# What the stage still does while a corner is up.
LEADING_AWAY = (Act.BACK, Act.DISMISS, Act.OPEN_SETTINGS, Act.OPEN_DEMONSTRATION, Act.THEME)

Deed = Callable[[Stage, int, int], None]
"""Takes the stage, the action's value and the host time."""


def perform(stage: Stage, action: Action, host_ns: int) -> None:
    """Do what is asked for; QUIT and FULL_SCREEN are the window's own."""
    corner = stage.corner if stage.place is Place.CORNER else None
    if corner is not None and (corner.act(action, host_ns) or action.act not in LEADING_AWAY):
        return
    deed = _DEEDS.get(action.act)
    if action.act is Act.CHANGE:
        change_setting(stage, action.setting, action.value)
    elif deed is not None:
        deed(stage, action.value, host_ns)


def _select(stage: Stage, value: int, _host_ns: int) -> None:
    if stage.place is Place.SETTINGS:
        stage.focus = max(0, value)
    else:
        stage.keep(lambda: stage.chosen.select(value))


def _scroll(stage: Stage, value: int, _host_ns: int) -> None:
    if stage.place is Place.REVIEW:
        stage.first_row = max(0, stage.first_row + value)
    elif stage.place is Place.LIBRARY:
        stage.keep(lambda: stage.chosen.select(stage.chosen.selected + value))


def _input(stage: Stage, value: int, _host_ns: int) -> None:
    inputs = stage.hearing.inputs()
    if 0 <= value < len(inputs):
        stage.hearing.use(inputs[value][0])


def _waiting(hand: Hand) -> Deed:
    def deed(stage: Stage, _value: int, _host_ns: int) -> None:
        stage.hearing.waiting_key = hand

    return deed


def change_setting(stage: Stage, name: str, steps: int) -> None:
    """Change a setting by some steps, and let follow what hangs on it."""
    stage.keep(lambda: stage.chosen.step(name, steps))
    _follow(stage, (name,))


def _follow(stage: Stage, names: Iterable[str]) -> None:
    for follows in {TABLE[name].follows for name in names}:
        if follows is Follows.SOUND:
            stage.speaker.set_sound(stage.sound_settings())
            stage.heard_click()
        elif follows is Follows.INPUT:
            stage.hearing.follow()
        elif follows is Follows.MIDI_OUT and stage.sending is not None:
            stage.sending.follow()


def _stepping(name: str) -> Deed:
    return lambda stage, value, _host_ns: change_setting(stage, name, value)


def _own_key(stage: Stage, value: int, _host_ns: int) -> None:
    if 0 <= value < len(SCREEN_WISHES):
        stage.hearing.waiting_key = SCREEN_WISHES[value]


def _undo(stage: Stage, _value: int, _host_ns: int) -> None:
    """Take the last pad taught back, or else the last change of the settings."""
    if stage.hearing.teaching is not None:
        stage.hearing.unteach()
        return
    change = stage.chosen.undoing.last
    if change is None:
        return
    note = unsaved(stage.chosen.undo)
    _follow(stage, change.names)
    if stage.place is not Place.SETTINGS:
        stage.say(note, f"Taken back: {change.words}.")
        return
    if note:
        stage.say(note)
    view = view_of(stage, Window(width=1, height=1))
    place = place_of(view, change.names[0]) if isinstance(view, SettingsView) else None
    if place is not None:
        stage.focus = place


def _adopt_delay(stage: Stage, _value: int, _host_ns: int) -> None:
    # Added to the delay that is taken off already.
    played = stage.played
    if played is not None and played.can_be_delay and played.summary.placement.mean_s is not None:
        delay_ms = stage.chosen.delay_ms + round(played.summary.placement.mean_s * 1000)
        stage.keep(lambda: stage.chosen.set_delay(delay_ms))
        stage.say(f"From now on {stage.chosen.delay_ms} ms are taken off each tap on {stage.hearing.in_use}.")


def _adopt_swing(stage: Stage, _value: int, _host_ns: int) -> None:
    adopted = stage.played.adoptable_swing if stage.played is not None else None
    if adopted is not None:
        stage.keep(lambda: stage.chosen.set_swing(adopted))
        stage.say(f"The target now swings {float(adopted):g} to 1.")


def _progress(stage: Stage, _value: int, _host_ns: int) -> None:
    store = stage.recorder.store if stage.recorder is not None else None
    if store is None:
        stage.say("No takes are kept, so there is no progress to show.")
        return
    today = local_now().date().toordinal()
    stage.open_corner(LookingBack(stage, store, stage.chosen.settings.player, today))


def _shelf(stage: Stage, value: int, _host_ns: int) -> None:
    stage.chosen.shelves.step_shelf(value)
    stage.keep(stage.chosen.remember_chosen)


def _choice(stage: Stage, value: int, _host_ns: int) -> None:
    stage.chosen.shelves.step_choice(value)
    stage.keep(stage.chosen.remember_chosen)


def _next_suggested(stage: Stage, _value: int, _host_ns: int) -> None:
    suggestion = stage.practising.suggestion()
    if suggestion is not None and stage.chosen.shelves.choose(suggestion.pattern):
        stage.keep(stage.chosen.remember_chosen)


def _midi_out(stage: Stage, value: int, _host_ns: int) -> None:
    if stage.sending is not None:
        stage.sending.step(value)


_DEEDS: dict[Act, Deed] = {
    Act.SELECT: _select,
    Act.START: lambda stage, _value, host_ns: stage.start(host_ns),
    Act.STOP: lambda stage, _value, _host_ns: stage.stop(),
    Act.AGAIN: lambda stage, _value, host_ns: stage.again(host_ns),
    Act.BACK: lambda stage, _value, _host_ns: stage.back(),
    Act.OPEN_CLASS: lambda stage, _value, host_ns: stage.open_corner(
        Classing(stage, np.random.default_rng(host_ns))
    ),
    Act.OPEN_PROGRESS: _progress,
    Act.OPEN_TRACK: lambda stage, _value, _host_ns: stage.open_corner(Tracking(stage, stage.own_track)),
    Act.SHELF: _shelf,
    Act.CHOICE: _choice,
    Act.NEXT_SUGGESTED: _next_suggested,
    Act.MIDI_OUT: _midi_out,
    Act.OPEN_PAGE: lambda stage, _value, _host_ns: open_page(stage),
    Act.OPEN_DEMONSTRATION: lambda stage, _value, host_ns: demonstrate(stage, host_ns),
    Act.OPEN_SETTINGS: lambda stage, _value, _host_ns: stage.open_settings(),
    Act.TEMPO: lambda stage, value, _host_ns: stage.change_tempo(value),
    Act.PASSES: _stepping("passes"),
    Act.SCROLL: _scroll,
    Act.DISMISS: lambda stage, _value, _host_ns: stage.dismiss(),
    Act.INPUT: _input,
    Act.TEACH: lambda stage, _value, _host_ns: stage.hearing.teach(),
    Act.SKIP_PROMPT: lambda stage, _value, _host_ns: stage.hearing.skip_prompt(),
    Act.NAIL_KEY: _waiting(Hand.NAIL),
    Act.THUMB_KEY: _waiting(Hand.THUMB),
    Act.LEFT_KEY: _waiting(Hand.LEFT),
    Act.THEME: lambda stage, _value, _host_ns: change_setting(stage, "theme", 1),
    Act.DELAY: lambda stage, value, _host_ns: stage.keep(
        lambda: stage.chosen.set_delay(stage.chosen.delay_ms + value * DELAY_STEP_MS)
    ),
    Act.ADOPT_DELAY: _adopt_delay,
    Act.ADOPT_SWING: _adopt_swing,
    Act.OWN_KEY: _own_key,
    Act.OPEN_CALIBRATION: lambda stage, _value, _host_ns: stage.open_corner(Calibrating(stage)),
    Act.OPEN_NAMING: lambda stage, _value, _host_ns: stage.open_corner(naming_for(stage)),
    Act.UNDO: _undo,
}
