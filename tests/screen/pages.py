"""Patterns that fill a page, and where the items on it lie."""

from dataclasses import replace

from tests.judging.helpers import pattern_of
from tests.screen.views import LONG_TITLE, in_six
from trainer.music.chart import Chart, Chord, ChordSpan
from trainer.music.pattern import Pattern
from trainer.screen.draw import Item, Polygon, Polyline, Rect, Scene, Text

ONE, FOUR, FIVE, SIX = Chord(degree=1), Chord(degree=4), Chord(degree=5), Chord(degree=6, minor=True)


BARS = (
    "strike 3 fret 2, thumb, brush, thumb",
    "skip, drop-thumb 2 fret 3, brush, thumb",
    "strike 1 fret 2, hammer-on 1 fret 4, brush, thumb",
    "strike 4 fret 2, pull-off 4 fret 0, skip, drop-thumb 3 fret 2",
)


def over(bars: tuple[str, ...], *spans: tuple[Chord, int], key: str = "A") -> Pattern:
    chart = Chart(key=key, spans=tuple(ChordSpan(chord=chord, beats=beats) for chord, beats in spans))
    return replace(pattern_of(*bars), name="lantern", title="Lantern at the ford", chart=chart)


BREAK = over(BARS * 4, (ONE, 6), (FOUR, 4), (ONE, 4), (FIVE, 4), (SIX, 2), (FOUR, 4), (FIVE, 4), (ONE, 4))


LONG = replace(BREAK, bars=BREAK.bars * 2, chart=replace(BREAK.chart, spans=BREAK.chart.spans * 2))  # type: ignore[union-attr, type-var]


PAGES = {
    "a break": BREAK,
    "32 bars": LONG,
    "one bar": pattern_of(BARS[0]),
    "in six": replace(in_six(), bars=in_six().bars * 12),
    "long title": replace(BREAK, title=LONG_TITLE),
}


def box(item: Item) -> tuple[float, float, float, float]:
    if isinstance(item, Rect):
        return item.x, item.y, item.x + item.w, item.y + item.h
    if isinstance(item, Polyline | Polygon):
        xs, ys = zip(*item.points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)
    if isinstance(item, Text):
        return item.x, item.y, item.x, item.y
    return item.x - item.radius, item.y - item.radius, item.x + item.radius, item.y + item.radius


def words_on(scene: Scene) -> list[str]:
    """Every text of a scene, in the order of drawing; its strips' own are not among them."""
    return [item.text for panel in scene.panels for item in panel.items if isinstance(item, Text)]
