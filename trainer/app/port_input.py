"""Let pads be tapped on that are plugged into a MIDI port."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.app.preferences import Preferences
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs, MidiTap, PortNotice
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadMap, write_pads
from trainer.practice.seats import TouchSource

MIDI_UNCERTAINTY_S = 0.001  # a USB frame; the arrival stamp adds less while the switch interval is short


class PortInput:
    """MIDI ports as an :class:`trainer.app.input_device.InputDevice`.

    Attributes:
        midi: the ports.
    """

    least_uncertainty_s = MIDI_UNCERTAINTY_S

    def __init__(self, preferences: Preferences, midi: MidiInputs) -> None:
        self._preferences = preferences
        self.midi = midi

    @property
    def takes_taps(self) -> bool:
        """Whether a port is open."""
        return bool(self.midi.open_name)

    @property
    def hears_left(self) -> bool:
        """Whether there is a pad for the left hand."""
        return self._preferences.pads.knows_left

    @property
    def hears_side(self) -> bool:
        """Whether there is a pad for marking skips."""
        return self._preferences.pads.knows_side

    @property
    def is_behind(self) -> bool:
        """Whether more has come than one look takes in."""
        return self.midi.is_behind

    @property
    def needs_teaching(self) -> bool:
        """Whether the port's pads were never taught."""
        return not self._preferences.pads.pads

    def names(self) -> tuple[str, ...]:
        """Return the ports, and the one of our own that others may play into."""
        return (*self.midi.ports(), *([VIRTUAL_NAME] if self.midi.can_be_played_into else []))

    def knows(self, name: str) -> bool:
        """Return whether it could be a port: a port can have any name, so this kind is asked last."""
        return bool(name)

    def open(self, name: str) -> str:
        """Listen to a port; part of its name is enough."""
        return self.midi.open(name)

    def close(self) -> None:
        """Listen to no port."""
        self.midi.close()

    def poll(self) -> tuple[InputEvent, ...]:
        """Return the notes that have come."""
        return tuple(port_event(self.midi.open_name, tap, self._preferences.pads) for tap in self.midi.poll())

    def scan(self) -> tuple[PortNotice, ...]:
        """Return which ports have come or gone."""
        return self.midi.scan()

    def exchanged(self) -> Mapping[str, object]:
        """Return the pads with those of nail and thumb the other way round."""
        settings = self._preferences.settings
        pads = write_pads(self._preferences.pads.exchanged())
        return {"pads": {**settings.pads, settings.input_name: pads}}


def port_event(port: str, tap: MidiTap, pads: PadMap | None) -> InputEvent:
    """Return the event of a note; it means something only by the pads that are known of its port."""
    return InputEvent(
        source=TouchSource(port=port, channel=tap.channel, note=tap.note),
        host_ns=tap.host_ns,
        uncertainty_s=MIDI_UNCERTAINTY_S,
        touch=pads.touch(tap.channel, tap.note) if pads is not None else None,
        velocity=tap.velocity,
    )
