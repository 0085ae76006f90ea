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

from trainer.app.demonstrating import Demonstrating
from trainer.app.paging import open_page
from trainer.app.places import Place
from trainer.app.played import Run
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.stage import Stage
from trainer.app.views_of import view_of
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.practice.demo import DEMO_BPM, DEMO_FAULTS, DEMO_PASSES, DEMO_PATTERN
from trainer.practice.hands import Faults
from trainer.practice.settings import Settings
from trainer.practice.showing import Showing, showings_for
from trainer.records.library import load_library, open_pattern
from trainer.screen.painter import Painter
from trainer.screen.scenes.show import scene_of
from trainer.screen.theme import ThemeName
from trainer.screen.views import Act, Action, Window
from trainer.shipped import shipped_folder

STEP_NS = 8_000_000
SECONDS_IN = 10.35
IN_THE_BREAK_S = 5.1
SHOWN_S = 43.0  # into the second stretch with the fault


class Studio:
    """A stage with a clock of its own, and a surface to paint it on."""

    def __init__(self, width: int, height: int) -> None:
        pygame.display.init()
        self.surface = pygame.display.set_mode((width, height))
        library = load_library()
        names = [p.name for p in library.patterns]
        settings = Settings(cautions_seen=True, pattern="skip-figure")
        self.stage = Stage(
            chosen=Preferences(settings, library, keep_nothing),
            speaker=SilentSpeaker(),
            midi=MidiInputs([]),
        )
        self.stage.chosen.select(names.index("skip-figure"))
        self.now_ns = 0

    def run(self, until_s: float) -> None:
        """Let the drill run to a moment, or to its end."""
        while self.stage.place is Place.DRILL and (self.stage.speaker.song_s(self.now_ns) or 0.0) < until_s:
            self.now_ns += STEP_NS
            self.stage.tick(self.now_ns)

    def picture(self, path: Path, theme: ThemeName = ThemeName.ROOM) -> None:
        """Paint the scene that is up and keep it as a PNG."""
        width, height = self.surface.get_size()
        view = view_of(self.stage, Window(width=width, height=height, theme=theme))
        if hasattr(view, "sound"):
            view = replace(view, sound="sound on")
        painter = Painter(self.surface, shipped_folder("assets") / "fonts")
        painter.paint(scene_of(view))
        pygame.image.save(self.surface, str(path))


def main(folder: Path, width: int, height: int) -> None:
    """Make all pictures."""
    folder.mkdir(parents=True, exist_ok=True)
    studio = Studio(width, height)
    studio.picture(folder / "library.png")
    pattern = open_pattern(DEMO_PATTERN, load_library())
    studio.stage.start(0, Run(pattern=pattern, bpm=DEMO_BPM, passes=DEMO_PASSES, hands=DEMO_FAULTS))
    studio.run(-0.9)
    studio.picture(folder / "count-in.png")
    studio.run(SECONDS_IN)
    studio.picture(folder / "drill.png")
    studio.picture(folder / "drill-projector.png", ThemeName.PROJECTOR)
    studio.run(1e9)
    studio.picture(folder / "review.png")
    studio.picture(folder / "review-projector.png", ThemeName.PROJECTOR)
    studio.stage.open_settings()
    studio.picture(folder / "settings.png")
    rooms(Studio(width, height), folder)


def rooms(studio: Studio, folder: Path) -> None:
    """Make the pictures of a break with its chords, of a demonstration, and of a page."""
    library = studio.stage.chosen.library
    break_at_skips = open_pattern("barn-lantern at skips", library)
    studio.stage.start(
        studio.now_ns, Run(pattern=break_at_skips, bpm=DEMO_BPM, passes=1, hands=Faults(jitter_s=0.012))
    )
    studio.run(IN_THE_BREAK_S)
    studio.picture(folder / "break.png")
    studio.stage.stop()
    studio.stage.back()
    demonstration = Demonstrating(studio.stage, open_pattern(DEMO_PATTERN, library), studio.now_ns)
    studio.stage.open_corner(demonstration)
    rushed = showings_for(open_pattern(DEMO_PATTERN, library)).index(Showing.RUSHED)
    demonstration.act(Action(act=Act.SHOW, value=rushed), studio.now_ns)
    for _ in range(round(SHOWN_S * 1e9 / STEP_NS)):
        studio.now_ns += STEP_NS
        studio.stage.tick(studio.now_ns)
    studio.picture(folder / "demonstration.png", ThemeName.PROJECTOR)
    studio.stage.back()
    studio.stage.chosen.shelves.choose("barn-lantern at skips")
    open_page(studio.stage)
    studio.picture(folder / "page.png", ThemeName.PROJECTOR)


if __name__ == "__main__":
    size = (int(sys.argv[2]), int(sys.argv[3])) if len(sys.argv) > 3 else (1280, 720)
    main(Path(sys.argv[1]), *size)
