"""Know what is tapped on: which input is in use, whose each pad or key is, and how pads are taught."""

from __future__ import annotations

from collections.abc import Callable

from trainer.app.own_keys import why_refused
from trainer.app.preferences import Preferences, unsaved
from trainer.devices.keys import KeyMap, KeyTap, KeyTaps
from trainer.devices.midi import VIRTUAL_NAME, MidiInputs, MidiTap
from trainer.errors import TrainerError
from trainer.music.strokes import Hand
from trainer.practice.pads import PadTouch, Teaching, write_pads

KEYS_NAME = "Computer keys"
NO_KEY = ("backspace", "delete")  # take the left hand's key away


class Hearing:
    """The inputs of a stage; from the app's thread only.

    What should be shown to the player is handed to ``say``.
    """

    def __init__(self, chosen: Preferences, midi: MidiInputs, say: Callable[[str], None]) -> None:
        settings = chosen.settings
        self._chosen = chosen
        self._say = say
        self.midi = midi
        self.keys = KeyTaps(KeyMap(nail=settings.nail_key, thumb=settings.thumb_key, left=settings.left_key))
        self.waiting_key: Hand | str | None = None  # a hand's, or that of one of SCREEN_WISHES
        self.teaching: Teaching | None = None
        self._open_remembered()

    @property
    def in_use(self) -> str:
        """The input in use, by name."""
        return self._chosen.settings.input_name or KEYS_NAME

    @property
    def hears_left(self) -> bool:
        """Whether the input in use has a pad or a key for the left hand."""
        return self._chosen.pads.knows_left if self.midi.open_name else bool(self.keys.keys.left)

    def inputs(self) -> tuple[tuple[str, bool], ...]:
        """Return all inputs and whether each is there now: keys, ports, and one remembered but unplugged."""
        found = [(KEYS_NAME, True)] + [(port, True) for port in self.midi.ports()]
        if self.midi.can_be_played_into:
            found.append((VIRTUAL_NAME, True))
        wanted = self._chosen.settings.input_name
        if wanted and wanted not in [name for name, _ in found]:
            found.append((wanted, False))
        return tuple(found)

    def use(self, name: str) -> bool:
        """Tap on another input from now on; one never taught is taught at once.

        Returns:
            Whether it can be used; why not was said.
        """
        self.teaching = None
        if name == KEYS_NAME:
            self.midi.close()
            self._keep(lambda: self._chosen.change(input_name=""))
            return True
        try:
            opened = self.midi.open(name)
        except TrainerError as err:
            self._say(str(err))
            return False
        self._keep(lambda: self._chosen.change(input_name=opened))
        if not self._chosen.pads.pads:
            self.teach()
        return True

    def teach(self) -> None:
        """Begin or end teaching the pads of the input in use by touch."""
        if self.teaching is not None:
            self._end_teaching()
        elif self._chosen.settings.input_name:
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

    def follow(self) -> None:
        """Use what the settings say: after a change of them was taken back."""
        settings = self._chosen.settings
        self.teaching = None
        self.keys.keys = KeyMap(nail=settings.nail_key, thumb=settings.thumb_key, left=settings.left_key)
        if not settings.input_name:
            self.midi.close()
        elif settings.input_name != self.midi.open_name:
            self._open(settings.input_name)

    def leave(self) -> None:
        """End whatever is being asked for; pads taught so far are forgotten."""
        self.teaching, self.waiting_key = None, None

    def new_key(self, key: str) -> bool:
        """Give a key to the hand that waits for one; return whether one did."""
        if self.waiting_key is None:
            return False
        waiting, self.waiting_key = self.waiting_key, None
        if waiting is not Hand.NAIL and waiting is not Hand.THUMB and key in NO_KEY:
            key = ""
        refused = why_refused(key, waiting, self._chosen.settings)
        if refused:
            self._say(refused)
            return True
        if isinstance(waiting, str):
            own = {wish: k for wish, k in self._chosen.settings.own_keys.items() if wish != waiting}
            self._keep(lambda: self._chosen.change(own_keys={**own, waiting: key} if key else own))
            return True
        keys = self.keys.keys.with_key(waiting, key)
        self.keys.keys = keys
        self._keep(lambda: self._chosen.change(nail_key=keys.nail, thumb_key=keys.thumb, left_key=keys.left))
        return True

    def key_tap(self, key: str, *, host_ns: int, looked_ns: int) -> KeyTap | None:
        """Return the tap of a key that was seen to go down; None for a repeat or a key of no hand."""
        return self.keys.down(key, host_ns=host_ns, looked_ns=looked_ns)

    def is_tapped(self, key: str) -> bool:
        """Return whether taps are heard from the keys and this is one of them."""
        return not self.midi.open_name and self.keys.keys.hand(key) is not None

    def pad_touch(self, tap: MidiTap) -> PadTouch | None:
        """Return what a MIDI tap says; None when it was taken for teaching or no pad sends it."""
        if self.teaching is not None:
            self._taught(self.teaching.touched(tap.channel, tap.note))
            return None
        return self._chosen.pads.touch(tap.channel, tap.note)

    def _taught(self, teaching: Teaching) -> None:
        self.teaching = teaching
        if teaching.done:
            self._end_teaching()

    def _end_teaching(self) -> None:
        teaching, self.teaching = self.teaching, None
        if teaching is not None and teaching.pads:
            settings = self._chosen.settings
            pads = {**settings.pads, settings.input_name: write_pads(teaching.result())}
            self._keep(lambda: self._chosen.change(pads=pads))

    def _open_remembered(self) -> None:
        name = self._chosen.settings.input_name
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
