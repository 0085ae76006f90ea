"""Say what a setting can be: each kind knows how a stored value is read and how it is stepped.

A kind reads whatever a file may hold. It gives back a value that can be used, and whether that is what stood
there: a number beyond its limits becomes the nearest inside, anything else the usual value.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.exact import read_exact

LONGEST_TEXT = 400
MOST_TEXTS = 10_000  # one for each pattern ever drilled, or each pair of input and output


@dataclass(frozen=True, slots=True)
class ReadBack:
    """What a stored value is read as; ``fits`` when it is just what stood there."""

    value: object
    fits: bool = True


class SettingKind:
    """One kind of setting."""

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return what a stored value is read as; ``usual`` where nothing can be made of it."""
        raise NotImplementedError

    def stepped(self, now: object, steps: int) -> object:
        """Return the value some steps on; a value without an order stays as it is."""
        del steps
        return now


@dataclass(frozen=True, slots=True)
class Switch(SettingKind):
    """On or off; any step is to the other.

    >>> Switch().stepped(True, 1), Switch().read("yes", True)
    (False, ReadBack(value=True, fits=False))
    """

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return it, if it is a truth value."""
        return ReadBack(stored) if isinstance(stored, bool) else ReadBack(usual, fits=False)

    def stepped(self, now: object, steps: int) -> object:
        """Return the other one."""
        del steps
        return not now


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole(SettingKind):
    """A whole number.

    Attributes:
        least, most: its limits.
        step: by how much one step changes it.
        choices: when given, only these are stepped through, and any number inside the limits is read.
        endless: the choice that stands for no end, after the largest; None without one.

    >>> volume = Whole(least=0, most=10)
    >>> volume.stepped(9, 3), volume.read(99, 7), volume.read("loud", 7)
    (10, ReadBack(value=10, fits=False), ReadBack(value=7, fits=False))
    """

    least: int
    most: int
    step: int = 1
    choices: tuple[int, ...] = ()
    endless: int | None = None

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return it, if it is a whole number inside the limits, or else the nearest."""
        if isinstance(stored, bool) or not isinstance(stored, int):
            return ReadBack(usual, fits=False)
        inside = self.inside(stored)
        return ReadBack(inside, fits=inside == stored)

    def inside(self, value: int) -> int:
        """Return a number, or the nearest inside the limits."""
        return min(max(value, self.least), self.most)

    def stepped(self, now: object, steps: int) -> object:
        """Return the number some steps on, inside the limits; between two choices from the nearest."""
        assert isinstance(now, int)
        if not self.choices:
            return self.inside(now + steps * self.step)
        sizes = [self._size(choice) for choice in self.choices]
        at = min(range(len(sizes)), key=lambda n: abs(sizes[n] - self._size(now)))
        return self.choices[min(max(at + steps, 0), len(sizes) - 1)]

    def _size(self, value: int) -> int:
        return 2 * max(self.choices) if value == self.endless else value


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(SettingKind):
    """One of some words.

    Attributes:
        words: in their order.
        goes_round: whether the first follows the last.
    """

    words: tuple[str, ...]
    goes_round: bool = True

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return it, if it is one of the words."""
        found = isinstance(stored, str) and stored in self.words
        return ReadBack(stored) if found else ReadBack(usual, fits=False)

    def stepped(self, now: object, steps: int) -> object:
        """Return the word some steps on."""
        at = self.words.index(now) if isinstance(now, str) and now in self.words else 0
        last = len(self.words) - 1
        return self.words[(at + steps) % (last + 1) if self.goes_round else min(max(at + steps, 0), last)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ratio(SettingKind):
    """A fraction or a decimal number, as text.

    Attributes:
        least, most: its limits.
        step: by how much one step changes it; steps begin at ``least``.

    >>> swing = Ratio(least=Fraction(1), most=Fraction(4), step=Fraction(1, 4))
    >>> swing.stepped("1", 2), swing.read("1e999999999", "1")
    ('3/2', ReadBack(value='1', fits=False))
    """

    least: Fraction
    most: Fraction
    step: Fraction

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return it, if it is a number inside the limits, or else the nearest."""
        number = number_in(stored)
        if number is None:
            return ReadBack(usual, fits=False)
        inside = min(max(number, self.least), self.most)
        return ReadBack(stored) if inside == number else ReadBack(str(inside), fits=False)

    def stepped(self, now: object, steps: int) -> object:
        """Return the ratio some whole steps on, inside the limits."""
        number = number_in(now) or self.least
        at = self.least + (round((number - self.least) / self.step) + steps) * self.step
        return str(min(max(at, self.least), self.most))


@dataclass(frozen=True, slots=True, kw_only=True)
class Words(SettingKind):
    """Text that can be shown: no control characters, no halves of characters, not longer than it may be.

    Attributes:
        longest: in characters.
        is_folder: whether it names a folder: then it may begin with the user's own home, but not another's.
    """

    longest: int = LONGEST_TEXT
    is_folder: bool = False

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return it, if it is such a text."""
        good = isinstance(stored, str) and len(stored) <= self.longest and is_storable(stored)
        if good and self.is_folder and isinstance(stored, str) and stored.startswith("~"):
            good = stored[1:2] in ("", "/", "\\")
        return ReadBack(stored) if good else ReadBack(usual, fits=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Texts(SettingKind):
    """Texts by name; what does not fit among them is left out, the others stay.

    Attributes:
        least, most: limits of numbers written as text; None for texts that are no numbers.
        names: the only names there are; empty for any.
        longest: of a text, in characters.
    """

    least: int | Fraction | None = None
    most: int | Fraction | None = None
    names: tuple[str, ...] = ()
    longest: int = LONGEST_TEXT

    def read(self, stored: object, usual: object) -> ReadBack:
        """Return those that fit."""
        if not isinstance(stored, dict):
            return ReadBack(usual, fits=False)
        fitting = {name: text for name, text in stored.items() if self._fits(name, text)}
        kept = dict(list(fitting.items())[:MOST_TEXTS])
        return ReadBack(kept, fits=len(kept) == len(stored))

    def _fits(self, name: object, text: object) -> bool:
        if not isinstance(name, str) or not isinstance(text, str):
            return False
        if len(name) > LONGEST_TEXT or len(text) > self.longest or not is_storable(name + text):
            return False
        if self.names and name not in self.names:
            return False
        if self.least is None or self.most is None:
            return True
        number = number_in(text)
        return number is not None and self.least <= number <= self.most


def is_storable(text: str) -> bool:
    """Return whether a text can be kept: no control characters and no lone surrogates.

    >>> is_storable("Schlägel 鼓"), is_storable("a\\x00b"), is_storable("\\ud800")
    (True, False, False)
    """
    return not any(unicodedata.category(letter) in ("Cc", "Cs") for letter in text)


def number_in(text: object) -> Fraction | None:
    """Return the number that a text holds; None for anything else, endless exponents among it.

    >>> number_in("97.3"), number_in("3/2"), number_in("1e-999999999"), number_in("1/0")
    (Fraction(973, 10), Fraction(3, 2), None, None)
    """
    try:
        return read_exact(text) if isinstance(text, str) else None
    except ValueError:
        return None
