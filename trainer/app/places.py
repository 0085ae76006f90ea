"""Know which scene is up, which corner is open, and what is said on it."""

from __future__ import annotations

import enum
from collections.abc import Callable

from trainer.app.corner import Corner
from trainer.app.preferences import Preferences, unsaved
from trainer.screen.views import Banner, BannerKind

CAUTIONS = (
    "Take a break after 25 minutes. If anything hurts, stop, and see someone licensed to help.",
    "Keep the sound low in headphones: no program can know how loud it is at your ear.",
    "Nothing here flashes over a large area; if moving pictures trouble you, look away and play by ear.",
)


class Place(enum.Enum):
    """Which scene is shown."""

    LIBRARY = "library"
    DRILL = "drill"
    REVIEW = "review"
    SETTINGS = "settings"
    CORNER = "corner"  # whichever is open: Stage.corner


class Places:
    """Which scene is shown, and the words over it; the part of the stage that knows no drill.

    Attributes:
        place: the scene.
        corner: whichever is open; those that it was opened from wait below it.
        focus, first_row: where lists stand.
        notes: sentences shown until they are dismissed; ``caution`` when they are the cautions of the first
            start.
    """

    def __init__(self, chosen: Preferences) -> None:
        settings = chosen.settings
        self.chosen = chosen
        self.place = Place.LIBRARY
        self._came_from = Place.LIBRARY
        self.corner: Corner | None = None
        self._corner_from = Place.LIBRARY
        self._corners_below: list[Corner] = []
        self.focus = 0
        self.first_row = 0
        self.notes: tuple[str, ...] = () if settings.cautions_seen else CAUTIONS
        self.caution = not settings.cautions_seen

    # Words on the screen

    @property
    def banner(self) -> Banner | None:
        """What is said, as a scene shows it; None for nothing."""
        if not self.notes:
            return None
        return Banner(kind=BannerKind.CAUTION if self.caution else BannerKind.NOTE, lines=self.notes)

    def say(self, *lines: str) -> None:
        """Show a note until it is dismissed."""
        self.notes, self.caution = tuple(line for line in lines if line), False

    def _add_note(self, line: str) -> None:
        """Show a line besides what is shown already, as at the start beside the cautions."""
        self.notes = (*self.notes, line)

    def dismiss(self) -> None:
        """Take the note away."""
        if self.caution:
            self.keep(lambda: self.chosen.change(cautions_seen=True))
        self.notes, self.caution = (), False

    def keep(self, change: Callable[[], object]) -> None:
        """Make a change of the choices; a failure to keep it is shown, not raised."""
        note = unsaved(change)
        if note:
            self.say(note)

    # Corners

    def open_corner(self, corner: Corner) -> None:
        """Show a corner; leaving it goes back to where it was opened from."""
        self.stop()
        if self.corner is None:
            self._corner_from = self.place
        else:
            self.corner.leave()
            if self.corner.is_returned_to:
                self._corners_below.append(self.corner)
        self.corner = corner
        self.place = Place.CORNER

    def leave_corner(self) -> None:
        """Go back to the corner below, or to where the corners were opened from."""
        if self.corner is not None:
            self.corner.leave()
        self.corner = self._corners_below.pop() if self._corners_below else None
        self.place = Place.CORNER if self.corner is not None else self._corner_from

    def stop(self) -> None:
        """End whatever runs."""
