"""Reach the system's MIDI services through whichever library is installed for this Python.

Three libraries stand behind one pair of protocols, and the first that loads is used: python-rtmidi, which has
builds up to CPython 3.12; rtmidi2 for the Pythons after it; and pygame.midi, which comes along with every
pygame, for processors that have neither. What they and the systems' own libraries write to the terminal about
missing devices is kept from it.
"""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path

from trainer.devices import midi_portmidi, midi_rtmidi, midi_rtmidi2
from trainer.devices.midi_library import MidiLibrary, OutService, RawInput, RawOutput, Service
from trainer.devices.missing import ALSA_SETTINGS, missing_library
from trainer.devices.quiet import quiet_stderr

LIBRARY_ERRORS: tuple[type[Exception], ...] = (
    OSError,
    RuntimeError,
    ValueError,
    *midi_rtmidi.ERRORS,
)
"""What an input or output may raise: a library's own errors, and those it lets through from below."""

_ALL = (midi_rtmidi.LIBRARY, midi_rtmidi2.LIBRARY, midi_portmidi.LIBRARY)
_KEYS = "use the computer's keys"
_SEQUENCER = Path("/dev/snd/seq")


def installed_libraries() -> tuple[MidiLibrary, ...]:
    """Return the MIDI libraries that load here, the one to use first."""
    return tuple(library for library in _ALL if not library.why_not)


def library_named(name: str) -> MidiLibrary:
    """Return one of the MIDI libraries by what pip calls it, installed or not."""
    return next(library for library in _ALL if library.name == name)


def system_services() -> tuple[Service, ...]:
    """Return the MIDI services for input that the library in use knows; empty without any library."""
    return installed_libraries()[0].inputs() if installed_libraries() else ()


def system_outputs() -> tuple[OutService, ...]:
    """Return those for output, as :func:`system_services`."""
    return installed_libraries()[0].outputs() if installed_libraries() else ()


def why_no_midi() -> str:
    """Return why no MIDI service can be reached, as a sentence without a stop.

    To be asked once none was found: it looks for the causes that can be named.
    """
    if not installed_libraries():
        found = next(filter(None, (missing_library(library.why_not) for library in _ALL)), "")
        return f"MIDI is off: {found or 'no MIDI library is installed for this Python'}; {_KEYS}"
    if not sys.platform.startswith("linux"):
        return f"MIDI is off: this system offers no MIDI service; {_KEYS}"
    if _SEQUENCER.exists() and not Path(ALSA_SETTINGS).exists():
        return (
            f"MIDI is off: ALSA's settings {ALSA_SETTINGS} are missing (on Debian and Ubuntu the package "
            f"libasound2-data brings them); {_KEYS}"
        )
    return (
        f"MIDI is off: this system offers no MIDI service (neither ALSA's {_SEQUENCER} nor a JACK server is "
        f"there); {_KEYS}"
    )


def made(service: Service) -> RawInput | None:
    """Return a fresh unopened input, or None where the service is not there."""
    try:
        with quiet_stderr():
            return service()
    except LIBRARY_ERRORS:
        return None


def listed(watcher: RawInput | RawOutput) -> list[str]:
    """Return the names of the ports that can be opened; none when their service does not answer."""
    try:
        with quiet_stderr():
            # A port that goes while the list is made can have no name.
            return [name for name in watcher.get_ports() if name]
    except LIBRARY_ERRORS:
        return []


def can_offer(raw: RawInput | RawOutput) -> bool:
    """Return whether a program can offer a port of its own through a service; none of Windows' can."""
    return os.name != "nt" and getattr(raw, "offers_ports", True)


def hush(raw: RawInput) -> tuple[object, ...]:
    """Cancel an input's callback; keep what is returned until the driver's thread has surely let go of it.

    python-rtmidi frees the pair of callback and data at once, and a driver's thread that was just waiting to
    call it would read freed memory.
    """
    kept = tuple(each for each in gc.get_referents(raw) if isinstance(each, tuple))
    raw.cancel_callback()
    return kept


def output_to(part: str, client_name: str, library: MidiLibrary | None = None) -> RawOutput | None:
    """Return an output that plays into the first port with a part in its name; None where there is none.

    Args:
        library: which to use; None for the one in use.
    """
    if library is None:
        if not installed_libraries():
            return None
        library = installed_libraries()[0]
    nowhere: tuple[type[Exception], ...] = (StopIteration, *LIBRARY_ERRORS)
    for service in library.outputs(client_name):
        output: RawOutput | None = None
        with quiet_stderr():
            try:
                output = service()
                ports = output.get_ports()
                output.open_port(next(n for n, port in enumerate(ports) if part in port), "out")
            except nowhere:
                if output is not None:
                    output.delete()
                continue
        return output
    return None
