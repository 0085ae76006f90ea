"""Say what an entry of the table of keys is: keys that belong together, and what they ask for.

What a key asks for is an action, or the name of one that only the scene knows at the moment: which row comes
before the chosen one, what the chosen row is for. Some entries hold only in a state of the scene.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from trainer.screen.actions import Act, Action

AskedFor = Action | str


@dataclass(frozen=True, slots=True)
class Cap:
    """A key as the help strip shows it.

    Attributes:
        label: what stands on it; one without is not shown.
        asks: the action, or the name of one that the scene fills in.
        keys: pygame's names for all keys that do the same.
        gesture: the gesture of a pad or a key of one's own that asks for the same, or an empty text.
    """

    label: str
    asks: AskedFor
    keys: tuple[str, ...]
    gesture: str = ""

    @property
    def action(self) -> Action:
        """The action, once the scene has filled it in."""
        assert isinstance(self.asks, Action)
        return self.asks


@dataclass(frozen=True, slots=True)
class Help:
    """Keys that belong together, and what they do in a word.

    Attributes:
        when: a state of the scene in which they hold; always without one. With "not " before it, all others.
        rare: not in the strip: what the keys do is looked up in the list of them, or in a menu.
    """

    caps: tuple[Cap, ...]
    words: str
    when: str = field(default="", compare=False)
    rare: bool = field(default=False, compare=False)


def one(
    label: str, asks: Act | AskedFor, words: str, *keys: str,
    when: str = "", gesture: str = "", rare: bool = False,
) -> Help:  # fmt: skip
    """Return the entry of one key; without ``keys`` it is the letter of its label."""
    action = Action(act=asks) if isinstance(asks, Act) else asks
    return Help((Cap(label, action, keys or (label.lower(),), gesture),), words, when, rare)


def both(
    labels: tuple[str, str], act: Act, words: str, keys: tuple[tuple[str, ...], tuple[str, ...]], by: int = 1,
    gestures: tuple[str, str] = ("", ""), when: str = "", rare: bool = False,
) -> Help:  # fmt: skip
    """Return the entry of two keys that do the same either way."""
    return Help(
        tuple(
            Cap(label, Action(act=act, value=value), names, gesture)
            for label, value, names, gesture in zip(labels, (-by, by), keys, gestures, strict=True)
        ),
        words,
        when,
        rare,
    )


def walk(words: str, up: tuple[str, ...] = ("up",), down: tuple[str, ...] = ("down",)) -> Help:
    """Return the entry of the arrows that go through a list; the scene knows what comes before and after."""
    return Help((Cap("↑", "before", up), Cap("↓", "after", down)), words)
