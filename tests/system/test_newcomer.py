"""Somebody who has read nothing: from the first start to a clean pass and the next step, by what is shown.

The window's own loop runs on a display that shows nothing, with a clock of its own, so that a busy machine
changes nothing. The newcomer presses a key only when the painted picture has it, and taps on the keys that
the picture names for nail and thumb, when the strokes of the sheet come to the line.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from trainer.app.application import Application
from trainer.app.preferences import Preferences, keep_nothing
from trainer.app.recording import Recorder
from trainer.app.scene_table import show_first_start
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.music.strokes import Hand
from trainer.opening import Opening
from trainer.practice.settings import Settings
from trainer.records.library import load_library
from trainer.screen.draw import Rect, Scene, Text
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.first_bar import FirstBarView, Stage
from trainer.screen.window import Window

pygame = pytest.importorskip("pygame", reason="pygame has no wheel for this Python")
from trainer.app import loop as window_loop  # noqa: E402 - only where there is pygame

SIZES = ((1024, 600), (1920, 1080))
LOOK_NS = 4_000_000  # between two looks at the event queue
LOOKS_OF_FRAME = 8
LEAST_INK = 30  # levels of brightness between a letter and its ground
LEAST_LETTERS = 9  # pixels
PATIENCE_S = 150.0
NAMES = {"Enter": "return", "Esc": "escape", "Space": "space", "↑": "up", "↓": "down"}


class Newcomer:
    """Looks at the picture, presses what it shows, and taps along."""

    def __init__(self, app: Application, clock: list[int]) -> None:
        self.loop = window_loop.WindowLoop(app, Opening(), None)
        self.app = app
        self._clock = clock
        self._looks = 0
        self.touches = 0  # of keys that are not tapped on
        self._tapped: set[int] = set()
        self.look()

    # What is seen

    @property
    def scene(self) -> Scene:
        scene = self.loop._scene
        assert scene is not None
        return scene

    def texts(self) -> list[Text]:
        """The words that can be read: inside the window, large enough, and standing out where they are."""
        return [
            item
            for panel in self.scene.panels
            for item in panel.items
            if isinstance(item, Text) and self._is_seen(item)
        ]

    def reads(self, words: str) -> bool:
        return words in " ".join(text.text for text in self.texts())

    def caps(self) -> set[str]:
        """What stands on the keys that are drawn: letters in bold on a ground of their own."""
        grounds = [i for panel in self.scene.panels for i in panel.items if isinstance(i, Rect) and i.radius]
        return {
            text.text
            for text in self.texts()
            if text.bold and any(ground.holds(text.x, text.y - text.size // 3) for ground in grounds)
        }

    def key_for(self, hand: str) -> str:
        """The key that the picture names for a hand: it stands just before the word."""
        words, caps = self.said(), self.caps()
        named = {before for before, word in pairwise(words) if word == hand and before in caps}
        assert len(named) == 1, f"the picture has to name one key for the {hand}: {words}"
        return named.pop().lower()

    def _is_seen(self, text: Text) -> bool:
        surface = self.loop._surface
        wide, high = surface.get_size()
        top, left = text.y - round(0.75 * text.size), text.x - text.size
        inside = 0 <= text.x < wide and top >= 0 and text.y < high
        if not inside or text.size < LEAST_LETTERS or not text.text.strip():
            return False
        box = pygame.Rect(left, top, 4 * text.size, text.size).clip(surface.get_rect())
        levels = [sum(surface.get_at((x, y))[:3]) / 3 for x in range(box.left, box.right, 2)
                  for y in range(box.top, box.bottom, 2)]  # fmt: skip
        return max(levels) - min(levels) >= LEAST_INK

    # What is done

    def look(self, seconds: float = 0.0) -> None:
        """Let time go on, tapping along where there is something to tap to."""
        for _ in range(max(LOOKS_OF_FRAME, round(seconds * 1e9 / LOOK_NS))):
            self._clock[0] += LOOK_NS
            self._tap_along()
            self.loop._pump()
            self._looks += 1
            if self._looks % LOOKS_OF_FRAME == 0:
                for _slice in self.loop._frame():
                    self.loop._pump()
                self.loop._after_frame()

    def press(self, label: str) -> None:
        """Press a key, if the picture has it."""
        assert label in self.caps(), f"{label} is needed and not in the picture, which has {self.caps()}"
        self.touches += 1
        self._send(NAMES.get(label, label.lower()))
        self.look(0.1)

    def wait_for(self, words: str) -> None:
        """Wait until something can be read."""
        waited_s = 0.0
        while not self.reads(words):
            self.look(0.25)
            waited_s += 0.25
            assert waited_s < PATIENCE_S, f'"{words}" never came; the picture says {self.said()}'

    def said(self) -> list[str]:
        return [text.text for text in self.texts()]

    def _send(self, name: str) -> None:
        code = pygame.key.key_code(name)
        pygame.event.post(pygame.event.Event(pygame.KEYDOWN, key=code, mod=0, unicode=""))
        pygame.event.post(pygame.event.Event(pygame.KEYUP, key=code, mod=0))

    def _tap_along(self) -> None:
        view = self.app.view(self._window())
        if isinstance(view, DrillView):
            beat_s, targets = view.song_s, view.targets
            due = [(t.index, t.song_s, t.stroke.hand) for t in targets if t.stroke.kind.sounds]
        elif isinstance(view, FirstBarView) and view.stage is Stage.TAP and view.beat is not None:
            beat_s, spb = view.beat, view.pattern.slots_per_beat
            due = [
                (-1 - at, at / spb, stroke.hand)
                for at, stroke in enumerate(view.pattern.strokes)
                if stroke.kind.sounds
            ]
        else:
            self._tapped.clear()
            return
        for index, at, hand in due:
            if 0 <= beat_s - at < 0.05 and index not in self._tapped:
                self._tapped.add(index)
                self._send(self.key_for("nail" if hand is Hand.NAIL else "thumb"))

    def _window(self) -> Window:
        wide, high = self.loop._surface.get_size()
        return Window(width=wide, height=high)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    now = [1_000_000_000]
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setattr(window_loop, "now_ns", lambda: now[0])
    pygame.display.quit()
    yield now
    pygame.display.quit()
    os.environ.pop("SDL_VIDEO_WINDOW_POS", None)


def started(monkeypatch: pytest.MonkeyPatch, clock: list[int], size: tuple[int, int], kept: Path) -> Newcomer:
    """The program as it starts for the first time, in a window of a size."""
    monkeypatch.setattr(window_loop, "make_window", lambda *, full: pygame.display.set_mode(size))  # noqa: ARG005
    recorder, _note = Recorder.open(kept)
    app = Application(
        preferences=Preferences(Settings(), load_library(), keep_nothing),
        speaker=SilentSpeaker(),
        midi=MidiInputs([]),
        recorder=recorder,
    )
    show_first_start(app.context)
    return Newcomer(app, clock)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_a_newcomer_comes_to_a_clean_pass_and_to_the_next_step_by_what_is_shown(
    monkeypatch: pytest.MonkeyPatch, clock: list[int], tmp_path: Path, size: tuple[int, int]
) -> None:
    someone = started(monkeypatch, clock, size, tmp_path / "takes.sqlite")
    assert someone.reads("the nail strikes")
    assert (someone.key_for("nail"), someone.key_for("thumb")) == ("f", "j")
    someone.press("Enter")
    someone.wait_for("Watch the hand")
    someone.wait_for("Now you")
    someone.wait_for("This is what you tapped")
    someone.press("Enter")
    assert someone.reads("First strikes")
    someone.press("Enter")
    assert someone.touches <= 3, "until the first stroke that is judged"
    someone.wait_for("Clean at 50.")
    assert someone.reads("Again at 53")
    someone.press("Enter")
    assert someone.reads("53")
    view = someone.app.view(someone._window())
    assert isinstance(view, DrillView)
    assert view.bpm == 53
    someone.press("Esc")
    someone.wait_for("next step")
    assert someone.app.context.navigation.top.__class__.__name__ == "ReviewController"
    someone.press("Esc")
    assert someone.reads("clean at 50")


def test_a_picture_without_the_key_that_is_needed_is_noticed(
    monkeypatch: pytest.MonkeyPatch, clock: list[int], tmp_path: Path
) -> None:
    """So that the test above can fail: with the help strip painted over, nothing is found."""
    someone = started(monkeypatch, clock, SIZES[0], tmp_path / "takes.sqlite")
    assert "Enter" in someone.caps()
    surface = someone.loop._surface
    surface.fill((16, 20, 23))
    with pytest.raises(AssertionError, match="not in the picture"):
        someone.press("Enter")
