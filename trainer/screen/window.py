"""Say what a window is just now, and what is said over whatever it shows."""

from __future__ import annotations

import enum
from dataclasses import dataclass

from trainer.screen.theme import ThemeName


class BannerKind(enum.Enum):
    """Why a banner is shown; it decides the mark before the words."""

    NOTE = "note"
    PROBLEM = "problem"
    CAUTION = "caution"


@dataclass(frozen=True, slots=True, kw_only=True)
class Banner:
    """Up to three short lines; the next key or a click takes them away, but for a problem that stays."""

    kind: BannerKind
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TapKey:
    """A key or a pad that is tapped on.

    Attributes:
        label: what stands on it; empty on a pad.
        words: whose it is.
        lit: whether it was touched a moment ago.
    """

    label: str
    words: str
    lit: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """The window as it is now.

    Attributes:
        width, height: real pixels of the drawing surface.
        theme: which of the two.
        text_scale: 1 for the usual text, up to 1.5.
        full_screen: whether the window fills the screen.
        banner: what is said over the scene, whichever it is; None for nothing.
        taps: what is tapped on, where the scene is one to tap in.
    """

    width: int
    height: int
    theme: ThemeName = ThemeName.ROOM
    text_scale: float = 1.0
    full_screen: bool = False
    banner: Banner | None = None
    taps: tuple[TapKey, ...] = ()
