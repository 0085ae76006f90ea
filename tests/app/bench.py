"""A stage behind a window that is not there: its clock, its MIDI system, and what it has kept."""

from pathlib import Path

from tests.devices.fake_midi import FakeSystem
from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, pattern_of
from trainer.app.places import Place
from trainer.app.preferences import Preferences
from trainer.app.stage import Stage
from trainer.app.wishes import perform
from trainer.devices.midi import MidiInputs
from trainer.devices.speaker import SilentSpeaker
from trainer.errors import StoreProblem
from trainer.music.strokes import Hand
from trainer.practice.settings import Settings
from trainer.records.library import Entry, Library
from trainer.screen.views import Act, Action, Window

MS = 1_000_000
WINDOW = Window(width=1280, height=720)


class Bench:
    """A stage with its clock, its MIDI system and what it has kept."""

    def __init__(self, *ports: str, settings: Settings | None = None, refuse: bool = False) -> None:
        self.system = FakeSystem(*ports)
        self.kept: list[Settings] = []
        self.refuse = refuse
        figures = (pattern_of(SKIP_FIGURE, BASIC_FIGURE), pattern_of(BASIC_FIGURE))
        entries = tuple(Entry(pattern=p, path=Path("x.toml"), shipped=True) for p in figures)
        chosen = Preferences(
            settings or Settings(cautions_seen=True, passes=2), Library(entries=entries), self.keep
        )
        self.speaker = SilentSpeaker()
        midi = MidiInputs([self.system.make], self.system.clock)
        self.stage = Stage(chosen=chosen, speaker=self.speaker, midi=midi)

    def keep(self, _before: Settings, after: Settings) -> Settings:
        if self.refuse:
            raise StoreProblem("the disk is full", "free some space")
        self.kept.append(after)
        return after

    def wish(self, act: Act, value: int = 0) -> None:
        perform(self.stage, Action(act=act, value=value), self.system.ns)

    def step(self, setting: str, steps: int = 1) -> None:
        """Do what a row of the settings does."""
        perform(self.stage, Action(act=Act.CHANGE, setting=setting, value=steps), self.system.ns)

    def until(self, song_s: float, taps: dict[float, str] | None = None) -> None:
        """Let time run to a moment of the drill, with keys pressed at given moments."""
        waiting = sorted((taps or {}).items())
        now = self.speaker.song_s(self.system.ns)
        while self.stage.place is Place.DRILL and now is not None and now < song_s:
            self.system.ns += 4 * MS
            now = self.speaker.song_s(self.system.ns)
            while waiting and now is not None and waiting[0][0] <= now:
                _, key = waiting.pop(0)
                self.stage.key_down(key, host_ns=self.system.ns, looked_ns=self.system.ns - 2 * MS)
                self.stage.hearing.keys.up(key)
            self.stage.midi_taps(self.stage.hearing.midi.poll())
            self.stage.tick(self.system.ns)


def keys_for(bench: Bench) -> dict[float, str]:
    assert bench.stage.drill is not None
    return {
        t.song_s: "f" if t.stroke.hand is Hand.NAIL else "j"
        for t in bench.stage.drill.targets
        if t.stroke.kind.sounds
    }
