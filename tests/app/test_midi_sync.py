"""MIDI sent along with a drill: the port chosen, the speaker followed, taps sent on."""

from dataclasses import replace

import pytest

from tests.app.bench import Bench
from tests.devices.fake_midi_out import FakeSystem
from tests.judging.helpers import SKIP_FIGURE, pattern_of, tap
from tests.sound.helpers import plan_of
from trainer.app.midi_sync import NOTHING, MidiSync, lights_of
from trainer.devices.midi_out import OFFERED_NAME, MidiOut
from trainer.devices.speaker import SilentSpeaker
from trainer.music.strokes import Hand
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.pads import PadMap, read_pads
from trainer.practice.settings import Settings
from trainer.sound.midi_out import NO_LIGHTS, STOP, PadLights

PATTERN = pattern_of(SKIP_FIGURE)


class Desk:
    """A bench that sends."""

    def __init__(self, *ports: str, settings: Settings | None = None) -> None:
        self.system = FakeSystem(*ports)
        self.bench = Bench(settings=settings)
        self.out = MidiOut([self.system.make], self.system.clock, threaded=False)
        self.said: list[str] = []
        self.sending = MidiSync(self.bench.preferences, self.out, self.said.append)

    @property
    def wanted(self) -> str:
        return self.bench.preferences.settings.midi_out


def drill() -> Drill:
    return Drill(DrillSettings(pattern=PATTERN, bpm=PATTERN.slow_bpm))


def test_the_ports_are_gone_through_in_turn_and_the_choice_is_kept() -> None:
    desk = Desk("Synth 20:0", "Box 21:0")
    assert desk.sending.choices() == ("", "Synth", "Box", OFFERED_NAME)
    assert desk.sending.in_use == NOTHING
    for name in ("Synth", "Box", OFFERED_NAME, ""):
        desk.sending.step(1)
        assert (desk.wanted, desk.out.open_name) == (name, name)
    assert desk.bench.kept[-1].midi_out == ""
    assert desk.said == []


def test_a_port_remembered_but_missing_is_said_so_and_stays_chosen() -> None:
    desk = Desk("Synth 20:0", settings=Settings(cautions_seen=True, midi_out="Box"))
    assert desk.said == [
        'no MIDI port to send to is called "Box" (ports: Synth); plug it in or choose another.'
    ]
    assert desk.sending.choices()[-1] == "Box"
    assert desk.wanted == "Box"


def test_a_stream_is_followed_and_its_taps_are_sent_on() -> None:
    desk = Desk("Synth 20:0", settings=Settings(cautions_seen=True, midi_out="Synth"))
    speaker = SilentSpeaker()
    speaker.start(plan_of("60", pattern=PATTERN), 0)
    desk.sending.begin(speaker, 0)
    running = drill()
    thumb = tap(0.5, Hand.THUMB)
    desk.sending.tick(speaker, 0)
    desk.sending.tap(running, thumb, 0)
    assert desk.system.sent[-1][1] == (0x90, 59, 127), "the drop-thumb of the figure, on string 2"
    for struck, sent_as in ((60, 60), (127, 127), (0, 127)):
        desk.sending.tap(running, replace(thumb, velocity=struck), 0)
        assert desk.system.sent[-1][1][2] == sent_as, "as hard as it was struck"
    sent = len(desk.system.sent)
    desk.sending.tap(running, tap(0.0, Hand.NAIL), 0)
    assert len(desk.system.sent) == sent, "a skip that is touched sounds no string"
    desk.sending.stop()
    assert desk.system.sent[-1][1] == (STOP,)


def test_without_a_port_nothing_is_begun() -> None:
    desk = Desk("Synth 20:0")
    speaker = SilentSpeaker()
    speaker.start(plan_of("60", pattern=PATTERN), 0)
    desk.sending.begin(speaker, 0)
    desk.sending.tap(drill(), tap(0.5, Hand.THUMB), 0)
    desk.sending.end()
    assert desk.system.sent == []


def test_the_pads_are_lit_by_the_notes_that_they_send() -> None:
    assert lights_of(PadMap()) == NO_LIGHTS
    assert lights_of(read_pads("nail=36,thumb=38")) == PadLights(channel=0, nail=36, thumb=38)


class Half(SilentSpeaker):
    """A speaker whose sound goes on at half the speed of the host's clock."""

    def song_s(self, host_ns: int) -> float | None:
        return super().song_s(host_ns // 2)


def test_the_clock_that_is_sent_keeps_to_the_sound_and_not_to_the_host() -> None:
    """24 clocks a quarter: MIDI 1.0 Detailed Specification, System Real Time Messages."""
    desk = Desk("Synth 20:0", settings=Settings(cautions_seen=True, midi_out="Synth"))
    speaker = Half()
    speaker.start(plan_of("60", pattern=PATTERN), 0)
    desk.sending.begin(speaker, 0)
    for desk.system.ns in range(0, 16_000_000_000, 16_000_000):
        desk.sending.tick(speaker, desk.system.ns)
        desk.out.look()
    clocks = [at_ns for at_ns, message in desk.system.sent if message == (0xF8,)]
    assert len([at_ns for at_ns in clocks if at_ns > 6_000_000_000]) == pytest.approx(5 * 24, abs=2)
