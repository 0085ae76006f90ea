"""Know which pad is whose: a map from MIDI notes to hands and strings, taught by touch.

With pads for nail and thumb the hand of each tap is known, with more pads its string; with one pad alone
only the timing is judged.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace

from trainer.errors import BadSettings
from trainer.music.strokes import ALL_STRINGS, Hand
from trainer.music.tuning import OPEN_G

# Takes of our own: the MIDI channel tells the hand and the note is the string's pitch, so the file sounds
# like what was played.
HAND_CHANNELS = {Hand.NAIL: 0, Hand.THUMB: 1, Hand.LEFT: 2}
UNKNOWN_HAND_CHANNEL = 3
SIDE_CHANNEL = 4  # marks of skips; a grading of what the hand played passes them over
SIDE = "side"  # the word for a pad on which skips are marked: it is no hand's, Hand.NONE


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
        """Return what a note says; None for a note that no pad of the map sends.

        Where nail and thumb have not both a pad, they share one, so neither is told from the other.
        """
        if not self.pads:
            return ANY_PAD
        for pad in self.pads:
            if pad.note == note and pad.channel in (None, channel):
                known = self.knows_hand or pad.hand in (Hand.LEFT, Hand.NONE)
                return PadTouch(hand=pad.hand if known else None, string=pad.string)
        return None

    def exchanged(self) -> PadMap:
        """Return the map with the pads of nail and thumb exchanged."""
        other = {Hand.NAIL: Hand.THUMB, Hand.THUMB: Hand.NAIL}
        pads = (replace(p, hand=other.get(p.hand, p.hand) if p.hand else None) for p in self.pads)
        return PadMap(pads=tuple(pads))

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
    def knows_side(self) -> bool:
        """Whether there is a pad on which skips are marked."""
        return Hand.NONE in self.hands

    @property
    def knows_strings(self) -> bool:
        """Whether any pad stands for a string."""
        return any(pad.string is not None for pad in self.pads)

    def in_words(self) -> str:
        """Return the map in a few words for the screen."""
        if not self.knows_hand:
            played = [pad for pad in self.pads if pad.hand is not Hand.NONE]
            pads = "one pad" if len(played) == 1 else "nail and thumb share a pad"
            return f"{pads if self.pads else 'any pad'}: timing only"
        words = "nail, thumb and left hand" if self.knows_left else "nail and thumb"
        words = f"{words}, by string" if self.knows_strings else words
        return f"{words}, and one for skips" if self.knows_side else words


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
    pads += [Pad(note=note, channel=UNKNOWN_HAND_CHANNEL) for note in range(128)]
    return PadMap(pads=tuple(pads))


_HAND_WORDS: dict[str, Hand | None] = {
    **{hand.value: hand for hand in HAND_CHANNELS},
    "any": None,
    SIDE: Hand.NONE,
}
_WORDS_OF = {hand: word for word, hand in _HAND_WORDS.items()}
_PAD = re.compile(r"(?P<hand>[a-z]+)(?P<string>[1-5]?)\s*=\s*(?P<note>[^@\s]+)(?:\s*@\s*(?P<channel>\S+))?")


def read_pads(words: str) -> PadMap:
    """Read a map written as ``nail=36,thumb=38,left=40`` or, by string, ``nail3=41,thumb5=43``.

    ``any=36`` is a pad that both nail and thumb touch. ``nail=36@10`` counts only on MIDI channel 10
    (1 to 16); without that, any channel does. ``side=42`` is a pad on which skips are marked.

    Raises:
        BadSettings: a part that is not a hand, an equals sign and a MIDI note, or a pad given twice.

    >>> read_pads("nail=36,thumb=38").in_words()
    'nail and thumb'
    """
    pads: list[Pad] = []
    for part in words.split(","):
        pad = _pad(part.strip().lower())
        if any(p.note == pad.note and _share(p.channel, pad.channel) for p in pads):
            raise BadSettings(f"note {pad.note} is given to two pads", "give each pad its own note")
        pads.append(pad)
    return PadMap(pads=tuple(pads))


def write_pads(pads: PadMap) -> str:
    """Return a map in the words that :func:`read_pads` reads.

    A channel is written only where it tells two pads of one note apart: some devices send on another
    channel after a change of program, and their pads should still be known.

    >>> write_pads(read_pads("nail=36,thumb=38"))
    'nail=36,thumb=38'
    """
    notes = Counter(pad.note for pad in pads.pads)
    return ",".join(
        f"{_WORDS_OF[pad.hand]}{pad.string or ''}={pad.note}"
        + (f"@{pad.channel + 1}" if notes[pad.note] > 1 and pad.channel is not None else "")
        for pad in pads.pads
    )


def _pad(part: str) -> Pad:
    match = _PAD.fullmatch(part)
    if match is None or match["hand"] not in _HAND_WORDS:
        raise BadSettings(
            f'found "{part}" for a pad',
            "write nail=36,thumb=38, with left=40 or a string as in nail3=41 where you have them",
        )
    name = match["hand"] + match["string"]
    channel = match["channel"]
    return Pad(
        note=_number(match["note"], f"the note of {name}", "a MIDI note", 0, 127),
        channel=None
        if channel is None
        else _number(channel, f"the channel of {name}", "a MIDI channel", 1, 16) - 1,
        hand=_HAND_WORDS[match["hand"]],
        string=int(match["string"]) if match["string"] else None,
    )


def _number(text: str, what: str, wanted: str, least: int, most: int) -> int:
    if text.isascii() and text.isdecimal() and len(text) <= 3 and least <= int(text) <= most:
        return int(text)
    raise BadSettings(f'found "{text}" for {what}', f"write {wanted} from {least} to {most}")


def _share(one: int | None, other: int | None) -> bool:
    return one is None or other is None or one == other


# Asked in this order.
_ASKED: tuple[tuple[Hand, int | None], ...] = (
    (Hand.NAIL, None),
    (Hand.THUMB, None),
    (Hand.LEFT, None),
    (Hand.NONE, None),
    *((Hand.NAIL, string) for string in (1, 2, 3, 4)),
    *((Hand.THUMB, string) for string in (5, 4, 3, 2)),
)
_WHOSE = {
    Hand.NAIL: "your nail",
    Hand.THUMB: "your thumb",
    Hand.LEFT: "the left hand",
    Hand.NONE: "marking skips",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Teaching:
    """Pads being taught by touch: a value, replaced at each touch or skip.

    Attributes:
        at: place of what is asked for among nail, thumb, left hand, skips, nail by string, thumb by string.
        pads: what is known so far.
        note: one sentence about the last touch, or empty.
        before: how things stood before the last touch or skip that counted; None at the start.
    """

    at: int = 0
    pads: tuple[Pad, ...] = ()
    note: str = ""
    before: Teaching | None = field(default=None, repr=False, compare=False)

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
        return pad if self.at == 0 else f"{pad}, or N for none"

    def touched(self, channel: int, note: int) -> Teaching:
        """Take a touched pad for what was asked.

        The pad that stands for a whole hand may be touched again as that of one of its strings, for who
        has a pad for each string has none to spare.
        """
        if self.done:
            return self
        hand, string = _ASKED[self.at]
        pad = Pad(note=note, channel=channel, hand=hand, string=string)
        for place, taken in enumerate(self.pads):
            if (taken.note, taken.channel) != (note, channel):
                continue
            if taken.hand is not hand or taken.string is not None:
                return replace(self, note="that pad is taken already; touch another, or N for none")
            return self._on(self.at + 1, (*self.pads[:place], pad, *self.pads[place + 1 :]))
        return self._on(self.at + 1, (*self.pads, pad))

    def skipped(self) -> Teaching:
        """Go on without a pad for what was asked.

        Without a thumb nothing more is asked, for one pad knows no hand. Once a string has been skipped,
        the hand's other strings are not asked for.
        """
        if self.done:
            return self
        hand, string = _ASKED[self.at]
        if self.at == 0:
            return replace(self, note="one pad at least is needed; touch it")
        if (hand, string) == (Hand.THUMB, None):
            return self._on(len(_ASKED), self.pads)
        at = self.at + 1
        while string is not None and at < len(_ASKED) and _ASKED[at][0] is hand:
            at += 1
        return self._on(at, self.pads)

    def undone(self) -> Teaching:
        """Take the last touch or skip back and ask again."""
        return self.before or self

    def result(self, known: PadMap | None = None) -> PadMap:
        """Return the map taught; with one pad the hand of a tap is not known.

        Args:
            known: the map before: where teaching was broken off, pads that were not asked for yet stay as
                they were, unless they have been touched for another.
        """
        pads = self.pads
        if known is not None and not self.done:
            touched = {(pad.note, pad.channel) for pad in pads} | {(pad.note, None) for pad in pads}
            open_still = _ASKED[self.at :]
            pads += tuple(
                pad
                for pad in known.pads
                if (pad.hand, pad.string) in open_still and (pad.note, pad.channel) not in touched
            )
        if len(pads) == 1:
            return PadMap(pads=(replace(pads[0], hand=None),))
        return PadMap(pads=pads)

    def _on(self, at: int, pads: tuple[Pad, ...]) -> Teaching:
        return Teaching(at=at, pads=pads, before=replace(self, note=""))
