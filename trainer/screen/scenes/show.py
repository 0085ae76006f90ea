"""Turn whichever view there is into its scene."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trainer.screen.draw import Scene
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.scenes.library import library_scene
from trainer.screen.scenes.review import review_scene
from trainer.screen.scenes.settings import settings_scene
from trainer.screen.views import DrillView, LibraryView, ReviewView, SettingsView, View

SCENES: dict[type, Callable[[Any], Scene]] = {
    DrillView: drill_scene,
    LibraryView: library_scene,
    ReviewView: review_scene,
    SettingsView: settings_scene,
}


def scene_of(view: View) -> Scene:
    """Return the scene of a view."""
    return SCENES[type(view)](view)
