"""Answer from the table of keys what holds on a scene just now, for help strip, pads and guide."""

from __future__ import annotations

from collections.abc import Mapping

from trainer.screen.actions import Act, Action
from trainer.screen.key_entries import Cap, Help
from trainer.screen.keymap import EVERYWHERE, KEYMAP, OWN, SHOW_KEY


def helps_of(
    scene: str,
    *,
    states: Mapping[str, bool] = {},
    actions: Mapping[str, Action] = {},
    words: Mapping[str, str] = {},
) -> tuple[Help, ...]:
    """Return the entries that hold on a scene just now.

    Args:
        states: whether the scene is in those that entries ask for; False for one left out.
        actions: what the named actions are; a key whose action is not among them does nothing.
        words: what stands in the place of words in braces.
    """
    found = []
    for entry in KEYMAP[scene]:
        is_not = entry.when.startswith("not ")
        if entry.when and states.get(entry.when.removeprefix("not "), False) == is_not:
            continue
        caps = tuple(_filled(cap, actions) for cap in entry.caps if cap.asks in actions or cap.keys)
        caps = tuple(cap for cap in caps if isinstance(cap.asks, Action) and cap.keys)
        if caps:
            found.append(Help(caps, entry.words.format(**words), entry.when, entry.rare))
    return tuple(found)


def walked(at: int, last: int, *, page: int = 0) -> Mapping[str, Action]:
    """Return what the keys that go through a list ask for: the places before and after, and further off.

    Args:
        at: the chosen place; ``last`` the last there is.
        page: how far the keys for a page go; 0 for none.
    """
    steps = {"before": at - 1, "after": at + 1}
    if page:
        steps |= {"page up": at - page, "page down": at + page, "first": 0, "last": last}
    return {name: Action(act=Act.SELECT, value=min(max(index, 0), last)) for name, index in steps.items()}


def gestures_of(scene: str) -> Mapping[str, Action]:
    """Return what pads and keys of one's own can ask for on a scene, by the name of the gesture."""
    return {
        cap.gesture: cap.asks
        for entry in KEYMAP[scene]
        for cap in entry.caps
        if cap.gesture and isinstance(cap.asks, Action)
    }


def keys_of(scene: str) -> frozenset[str]:
    """Return every key that a scene uses in some state, and that for the demonstration."""
    return frozenset(key for entry in KEYMAP[scene] for cap in entry.caps for key in cap.keys) | {SHOW_KEY}


def all_keys() -> frozenset[str]:
    """Return every key that some scene uses."""
    return frozenset(
        key for helps in KEYMAP.values() for entry in helps for cap in entry.caps for key in cap.keys
    )


def keys_table() -> tuple[str, ...]:
    """Return the table for the guide: a line a scene, each key with what it does; then those everywhere."""
    lines = [f"| {scene} | {_entries(helps)} |" for scene, helps in OWN.items()]
    return (*lines, f"| everywhere | {_entries(EVERYWHERE)} |")


def _filled(cap: Cap, actions: Mapping[str, Action]) -> Cap:
    if isinstance(cap.asks, Action) or cap.asks not in actions:
        return cap
    return Cap(cap.label, actions[cap.asks], cap.keys, cap.gesture)


def _entries(helps: tuple[Help, ...]) -> str:
    shown = []
    for entry in helps:
        labels = " ".join(cap.label for cap in entry.caps if cap.label)
        words = entry.words.replace("{", "").replace("}", "")
        if labels and f"{labels} {words}" not in shown:
            shown.append(f"{labels} {words}")
    return ", ".join(shown)
