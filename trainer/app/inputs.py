"""Turn keys and pads into events: which input is in use, whose each pad or key is, how pads are taught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from trainer.app.own_keys import why_refused
from trainer.app.preferences import Preferences, unsaved
from trainer.devices.keyboard import SCAN_S, HandKeys, KeyTaps
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs, MidiTap
from trainer.errors import TrainerError
from trainer.music.strokes import Hand
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadMap, PadTouch, Teaching, write_pads
from trainer.practice.seats import TouchSource
from trainer.practice.settings import Settings

KEYS_NAME = "Computer keys"
NO_KEY = ("backspace", "delete")  # take the left hand's key away, or that for skips
MIDI_UNCERTAINTY_S = 0.001  # a USB frame; the arrival stamp adds less while the switch interval is short


class Inputs:
    """All that can be tapped on; from the app's thread only.

    What should be shown to the player is handed to ``say``.

    Attributes:
        unplugs: how often the input in use has gone away.
    """

    def __init__(self, preferences: Preferences, midi: MidiInputs, say: Callable[[str], None]) -> None:
        settings = preferences.settings
        self._preferences = preferences
        self._say = say
        self.midi = midi
        self.unplugs = 0
        self._others: list[MidiInputs] = []
        self.keys = KeyTaps(_hand_keys(settings))
        self.waiting_key: Hand | str | None = None  # a hand's, or that of one of SCREEN_GESTURES
        self.teaching: Teaching | None = None
        self._open_remembered()

    @property
    def in_use(self) -> str:
        """The input in use, by name."""
        return self._preferences.settings.input_name or KEYS_NAME

    @property
    def pads(self) -> PadMap:
        """The pads of the input in use."""
        return self._preferences.pads

    @property
    def hears_left(self) -> bool:
        """Whether the input in use has a pad or a key for the left hand."""
        return self.pads.knows_left if self.midi.open_name else bool(self.keys.keys.left)

    @property
    def hears_side(self) -> bool:
        """Whether the input in use has a pad or a key for marking skips."""
        return self.pads.knows_side if self.midi.open_name else bool(self.keys.keys.side)

    def inputs(self) -> tuple[tuple[str, bool], ...]:
        """Return all inputs and whether each is there now: keys, ports, and one remembered but unplugged."""
        found = [(KEYS_NAME, True)] + [(port, True) for port in self.midi.ports()]
        if self.midi.can_be_played_into:
            found.append((VIRTUAL_NAME, True))
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
        if name == KEYS_NAME:
            self.midi.close()
            self._keep(lambda: self._preferences.change(input_name=""))
            return True
        try:
            opened = self.midi.open(name)
        except TrainerError as err:
            self._say(str(err))
            return False
        self._keep(lambda: self._preferences.change(input_name=opened))
        if not self.pads.pads:
            self.teach()
        return True

    def teach(self) -> None:
        """Begin or end teaching the pads of the input in use by touch."""
        if self.teaching is not None:
            self._end_teaching()
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
        settings = self._preferences.settings
        if self.midi.open_name:
            pads = {**settings.pads, settings.input_name: write_pads(self.pads.exchanged())}
            self._keep(lambda: self._preferences.change(pads=pads))
            return
        keys = replace(self.keys.keys, nail=settings.thumb_key, thumb=settings.nail_key)
        self.keys.keys = keys
        self._keep(lambda: self._preferences.change(nail_key=keys.nail, thumb_key=keys.thumb))

    def follow(self) -> None:
        """Use what the settings say: after a change of them was taken back."""
        settings = self._preferences.settings
        self.teaching = None
        self.keys.keys = _hand_keys(settings)
        if not settings.input_name:
            self.midi.close()
        elif settings.input_name != self.midi.open_name:
            self._open(settings.input_name)

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
        self.keys.keys = keys
        self._keep(
            lambda: self._preferences.change(
                nail_key=keys.nail, thumb_key=keys.thumb, left_key=keys.left, side_key=keys.side
            )
        )
        return True

    # Events

    @property
    def least_uncertainty_s(self) -> float:
        """What is known of the next tap's uncertainty before it has come."""
        return MIDI_UNCERTAINTY_S if self.midi.open_name else SCAN_S

    def key(self, key: str, *, host_ns: int, looked_ns: int) -> InputEvent:
        """Return the event of a key that was seen to go down, or to be down still.

        Args:
            host_ns: when it was seen; ``looked_ns`` when the queue was looked at before that.
        """
        tap = self.keys.down(key, host_ns=host_ns, looked_ns=looked_ns)
        source = TouchSource(key=key)
        if tap is None:
            return InputEvent(source=source, host_ns=host_ns, uncertainty_s=SCAN_S, is_repeat=True)
        # While a port is open the keys are no hand's.
        hand = None if self.midi.open_name else tap.hand
        touch = PadTouch(hand=hand, string=None) if hand is not None else None
        return InputEvent(source=source, host_ns=tap.host_ns, uncertainty_s=tap.uncertainty_s, touch=touch)

    def poll(self) -> tuple[InputEvent, ...]:
        """Return what all ports that are listened to have sent since the last call."""
        found = [_event(self.midi.open_name, tap, self.pads) for tap in self.midi.poll()]
        for other in self._others:
            found += [_event(other.open_name, tap, None) for tap in other.poll()]
        return tuple(found)

    @property
    def is_behind(self) -> bool:
        """Whether more has come than could be taken in so far."""
        return self.midi.is_behind or any(other.is_behind for other in self._others)

    def scan(self) -> None:
        """Hear of ports that have come or gone; at least once a frame."""
        for notice in self.midi.scan():
            if notice.name != self._preferences.settings.input_name:
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

    def _open_remembered(self) -> None:
        name = self._preferences.settings.input_name
        if name and not self.midi.open_name:
            self._open(name)

    def _open(self, name: str) -> None:
        try:
            self.midi.open(name)
        except TrainerError as err:
            self._say(str(err))

    def _keep(self, change: Callable[[], None]) -> None:
        note = unsaved(change)
        if note:
            self._say(note)


def _hand_keys(settings: Settings) -> HandKeys:
    return HandKeys(
        nail=settings.nail_key, thumb=settings.thumb_key, left=settings.left_key, side=settings.side_key
    )


def _event(port: str, tap: MidiTap, pads: PadMap | None) -> InputEvent:
    """Return the event of a note; it means something only by the pads that are known of its port."""
    return InputEvent(
        source=TouchSource(port=port, channel=tap.channel, note=tap.note),
        host_ns=tap.host_ns,
        uncertainty_s=MIDI_UNCERTAINTY_S,
        touch=pads.touch(tap.channel, tap.note) if pads is not None else None,
        velocity=tap.velocity,
    )
