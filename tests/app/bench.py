"""All that is behind a window that is not there: its clock, its MIDI system, and what it has kept."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from tests.devices.fake_microphone import FakeMicrophone
from tests.devices.fake_midi import FakeSystem
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.app.application import Application
from trainer.app.banjo import Banjo
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.drill_request import DrillRequest
from trainer.app.drill_result import DrillResult
from trainer.app.inputs import Inputs
from trainer.app.preferences import Preferences
from trainer.app.recording import Recorder
from trainer.app.scene_table import start_drill
from trainer.app.scenes.drill import DrillController
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker, SpeakerLike, SpeakerState
from trainer.errors import StoreProblem
from trainer.judging.spared import Span
from trainer.music.strokes import Hand
from trainer.practice.settings import Settings
from trainer.records.library import Entry, Library
from trainer.screen.actions import Act, Action
from trainer.screen.draw import View
from trainer.screen.window import Window

MS = 1_000_000
WINDOW = Window(width=1280, height=720)
Seen = TypeVar("Seen")


class Bench:
    """An application with its clock, its MIDI system and what it has kept.

    Attributes:
        reopened: the speakers that were opened after the first was lost.
    """

    def __init__(
        self,
        *ports: str,
        settings: Settings | None = None,
        refuse: bool = False,
        library: Library | None = None,
        recorder: Recorder | None = None,
        speaker: SilentSpeaker | None = None,
        sound: FakeMicrophone | None = None,
        banjo: Banjo | None = None,
    ) -> None:
        self.system = FakeSystem(*ports)
        self.kept: list[Settings] = []
        self.refuse = refuse
        self.reopened: list[SpeakerLike] = []
        self.preferences = Preferences(
            settings or Settings(cautions_seen=True, passes=2), library or two_figures(), self.keep
        )
        self.speaker = speaker or SilentSpeaker()
        self.app = Application(
            preferences=self.preferences,
            speaker=self.speaker,
            midi=MidiInputs([self.system.make], self.system.clock),
            recorder=recorder,
            banjo=banjo
            or Banjo(
                open_microphone=lambda _name: (sound or FakeMicrophone()).opened(self.system.clock),
                names=lambda: ("Lid",),
                clock=self.system.clock,
            ),
            reopen=self.reopen,
        )

    def keep(self, _before: Settings, after: Settings) -> Settings:
        if self.refuse:
            raise StoreProblem("the disk is full", "free some space")
        self.kept.append(after)
        return after

    def reopen(self) -> SpeakerLike:
        self.reopened.append(SilentSpeaker("there is no sound device."))
        return self.reopened[-1]

    @property
    def context(self) -> Context:
        return self.app.context

    @property
    def inputs(self) -> Inputs:
        return self.context.inputs

    @property
    def notes(self) -> tuple[str, ...]:
        return self.context.notes.lines

    @property
    def top(self) -> Controller:
        return self.context.navigation.top

    @property
    def scene(self) -> str:
        """The name of the scene that is up."""
        return type(self.top).__name__.removesuffix("Controller").lower()

    @property
    def running(self) -> DrillController:
        """The drill that runs."""
        assert isinstance(self.top, DrillController)
        return self.top

    @property
    def result(self) -> DrillResult:
        """What the last drill came to."""
        assert self.context.result is not None
        return self.context.result

    def view(self) -> View:
        return self.app.view(WINDOW)

    def seen(self, kind: type[Seen]) -> Seen:
        """The view that is shown, which is of this kind."""
        view = self.view()
        assert isinstance(view, kind)
        return view

    def open(self, make: Callable[[], Controller]) -> None:
        self.context.navigation.open(make)

    def start(self, request: DrillRequest | None = None) -> None:
        start_drill(self.context, self.system.ns, request)

    def act(self, act: Act, value: int = 0) -> None:
        self.app.act(Action(act=act, value=value), self.system.ns)

    def step(self, setting: str, steps: int = 1) -> None:
        """Do what a row of the settings does, wherever that is."""
        self.context.change(setting, steps)

    def press(self, key: str) -> bool:
        """Press a key and let it go; return whether it was used as a tap, or for what waited for a key."""
        used = self.app.key_down(key, host_ns=self.system.ns, looked_ns=self.system.ns - 2 * MS)
        self.inputs.keys.up(key)
        return used

    def key(self, name: str) -> None:
        """Press a key as the window does: for whatever it means on the scene."""
        if not self.press(name):
            for action in self.view().scene().actions_for_key(name):
                self.app.act(action, self.system.ns)

    def go(self, seconds: float) -> None:
        """Let time go on."""
        end = self.system.ns + round(seconds * 1e9)
        while self.system.ns < end:
            self.system.ns += 4 * MS
            self.app.poll()
            self.app.tick(self.system.ns)

    def until(self, song_s: float, taps: dict[float, str] | None = None) -> None:
        """Let time run to a moment of the drill, with keys pressed at given moments."""
        waiting = sorted((taps or {}).items())
        now = self.speaker.song_s(self.system.ns)
        while self.scene == "drill" and now is not None and now < song_s:
            self.system.ns += 4 * MS
            now = self.speaker.song_s(self.system.ns)
            while waiting and now is not None and waiting[0][0] <= now:
                self.press(waiting.pop(0)[1])
            self.app.poll()
            self.app.tick(self.system.ns)


class HeardSpeaker:
    """A speaker that can be heard: a silent one's clock, under a name of its own."""

    def __init__(self) -> None:
        self._clock = SilentSpeaker()
        self.name = "sound on"
        self.xruns = 0
        self.stalls: tuple[Span, ...] = ()
        self.lost = False

    @property
    def state(self) -> SpeakerState:
        return SpeakerState.LOST if self.lost else self._clock.state

    def __getattr__(self, name: str) -> object:
        return getattr(self._clock, name)


def two_figures() -> Library:
    figures = (pattern_of(SKIP_FIGURE, BASIC_FIGURE), pattern_of(BASIC_FIGURE))
    return Library(entries=tuple(Entry(pattern=p, path=Path("x.toml"), shipped=True) for p in figures))


def keys_for(bench: Bench) -> dict[float, str]:
    return {
        t.song_s: "f" if t.stroke.hand is Hand.NAIL else "j"
        for t in bench.running.drill.targets
        if t.stroke.kind.sounds
    }
