"""Remember the last changes of the settings, so that each can be taken back."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

from trainer.practice.setting_changes import changed, merged, with_value
from trainer.practice.settings import TABLE, Settings

MOST_CHANGES = 20


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the settings.

    Attributes:
        names: the settings that were changed and can be taken back, at least one.
        before, after: all settings then.
    """

    names: tuple[str, ...]
    before: Settings
    after: Settings

    @property
    def words(self) -> str:
        """What was changed, as "the swing"."""
        return TABLE[self.names[0]].undo

    def taken_back(self, now: Settings) -> Settings:
        """Return settings without this change; whatever was changed besides or since stays."""
        wanted = self.after
        for name in self.names:
            wanted = with_value(wanted, name, getattr(self.before, name))
        return merged(self.after, wanted, now)


class Undoing:
    """The last changes, the latest on top; at most twenty."""

    def __init__(self) -> None:
        self._changes: deque[Change] = deque(maxlen=MOST_CHANGES)

    @property
    def last(self) -> Change | None:
        """The change that would be taken back; None when there is none."""
        return self._changes[-1] if self._changes else None

    def note(self, before: Settings, after: Settings) -> None:
        """Remember what has changed, if it can be taken back."""
        names = tuple(name for name in changed(before, after) if name in TABLE and TABLE[name].undo)
        if names:
            self._changes.append(Change(names, before, after))

    def take(self) -> Change | None:
        """Return the latest change and forget it."""
        return self._changes.pop() if self._changes else None
