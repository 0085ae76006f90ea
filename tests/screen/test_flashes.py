"""Nothing flashes; and the meter that says so sees what does."""

import numpy as np
import pytest

from trainer.screen.theme import ThemeName

try:
    import pygame

    from tests.screen.flashes import PICTURE, FlashMeter
    from tests.screen.moving import drill_frames
except ImportError:
    pytest.skip("pygame has no wheel for this Python", allow_module_level=True)

FPS = 30
RED, DARK_GREY = (255, 0, 0), (127, 127, 127)  # of nearly the same luminance, 0.213 and 0.212


def flashes_of(
    one: tuple[int, int, int], other: tuple[int, int, int], per_s: float, share: float = 1.0
) -> FlashMeter:
    """A field that goes to and fro so many times a second, for two seconds, over a share of one field."""
    meter = FlashMeter(FPS)
    for frame in range(2 * FPS):
        picture = np.full((*PICTURE, 3), one, dtype=np.uint8)
        if int(2 * per_s * frame / FPS) % 2:
            picture[: round(341 * share**0.5), : round(256 * share**0.5)] = other
        meter.see(picture)
    return meter


WHITE, BLACK = (255, 255, 255), (0, 0, 0)


# Luminance of greys from (c / 255 + 0.055)^2.4 / 1.055^2.4: 85 is 0.0908, 92 is 0.1070; 231 is 0.799, 232
# is 0.807.
@pytest.mark.parametrize(
    ("one", "other", "per_s", "share", "safe"),
    [
        (BLACK, WHITE, 4, 1.0, False),
        (BLACK, WHITE, 3, 1.0, True),
        (BLACK, WHITE, 10, 1.0, False),
        (BLACK, WHITE, 10, 0.3, False),
        (BLACK, WHITE, 10, 0.2, True),
        (BLACK, (85, 85, 85), 10, 1.0, True),
        (BLACK, (92, 92, 92), 10, 1.0, False),
        ((232, 232, 232), WHITE, 10, 1.0, True),
        ((231, 231, 231), WHITE, 10, 1.0, False),
    ],
)
def test_the_meter_draws_the_line_where_wcag_does(
    one: tuple[int, int, int], other: tuple[int, int, int], per_s: float, share: float, safe: bool
) -> None:
    assert flashes_of(one, other, per_s, share).result().is_safe is safe


def test_a_red_flash_is_caught_though_its_luminance_does_not_change() -> None:
    result = flashes_of(DARK_GREY, RED, 4).result()
    assert result.general == 0
    assert result.red > 3
    assert flashes_of(DARK_GREY, (213, 94, 0), 4).result().red > 3  # vermillion is red enough: keep it small


def test_a_flash_that_comes_by_and_by_is_still_one() -> None:
    """A sine of four a second: every step is small, the swing is not."""
    meter = FlashMeter(60)
    for frame in range(120):
        level = round(127 + 127 * np.sin(2 * np.pi * 4 * frame / 60))
        meter.see(np.full((*PICTURE, 3), level, dtype=np.uint8))
    assert not meter.result().is_safe


@pytest.mark.parametrize("theme", list(ThemeName), ids=lambda theme: theme.value)
def test_a_drill_at_240_does_not_flash(theme: ThemeName, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two seconds, the end of the count-in included; the whole minute is tests/benchmarks/flash_study.py."""
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.quit()
    pygame.display.init()
    meter = FlashMeter(60)
    for frame in drill_frames(240, 2.0, theme, from_s=-0.6):
        meter.see(frame)
    pygame.display.quit()
    result = meter.result()
    assert result.is_safe
    assert result.general == 0
