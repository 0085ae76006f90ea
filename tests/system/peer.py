"""A port of another program, for the processes that tests play and listen with.

Whichever MIDI library is there, python-rtmidi first, so that all of ours are measured against the same peer.
"""

from __future__ import annotations

from trainer.devices.midi_library import RawInput, RawOutput
from trainer.devices.midi_services import LIBRARY_ERRORS, installed_libraries


def an_output(client_name: str) -> RawOutput:
    """Return an unopened output on the first service that answers."""
    for library in installed_libraries():
        for service in library.outputs(client_name):
            try:
                return service()
            except LIBRARY_ERRORS:
                continue
    raise SystemExit("no MIDI service answers")


def an_input(client_name: str) -> RawInput:
    """Return an unopened input on the first service that answers; it hears clocks too, which ours do not."""
    for library in installed_libraries():
        for service in library.inputs(client_name):
            try:
                raw = service()
            except LIBRARY_ERRORS:
                continue
            getattr(raw, "_raw", raw).ignore_types(True, False, True)  # type: ignore[union-attr]
            return raw
    raise SystemExit("no MIDI service answers")
