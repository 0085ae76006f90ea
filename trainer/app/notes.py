"""Hold what is said over whichever scene is up: notes, and at the first start the cautions."""

from __future__ import annotations

from collections.abc import Callable

from trainer.app.preferences import Preferences, unsaved
from trainer.screen.window import Banner, BannerKind

CAUTIONS = (
    "Take a break after 25 minutes. If anything hurts, stop, and see someone licensed to help.",
    "Keep the sound low in headphones: no program can know how loud it is at your ear.",
    "Nothing here flashes over a large area; if moving pictures trouble you, look away and play by ear.",
)


class Notes:
    """Sentences that are shown until they are dismissed; from the app's thread only.

    While somebody plays there is room for one line, and eyes for none of the cautions: they wait.

    Attributes:
        standing: what is said for as long as it holds while nothing else is; no key takes it away.
    """

    def __init__(self, preferences: Preferences) -> None:
        self._preferences = preferences
        self._cautions = () if preferences.settings.cautions_seen else CAUTIONS
        self._said: tuple[str, ...] = ()
        self._were_shown = False
        self.standing = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """All that is to be said, whether it can be shown just now or not."""
        return (*self._cautions, *self._said)

    def shown(self, *, in_time: bool) -> tuple[str, ...]:
        """Return what is said just now.

        Args:
            in_time: whether somebody plays.
        """
        return self._said if in_time else self.lines

    def banner(self, *, in_time: bool) -> Banner | None:
        """Return what is said as a scene shows it; None for nothing."""
        lines = self.shown(in_time=in_time)
        if not lines:
            return Banner(kind=BannerKind.PROBLEM, lines=(self.standing,)) if self.standing else None
        self._were_shown = True
        kind = BannerKind.CAUTION if self._cautions and not in_time else BannerKind.NOTE
        return Banner(kind=kind, lines=lines)

    def say(self, *lines: str) -> None:
        """Show a note in place of the one before, or beside it when nobody can have seen that yet."""
        before = () if self._were_shown else self._said
        self._said = (*before, *(line for line in lines if line and line not in before))
        self._were_shown = False

    def dismiss(self, *, in_time: bool = False) -> None:
        """Take away what is shown."""
        self._said, self._were_shown = (), False
        if self._cautions and not in_time:
            self._cautions = ()
            self.keep(lambda: self._preferences.change(cautions_seen=True))

    def leave_cautions(self) -> None:
        """Say the cautions no more: a scene of its own has them on it."""
        self._cautions = ()

    def keep(self, change: Callable[[], object]) -> None:
        """Make a change of the preferences; a failure to keep it is shown, not raised."""
        note = unsaved(change)
        if note:
            self.say(note)
