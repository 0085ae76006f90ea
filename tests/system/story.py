"""Make the README's picture story: six real screens in the order in which a learner meets them.

Usage: python -m tests.system.story FILE.png. The scenes are those of the program, played into by simulated
hands and, where pads are tapped, through a MIDI port that is none; the captions are set in the program's own
type. Needs pygame, no display.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")

import pygame

from tests.devices.fake_midi import FakeSystem
from tests.system.pictures import SECONDS_IN, Studio
from trainer.app.application import Application
from trainer.app.drill_request import DrillRequest
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.scenes.drill import DrillController
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.music.strokes import Hand
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN
from trainer.practice.settings import Settings
from trainer.records.library import load_library, open_pattern
from trainer.screen.actions import Act, Action
from trainer.screen.draw import Panel, Scene, Text
from trainer.screen.painter import Painter
from trainer.screen.theme import ROOM, ThemeName
from trainer.screen.window import Window
from trainer.shipped import shipped_folder

SCENE = (1280, 720)
SHOWN = (632, 356)  # of the same shape
GAP = 16
CAPTION = 46
NAIL, THUMB = 36, 38
STEP_NS = 4_000_000
LONGEST_S = 240.0  # of playing until the tempo climbs


class PadStudio:
    """All that is behind a window, a pad that is tapped on, and a player who plays as asked."""

    def __init__(self, pattern: str, bpm: float) -> None:
        self.system = FakeSystem("Practice pad 20:0")
        library = load_library()
        settings = Settings(cautions_seen=True, pattern=pattern, tempi={pattern: str(bpm)}, ladder="plain")
        self.app = Application(
            preferences=Preferences(settings, library, keep_nothing),
            speaker=SilentSpeaker(),
            midi=MidiInputs([self.system.make], self.system.clock),
        )

    def act(self, act: Act, value: int = 0) -> None:
        """Ask for something as a key would."""
        self.app.act(Action(act=act, value=value), self.system.ns)

    def touch(self, note: int) -> None:
        """Touch a pad now."""
        self.system.send(0x99, note, 96)
        self.app.poll()

    def play(self, until_s: float, *, until_climb: bool = False) -> None:
        """Touch the pads as the targets ask, up to a second of the song or until the tempo is to climb."""
        played = 0
        context = self.app.context
        while isinstance(running := context.navigation.top, DrillController):
            self.system.ns += STEP_NS
            self.app.tick(self.system.ns)
            now_s, targets = context.playback.song_s, running.drill.targets
            while played < len(targets) and targets[played].song_s <= now_s:
                stroke = targets[played].stroke
                if stroke.kind.sounds and targets[played].song_s > now_s - 0.02:
                    self.touch(NAIL if stroke.hand is Hand.NAIL else THUMB)
                played += 1
            if now_s >= until_s or (until_climb and running.tempo.next_bpm is not None):
                return

    def shown(self) -> Scene:
        """Return the scene that is up."""
        return self.app.view(Window(width=SCENE[0], height=SCENE[1], theme=ThemeName.ROOM)).scene()


def frames() -> list[tuple[str, pygame.Surface]]:
    """Return the captions and their screens, in order."""
    found: list[tuple[str, pygame.Surface]] = []

    def keep(caption: str, scene: Scene) -> None:
        surface = pygame.display.set_mode(SCENE)
        Painter(surface, shipped_folder("assets") / "fonts").paint(scene)
        found.append((caption, surface.copy()))

    pads = PadStudio(DEMO_PATTERN, 60)
    keep("Choose a figure; the picture is the hand.", pads.shown())
    pads.act(Act.OPEN_SETTINGS)
    pads.act(Act.SELECT, 1)
    pads.act(Act.INPUT, 1)
    pads.touch(NAIL)
    keep("Teach the pads by touching them.", pads.shown())
    pads.system.ns += 1_000_000_000
    pads.touch(THUMB)
    pads.act(Act.TEACH)
    pads.act(Act.BACK)
    pads.act(Act.START)
    pads.play(7.0)
    keep("Slowly first. On the skip the hand falls and touches nothing.", pads.shown())

    studio = Studio(*SCENE)
    pattern = open_pattern(DEMO_PATTERN, load_library())
    studio.drill(DrillRequest(pattern=pattern, bpm=DEMO_BPM, passes=DEMO_PASSES, hands=DEMO_FAULTS))
    studio.run(SECONDS_IN)
    window = Window(width=SCENE[0], height=SCENE[1])
    keep("Too fast: after the skip the drop-thumb comes early.", studio.app.view(window).scene())
    studio.run(1e9)
    keep("The review says where every stroke lay, and what to do.", studio.app.view(window).scene())

    pads.play(LONGEST_S, until_climb=True)
    keep("Clean a few times in a row: the tempo climbs.", pads.shown())
    return found


def strip(found: list[tuple[str, pygame.Surface]]) -> pygame.Surface:
    """Return all screens in two columns, each under its number and caption."""
    rows = -(-len(found) // 2)
    width, high = 2 * SHOWN[0] + GAP, SHOWN[1] + CAPTION
    sheet = pygame.Surface((width, rows * high))
    captions = []
    for at, (caption, _surface) in enumerate(found):
        x, y = (at % 2) * (SHOWN[0] + GAP), (at // 2) * high
        captions.append(Text(x, y + 32, f"{at + 1}  {caption}", 21, ROOM.ink))
    panel = Panel(0, 0, width, rows * high, ROOM.wall, tuple(captions))
    Painter(sheet, shipped_folder("assets") / "fonts").paint(Scene((panel,)))
    for at, (_caption, surface) in enumerate(found):
        x, y = (at % 2) * (SHOWN[0] + GAP), (at // 2) * high + CAPTION
        sheet.blit(pygame.transform.smoothscale(surface, SHOWN), (x, y))
    return sheet


def main(path: Path) -> None:
    """Make the story."""
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SCENE)
    pygame.image.save(strip(frames()), str(path))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
