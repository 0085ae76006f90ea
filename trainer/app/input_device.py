"""Say what every kind of input offers, whatever it hears: keys, MIDI ports, and what comes later."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from trainer.devices.midi import PortNotice
from trainer.practice.input_event import InputEvent


class InputDevice(Protocol):
    """One kind of input, of which one thing at a time is listened to; from the app's thread only.

    A new kind is a class like this and its entry in :attr:`trainer.app.inputs.Inputs.devices`.
    """

    @property
    def takes_taps(self) -> bool:
        """Whether taps come from it now: something of it was opened and has not gone away."""

    @property
    def least_uncertainty_s(self) -> float:
        """What is known of the next tap's uncertainty before it has come."""

    @property
    def hears_left(self) -> bool:
        """Whether it tells strokes of the left hand."""

    @property
    def hears_side(self) -> bool:
        """Whether skips can be marked on it."""

    @property
    def is_behind(self) -> bool:
        """Whether more has come than one look takes in."""

    @property
    def needs_teaching(self) -> bool:
        """Whether the one in use has pads of which nobody has said yet whose they are."""

    def names(self) -> tuple[str, ...]:
        """Return what of its kind is there now, each by the name that the settings remember."""

    def knows(self, name: str) -> bool:
        """Return whether a name is one of its kind, be it there or not."""

    def open(self, name: str) -> str:
        """Listen to this one from now on; return its name in full, empty for the usual input.

        Raises:
            TrainerError: it is not there or cannot be used.
        """

    def close(self) -> None:
        """Listen no more, until something is opened again."""

    def poll(self) -> tuple[InputEvent, ...]:
        """Return what was touched since the last call, in order."""

    def scan(self) -> tuple[PortNotice, ...]:
        """Return what of its kind has come or gone; called once a frame."""

    def exchanged(self) -> Mapping[str, object]:
        """Return the settings that exchange nail and thumb on it; empty where that means nothing."""
