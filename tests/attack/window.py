"""Attack the window: sizes, keys, clicks, notes and time, in any order, on a display that shows nothing."""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from pathlib import Path

import pygame

from tests.app.bench import MS, Bench
from tests.attack.rules import LONGEST_S
from tests.attack.spoiling import MONSTERS
from trainer.app import loop
from trainer.opening import Opening
from trainer.practice.settings import Settings
from trainer.records.library import Library, load_library
from trainer.screen.actions import Act

KEYS = (
    *"abcdefghijklmnopqrstuvwxyz0123456789", "space", "return", "escape", "up", "down", "left", "right", "tab", "home", "end",
    "page up", "page down", "backspace", "delete", "f1", "f2", "f5", "f11", "[", "]", "-", "+", ",", ".", "/", "?", "",
)  # fmt: skip
SIZES = (1, 2, 7, 16, 30, 60, 61, 100, 200, 333, 480, 640, 720, 1024, 1280, 1920, 2560)
STEPS = 12
NOT_HERE = (Act.QUIT, Act.FULL_SCREEN, Act.WRITE)  # they would end the attack or leave its folder


class AttackedWindow:
    """The app's own loop around an application with a clock of its own; nothing is kept on the disk."""

    def __init__(self, library: Library) -> None:
        self.bench = Bench("Pad A", settings=Settings(cautions_seen=True, passes=2, input_name="Pad A"))
        self.bench.preferences.library = library
        # One clock for all: what the loop asks for itself, too.
        loop.now_ns = self.bench.system.clock  # type: ignore[attr-defined]
        self.loop = loop.WindowLoop(self.bench.app, Opening(), None)

    def size(self, rng: random.Random) -> None:
        """Another size, some of them absurd."""
        surface = pygame.display.set_mode((rng.choice(SIZES), rng.choice(SIZES)))
        self.loop._surface = surface
        self.loop._painter.resize(surface)

    def key(self, rng: random.Random) -> None:
        """A key."""
        ns = self.bench.system.ns
        self.loop._key(rng.choice(KEYS), ns, ns - rng.randrange(20) * MS)

    def text(self, rng: random.Random) -> None:
        """Something typed or pasted."""
        self.loop._typed(rng.choice(MONSTERS).decode("utf-8", "replace")[:3000])

    def click(self, rng: random.Random) -> None:
        """A click somewhere."""
        scene = self.loop._scene
        at = (rng.randrange(3000), rng.randrange(2000))
        action = scene.action_at(*at) if scene is not None else None
        if action is not None and action.act not in NOT_HERE:
            self.loop._act(action)

    def act(self, rng: random.Random) -> None:
        """Something that this scene offers, by a key or by a click."""
        scene = self.loop._scene
        offered = [use.action for use in scene.keys] + [hit.action for hit in scene.hits] if scene else []
        action = rng.choice(offered) if offered else None
        if action is not None and action.act not in NOT_HERE:
            self.loop._act(action)

    def notes(self, rng: random.Random) -> None:
        """Taps of a pad, sometimes a flood."""
        for _ in range(rng.choice((1, 2, 5, 300))):
            self.bench.system.ns += 100_000
            self.bench.system.send(0x90 + rng.randrange(16), rng.randrange(128), rng.randrange(1, 128))
        self.bench.app.poll()

    def frame(self) -> None:
        """What the loop does for a frame, in one go."""
        self.loop._scene = self.loop._scene_now()
        self.loop._painter.paint(self.loop._scene)
        self.loop._take_text(wanted=self.bench.top.wants_text)
        pygame.event.clear()

    def time(self, rng: random.Random) -> None:
        """Some time, with a frame after it."""
        self.bench.system.ns += rng.choice((1, 16, 100, 900, 5000)) * MS
        self.bench.app.tick(self.bench.system.ns)


def window(_folder: Path) -> Callable[[random.Random], None]:
    """Return the attack on the window."""
    library = load_library(Path("/nowhere"))

    def attack(rng: random.Random) -> None:
        window = AttackedWindow(library)
        deeds = (
            window.size, window.key, window.key, window.text, window.click, window.act, window.act,
            window.notes, window.time, window.time,
        )  # fmt: skip
        for _ in range(rng.choice((STEPS, STEPS, 10 * STEPS))):
            begun_s = time.process_time()
            deed = rng.choice(deeds)
            deed(rng)
            took_s = time.process_time() - begun_s
            assert took_s < LONGEST_S[""], f"{deed.__name__} took {took_s:.1f} s"
            if rng.random() < 0.3:
                window.frame()
        window.frame()

    return attack
