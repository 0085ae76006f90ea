"""Coverage against areas known from geometry."""

import math

import numpy as np
import pytest

from trainer.screen.shapes import bounds, disc, polygon, polyline


def whole(points: list[tuple[float, float]], widths: list[float]) -> np.ndarray:
    *_, last = polyline(points, widths, box=bounds(points, widths))
    return last


@pytest.mark.parametrize("radius", [3.0, 7.5, 20.0])
def test_a_disc_covers_pi_r_squared(radius: float) -> None:
    assert disc(radius).sum() / 255 == pytest.approx(math.pi * radius**2, rel=0.02)


def test_a_ring_covers_the_difference_of_two_discs() -> None:
    assert disc(20.0, 4.0).sum() / 255 == pytest.approx(math.pi * (20**2 - 16**2), rel=0.02)


def test_a_slanted_line_covers_its_length_times_its_width_and_two_half_discs() -> None:
    cover = whole([(0.0, 0.0), (30.0, 40.0)], [6.0])
    assert cover.sum() / 255 == pytest.approx(50 * 6 + math.pi * 9, rel=0.02)


def test_a_hair_line_loses_weight_and_not_its_place() -> None:
    cover = whole([(0.0, 5.0), (40.0, 5.0)], [0.5])
    assert 0 < cover.max() < 255
    assert cover.sum() / 255 == pytest.approx(0.5 * 40, rel=0.25)


@pytest.mark.parametrize("order", [1, -1])
def test_a_polygon_covers_its_area_whichever_way_it_is_walked(order: int) -> None:
    points = ((0.0, 0.0), (30.0, 0.0), (0.0, 20.0))[::order]
    assert polygon(points).sum() / 255 == pytest.approx(300, rel=0.03)
