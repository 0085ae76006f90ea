"""Say what values of settings mean where the value alone says too little."""

from __future__ import annotations

FARTHEST_PAN = 10  # all the way to one side

LADDER_REMARKS = {
    "off": "The tempo stays as you set it.",
    "plain": "The tempo climbs by a twentieth after some clean passes in a row and goes down after as many "
    "that are not. Clean: nine strokes of ten as asked, no skip touched, no gap rushed, a spread of at most "
    "8 % of a slot (20 ms at least), no drift.",
    "homing in": "The tempo goes up and down in shorter and shorter steps, to the fastest that is clean.",
    "alternating": "Slow and goal tempo in turns; the slow one climbs.",
}


def pan_words(pan: int) -> str:
    """Return where a sound is heard, from -FARTHEST_PAN, the left, to FARTHEST_PAN."""
    side = "left" if pan < 0 else "right"
    if abs(pan) == FARTHEST_PAN:
        return f"{side} only"
    return f"{abs(pan)} to the {side}" if pan else "in the middle"
