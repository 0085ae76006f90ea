"""Run the window: events to the stage, the stage's view to the painter, about sixty times a second.

One thread owns the window, so drawing is cut into slices of a millisecond or two and the event queue is
looked at between them: a key's time is known only as exactly as the queue is looked at. Nothing heard or
judged hangs on the frame rate.
"""

from __future__ import annotations

import gc
import json
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from trainer.devices.clock import now_ns
from trainer.devices.midi import MidiInputs
from trainer.devices.quiet import quiet_stderr
from trainer.devices.speaker import MixerSpeaker, SilentSpeaker, Speaker
from trainer.errors import NoDisplay, NoSound, TrainerError
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline, as_tempo
from trainer.practice.report import GradedTake, report_dict
from trainer.records.library import Library, load_library, open_pattern
from trainer.records.midifile import write_take
from trainer.records.settings import Settings, load_settings, save_settings
from trainer.screen.views import Act, Action, Window
from trainer.shipped import asset_path
from trainer.stage import Place, Played, Stage
from trainer.views_of import view_of

try:
    import pygame

    from trainer.screen.painter import Painter
except ImportError:
    pygame = None  # type: ignore[assignment]

FRAME_NS = 1_000_000_000 // 60
SMALLEST = (960, 540)
USUAL = (1280, 720)
# A tap's stamp waits for the interpreter's lock; half a millisecond instead of five keeps it honest.
SWITCH_INTERVAL_S = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """What the window is opened for; all of it may be left out.

    Attributes:
        pattern: name or path of the pattern to drill at once.
        bpm, passes: instead of what is remembered.
        input_name: the MIDI port to use.
        demo: simulated hands play.
        report: where to write the graded take as JSON when the drill ends.
        take: where to write the taps as a MIDI file.
        leave: close the window when the drill is over.
    """

    pattern: str | None = None
    bpm: float | None = None
    passes: int | None = None
    input_name: str | None = None
    demo: bool = False
    report: Path | None = None
    take: Path | None = None
    leave: bool = False


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


def open_window(
    *,
    pattern: str | None = None,
    bpm: float | None = None,
    passes: int | None = None,
    input_name: str | None = None,
    demo: bool = False,
    report: Path | None = None,
    take: Path | None = None,
    leave: bool = False,
) -> int:
    """Open the window and return the exit code when it is closed.

    Raises:
        NoDisplay: no pygame for this Python, or no display.
        TrainerError: the pattern, tempo or input asked for is not there.
    """
    opening = Opening(
        pattern=pattern, bpm=bpm, passes=passes, input_name=input_name, demo=demo,
        report=report, take=take, leave=leave,
    )  # fmt: skip
    if pygame is None:
        raise NoDisplay(
            "no pygame is installed for this Python, so there is no window",
            "use Python 3.11 to 3.13, or the commands that need no window: see thumbfall --help",
        )
    if not can_open_window():
        raise NoDisplay(
            "there is no display to open a window on",
            "start it on a desktop, or use the commands that need no window: see thumbfall --help",
        )
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    stage, speaker = _make_stage(opening)
    try:
        return _WindowLoop(stage, opening).run()
    finally:
        speaker.close()
        pygame.quit()


def _make_stage(opening: Opening) -> tuple[Stage, Speaker]:
    settings, settings_note = load_settings()
    library = load_library()
    if opening.pattern is not None:
        library, settings = _with_pattern(opening.pattern, library, settings)
    if opening.bpm is not None and settings.pattern:
        tempo = as_tempo(opening.bpm)
        settings = replace(settings, tempi={**settings.tempi, settings.pattern: str(float(tempo))})
    if opening.passes is not None:
        settings = replace(settings, passes=opening.passes)
    sound_note = ""
    speaker: Speaker
    try:
        speaker = MixerSpeaker()
    except NoSound as err:
        speaker, sound_note = SilentSpeaker(), str(err)
    midi = MidiInputs()
    if opening.input_name is not None:
        settings = replace(settings, input_name=midi.open(opening.input_name))
    stage = Stage(
        settings=settings, library=library, speaker=speaker, midi=midi, save=save_settings,
        sound_note=sound_note,
    )  # fmt: skip
    notes = [note for note in (settings_note, sound_note) if note]
    if notes and not stage.notes:
        stage.say(*notes)
    return stage, speaker


def _with_pattern(name: str, library: Library, settings: Settings) -> tuple[Library, Settings]:
    """Return a library that has the pattern of a name or path, and settings that choose it."""
    pattern = open_pattern(name, library)
    if all(each != pattern for each in library.patterns):
        library = library.with_pattern(pattern, Path(name))
    return library, replace(settings, pattern=pattern.name)


