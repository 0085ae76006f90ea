"""Let keys of one's own do what keys of the screen do, and keep a key from meaning two things."""

from __future__ import annotations

from trainer.music.strokes import Hand
from trainer.practice.settings import Settings
from trainer.screen.key_help import all_keys
from trainer.screen.keymap import KEYMAP, REMOTE_BLANK, SHOW_KEY

# What the drill's own keys are for: as tapping keys they would be lost, for a tap comes first.
DRILL_KEYS = {
    key: entry.words
    for entry in sorted(KEYMAP["drill"], key=lambda entry: bool(entry.words))
    for cap in entry.caps
    for key in cap.keys
    if key not in REMOTE_BLANK  # they mean something only while nobody plays
}
# Every key that some screen uses, or may: a key of one's own would take its meaning away there.
SCREEN_KEYS = all_keys() | {SHOW_KEY, *"abcdghiklmnopqrstuvwxyz"}


def why_refused(key: str, waiting: Hand | str, settings: Settings) -> str:
    """Return why a key cannot stand for a hand or a gesture, in a sentence; empty when it can."""
    if not key:
        return ""
    if isinstance(waiting, Hand):
        if key in DRILL_KEYS:
            return f'The key {key} is for "{DRILL_KEYS[key]}" while you play: choose another.'
        if key in settings.own_keys.values():
            return f"The key {key} has another use of your own: choose another, or take that one away first."
        return ""
    if key in SCREEN_KEYS:
        return (
            f"The key {key} is used on some screen already: choose another, such as a digit from 5 on, or F6."
        )
    if key in (settings.nail_key, settings.thumb_key, settings.left_key, settings.side_key):
        return f"The key {key} is one you tap on: choose another."
    if key in (own for gesture, own in settings.own_keys.items() if gesture != waiting):
        return f"The key {key} has another use of your own: choose another."
    return ""


def gesture_of_key(key: str, settings: Settings) -> str | None:
    """Return which of SCREEN_GESTURES a key stands for; None for a key that is not one's own."""
    for gesture, own in settings.own_keys.items():
        if own == key and key:
            return gesture
    return None
