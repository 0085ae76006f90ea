"""Reach MIDI through python-rtmidi, whose own inputs and outputs are what the protocols describe."""

from __future__ import annotations

import os

from trainer.devices.midi_library import CLIENT_NAME, MidiLibrary, OutService, RawInput, RawOutput, Service

WHY_NOT = ""
try:
    import rtmidi
except (ImportError, OSError) as err:
    rtmidi = None
    WHY_NOT = str(err) or "it is not installed"

ERRORS: tuple[type[Exception], ...] = () if rtmidi is None else (rtmidi.RtMidiError,)


def inputs(client_name: str = CLIENT_NAME) -> tuple[Service, ...]:
    """Return the services that this build of the library knows."""
    return tuple(_input(api, client_name) for api in _services())


def outputs(client_name: str = CLIENT_NAME) -> tuple[OutService, ...]:
    """Return the services that this build of the library knows."""
    return tuple(_output(api, client_name) for api in _services())


LIBRARY = MidiLibrary(name="python-rtmidi", why_not=WHY_NOT, inputs=inputs, outputs=outputs)


def _services() -> tuple[int, ...]:
    if rtmidi is None:
        return ()
    # A MIDI library must not start a sound server behind the user's back.
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    return tuple(rtmidi.get_compiled_api())


def _input(api: int, client_name: str) -> Service:
    def make() -> RawInput:
        raw: RawInput = rtmidi.MidiIn(api, client_name)
        raw.ignore_types(True, True, True)  # type: ignore[attr-defined]
        return raw

    return make


def _output(api: int, client_name: str) -> OutService:
    def make() -> RawOutput:
        raw: RawOutput = rtmidi.MidiOut(api, client_name)
        return raw

    return make
