"""Paint the icon's PNG files anew: ``python -m tests.screen.make_icon``."""

from pathlib import Path

import pygame

from trainer.screen.icon import icon_items
from trainer.screen.painter import Painter

ASSETS = Path(__file__).parents[2] / "assets"
SIZES = (64, 256)


def icon(size: int) -> pygame.Surface:
    painter = Painter(pygame.Surface((1, 1)), ASSETS / "fonts")
    return painter.picture(icon_items(size), size, size)


if __name__ == "__main__":
    for each in SIZES:
        pygame.image.save(icon(each), str(ASSETS / f"icon-{each}.png"))