class _WindowLoop:
    """The window, its events and its frames."""

    def __init__(self, stage: Stage, opening: Opening) -> None:
        self._stage = stage
        self._opening = opening
        pygame.display.set_caption("Thumbfall")
        pygame.display.set_icon(pygame.image.load(str(asset_path("icon-64.png"))))
        pygame.key.set_repeat(0)
        self._full_screen = stage.settings.full_screen
        self._surface = self._make_window(self._full_screen)
        self._painter = Painter(self._surface)
        # Dead keys would be swallowed while text input is on.
        pygame.key.stop_text_input()
        self._looked_ns = now_ns()
        self._pointer: tuple[int, int] | None = None
        self._open = True
        self._was_in_drill = False
        self._written: Played | None = None

    def run(self) -> int:
        """Run until the window is closed."""
        if self._opening.pattern is not None or self._opening.demo:
            self._stage.notes = () if self._opening.leave else self._stage.notes
            self._stage.start(simulated=self._opening.demo)
        due = now_ns()
        while self._open:
            self._pump(wait=True)
            if now_ns() < due:
                continue
            due = max(due + FRAME_NS, now_ns())
            for _slice in self._frame():
                self._pump()
            self._after_frame()
        return 0

    def _make_window(self, full: bool) -> pygame.Surface:
        if full:
            return pygame.display.set_mode((0, 0), pygame.FULLSCREEN)
        return pygame.display.set_mode(USUAL, pygame.RESIZABLE)

    def _frame(self) -> Iterator[None]:
        self._stage.tick(now_ns())
        yield
        theme = self._stage.settings.theme
        width, height = self._surface.get_size()
        window = Window(
            width=width, height=height, theme=self._painter.theme_named(theme),
            pointer=self._pointer, full_screen=self._full_screen,
        )  # fmt: skip
        scene = self._painter.scene_for(view_of(self._stage, window))
        yield from self._painter.paint_slices(scene)
        self._painter.flip()

    def _after_frame(self) -> None:
        stage = self._stage
        in_drill = stage.place is Place.DRILL
        if in_drill and not self._was_in_drill:
            # A collection takes many milliseconds: none during a drill.
            gc.collect()
            gc.freeze()
            gc.disable()
        elif self._was_in_drill and not in_drill:
            gc.enable()
            gc.unfreeze()
        self._was_in_drill = in_drill
        if stage.played is not None and stage.played is not self._written and not in_drill:
            self._written = stage.played
            _write_files(stage, stage.played, self._opening)
            if self._opening.leave:
                self._open = False

    def _pump(self, *, wait: bool = False) -> None:
        """Look at the event queue; stamp what is there with the time of this look."""
        looked_before = self._looked_ns
        events = []
        if wait:
            first = pygame.event.wait(1)
            events.append(first)
        events += pygame.event.get()
        stamp = now_ns()
        self._looked_ns = stamp
        for event in events:
            self._handle(event, stamp, looked_before)
        self._stage.midi_taps(self._stage.midi.poll())

    def _handle(self, event: pygame.event.Event, stamp: int, looked_before: int) -> None:
        if event.type == pygame.QUIT:
            self._open = False
        elif event.type == pygame.KEYDOWN:
            self._key(event, stamp, looked_before)
        elif event.type == pygame.KEYUP:
            self._stage.keys.up(pygame.key.name(event.key))
        elif event.type == pygame.WINDOWFOCUSLOST:
            self._stage.keys.forget()
        elif event.type in (pygame.VIDEORESIZE, pygame.WINDOWSIZECHANGED):
            self._surface = pygame.display.get_surface()
            self._painter.resize(self._surface)
        elif event.type == pygame.MOUSEMOTION:
            self._pointer = event.pos
        elif event.type == pygame.MOUSEBUTTONDOWN and event.button == 1:
            action = self._painter.action_at(event.pos)
            if action is not None:
                self._act(action)
            else:
                self._stage.dismiss()
        elif event.type == pygame.MOUSEWHEEL:
            self._act(Action(act=Act.SCROLL, value=-event.y))

    def _key(self, event: pygame.event.Event, stamp: int, looked_before: int) -> None:
        name = pygame.key.name(event.key)
        if name == "escape" and self._stage.waiting_key is not None:
            self._stage.waiting_key = None
            return
        if self._stage.key_down(name, host_ns=stamp, looked_ns=looked_before):
            return
        if self._stage.notes:
            self._stage.dismiss()
            if name != "escape":
                return
        shift = bool(event.mod & pygame.KMOD_SHIFT)
        for action in self._painter.actions_for_key(name, shift=shift):
            self._act(action)

    def _act(self, action: Action) -> None:
        if action.act is Act.QUIT:
            self._open = False
        elif action.act is Act.FULL_SCREEN:
            self._full_screen = not self._full_screen
            self._stage.choose(full_screen=self._full_screen)
            self._surface = self._make_window(self._full_screen)
            self._painter.resize(self._surface)
        else:
            perform(self._stage, action, now_ns())
