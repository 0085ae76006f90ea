"""Write a picture of progress as a PNG, without a display."""

from __future__ import annotations

import datetime
from pathlib import Path

from trainer.commands.parsing import Answer
from trainer.errors import BadSettings
from trainer.records.library import load_library
from trainer.records.store import Store

WIDTH, HEIGHT = 1920, 1080
PICTURES = ("tempo", "spread", "minutes")


def write_picture(store: Store, to: Path, *, player: str, pattern: str | None, which: str) -> Answer:
    """Write one of the three pictures as the progress screen shows it.

    Args:
        pattern: name of the pattern; None for the one played last.
        which: one of ``PICTURES``.

    Raises:
        BadSettings: nothing was played, or not this pattern.
        NoDisplay: the library that paints is missing.
        StoreProblem: the file cannot be written.
    """
    from trainer.app.progress_of import progress_view
    from trainer.screen.paper import painted_png, write_file  # loads the libraries that draw
    from trainer.screen.scenes.progress import ProgressPicture, progress_scene
    from trainer.screen.theme import ThemeName
    from trainer.screen.window import Window

    played = store.patterns_played(player)
    names = [each.name for each in played]
    if not names:
        raise BadSettings(
            "nothing was played yet, so there is no picture", "play a drill, or name another --player"
        )
    if pattern is not None and pattern not in names:
        raise BadSettings(f'found no take of "{pattern}"', f"name one of {', '.join(names[:8])}")
    view = progress_view(
        Window(width=WIDTH, height=HEIGHT, theme=ThemeName.PROJECTOR),
        store,
        load_library(),
        player=player,
        selected=names.index(pattern) if pattern is not None else 0,
        picture=ProgressPicture[which.upper()],
        today=datetime.date.today().toordinal(),
    )
    write_file(to, painted_png(progress_scene(view), WIDTH, HEIGHT))
    return Answer(lines=(f"{to}: {ProgressPicture[which.upper()].value}, {played[view.selected].title}.",))
