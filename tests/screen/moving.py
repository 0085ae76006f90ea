"""Scenes that move, frame by frame as they are seen: what the flash meter watches."""

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pygame
from numpy.typing import NDArray

from tests.screen.flashes import PICTURE
from tests.screen.pixels import FONTS
from tests.screen.views import BOTH, SLOPPY, titled
from trainer.music.layout import lay_out
from trainer.music.timeline import Timeline
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.hands import simulate
from trainer.screen.painter import Painter
from trainer.screen.scenes.drill import DrillView
from trainer.screen.theme import ThemeName
from trainer.screen.window import Window

FPS = 60


def drill_frames(
    bpm: int, seconds: float, theme: ThemeName, *, from_s: float = -1.0
) -> Iterator[NDArray[np.uint8]]:
    """A drill played by a sloppy simulated player, with all its verdicts, from a second of the song on."""
    pattern = titled("Both figures", *BOTH)
    passes = int((from_s + seconds) * bpm / 60 / pattern.beats) + 2
    drill = Drill(DrillSettings(pattern=pattern, bpm=Fraction(bpm), passes=passes))
    taps = list(
        simulate(lay_out(pattern, Timeline.steady(bpm), passes=passes), SLOPPY, np.random.default_rng(4)).taps
    )
    window = Window(width=PICTURE[0], height=PICTURE[1], theme=theme)
    surface = pygame.display.set_mode(PICTURE)
    painter = Painter(surface, FONTS)
    drill.advance(max(drill.start_s, from_s))
    for frame in range(round(seconds * FPS)):
        song_s = from_s + frame / FPS
        while taps and taps[0].song_s <= song_s:
            drill.advance(taps[0].song_s)
            drill.tap(taps.pop(0))
        moment = drill.advance(song_s)
        view = DrillView(
            window=window, pattern=pattern, targets=drill.targets, timeline=drill.timeline,
            outcomes=(*drill.outcomes[-40:], *moment.view.provisional), strays=drill.strays[-10:],
            taps=drill.taps[-40:], song_s=song_s, bpm=moment.bpm, pass_index=moment.pass_index, passes=passes,
            count=moment.count, count_in_beats=drill.count_in_beats, input_name="Computer keys",
        )  # fmt: skip
        painter.paint(view.scene())
        yield pygame.surfarray.array3d(surface)
