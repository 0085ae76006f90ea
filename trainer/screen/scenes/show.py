"""Turn whichever view there is into its scene."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from trainer.screen.demonstration_view import DemonstrationView
from trainer.screen.draw import Scene
from trainer.screen.progress_view import AgainView, ProgressView, TakesView
from trainer.screen.scenes.asking import AskingView, asking_scene
from trainer.screen.scenes.calibration import CalibrationView, calibration_scene
from trainer.screen.scenes.classroom import ClassView, classroom_scene
from trainer.screen.scenes.demonstration import demonstration_scene
from trainer.screen.scenes.drill import drill_scene
from trainer.screen.scenes.library import library_scene
from trainer.screen.scenes.page import PageView, page_scene
from trainer.screen.scenes.progress import again_scene, progress_scene, takes_scene
from trainer.screen.scenes.review import review_scene
from trainer.screen.scenes.settings import SettingsView, settings_scene
from trainer.screen.scenes.together import TogetherView, together_scene
from trainer.screen.scenes.track import TrackView, track_scene
from trainer.screen.views import DrillView, LibraryView, ReviewView, View

SCENES: dict[type, Callable[[Any], Scene]] = {
    CalibrationView: calibration_scene,
    ClassView: classroom_scene,
    DemonstrationView: demonstration_scene,
    AskingView: asking_scene,
    AgainView: again_scene,
    DrillView: drill_scene,
    ProgressView: progress_scene,
    TakesView: takes_scene,
    TogetherView: together_scene,
    TrackView: track_scene,
    LibraryView: library_scene,
    PageView: page_scene,
    ReviewView: review_scene,
    SettingsView: settings_scene,
}


def scene_of(view: View) -> Scene:
    """Return the scene of a view."""
    return SCENES[type(view)](view)
