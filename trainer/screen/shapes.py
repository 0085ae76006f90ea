"""Turn lines, circles and polygons into coverage: how much of each pixel a shape fills, 0 to 255.

A pixel's coverage is taken from its distance to the shape's edge, clipped to one pixel (exact for a
straight edge along the grid and close for the rest). Pure numpy; the painter gives it colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Coverage = NDArray[np.uint8]
Point = tuple[float, float]


def disc(radius: float, width: float | None = None) -> Coverage:
    """Return a circle, or a ring of a width, in a square whose middle is the circle's.

    Returns:
        Shape (n, n), first axis x, with n = 2 * ceil(radius) + 1.
    """
    reach = math.ceil(radius)
    axis = np.arange(-reach, reach + 1, dtype=np.float32)
    away = np.hypot(axis[:, None], axis[None, :])
    cover = np.clip(radius + 0.5 - away, 0, 1)
    if width is not None:
        cover = np.minimum(cover, np.clip(away - (radius - width) + 0.5, 0, 1))
    return _bytes(cover)


def polygon_corner(points: Sequence[Point]) -> tuple[int, int]:
    """Return the pixel that the first row and column of :func:`polygon` stand for."""
    return math.floor(min(p[0] for p in points)) - 1, math.floor(min(p[1] for p in points)) - 1


def polygon(points: Sequence[Point]) -> Coverage:
    """Return a convex polygon's coverage; :func:`polygon_corner` says where it lies."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    left, top = polygon_corner(points)
    x = np.arange(left, math.ceil(max(xs)) + 2, dtype=np.float32)[:, None]
    y = np.arange(top, math.ceil(max(ys)) + 2, dtype=np.float32)[None, :]
    inside = np.full((x.size, y.size), np.inf, dtype=np.float32)
    turn = sum(
        (x1 - x0) * (y1 + y0) for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True)
    )
    for (x0, y0), (x1, y1) in zip(points, (*points[1:], points[0]), strict=True):
        length = math.hypot(x1 - x0, y1 - y0)
        if length > 0:
            # Signed distance to the edge's line, positive inside; ``turn`` tells which side that is.
            side = ((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length
            inside = np.minimum(inside, side if turn < 0 else -side)
    return _bytes(np.clip(inside + 0.5, 0, 1))


def polyline(
    points: Sequence[Point], widths: Sequence[float], *, box: tuple[int, int, int, int]
) -> Iterator[Coverage]:
    """Build a round-ended line's coverage inside a box, a few segments at a time.

    Args:
        points: at least one.
        widths: one for each point, or one for all.
        box: left, top, width and height in whole pixels.

    Yields:
        The same growing array, shape (width, height), whole with the last one; the caller may do
        other work between.
    """
    left, top, wide, high = box
    cover = np.zeros((wide, high), dtype=np.float32)
    radii = [w / 2 for w in (widths if len(widths) == len(points) else [widths[0]] * len(points))]
    for at in range(max(len(points) - 1, 1)):
        following = min(at + 1, len(points) - 1)
        _segment(cover, points[at], points[following], radii[at], radii[following], left, top)
        if at % 12 == 11:
            yield _bytes(cover)
    yield _bytes(cover)


def bounds(points: Sequence[Point], widths: Sequence[float]) -> tuple[int, int, int, int]:
    """Return left, top, width and height of the whole pixels that a line can touch."""
    reach = max(widths) / 2 + 1
    left = math.floor(min(p[0] for p in points) - reach)
    top = math.floor(min(p[1] for p in points) - reach)
    right = math.ceil(max(p[0] for p in points) + reach)
    bottom = math.ceil(max(p[1] for p in points) + reach)
    return left, top, right - left + 1, bottom - top + 1


def _segment(
    cover: NDArray[np.float32], a: Point, b: Point, ra: float, rb: float, left: int, top: int
) -> None:
    """Add one segment: a capsule whose radius goes evenly from ``ra`` to ``rb``."""
    reach = max(ra, rb) + 1
    x0 = max(math.floor(min(a[0], b[0]) - reach) - left, 0)
    x1 = min(math.ceil(max(a[0], b[0]) + reach) - left + 1, cover.shape[0])
    y0 = max(math.floor(min(a[1], b[1]) - reach) - top, 0)
    y1 = min(math.ceil(max(a[1], b[1]) + reach) - top + 1, cover.shape[1])
    if x0 >= x1 or y0 >= y1:
        return
    # A pixel's middle lies half a pixel from its corner; whole coordinates name corners.
    px = np.arange(x0 + left, x1 + left, dtype=np.float32)[:, None] + np.float32(0.5 - a[0])
    py = np.arange(y0 + top, y1 + top, dtype=np.float32)[None, :] + np.float32(0.5 - a[1])
    dx, dy = b[0] - a[0], b[1] - a[1]
    squared = dx * dx + dy * dy
    if squared > 0:
        along = np.clip((px * np.float32(dx) + py * np.float32(dy)) / np.float32(squared), 0, 1)
        away = np.hypot(px - along * np.float32(dx), py - along * np.float32(dy))
        radius = along * np.float32(rb - ra) + np.float32(ra)
    else:
        away = np.hypot(px, py)
        radius = np.full(away.shape, ra, dtype=np.float32)
    # A line thinner than a pixel keeps its place and can cover no more than its width.
    weight = np.minimum(np.clip(radius + 0.5 - away, 0, 1), 2 * radius)
    block = cover[x0:x1, y0:y1]
    np.maximum(block, weight, out=block)


def _bytes(cover: NDArray[np.floating]) -> Coverage:
    return np.asarray(np.rint(np.clip(cover, 0, 1) * 255), dtype=np.uint8)
