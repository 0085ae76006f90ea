"""Run the window: events to the application, its view to the painter, about sixty times a second.

One thread owns the window, so drawing is cut into slices of a millisecond or two and the event queue is
looked at between them: a key's time is known only as exactly as the queue is looked at. Nothing heard or
judged hangs on the frame rate.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from trainer.app.application import Application
from trainer.app.controller import Controller
from trainer.app.display import UNCOVERED, make_window, show_plainly
from trainer.app.drill_request import DrillRequest
from trainer.app.own_keys import gesture_of_key
from trainer.app.preferences import Preferences
from trainer.app.recording import Recorder, local_now
from trainer.app.scene_table import SCENES, show_first_start, show_lesson, start_drill, write_files
from trainer.devices.clock import now_ns
from trainer.devices.midi import MidiInputs
from trainer.devices.midi_out import MidiOut
from trainer.devices.missing import window_libraries_missing
from trainer.devices.mixer import NO_PYGAME
from trainer.devices.quiet import quiet_stderr
from trainer.devices.speaker import SpeakerLike, open_speaker
from trainer.errors import NoDisplay, StoreProblem
from trainer.music.timeline import as_tempo
from trainer.opening import Opening
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN
from trainer.records.library import load_library, open_pattern
from trainer.records.settings import load_settings, save_changes
from trainer.records.store import records_path
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Scene
from trainer.screen.keymap import SHOW_KEY
from trainer.screen.painter import Painter
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window
from trainer.sdl import pygame
from trainer.shipped import asset_path, shipped_folder

REPEAT_MS = (400, 60)  # a held arrow key walks through lists; never in a drill
HAS_LIBRARY = pygame is not None
OTHER_COMMANDS = "use the commands that need no window: see thumbfall --help"
FOCUS_NS = 150_000_000
FRAME_NS = 1_000_000_000 // 60
LATEST_FRAME_NS = 250_000_000  # so late a frame may be while taps pile up
CTRL = pygame.KMOD_CTRL | pygame.KMOD_META if pygame is not None else 0
SHIFT = pygame.KMOD_SHIFT if pygame is not None else 0
ALT = pygame.KMOD_ALT if pygame is not None else 0
# A tap's stamp waits for the interpreter's lock; half a millisecond instead of five keeps it honest.
SWITCH_INTERVAL_S = 0.0005


def can_open_window() -> bool:
    """Return whether a window can be opened here: pygame, and a display that answers."""
    if pygame is None:
        return False
    try:
        with quiet_stderr():
            pygame.display.init()
    except pygame.error:
        return False
    # Without a display SDL falls back to drivers that show nothing.
    return pygame.display.get_driver() not in ("dummy", "offscreen")


def close_window() -> None:
    """Close whatever window is open; once is enough, twice does no harm."""
    if pygame is not None:
        pygame.display.quit()


def open_window(opening: Opening) -> int:
    """Open the window and return the exit code when it is closed.

    Raises:
        NoDisplay: no pygame for this Python, or no display.
        TrainerError: the pattern, tempo or input asked for is not there.
    """
    if pygame is None:
        raise NoDisplay(
            NO_PYGAME or "no pygame is installed for this Python, so there is no window",
            f"install it, or {OTHER_COMMANDS}",
        )
    if not can_open_window():
        missing = window_libraries_missing()
        raise NoDisplay(
            missing or "there is no display to open a window on",
            f"{'install them' if missing else 'start it on a desktop'}, or {OTHER_COMMANDS}",
        )
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    speaker, midi = open_speaker(), MidiInputs()
    app, unkept = None, ""
    try:
        app, request = _make_application(opening, speaker, midi)
        code = WindowLoop(app, opening, request).run()
    finally:
        if app is not None:
            unkept = app.end()
            speaker = app.context.playback.speaker  # another, when the first was lost
        midi.end()
        speaker.close()
        pygame.quit()
    if unkept:
        raise StoreProblem(unkept.rstrip("."), "look after the records and start again")
    return code


def _make_application(
    opening: Opening, speaker: SpeakerLike, midi: MidiInputs
) -> tuple[Application, DrillRequest | None]:
    """Return what is behind the window, and what is to be drilled at once."""
    settings, settings_note = load_settings()
    library = load_library()
    request = None
    if opening.demo:
        pattern = open_pattern(opening.pattern or DEMO_PATTERN, library)
        bpm = DEMO_BPM if opening.bpm is None else as_tempo(opening.bpm)
        passes = opening.passes or DEMO_PASSES
        request = DrillRequest(pattern=pattern, bpm=bpm, passes=passes, hands=DEMO_FAULTS)
    if opening.input_name is not None:
        settings = replace(settings, input_name=midi.open(opening.input_name))
    preferences = Preferences(settings, library, save_changes)
    recorder, records_note = Recorder.open(records_path(settings.records_folder))
    app = Application(
        preferences=preferences, speaker=speaker, midi=midi, recorder=recorder, midi_out=MidiOut()
    )
    app.context.practising.resume(now_ns(), local_now())
    if opening.pattern is not None and not opening.demo:
        pattern = open_pattern(opening.pattern, library)
        bpm = preferences.bpm_of(pattern) if opening.bpm is None else as_tempo(opening.bpm)
        passes = settings.passes if opening.passes is None else opening.passes
        request = DrillRequest(pattern=pattern, bpm=bpm, passes=passes)
    if request is None and not opening.calibrate and not opening.lesson and not settings.cautions_seen:
        show_first_start(app.context)
    app.context.say(settings_note, records_note, *speaker.notes)
    if request is None:
        app.recall_track()  # a drill that was asked for by command has the tempo that was asked for
    return app, request


class WindowLoop:
    """The window, its events and its frames."""

    def __init__(self, app: Application, opening: Opening, request: DrillRequest | None) -> None:
        self._app = app
        self._context = app.context
        self._opening = opening
        self._first_request = request
        pygame.display.init()
        show_plainly()
        pygame.font.init()
        pygame.display.set_caption("Thumbfall")
        pygame.display.set_icon(pygame.image.load(str(asset_path("icon-64.png"))))
        pygame.key.set_repeat(*REPEAT_MS)
        self._surface = make_window(full=app.context.preferences.settings.full_screen)
        self._painter = Painter(self._surface, shipped_folder("assets") / "fonts")
        pygame.key.stop_text_input()
        self._text_on = False
        self._scene: Scene | None = None
        self._looked_ns = now_ns()
        self._events_of_frame: list[pygame.event.Event] = []
        self._open = True
        self._was_in_time = False
        self._written = app.context.result
        self._focus_lost_ns = 0
        self._pressed_on: dict[str, Controller] = {}  # the scene that was up when a key went down

    def run(self) -> int:
        """Run until the window is closed."""
        if self._opening.calibrate:
            SCENES[Act.OPEN_CALIBRATION](self._context, now_ns())
        if self._opening.lesson is not None:
            show_lesson(self._context, self._opening.lesson)
        if self._first_request is not None:
            start_drill(self._context, now_ns(), self._first_request)
        due = now_ns()
        while self._open:
            self._pump(wait=True)
            now = now_ns()
            if now < due or (self._context.inputs.is_behind and now < due + LATEST_FRAME_NS):
                continue  # a flood of taps: what is drawn can wait, they cannot
            # A frame that came late does not make the next ones hurry.
            due = max(due + FRAME_NS, now_ns())
            for _slice in self._frame():
                self._pump()
                if not self._open:
                    break  # what is left of the picture nobody will see
            self._after_frame()
        # What was played before the end belongs to the take, as far as it can be taken in at once.
        latest = now_ns() + LATEST_FRAME_NS
        while self._context.inputs.is_behind and now_ns() < latest:
            self._app.poll()
        self._give_way(in_time=False)
        return 0

    def _frame(self) -> Iterator[None]:
        self._context.playback.speaker.pump(now_ns(), self._events_of_frame)
        self._events_of_frame = []
        self._look_at_focus(now_ns())
        self._app.tick(now_ns())
        yield
        scene = self._scene = self._scene_now()
        yield
        yield from self._painter.paint_slices(scene)
        self._painter.flip()

    def _scene_now(self) -> Scene:
        preferences = self._context.preferences
        settings = preferences.settings
        width, height = self._surface.get_size()
        window = Window(
            width=width,
            height=height,
            theme=_theme_named(settings.theme),
            full_screen=settings.full_screen,
            text_scale=preferences.text_scale,
        )
        return self._app.view(window).scene()

    def _after_frame(self) -> None:
        top, result = self._context.navigation.top, self._context.result
        self._take_text(wanted=top.wants_text)
        self._give_way(in_time=top.in_time)
        if result is not None and result is not self._written and not top.in_time:
            self._written = result
            write_files(self._context, result, self._opening)
            self._open = self._open and not self._opening.leave

    def _give_way(self, *, in_time: bool) -> None:
        """Do nothing beside a drill that takes long: a collection takes many milliseconds."""
        if in_time and not self._was_in_time:
            gc.collect()
            gc.freeze()
            gc.disable()
            pygame.key.set_repeat(0)
        elif self._was_in_time and not in_time:
            gc.enable()
            gc.unfreeze()
            pygame.key.set_repeat(*REPEAT_MS)
        self._was_in_time = in_time

    def _look_at_focus(self, host_ns: int) -> None:
        """Tell the scene that the keys go elsewhere: one that is resized loses them for a moment only."""
        if self._focus_lost_ns and host_ns - self._focus_lost_ns > FOCUS_NS:
            self._focus_lost_ns = 0
            if not pygame.key.get_focused():
                self._context.navigation.top.unfocused()

    def _take_text(self, *, wanted: bool) -> None:
        if wanted != self._text_on:
            self._text_on = wanted
            if wanted:
                pygame.key.start_text_input()
            else:
                # With text input on, dead keys would be swallowed.
                pygame.key.stop_text_input()

    def _typed(self, text: str) -> None:
        if self._text_on and text:
            self._context.navigation.top.typed(text)

    def _pump(self, *, wait: bool = False) -> None:
        """Look at the event queue; what is there came since the look before."""
        looked_before = self._looked_ns
        events = [pygame.event.wait(1)] if wait else []
        events += pygame.event.get()
        stamp = now_ns()
        self._looked_ns = stamp
        for event in events:
            self._handle(event, stamp, looked_before)
        # While taps pile up a frame is not held up by them as well; they carry the time at which they came.
        if wait or not self._context.inputs.is_behind:
            self._app.poll()

    def _handle(self, event: pygame.event.Event, stamp: int, looked_before: int) -> None:
        if event.type == pygame.NOEVENT:
            return
        self._events_of_frame.append(event)
        if event.type == pygame.QUIT:
            self._open = False
        elif event.type == pygame.TEXTINPUT:
            self._typed(event.text)
        elif event.type == pygame.KEYDOWN and self._text_on and event.key == pygame.K_v and event.mod & CTRL:
            self._typed(pasted_text())
        elif event.type == pygame.KEYDOWN and event.key == pygame.K_z and event.mod & CTRL:
            self._undo()
        elif event.type == pygame.KEYDOWN:
            held = "shift " if event.mod & SHIFT else "alt " if event.mod & ALT else ""
            name = pygame.key.name(event.key)
            self._key(name, stamp, looked_before, held=held, sign=event.unicode)
        elif event.type == pygame.KEYUP:
            name = pygame.key.name(event.key)
            self._pressed_on.pop(name, None)
            self._context.inputs.keys.up(name)
        elif event.type == pygame.WINDOWFOCUSLOST:
            self._context.inputs.keys.forget()
            self._pressed_on.clear()
            self._focus_lost_ns = stamp
        elif event.type == pygame.WINDOWMINIMIZED:
            self._context.navigation.top.hidden()
        elif event.type in UNCOVERED:
            self._painter.show_all()
        elif event.type in (pygame.VIDEORESIZE, pygame.WINDOWSIZECHANGED):
            self._resized()
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            action = self._scene.action_at(*event.pos) if self._scene is not None else None
            if action is not None:
                self._context.notes.key_pressed(in_time=self._context.navigation.top.in_time)
                self._act(action)
        elif event.type == pygame.DROPFILE:
            self._app.dropped(Path(event.file))
        elif event.type == pygame.MOUSEWHEEL:
            self._act(Action(act=Act.SCROLL, value=-event.y))

    def _key(self, name: str, stamp: int, looked_before: int, *, held: str = "", sign: str = "") -> None:
        context, inputs = self._context, self._context.inputs
        top = context.navigation.top
        if self._pressed_on.setdefault(name, top) is not top:
            return  # it repeats itself: held, it asks nothing of a scene that it has opened or gone back to
        if name == "escape" and inputs.waiting_key is not None:
            inputs.waiting_key = None
            return
        if self._app.key_down(name, host_ns=stamp, looked_ns=looked_before):
            return
        context.notes.key_pressed(in_time=top.in_time)
        if self._text_on and len(name) == 1:
            return  # a letter of what is being written; it comes as text
        gesture = gesture_of_key(name, context.preferences.settings)
        if gesture is not None and self._app.gesture(gesture, now_ns()):
            self._scene = self._scene_now()
        elif name == SHOW_KEY:
            self._act(Action(act=Act.OPEN_DEMONSTRATION))
        elif self._scene is not None:
            # The question mark has another key on each keyboard, and mostly needs shift.
            meant = sign if sign == "?" else f"{held}{name}"
            with_it = self._scene.actions_for_key(meant) if meant != name else ()
            for action in with_it or self._scene.actions_for_key(name):
                self._act(action)

    def _undo(self) -> None:
        """Do what the key for taking back does here, if there is one."""
        uses = self._scene.keys if self._scene is not None and not self._text_on else ()
        action = next((use.action for use in uses if use.action.act is Act.UNDO), None)
        if action is not None:
            self._act(action)

    def _act(self, action: Action) -> None:
        context = self._context
        if action.act is Act.FULL_SCREEN:
            full = not context.preferences.settings.full_screen
            context.keep(lambda: context.preferences.change(full_screen=full))
            make_window(full=full)
            self._resized()
        else:
            self._app.act(action, now_ns())
            # The next key of the same look is meant for what this one has made of the scene.
            self._scene = self._scene_now()
            self._open = self._open and not context.is_ended

    def _resized(self) -> None:
        surface = pygame.display.get_surface()
        if surface is not None:
            self._surface = surface
            self._painter.resize(surface)


def pasted_text() -> str:
    """Return the text on the clipboard; empty when there is none."""
    try:
        if not pygame.scrap.get_init():
            pygame.scrap.init()
        found = pygame.scrap.get("text/plain;charset=utf-8") or pygame.scrap.get(pygame.SCRAP_TEXT)
    except pygame.error:
        return ""
    return (found or b"").rstrip(b"\0").decode("utf-8", errors="replace")


def _theme_named(name: str) -> ThemeName:
    names = {theme.value: theme for theme in ThemeName}
    return names.get(name, ThemeName.ROOM)
