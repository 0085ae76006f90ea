"""Turn what is touched or heard into events: which input is in use, whose each pad or key is, how pads are
taught.
"""

from __future__ import annotations

from collections.abc import Callable

from trainer.app.banjo import Banjo
from trainer.app.input_device import InputDevice
from trainer.app.key_input import KEYS_NAME, KeyInput
from trainer.app.microphone_input import MicrophoneInput
from trainer.app.own_keys import why_refused
from trainer.app.port_input import PortInput, port_event
from trainer.app.preferences import Preferences, unsaved
from trainer.devices.keyboard import KeyTaps
from trainer.devices.midi import MidiInputs
from trainer.errors import TrainerError
from trainer.music.strokes import Hand
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadMap, Teaching, write_pads

NO_KEY = ("backspace", "delete")  # take the left hand's key away, or that for skips


class Inputs:
    """All that can be tapped on; from the app's thread only.

    What should be shown to the player is handed to ``say``.

    Attributes:
        devices: the kinds of input; the first that knows a name is asked for it. The keys come first and
            are tapped on while no other is.
        midi: the ports; ``microphone`` what a banjo is heard by.
        unplugs: how often the input in use has gone away.
        waiting_key: what the next key is to stand for: a hand, or one of ``SCREEN_GESTURES``.
    """

    def __init__(
        self,
        preferences: Preferences,
        midi: MidiInputs,
        say: Callable[[str], None],
        banjo: Banjo | None = None,
    ) -> None:
        self._preferences = preferences
        self._say = say
        self.midi = midi
        self.key_input = KeyInput(preferences)
        self.microphone = MicrophoneInput(banjo or Banjo())
        self.devices: tuple[InputDevice, ...] = (
            self.key_input,
            self.microphone,
            PortInput(preferences, midi),
        )
        self.unplugs = 0
        self.newcomer = ""  # a port that came while the program runs and is not in use
        self._others: list[MidiInputs] = []
        self.waiting_key: Hand | str | None = None
        self.teaching: Teaching | None = None
        if not midi.open_name:
            self._open(preferences.settings.input_name)

    @property
    def in_use(self) -> str:
        """The input in use, by name."""
        return self._preferences.settings.input_name or KEYS_NAME

    @property
    def tapped_on(self) -> tuple[tuple[str, str, Hand | None], ...]:
        """The keys or pads in use: what stands on each, whose it is in words, and whose; None for all."""
        if not self.uses_keys:
            if not self.midi.open_name:
                return ()
            pads = self.pads
            if not pads.knows_hand:
                return (("", "any pad", None),)
            left = (("", "left hand", Hand.LEFT),) if pads.knows_left else ()
            side = (("", "skip", Hand.NONE),) if pads.knows_side else ()
            return (("", "nail", Hand.NAIL), ("", "thumb", Hand.THUMB), *left, *side)
        keys = self.keys.keys
        named = (
            (keys.nail, "nail", Hand.NAIL),
            (keys.thumb, "thumb", Hand.THUMB),
            (keys.left, "left hand", Hand.LEFT),
            (keys.side, "skip", Hand.NONE),
        )
        return tuple((key_label(key), whose, hand) for key, whose, hand in named if key)

    @property
    def how_to_tap(self) -> str:
        """What to tap on, in a sentence."""
        if self.midi.open_name:
            return f"Tap on {self.in_use}."
        keys = self.keys.keys
        return f"Tap {key_label(keys.nail)} for the nail and {key_label(keys.thumb)} for the thumb."

    @property
    def pads(self) -> PadMap:
        """The pads of the input in use."""
        return self._preferences.pads

    @property
    def device(self) -> InputDevice:
        """The kind that taps come from now: the keys too while what was chosen is not there."""
        return next((each for each in self.devices[1:] if each.takes_taps), self.key_input)

    @property
    def uses_keys(self) -> bool:
        """Whether taps come from the computer's keys now."""
        return self.device is self.key_input

    @property
    def hears_banjo(self) -> bool:
        """Whether a banjo is played, which a microphone hears."""
        return self.device is self.microphone

    @property
    def hears_left(self) -> bool:
        """Whether the input in use tells strokes of the left hand."""
        return self.device.hears_left

    @property
    def hears_side(self) -> bool:
        """Whether skips can be marked on the input in use."""
        return self.device.hears_side

    @property
    def least_uncertainty_s(self) -> float:
        """What is known of the next tap's uncertainty before it has come."""
        return self.device.least_uncertainty_s

    @property
    def keys(self) -> KeyTaps:
        """The computer's keys."""
        return self.key_input.keys

    def inputs(self) -> tuple[tuple[str, bool], ...]:
        """Return all inputs and whether each is there now, with one remembered but unplugged at the end."""
        # Microphones are asked for a name before the ports, which take any, and shown after them.
        shown = sorted(self.devices, key=lambda each: each is self.microphone)
        found = [(name, True) for each in shown for name in each.names()]
        wanted = self._preferences.settings.input_name
        if wanted and wanted not in [name for name, _ in found]:
            found.append((wanted, False))
        return tuple(found)

    def use(self, name: str) -> bool:
        """Tap on another input from now on; one never taught is taught at once.

        Returns:
            Whether it can be used; why not was said.
        """
        self._end_teaching(is_broken_off=True)
        device = self._of(name)
        try:
            opened = device.open(name)
        except TrainerError as err:
            self._say(str(err))
            return False
        self._close_but(device)
        self._keep(lambda: self._preferences.change(input_name=opened))
        if device.needs_teaching:
            self.teach()
        return True

    def teach(self) -> None:
        """Begin or end teaching the pads of the input in use by touch."""
        if self.teaching is not None:
            self._end_teaching()
        elif self.hears_banjo:
            self._say("A microphone has no pads to teach: set your banjo up for it instead.")
        elif self._preferences.settings.input_name:
            self.teaching = Teaching()
        else:
            self._say("Choose a MIDI input first; the keys need no teaching.")

    def skip_prompt(self) -> None:
        """Go on without the pad asked for."""
        if self.teaching is not None:
            self._taught(self.teaching.skipped())

    def unteach(self) -> None:
        """Take the last pad taught back, and ask for it again."""
        if self.teaching is not None:
            self.teaching = self.teaching.undone()

    def exchange(self) -> None:
        """Exchange nail and thumb of the input in use, and keep that."""
        changes = self.device.exchanged()
        self._keep(lambda: self._preferences.change(**changes))
        self.key_input.follow()

    def follow(self) -> None:
        """Use what the settings say: after a change of them was taken back."""
        self.teaching = None
        self.key_input.follow()
        name = self._preferences.settings.input_name
        self._close_but(self._of(name))
        if name != self.midi.open_name:
            self._open(name)

    def leave(self) -> None:
        """End whatever is being asked for; pads taught so far are kept."""
        self._end_teaching(is_broken_off=True)
        self.waiting_key = None

    def new_key(self, key: str) -> bool:
        """Give a key to the hand that waits for one; return whether one did."""
        if self.waiting_key is None:
            return False
        waiting, self.waiting_key = self.waiting_key, None
        if waiting is not Hand.NAIL and waiting is not Hand.THUMB and key in NO_KEY:
            key = ""
        refused = why_refused(key, waiting, self._preferences.settings)
        if refused:
            self._say(refused)
            return True
        if isinstance(waiting, str):
            own = {
                gesture: k for gesture, k in self._preferences.settings.own_keys.items() if gesture != waiting
            }
            self._keep(lambda: self._preferences.change(own_keys={**own, waiting: key} if key else own))
            return True
        keys = self.keys.keys.with_key(waiting, key)
        self._keep(
            lambda: self._preferences.change(
                nail_key=keys.nail, thumb_key=keys.thumb, left_key=keys.left, side_key=keys.side
            )
        )
        self.key_input.follow()
        return True

    # Events

    def key(self, key: str, *, host_ns: int, looked_ns: int) -> InputEvent:
        """Return the event of a key that was seen to go down, or to be down still.

        Args:
            host_ns: when it was seen; ``looked_ns`` when the queue was looked at before that.
        """
        return self.key_input.event(key, host_ns=host_ns, looked_ns=looked_ns, are_used=self.uses_keys)

    def poll(self) -> tuple[InputEvent, ...]:
        """Return what all that is listened to has taken in since the last call."""
        found = [event for each in self.devices for event in each.poll()]
        for other in self._others:
            found += [port_event(other.open_name, tap, None) for tap in other.poll()]
        return tuple(found)

    @property
    def is_behind(self) -> bool:
        """Whether more has come than could be taken in so far."""
        behind = [each.is_behind for each in self.devices] + [other.is_behind for other in self._others]
        return any(behind)

    def scan(self) -> None:
        """Hear of what has come or gone; at least once a frame."""
        for notice in (notice for each in self.devices for notice in each.scan()):
            if notice.name != self._preferences.settings.input_name:
                if notice.present:
                    self.newcomer = notice.name
                    self._say(f"{notice.name} was plugged in: F2 taps on it.")
                elif notice.name == self.newcomer:
                    self.newcomer = ""
                continue
            if notice.present:
                self._say(f"{notice.name} is back.")
            else:
                self.unplugs += 1
                self._say(f"{notice.name} was unplugged: plug it in again, or choose another input.")
        for other in self._others:
            other.scan()

    def listen_to_all(self, listen: Callable[[], MidiInputs]) -> None:
        """Hear every port besides the one in use; one that cannot be opened is another program's.

        Args:
            listen: makes another set of inputs.
        """
        for port in self.midi.ports():
            if port == self.midi.open_name:
                continue
            other = listen()
            try:
                other.open(port)
            except TrainerError as problem:
                self._say(str(problem))
                other.end()
                continue
            self._others.append(other)

    def listen_to_one(self) -> None:
        """Let go of all ports but the one in use."""
        for other in self._others:
            other.end()
        self._others = []

    # Teaching

    def taught_by(self, event: InputEvent) -> bool:
        """Take a touch for the pad that is being asked for; return whether one was."""
        if self.teaching is None or not event.source.port:
            return False
        self._taught(self.teaching.touched(event.source.channel, event.source.note))
        return True

    def _taught(self, teaching: Teaching) -> None:
        self.teaching = teaching
        if teaching.done:
            self._end_teaching()

    def _end_teaching(self, *, is_broken_off: bool = False) -> None:
        """Keep what was taught; pads not asked for yet stay as they were where it is broken off."""
        teaching, self.teaching = self.teaching, None
        if teaching is not None and teaching.pads:
            settings = self._preferences.settings
            taught = teaching.result(self.pads if is_broken_off else None)
            pads = {**settings.pads, settings.input_name: write_pads(taught)}
            self._keep(lambda: self._preferences.change(pads=pads))
            if is_broken_off:
                self._say(f"Kept what was taught: {taught.in_words()}.")

    def _of(self, name: str) -> InputDevice:
        return next(each for each in self.devices if each.knows(name))

    def _close_but(self, device: InputDevice) -> None:
        for each in self.devices:
            if each is not device:
                each.close()

    def _open(self, name: str) -> None:
        try:
            self._of(name).open(name)
        except TrainerError as err:
            self._say(str(err))

    def _keep(self, change: Callable[[], None]) -> None:
        note = unsaved(change)
        if note:
            self._say(note)


def key_label(key: str) -> str:
    """Return what stands on a key, from the window library's name for it."""
    return key.upper() if len(key) == 1 else key.capitalize()
