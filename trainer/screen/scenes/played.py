"""Draw what was played on a moving sheet: each tap where it fell, and what was made of each stroke."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.judging.take import Outcome, Tap, Verdict
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline
from trainer.screen.draw import Disc, Item, Rect, Ring
from trainer.screen.hand_path import SKIP_TURN, string_height
from trainer.screen.scenes.marks import mark, verdict_colour
from trainer.screen.scenes.parts import Frame
from trainer.screen.scenes.sheet_shape import BOTTOM_HEIGHT, SheetShape, skip_radius

# A mark is 16 minutes of arc and more at 8 m on a picture 2 m wide; much larger, and it would hide where in
# the pocket it lies.
MARK_UNITS = 18.0
AHEAD_S = 2.0  # an outcome may be known before its stroke


class Axes:
    """Where beats and heights lie on a sheet that moves, in pixels of the window."""

    def __init__(self, frame: Frame, shape: SheetShape, origin: int, top: int) -> None:
        self.frame = frame
        self.shape = shape
        self.origin = origin
        self.top = top

    def x(self, beat: float) -> float:
        """Return the pixel column of a beat."""
        return self.origin + beat * self.shape.beat_px

    def y(self, height: float) -> float:
        """Return the pixel row of a height in spacings."""
        return self.top + self.shape.y(height)


def played_items(
    axes: Axes,
    timeline: Timeline,
    *,
    song_s: float,
    left: int,
    outcomes: Iterable[Outcome],
    taps: tuple[Tap, ...],
    strays: tuple[Tap, ...],
) -> list[Item]:
    """Return the taps and verdicts right of a pixel; arguments are as in the sheet's view."""
    return _Played(axes, timeline).items(song_s, left, tuple(outcomes), taps, strays)


class _Played:
    def __init__(self, axes: Axes, timeline: Timeline) -> None:
        self._axes = axes
        self._timeline = timeline
        self._theme = axes.frame.theme
        self._radius = MARK_UNITS * axes.frame.sizes.unit

    def items(
        self,
        song_s: float,
        left: int,
        outcomes: tuple[Outcome, ...],
        taps: tuple[Tap, ...],
        strays: tuple[Tap, ...],
    ) -> list[Item]:
        items: list[Item] = []
        beats_back = self._timeline.beat(song_s) - (left - self._axes.origin) / self._axes.shape.beat_px
        # At the slowest tempo there was, so that nothing in view is left out after a change.
        slowest = min(float(span.bpm) for span in self._timeline.spans)
        since = song_s - beats_back * 60 / slowest
        decided: set[Tap] = set(strays)
        for outcome in reversed(outcomes):
            if outcome.target.song_s < since - AHEAD_S:
                break
            if outcome.tap is not None:
                decided.add(outcome.tap)
            if outcome.target.song_s < song_s + AHEAD_S:
                items.extend(self._outcome(outcome))
        for tap in _latest(taps, since):
            if tap not in decided:
                items.extend(self._undecided(tap))
        for tap in _latest(strays, since):
            items.extend(self._with_halo(Verdict.STRAY, self._tap_x(tap), self._stray_y(tap)))
        return items

    def _tap_x(self, tap: Tap) -> float:
        return self._axes.x(self._timeline.beat(tap.song_s))

    def _stray_y(self, tap: Tap) -> float:
        return self._axes.y(string_height(tap.string) if tap.string is not None else BOTTOM_HEIGHT + 0.65)

    def _undecided(self, tap: Tap) -> tuple[Item, ...]:
        # A plain dot: an open ring would look like a skip.
        x, y = self._tap_x(tap), self._stray_y(tap)
        return (Disc(x, y, self._radius, self._theme.sheet), Disc(x, y, 0.6 * self._radius, self._theme.ink))

    def _with_halo(self, verdict: Verdict, x: float, y: float) -> tuple[Item, ...]:
        # A rim of the sheet's own colour parts a mark from the string it lies on.
        return (
            Disc(x, y, 1.5 * self._radius, self._theme.sheet),
            *mark(verdict, x, y, self._radius, self._theme),
        )

    def _outcome(self, outcome: Outcome) -> tuple[Item, ...]:
        stroke, verdict = outcome.target.stroke, outcome.verdict
        stroke_x = self._axes.x(self._timeline.beat(outcome.target.song_s))
        y = self._axes.y(touch_height(stroke.strings, stroke.kind))
        if verdict in (Verdict.KEPT_SILENT, Verdict.TOUCHED):
            return self._skip(outcome, stroke_x)
        if outcome.tap is None:
            return () if verdict is Verdict.NOT_JUDGED else self._with_halo(verdict, stroke_x, y)
        x = self._tap_x(outcome.tap)
        if verdict is Verdict.WRONG_STRING and outcome.tap.string is not None:
            y = self._axes.y(string_height(outcome.tap.string))
        distance: tuple[Item, ...] = ()
        # A shorter line would lie under the wedge, which points the way already.
        if verdict in (Verdict.EARLY, Verdict.LATE) and abs(x - stroke_x) > 2 * self._radius:
            thick = max(2, round(0.3 * self._radius))
            begin, end = sorted((round(x), round(stroke_x)))
            colour = verdict_colour(verdict, self._theme)
            distance = (Rect(begin, round(y) - thick // 2, end - begin, thick, colour),)
        halo, *drawn = self._with_halo(verdict, x, y)
        return (halo, *distance, *drawn)

    def _skip(self, outcome: Outcome, x: float) -> tuple[Item, ...]:
        """Return the skip's own ring: heavy when it was kept silent, struck through where it was touched."""
        y, radius = self._axes.y(SKIP_TURN), skip_radius(self._axes.shape)
        colour = verdict_colour(outcome.verdict, self._theme)
        ring = Ring(x, y, radius * 1.12, radius * (0.42 if outcome.tap is None else 0.26), colour)
        if outcome.tap is None:
            return (ring,)
        wide = max(2, round(0.42 * self._radius))
        top, bottom = round(y - 1.2 * radius), round(self._axes.y(string_height(4)))
        bar = Rect(round(self._tap_x(outcome.tap)) - wide // 2, top, wide, bottom - top, colour)
        return (ring, bar)


def touch_height(slot_strings: tuple[int, ...], kind: Kind) -> float:
    """Return the height at which a tap for a stroke is drawn: on its string, or amid a brush."""
    if kind is Kind.SKIP or not slot_strings:
        return SKIP_TURN
    heights = [string_height(s) for s in slot_strings]
    return (max(heights) + min(heights)) / 2


def _latest(taps: tuple[Tap, ...], since_s: float) -> Iterable[Tap]:
    for tap in reversed(taps):
        if tap.song_s < since_s:
            return
        yield tap
