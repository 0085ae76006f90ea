"""Know which pad is whose: a map from MIDI notes to hands and strings, taught by touch.

With pads for nail and thumb the hand of each tap is known, with more pads its string; with one pad alone
only the timing is judged.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from trainer.errors import BadSettings
from trainer.music.strokes import ALL_STRINGS, Hand
from trainer.music.tuning import OPEN_G

# Takes of our own: the MIDI channel tells the hand and the note is the string's pitch, so the file sounds
# like what was played.
HAND_CHANNELS = {Hand.NAIL: 0, Hand.THUMB: 1, Hand.LEFT: 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Pad:
    """One pad and what it stands for.

    Attributes:
        note: MIDI note, 0 to 127.
        channel: MIDI channel from 0; None for any.
        hand: whose it is; None when the input knows only the time.
        string: which string it stands for; None for any.
    """

    note: int
    channel: int | None = None
    hand: Hand | None = None
    string: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PadTouch:
    """What a touched pad says of a tap."""

    hand: Hand | None
    string: int | None


ANY_PAD = PadTouch(hand=None, string=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PadMap:
    """All pads that are known; empty means that every note is a tap of an unknown hand."""

    pads: tuple[Pad, ...] = ()

    def touch(self, channel: int, note: int) -> PadTouch | None:
        """Return what a note says; None for a note that no pad of the map sends."""
        if not self.pads:
            return ANY_PAD
        for pad in self.pads:
            if pad.note == note and pad.channel in (None, channel):
                return PadTouch(hand=pad.hand, string=pad.string)
        return None

    @property
    def hands(self) -> frozenset[Hand]:
        """The hands that have a pad."""
        return frozenset(pad.hand for pad in self.pads if pad.hand is not None)

    @property
    def knows_hand(self) -> bool:
        """Whether a tap of the nail can be told from one of the thumb."""
        return {Hand.NAIL, Hand.THUMB} <= self.hands

    @property
    def knows_left(self) -> bool:
        """Whether the left hand has a pad of its own."""
        return Hand.LEFT in self.hands

    @property
    def knows_strings(self) -> bool:
        """Whether any pad stands for a string."""
        return any(pad.string is not None for pad in self.pads)

    def in_words(self) -> str:
        """Return the map in a few words for the screen."""
        if not self.knows_hand:
            return "one pad: timing only" if self.pads else "any pad: timing only"
        words = "nail, thumb and left hand" if self.knows_left else "nail and thumb"
        return f"{words}, by string" if self.knows_strings else words


def own_take_map() -> PadMap:
    """Return the map of the takes that the program itself writes, strings up to the 22nd fret unknown.

    Open strings are told by their pitch; a fretted note has no one string and leaves it unknown.
    """
    pads = []
    for hand, channel in HAND_CHANNELS.items():
        pads += [
            Pad(note=OPEN_G.note(s), channel=channel, hand=hand, string=s)
            for s in ALL_STRINGS
            if not (hand is Hand.NAIL and s == 5)
        ]
        opened = {pad.note for pad in pads if pad.channel == channel}
        pads += [Pad(note=note, channel=channel, hand=hand) for note in range(128) if note not in opened]
    return PadMap(pads=tuple(pads))


def read_pads(words: str) -> PadMap:
    """Read a map written as ``nail=36,thumb=38,left=40`` or, by string, ``nail3=41,thumb5=43``.

    Raises:
        BadSettings: a part that is not a hand, an equals sign and a MIDI note, or a note given twice.
    """
    pads: list[Pad] = []
    for part in words.split(","):
        name, equals, number = (piece.strip().lower() for piece in part.partition("="))
        hand_word = name.rstrip("12345")
        string_word = name[len(hand_word) :]
        known = {hand.value: hand for hand in HAND_CHANNELS}
        if not equals or hand_word not in known or len(string_word) > 1:
            raise BadSettings(
                f'found "{part.strip()}" for a pad',
                "write nail=36,thumb=38, with left=40 or a string as in nail3=41 where you have them",
            )
        if not (number.isascii() and number.isdecimal()) or int(number[:4]) > 127:
            raise BadSettings(f'found "{number}" for the note of {name}', "write a MIDI note from 0 to 127")
        pad = Pad(
            note=int(number),
            hand=known[hand_word],
            string=int(string_word) if string_word else None,
        )
        if pad.note in (p.note for p in pads):
            raise BadSettings(f"note {pad.note} is given to two pads", "give each pad its own note")
        pads.append(pad)
    return PadMap(pads=tuple(pads))


def write_pads(pads: PadMap) -> str:
    """Return a map in the words that :func:`read_pads` reads; channels are not kept."""
    return ",".join(
        f"{pad.hand.value if pad.hand else 'nail'}{pad.string or ''}={pad.note}" for pad in pads.pads
    )


# Asked in this order. Once a pad by string has been skipped, the rest of that row is not asked for.
_ASKED: tuple[tuple[Hand, int | None], ...] = (
    (Hand.NAIL, None),
    (Hand.THUMB, None),
    (Hand.LEFT, None),
    *((Hand.NAIL, string) for string in (1, 2, 3, 4)),
    *((Hand.THUMB, string) for string in (5, 4, 3, 2)),
)
_WHOSE = {Hand.NAIL: "your nail", Hand.THUMB: "your thumb", Hand.LEFT: "the left hand"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Teaching:
    """Pads being taught by touch: a value, replaced at each touch or skip.

    Attributes:
        at: place of what is asked for among nail, thumb, left hand, nail by string, thumb by string.
        pads: what is known so far.
        note: one sentence about the last touch, or empty.
    """

    at: int = 0
    pads: tuple[Pad, ...] = ()
    note: str = ""

    @property
    def done(self) -> bool:
        """Whether everything has been asked."""
        return self.at >= len(_ASKED)

    @property
    def prompt(self) -> str:
        """What to touch now, as a sentence without a stop; empty when done."""
        if self.done:
            return ""
        hand, string = _ASKED[self.at]
        pad = f"touch the pad for {_WHOSE[hand]}"
        if string is not None:
            pad += f" on string {string}"
        return pad if self.at == 0 else f"{pad}, or skip"

    def touched(self, channel: int, note: int) -> Teaching:
        """Take a touched pad for what was asked."""
        if self.done:
            return self
        if any(pad.note == note and pad.channel == channel for pad in self.pads):
            return replace(self, note="that pad is taken already; touch another, or skip")
        hand, string = _ASKED[self.at]
        pad = Pad(note=note, channel=channel, hand=hand, string=string)
        return replace(self, at=self.at + 1, pads=(*self.pads, pad), note="")

    def skipped(self) -> Teaching:
        """Go on without a pad for what was asked.

        Without a thumb nothing more is asked, for one pad knows no hand.
        """
        if self.done:
            return self
        hand, string = _ASKED[self.at]
        if self.at == 0:
            return replace(self, note="one pad at least is needed; touch it")
        if (hand, string) == (Hand.THUMB, None):
            return replace(self, at=len(_ASKED), note="")
        at = self.at + 1
        while string is not None and at < len(_ASKED) and _ASKED[at][0] is hand:
            at += 1
        return replace(self, at=at, note="")

    def undone(self) -> Teaching:
        """Take the last pad back and ask for it again."""
        if not self.pads:
            return self
        last = self.pads[-1]
        return replace(
            self, at=_ASKED.index((last.hand or Hand.NAIL, last.string)), pads=self.pads[:-1], note=""
        )

    def result(self) -> PadMap:
        """Return the map taught; with one pad the hand of a tap is not known."""
        if len(self.pads) == 1:
            return PadMap(pads=(replace(self.pads[0], hand=None),))
        return PadMap(pads=self.pads)
