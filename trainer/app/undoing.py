"""Remember the last changes of the settings, so that each can be taken back."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass

from trainer.records.settings import Settings
from trainer.screen.views import Act

MOST_CHANGES = 20

# What can be taken back, in words, and which row of the settings shows it. What one key changes and the
# next key changes back at once (the chosen pattern, tempo, passes, full screen) is not among it.
NAMED: Mapping[str, tuple[str, Act]] = {
    "input_name": ("the input", Act.INPUT),
    "pads": ("the pads", Act.TEACH),
    "pads_steer": ("what the pads do", Act.PADS_STEER),
    "nail_key": ("the keys", Act.NAIL_KEY),
    "thumb_key": ("the keys", Act.THUMB_KEY),
    "left_key": ("the keys", Act.LEFT_KEY),
    "own_keys": ("the keys", Act.OWN_KEY),
    "click": ("the click", Act.CLICK_ON),
    "click_volume": ("the volume", Act.CLICK_VOLUME),
    "subdivide": ("the clicks between beats", Act.SUBDIVIDE),
    "tap_sound": ("the sound of taps", Act.TAP_SOUND),
    "thinning": ("which clicks sound", Act.THINNING),
    "thin_off": ("the silent bars", Act.THIN_OFF),
    "thin_of": ("the silent bars", Act.THIN_OF),
    "band": ("the band", Act.BAND),
    "band_volume": ("the band's volume", Act.BAND_VOLUME),
    "midi_out": ("the MIDI output", Act.MIDI_OUT),
    "pocket": ("the pocket", Act.POCKET),
    "swing": ("the swing", Act.SWING),
    "lay_back_ms": ("the lay-back", Act.LAY_BACK),
    "lay_back_of": ("what lies back", Act.LAY_BACK_OF),
    "delays_ms": ("the delay", Act.DELAY),
    "known_delays": ("the delay", Act.DELAY),
    "theme": ("the theme", Act.THEME),
    "text_size": ("the text size", Act.TEXT_SIZE),
    "ladder": ("the ladder", Act.LADDER),
    "player": ("the player", Act.OPEN_NAMING),
}


@dataclass(frozen=True, slots=True)
class Change:
    """Settings as they were before a change.

    Attributes:
        before: their values by name, at least one.
    """

    before: Mapping[str, object]

    @property
    def words(self) -> str:
        """What was changed, as "the swing"."""
        return NAMED[next(iter(self.before))][0]

    @property
    def act(self) -> Act:
        """What the row of the settings does that shows it."""
        return NAMED[next(iter(self.before))][1]


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
        changed = {
            name: getattr(before, name) for name in NAMED if getattr(before, name) != getattr(after, name)
        }
        if changed:
            self._changes.append(Change(changed))

    def take(self) -> Change | None:
        """Return the latest change and forget it."""
        return self._changes.pop() if self._changes else None
