"""Cut the gap out of a figure: the skip and the stroke after it alone, the hand swinging on through rests."""

from __future__ import annotations

from dataclasses import replace

from trainer.music.pattern import MAX_TITLE, Pattern
from trainer.music.strokes import Kind, Stroke

GAP_WORDS = "the gap alone"


def has_gap(pattern: Pattern) -> bool:
    """Return whether there is a skip with a stroke that sounds somewhere after it, and more than these two.

    Where nothing else is asked, the gap alone would be the figure itself.
    """
    if pattern.name.endswith(GAP_WORDS):
        return False
    first = _first_gap(pattern)
    if first is None:
        return False
    asked = [at for at, stroke in enumerate(pattern.strokes) if stroke.kind is not Kind.REST]
    return any(at not in first for at in asked)


def gap_alone(pattern: Pattern) -> Pattern:
    """Return the bar or the two bars of the first gap, with everything else at rest.

    Raises:
        ValueError: there is no gap (ask :func:`has_gap`).
    """
    found = _first_gap(pattern)
    if found is None:
        raise ValueError(f"{pattern.name} has no gap")
    skip, after = found
    per_bar = pattern.slots_per_bar
    first_bar, last_bar = skip // per_bar, after // per_bar
    bars = tuple(
        tuple(
            stroke if bar * per_bar + slot in found else Stroke(kind=Kind.REST)
            for slot, stroke in enumerate(pattern.bars[bar])
        )
        for bar in range(first_bar, last_bar + 1)
    )
    return replace(
        pattern,
        name=f"{pattern.name}, {GAP_WORDS}",
        title=f"{pattern.title[: MAX_TITLE - len(GAP_WORDS) - 2]}, {GAP_WORDS}",
        bars=bars,
        parts=(),
        chart=None,
        needs=(),
    )


def _first_gap(pattern: Pattern) -> tuple[int, int] | None:
    """Return the places of the first skip that a sounding stroke follows, and of that stroke."""
    strokes = pattern.strokes
    for at, stroke in enumerate(strokes):
        if stroke.kind is Kind.SKIP:
            after = next((k for k in range(at + 1, len(strokes)) if strokes[k].kind.sounds), None)
            if after is not None:
                return at, after
    return None
