"""Give the two themes their colours and every size its pixels.

Colours that carry a meaning are those of Okabe & Ito (2002, Color Universal Design), each theme using
those of them that reach 3:1 on its sheet. Contrast is WCAG 2's ratio; text keeps 4.5:1 and marks 3:1, and
the tests compute both. Sizes follow the window, so that the picture is the same on any screen.
"""

from __future__ import annotations

import enum
from dataclasses import dataclass

Colour = tuple[int, int, int]

BLACK: Colour = (0x00, 0x00, 0x00)
ORANGE: Colour = (0xE6, 0x9F, 0x00)
SKY_BLUE: Colour = (0x56, 0xB4, 0xE9)
BLUISH_GREEN: Colour = (0x00, 0x9E, 0x73)
YELLOW: Colour = (0xF0, 0xE4, 0x42)
BLUE: Colour = (0x00, 0x72, 0xB2)
VERMILLION: Colour = (0xD5, 0x5E, 0x00)
REDDISH_PURPLE: Colour = (0xCC, 0x79, 0xA7)


class ThemeName(enum.Enum):
    """The themes; the value is the word shown."""

    ROOM = "room"
    PROJECTOR = "projector"


@dataclass(frozen=True, slots=True, kw_only=True)
class Theme:
    """Colours by what they are for.

    Attributes:
        wall: behind everything; ``sheet`` behind the strings; ``raised`` behind a chosen row.
        ink: text and the hand's path; ``muted`` text of less weight; ``hair`` lines that only divide.
        string: the strings; ``pocket`` the soft band round a stroke; ``pocket_edge`` its two ends.
        now: the upright line; ``focus`` what is chosen.
        in_time, early, late, slip: verdicts; ``slip`` is for a missed stroke or a touched skip and
            ``other`` for the wrong hand or string and for strays.
    """

    wall: Colour
    sheet: Colour
    raised: Colour
    ink: Colour
    muted: Colour
    hair: Colour
    string: Colour
    pocket: Colour
    pocket_edge: Colour
    now: Colour
    focus: Colour
    in_time: Colour
    early: Colour
    late: Colour
    slip: Colour
    other: Colour


ROOM = Theme(
    wall=(0x10, 0x14, 0x17),
    sheet=(0x17, 0x1C, 0x20),
    raised=(0x25, 0x2C, 0x31),
    ink=(0xF2, 0xED, 0xE1),
    muted=(0xA9, 0xAD, 0xA8),
    hair=(0x37, 0x3F, 0x44),
    string=(0x84, 0x7D, 0x6F),
    pocket=(0x2A, 0x32, 0x37),
    pocket_edge=(0x76, 0x7F, 0x84),
    now=YELLOW,
    focus=YELLOW,
    in_time=(0x00, 0x9E, 0x73),
    early=SKY_BLUE,
    late=ORANGE,
    slip=VERMILLION,
    other=REDDISH_PURPLE,
)
PROJECTOR = Theme(
    wall=(0xFF, 0xFF, 0xFF),
    sheet=(0xFF, 0xFF, 0xFF),
    raised=(0xF1, 0xF3, 0xF4),
    ink=(0x00, 0x00, 0x00),
    muted=(0x4A, 0x50, 0x54),
    hair=(0xC9, 0xCE, 0xD2),
    string=(0x7D, 0x76, 0x69),
    pocket=(0xF0, 0xF2, 0xF3),
    pocket_edge=(0x7E, 0x87, 0x8C),
    now=BLUE,
    focus=BLUE,
    in_time=BLUISH_GREEN,
    early=BLUE,
    late=VERMILLION,
    slip=BLACK,
    other=REDDISH_PURPLE,
)


def theme_of(name: ThemeName) -> Theme:
    """Return the colours of a theme."""
    return ROOM if name is ThemeName.ROOM else PROJECTOR


def mixed(a: Colour, b: Colour, share: float) -> Colour:
    """Return the colour that lies ``share`` of the way from ``a`` to ``b``."""
    red, green, blue = (round(x + (y - x) * share) for x, y in zip(a, b, strict=True))
    return red, green, blue


def luminance(colour: Colour) -> float:
    """Return the relative luminance of a colour, from 0 to 1: WCAG 2 "relative luminance"."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (channel / 255 for channel in colour)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(a: Colour, b: Colour) -> float:
    """Return the contrast ratio of two colours, 1 to 21: WCAG 2, (L1 + 0.05) / (L2 + 0.05)."""
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


REFERENCE_HEIGHT = 1080.0
WIDEST_SHAPE = 16 / 9


@dataclass(frozen=True, slots=True)
class Sizes:
    """Every size in pixels of one window.

    ``unit`` is a pixel of a window 1080 high; in a window narrower than 16:9 the width rules.
    """

    unit: float
    text_scale: float = 1.0

    @classmethod
    def of(cls, width: int, height: int, text_scale: float = 1.0) -> Sizes:
        """Return the sizes for a window."""
        return cls(min(height, width / WIDEST_SHAPE) / REFERENCE_HEIGHT, text_scale)

    def px(self, units: float) -> int:
        """Return a length in whole pixels, at least one."""
        return max(1, round(units * self.unit))

    def _text(self, units: float) -> int:
        return max(9, round(units * self.unit * self.text_scale))

    @property
    def small(self) -> int:
        """What the keys do, units, remarks."""
        return self._text(25)

    @property
    def body(self) -> int:
        """Lists, sentences, the words under the strokes."""
        return self._text(31)

    @property
    def large(self) -> int:
        """What is read from the back row: capitals of 20 minutes of arc at 8 m on a picture 2 m wide.

        20 minutes at 8 m are 46.5 mm (h = 2 D tan(theta / 2)); 1920 pixels over 2 m make that 44.7
        pixels, and a capital is 0.698 of the type's size.
        """
        return self._text(65)

    @property
    def title(self) -> int:
        """Names of scenes and patterns."""
        return self._text(46)

    @property
    def huge(self) -> int:
        """The count-in."""
        return self._text(240)

    @property
    def margin(self) -> int:
        """Between the window's edge and what it holds."""
        return self.px(56)

    @property
    def gap(self) -> int:
        """Between things that belong apart; half of it between things that belong together."""
        return self.px(28)
