"""Open pygame's mixer on the system's default device, or say why there is none."""

from __future__ import annotations

import contextlib
import warnings
from collections.abc import Iterator

from trainer.devices.feeder import BUFFER_FRAMES, Block
from trainer.devices.missing import missing_library, sound_libraries_missing
from trainer.devices.quiet import quiet_stderr
from trainer.errors import NoSound
from trainer.sdl import WHY_NOT, pygame
from trainer.sound.plan import RATE

NO_PYGAME = missing_library(WHY_NOT) if WHY_NOT is not None else ""

FORMAT = -16  # signed sixteen bits, as pygame writes it
CHANNELS = 2
ON_THE_CLOCK = "drills run on the clock alone"


def why_no_mixer() -> str:
    """Return why pygame has no mixer here, as a clause; empty when it has one.

    Its parts are loaded apart: one that misses a library of the system is replaced by a dummy that complains
    when it is used.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            pygame.mixer.get_init  # noqa: B018 - to look is to ask
    except NotImplementedError as err:
        return missing_library(err) or f"this pygame has no sound ({err})"
    return ""


def open_mixer(buffer_frames: int = BUFFER_FRAMES) -> int:
    """Open pygame's mixer and return its rate.

    Raises:
        NoSound: no pygame, a library of the system is missing, no device, or none that takes 16-bit stereo.
    """
    if pygame is None:
        raise NoSound(
            NO_PYGAME or "no pygame is installed for this Python, so there is no sound", ON_THE_CLOCK
        )
    why_not = why_no_mixer()
    if why_not:
        raise NoSound(why_not, ON_THE_CLOCK)
    if pygame.mixer.get_init() is not None:
        pygame.mixer.quit()
    try:
        with quiet_stderr():
            pygame.mixer.init(RATE, FORMAT, CHANNELS, buffer_frames, allowedchanges=0)
    except pygame.error as err:
        why = sound_libraries_missing() or str(err)
        raise NoSound(f"no sound device could be opened ({why})", ON_THE_CLOCK) from err
    found = pygame.mixer.get_init()
    if found is None or found[1:] != (FORMAT, CHANNELS):
        pygame.mixer.quit()
        raise NoSound(f"the sound device gave {found} instead of 16-bit stereo", ON_THE_CLOCK)
    return found[0]


class MixerChannel:
    """One channel of the open mixer, as the feeder wants it.

    Args:
        number: the channel.
        unused: another one, which nothing is ever played on.
    """

    def __init__(self, number: int, unused: int) -> None:
        self._channel = pygame.mixer.Channel(number)
        self._unused = pygame.mixer.Channel(unused)

    def play(self, block: Block) -> None:
        """Begin a block now."""
        with _mixer_errors():
            self._channel.play(pygame.mixer.Sound(buffer=block.tobytes()))

    def queue(self, block: Block) -> None:
        """Let a block follow the one that plays, without a gap."""
        with _mixer_errors():
            self._channel.queue(pygame.mixer.Sound(buffer=block.tobytes()))

    def is_waiting(self) -> bool:
        """Return whether a queued block has not begun yet."""
        with _mixer_errors():
            return self._channel.get_queue() is not None

    def is_playing(self) -> bool:
        """Return whether any block plays."""
        with _mixer_errors():
            return self._channel.get_busy()

    def settle(self) -> None:
        """Return when the audio thread is surely not between two blocks."""
        # Stopping any channel takes the mixer's lock, which the audio thread holds while it changes blocks.
        with _mixer_errors():
            self._unused.stop()

    def stop(self) -> None:
        """End at once and drop what waits."""
        # A window that has been closed may have taken the mixer with it.
        if pygame.mixer.get_init() is not None:
            self._channel.stop()


@contextlib.contextmanager
def _mixer_errors() -> Iterator[None]:
    try:
        yield
    except pygame.error as err:
        raise NoSound(f"the sound device failed ({err})", "start the program again") from err
