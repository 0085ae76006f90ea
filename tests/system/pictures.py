"""Make the README's pictures from the real scenes, painted by the real painter.

Usage: python -m tests.system.pictures FOLDER [WIDTH HEIGHT]. Simulated hands play; nothing is drawn for the
picture alone. Needs pygame, no display.
"""

from __future__ import annotations

import os
import sys
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")

import pygame

from trainer.app.application import Application
from trainer.app.drill_request import DrillRequest
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.scene_table import start_drill
from trainer.app.scenes.drill import DrillController
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN
from trainer.practice.faults import Faults
from trainer.practice.settings import Settings
from trainer.practice.showing import Showing, showings_for
from trainer.records.library import load_library, open_pattern
from trainer.screen.actions import Act, Action
from trainer.screen.painter import Painter
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window
from trainer.shipped import shipped_folder

STEP_NS = 8_000_000
SECONDS_IN = 10.35
IN_THE_BREAK_S = 5.1
SHOWN_S = 43.0  # into the second stretch with the fault


class Studio:
    """All that is behind a window, with a clock of its own, and a surface to paint it on."""

    def __init__(self, width: int, height: int) -> None:
        pygame.display.init()
        self.surface = pygame.display.set_mode((width, height))
        library = load_library()
        names = [p.name for p in library.patterns]
        settings = Settings(cautions_seen=True, pattern="skip-figure")
        self.app = Application(
            preferences=Preferences(settings, library, keep_nothing),
            speaker=SilentSpeaker(),
            midi=MidiInputs([]),
        )
        self.app.context.preferences.select(names.index("skip-figure"))
        self.now_ns = 0

    def run(self, until_s: float) -> None:
        """Let the drill run to a moment, or to its end."""
        context = self.app.context
        while isinstance(context.navigation.top, DrillController) and context.playback.song_s < until_s:
            self.now_ns += STEP_NS
            self.app.tick(self.now_ns)

    def drill(self, request: DrillRequest) -> None:
        """Begin a drill."""
        start_drill(self.app.context, self.now_ns, request)

    def act(self, act: Act, value: int = 0) -> None:
        """Ask for something as a key would."""
        self.app.act(Action(act=act, value=value), self.now_ns)

    def picture(self, path: Path, theme: ThemeName = ThemeName.ROOM) -> None:
        """Paint the scene that is up and keep it as a PNG."""
        width, height = self.surface.get_size()
        view = self.app.view(Window(width=width, height=height, theme=theme))
        if hasattr(view, "sound"):
            view = replace(view, sound="sound on")  # type: ignore[type-var]
        painter = Painter(self.surface, shipped_folder("assets") / "fonts")
        painter.paint(view.scene())
        pygame.image.save(self.surface, str(path))


def main(folder: Path, width: int, height: int) -> None:
    """Make all pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    studio = Studio(width, height)
    studio.act(Act.OPEN_FIRST_BAR)
    studio.picture(folder / "first-bar.png")
    studio.act(Act.BACK)
    studio.picture(folder / "library.png")
    pattern = open_pattern(DEMO_PATTERN, load_library())
    studio.drill(DrillRequest(pattern=pattern, bpm=DEMO_BPM, passes=DEMO_PASSES, hands=DEMO_FAULTS))
    studio.run(-0.9)
    studio.picture(folder / "count-in.png")
    studio.run(SECONDS_IN)
    studio.picture(folder / "drill.png")
    studio.picture(folder / "drill-projector.png", ThemeName.PROJECTOR)
    studio.run(1e9)
    studio.picture(folder / "review.png")
    studio.picture(folder / "review-projector.png", ThemeName.PROJECTOR)
    studio.act(Act.OPEN_SETTINGS)
    studio.picture(folder / "settings.png")
    rooms(Studio(width, height), folder)


def rooms(studio: Studio, folder: Path) -> None:
    """Make the pictures of a break with its chords, of a demonstration, and of a page."""
    preferences = studio.app.context.preferences
    library = preferences.library
    break_at_skips = open_pattern("barn-lantern at skips", library)
    hands = Faults(jitter_s=0.012)
    studio.drill(DrillRequest(pattern=break_at_skips, bpm=DEMO_BPM, passes=1, hands=hands))
    studio.run(IN_THE_BREAK_S)
    studio.picture(folder / "break.png")
    studio.act(Act.STOP)
    studio.act(Act.BACK)
    preferences.shelves.choose(DEMO_PATTERN)
    studio.act(Act.OPEN_DEMONSTRATION)
    studio.act(Act.SHOW, showings_for(open_pattern(DEMO_PATTERN, library)).index(Showing.RUSHED))
    for _ in range(round(SHOWN_S * 1e9 / STEP_NS)):
        studio.now_ns += STEP_NS
        studio.app.tick(studio.now_ns)
    studio.picture(folder / "demonstration.png", ThemeName.PROJECTOR)
    studio.act(Act.BACK)
    preferences.shelves.choose("barn-lantern at skips")
    studio.act(Act.OPEN_PAGE)
    studio.picture(folder / "page.png", ThemeName.PROJECTOR)


if __name__ == "__main__":
    size = (int(sys.argv[2]), int(sys.argv[3])) if len(sys.argv) > 3 else (1280, 720)
    main(Path(sys.argv[1]), *size)
