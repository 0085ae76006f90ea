"""Send MIDI along with a drill: choose the port, follow the speaker, send the taps on."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING

from trainer.app.preferences import Preferences, unsaved
from trainer.app.tap_sound import FULL_VELOCITY, tap_notes
from trainer.devices.midi_out import OFFERED_NAME, MidiOut
from trainer.devices.speaker import SpeakerLike
from trainer.errors import TrainerError
from trainer.judging.take import Tap
from trainer.music.strokes import Hand
from trainer.practice.pads import PadMap
from trainer.sound.midi_out import NO_LIGHTS, PadLights, Sending

if TYPE_CHECKING:
    from trainer.practice.drill import Drill

NOTHING = "nothing is sent"
NEVER_ZERO = 1  # a velocity of 0 would end the note


class MidiSync:
    """What goes out while a drill runs; from the app's thread only.

    Args:
        say: takes what the player should be told.
    """

    def __init__(self, chosen: Preferences, out: MidiOut, say: Callable[[str], None]) -> None:
        self._chosen = chosen
        self._out = out
        self._say = say
        if chosen.settings.midi_out:
            self._open(chosen.settings.midi_out)

    @property
    def in_use(self) -> str:
        """Where it goes, in words."""
        return self._chosen.settings.midi_out or NOTHING

    def choices(self) -> tuple[str, ...]:
        """Return where it can go: nowhere, to each port, to one that we offer, and to one remembered."""
        found = ["", *self._out.ports()]
        if self._out.can_offer:
            found.append(OFFERED_NAME)
        wanted = self._chosen.settings.midi_out
        return tuple(found if wanted in found else [*found, wanted])

    def step(self, steps: int) -> None:
        """Send to the next port from now on, or to none."""
        choices = self.choices()
        at = choices.index(self._chosen.settings.midi_out)
        name = choices[(at + steps) % len(choices)]
        self._out.close()
        note = unsaved(lambda: self._chosen.change(midi_out=name))
        if note:
            self._say(note)
        if name:
            self._open(name)

    def follow(self) -> None:
        """Send to where the settings say: after a change of them was taken back."""
        self._out.close()
        if self._chosen.settings.midi_out:
            self._open(self._chosen.settings.midi_out)

    def begin(self, speaker: SpeakerLike, host_ns: int) -> None:
        """Begin with the stream that the speaker has just begun."""
        plan, song_s = speaker.plan, speaker.song_s(host_ns)
        if plan is None or song_s is None or not self._out.open_name:
            return
        from_quarters = Fraction(0)
        if plan.backing is not None:
            from_quarters = plan.backing.start_beat * plan.pattern.meter.beat_quarters
        sending = Sending(lights=lights_of(self._chosen.pads), from_quarters=from_quarters)
        self._out.start(plan, sending, host_ns, song_s)

    def tick(self, speaker: SpeakerLike, host_ns: int) -> None:
        """Follow the speaker, once a frame, and hear of a port that goes or comes back."""
        plan, song_s = speaker.plan, speaker.song_s(host_ns)
        if plan is not None and song_s is not None:
            self._out.follow(plan, host_ns, song_s)
        note = self._out.scan()
        if note:
            self._say(note)

    def tap(self, drill: Drill, tap: Tap, host_ns: int) -> None:
        """Send a tap on as the notes that it sounds; a tap on a skip sounds none."""
        velocity = max(NEVER_ZERO, min(tap.velocity or FULL_VELOCITY, FULL_VELOCITY))
        self._out.tap(tap_notes(drill, tap), velocity, host_ns)

    def stop(self) -> None:
        """End with the stream."""
        self._out.stop()

    def end(self) -> None:
        """Give the port back before the program ends."""
        self._out.end()

    def _open(self, name: str) -> None:
        try:
            self._out.open(name)
        except TrainerError as err:
            self._say(str(err))


def lights_of(pads: PadMap) -> PadLights:
    """Return the notes that light the pads in use: those that the pads themselves send."""
    first = {pad.hand: pad for pad in reversed(pads.pads) if pad.hand is not None}
    if not first:
        return NO_LIGHTS
    channels = [pad.channel for pad in first.values() if pad.channel is not None]

    def note(hand: Hand) -> int | None:
        return first[hand].note if hand in first else None

    return PadLights(
        channel=channels[0] if channels else 0,
        nail=note(Hand.NAIL),
        thumb=note(Hand.THUMB),
        left=note(Hand.LEFT),
    )
