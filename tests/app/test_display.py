"""The first window fits what the display has for windows."""

import pytest

pytest.importorskip("pygame", reason="pygame is not installed")

from trainer.app.display import fitting_size, window_position


@pytest.mark.parametrize(
    ("usable", "size"),
    [
        (None, (1280, 720)),
        ((1920, 1040), (1280, 720)),
        ((1366, 728), (1280, 688)),  # 768 less a panel of 40
        ((1280, 720), (1272, 680)),
        ((1024, 600), (1016, 560)),
        ((320, 200), (640, 360)),
    ],
)
def test_it_is_as_large_as_usual_or_as_fits_with_its_title_bar(
    usable: tuple[int, int] | None, size: tuple[int, int]
) -> None:
    assert fitting_size(usable) == size


@pytest.mark.parametrize("from_frame", [True, False])
@pytest.mark.parametrize("usable", [(0, 0, 1366, 728), (64, 27, 1920, 1013), (0, 0, 1024, 600)])
def test_it_stands_inside_of_what_there_is_with_a_title_bar_of_36(
    usable: tuple[int, int, int, int], from_frame: bool
) -> None:
    left, top, width, height = usable
    size = fitting_size((width, height))
    x, y = window_position(usable, size, from_frame=from_frame)
    frame_top = y if from_frame else y - 36
    assert left <= x
    assert x + size[0] <= left + width
    assert top <= frame_top
    assert frame_top + 36 + size[1] <= top + height
