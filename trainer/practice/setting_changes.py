"""Read, step and merge settings by their table."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from typing import cast

from trainer.practice.setting_kinds import is_storable
from trainer.practice.settings import TABLE, Settings

DEEPEST_OTHER = 8  # lists and tables in one another, among the keys of a newer version
LARGEST_INT = 10**18
USUAL = Settings()


def from_table(stored: Mapping[str, object]) -> tuple[Settings, tuple[str, ...]]:
    """Return the settings that a file's table holds, and the names of those unusable as written.

    What is beyond its limits becomes the nearest that can be; what makes no sense becomes the usual value.
    Names that the table of settings does not have are kept for a newer version.
    """
    stored = _in_todays_words(stored)
    odd = []
    found: dict[str, object] = {}
    for name, spec in TABLE.items():
        if name in stored:
            reading = spec.kind.read(stored[name], getattr(USUAL, name))
            found[name] = reading.value
            if not reading.fits:
                odd.append(name)
    other = {name: value for name, value in stored.items() if name not in TABLE and name != "other"}
    kept = {name: value for name, value in other.items() if is_storable(name) and _can_be_kept(value)}
    odd += sorted(repr(name) for name in other.keys() - kept.keys())
    settings = replace(USUAL, **found, other=kept)  # type: ignore[arg-type]
    for name, spec in TABLE.items():
        if spec.limits is not None:
            least, most = spec.limits(settings)
            value = cast(int, getattr(settings, name))
            if not least <= value <= most:
                odd.append(name)
                settings = with_value(settings, name, max(min(value, most), least))
    return settings, tuple(dict.fromkeys(odd))


def as_table(settings: Settings) -> dict[str, object]:
    """Return the settings as a table that :func:`from_table` reads; keys of a newer version among it."""
    return {**settings.other, **{name: getattr(settings, name) for name in TABLE}}


def with_value(settings: Settings, name: str, value: object) -> Settings:
    """Return settings with another value of one."""
    return replace(settings, **{name: value})  # type: ignore[arg-type]


def stepped(settings: Settings, name: str, steps: int) -> Settings:
    """Return settings with one of them some steps on: inside its limits, or round and round.

    >>> stepped(Settings(thinning="off for N bars in M"), "thin_off", 9).thin_off
    3
    """
    spec = TABLE[name]
    value = spec.kind.stepped(getattr(settings, name), steps)
    if spec.limits is not None:
        least, most = spec.limits(settings)
        value = min(max(cast(int, value), least), most)
    return with_value(settings, name, value)


def merged(base: Settings, ours: Settings, theirs: Settings) -> Settings:
    """Return what two have made of the same settings: what we changed, and all else as the others have it.

    Texts by name are merged name by name. Where both changed the same, ours holds.

    Args:
        base: what both began with.

    >>> ours, theirs = Settings(pads={"A": "any=1"}), Settings(pads={"B": "any=2"}, passes=8)
    >>> both = merged(Settings(), ours, theirs)
    >>> both.pads == {"A": "any=1", "B": "any=2"}, both.passes
    (True, 8)
    """
    values: dict[str, object] = {}
    for name in TABLE:
        was, our, their = (getattr(each, name) for each in (base, ours, theirs))
        if isinstance(was, dict):
            values[name] = _merged_texts(was, our, their)
        else:
            values[name] = their if our == was else our
    return replace(theirs, **values)  # type: ignore[arg-type]


def learnt(ours: Settings, theirs: Settings) -> Settings:
    """Return our settings with what is known of devices and patterns as the others have it."""
    known = {name: getattr(theirs, name) for name, spec in TABLE.items() if spec.is_known}
    return replace(ours, other=theirs.other, **known)


def changed(before: Settings, after: Settings) -> tuple[str, ...]:
    """Return the names of the settings that two do not share, in the table's order."""
    return tuple(f.name for f in fields(Settings) if getattr(before, f.name) != getattr(after, f.name))


def _merged_texts(was: Mapping[str, str], our: Mapping[str, str], their: Mapping[str, str]) -> dict[str, str]:
    both = dict(their)
    for name in {*was, *our}:
        if our.get(name) != was.get(name):
            if name in our:
                both[name] = our[name]
            else:
                both.pop(name, None)
    return both


def _in_todays_words(stored: Mapping[str, object]) -> Mapping[str, object]:
    """Return a table in today's words: the ladder was once only on or off."""
    if isinstance(stored.get("ladder"), bool):
        return {**stored, "ladder": "plain" if stored["ladder"] else "off"}
    return stored


def _can_be_kept(value: object, depth: int = 0) -> bool:
    """Return whether a value that this version does not know can be written again as it was read."""
    if depth > DEEPEST_OTHER:
        return False
    if isinstance(value, dict):
        inside: Iterable[object] = (*value.keys(), *value.values())
    elif isinstance(value, list):
        inside = value
    elif isinstance(value, str):
        return is_storable(value)
    elif isinstance(value, float):
        return value == value and abs(value) != float("inf")  # JSON has no such numbers
    else:
        return not isinstance(value, int) or abs(value) <= LARGEST_INT
    return all(_can_be_kept(each, depth + 1) for each in inside)
