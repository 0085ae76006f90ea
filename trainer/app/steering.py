"""Do the drill loop's five wishes for a pad or a key of one's own: start, again, slower, faster, next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.music.strokes import Hand
from trainer.practice.pad_wishes import PadWishes, in_words

if TYPE_CHECKING:
    from trainer.app.stage import Stage

# By the value of the stage's place; a scene's name here, so that the stage can use this module.
HEARD_IN = ("library", "review")


class Steering:
    """The pads between drills; from the app's thread only."""

    def __init__(self, stage: Stage) -> None:
        self._stage = stage
        self._place = ""
        self._wishes = PadWishes()

    def touched(self, hand: Hand | None, host_ns: int) -> None:
        """Take in a touch of a pad that was no stroke of a drill."""
        self._notice(host_ns)
        if steers(self._stage) and self._stage.place.value in HEARD_IN:
            self._wishes = self._wishes.touched(hand, host_ns / 1e9)

    def tick(self, host_ns: int) -> None:
        """Do what was asked for, once the word is over."""
        self._notice(host_ns)
        self._wishes, wish = self._wishes.heard(host_ns / 1e9)
        if wish is not None:
            carry_out(self._stage, wish.value, host_ns)

    def _notice(self, host_ns: int) -> None:
        place = self._stage.place.value
        if place != self._place:
            self._wishes = PadWishes.since(host_ns / 1e9, after_drill=self._place == "drill")
            self._place = place


def steers(stage: Stage) -> bool:
    """Return whether the pads of the input in use may ask for something between drills."""
    return stage.chosen.settings.pads_steer and bool(stage.hearing.midi.open_name)


def pads_help(stage: Stage) -> str:
    """Return what the pads do between drills, in a few words; empty when they do nothing."""
    return in_words(knows_hand=stage.chosen.pads.knows_hand) if steers(stage) else ""


def carry_out(stage: Stage, wish: str, host_ns: int) -> bool:
    """Do one of SCREEN_WISHES where it means something; return whether it did."""
    place = stage.place.value
    if place not in (*HEARD_IN, "drill"):
        return False
    if wish == "start":
        if place == "library":
            stage.start(host_ns)
        else:
            stage.again(host_ns)
    elif wish in ("slower", "faster"):
        stage.change_tempo(-1 if wish == "slower" else 1)
    elif wish == "next" and place in HEARD_IN:
        if place == "review":
            stage.back()
        stage.keep(lambda: stage.chosen.select(stage.chosen.selected + 1))
    else:
        return False
    return True
