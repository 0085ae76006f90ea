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


READ_NS = 1_500_000_000  # a glance at a line; a key before that may have been on its way already
IN_TIME_NS = 8_000_000_000  # while somebody plays no key is free for it, so it goes by itself


def sentence(words: str) -> str:
    """Return words with a capital letter at the beginning; the name of a file stays as it is."""
    first = words.split(" ", 1)[0]
    return words if "." in first or "/" in first or ":" in first else f"{words[:1].upper()}{words[1:]}"


class Notes:
    """Sentences that are shown until they have been read; from the app's thread only.

    A note takes no key: the next one does what it always does, and the note goes with it once there was
    time to read it. While somebody plays there is room for one line, and eyes for none of the cautions:
    they wait, and what is said goes by itself.

    Attributes:
        standing: what is said for as long as it holds while nothing else is; no key takes it away.
    """

    def __init__(self, preferences: Preferences) -> None:
        self._preferences = preferences
        self._cautions = () if preferences.settings.cautions_seen else CAUTIONS
        self._said: tuple[str, ...] = ()
        self._shown_ns: int | None = None  # since when
        self._now_ns = 0
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
            return (
                Banner(kind=BannerKind.PROBLEM, lines=(sentence(self.standing),)) if self.standing else None
            )
        if self._shown_ns is None:
            self._shown_ns = self._now_ns
        kind = BannerKind.CAUTION if self._cautions and not in_time else BannerKind.NOTE
        return Banner(kind=kind, lines=tuple(map(sentence, lines)))

    def say(self, *lines: str) -> None:
        """Show a note in place of the one before, or beside it when nobody can have seen that yet.

        Nothing to say leaves what is shown.
        """
        if not any(lines):
            return
        before = () if self._shown_ns is not None else self._said
        self._said = (*before, *(line for line in lines if line and line not in before))
        self._shown_ns = None

    def tick(self, host_ns: int, *, in_time: bool) -> None:
        """Move on to a moment of the host clock; while somebody plays a note goes by itself."""
        self._now_ns = host_ns
        if in_time and self._was_read(IN_TIME_NS):
            self.dismiss(in_time=True)

    def key_pressed(self, *, in_time: bool) -> None:
        """Take away what there was time to read."""
        if not in_time and self._was_read(READ_NS):
            self.dismiss()

    def _was_read(self, within_ns: int) -> bool:
        return self._shown_ns is not None and self._now_ns - self._shown_ns >= within_ns

    def dismiss(self, *, in_time: bool = False) -> None:
        """Take away what is shown."""
        self._said, self._shown_ns = (), None
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
