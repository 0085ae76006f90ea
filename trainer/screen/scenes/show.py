"""Turn whichever view there is into its scene."""

from __future__ import annotations

from trainer.screen.draw import Scene
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.scenes.library import library_scene
from trainer.screen.scenes.review import review_scene
from trainer.screen.scenes.settings import settings_scene
from trainer.screen.views import DrillView, LibraryView, ReviewView, SettingsView


def scene_of(view: LibraryView | DrillView | ReviewView | SettingsView) -> Scene:
    """Return the scene of a view."""
    if isinstance(view, DrillView):
        return drill_scene(view)
    if isinstance(view, ReviewView):
        return review_scene(view)
    if isinstance(view, SettingsView):
        return settings_scene(view)
    return library_scene(view)
