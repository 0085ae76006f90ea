"""Say which action opens which scene; a scene's module is loaded when it is first shown.

So the first picture comes as soon as the library's own modules are there. This is the one place of the
program, besides the commands, that imports inside functions.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.app.context import Context
from trainer.app.drill_request import DrillRequest
from trainer.opening import Opening
from trainer.screen.actions import Act

if TYPE_CHECKING:
    from trainer.app.drill_result import DrillResult

OpenScene = Callable[[Context, int], None]
"""Shows a scene over the one that is up, at a host time; or says why not."""


def start_drill(context: Context, host_ns: int, request: DrillRequest | None = None) -> None:
    """Begin a drill: a given one, or what is chosen in the library."""
    from trainer.app.scenes.drill import begin_drill

    begin_drill(context, host_ns, request)


def show_first_start(context: Context) -> None:
    """Lead through the first minute."""
    from trainer.app.scenes.first_start import open_first_start

    open_first_start(context)


def show_lesson(context: Context, path: Path) -> None:
    """Show the first step of a lesson's file, which was read before without complaint."""
    from trainer.app.scenes.lesson import open_lesson

    open_lesson(context, path)


def take_dropped(context: Context, path: Path) -> None:
    """Take a file that was dropped on the window."""
    from trainer.app.scenes.track import take_dropped as take

    take(context, path)


def _settings(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.settings import open_settings

    open_settings(context, host_ns)


def _naming(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.naming import open_naming

    open_naming(context, host_ns)


def _calibration(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.calibration import open_calibration

    open_calibration(context, host_ns)


def _demonstration(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.demonstration import open_demonstration

    open_demonstration(context, host_ns)


def _banjo(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.banjo_setup import open_banjo_setup

    open_banjo_setup(context, host_ns)


def _page(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.page import open_page

    open_page(context, host_ns)


def _track(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.track import open_track

    open_track(context, host_ns)


def _progress(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.progress import open_progress

    open_progress(context, host_ns)


def _class(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.classroom import open_class

    open_class(context, host_ns)


def _help(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.help import open_help

    open_help(context, host_ns)


def _leaving(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.leaving import ask_to_leave

    ask_to_leave(context, host_ns)


def _new_input(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.new_input import use_new_input

    use_new_input(context, host_ns)


def _menu(context: Context, host_ns: int) -> None:
    from trainer.app.scenes.menu import open_menu

    open_menu(context, host_ns)


def _first_bar(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    show_first_start(context)


def write_files(context: Context, result: DrillResult, opening: Opening) -> None:
    """Write what a drill came to into the files that the window was opened for."""
    from trainer.app.result_files import write_result

    write_result(context, result, opening)


SCENES: dict[Act, OpenScene] = {
    Act.START: start_drill,
    Act.OPEN_SETTINGS: _settings,
    Act.OPEN_NAMING: _naming,
    Act.OPEN_CALIBRATION: _calibration,
    Act.OPEN_BANJO: _banjo,
    Act.OPEN_DEMONSTRATION: _demonstration,
    Act.OPEN_PAGE: _page,
    Act.OPEN_TRACK: _track,
    Act.OPEN_PROGRESS: _progress,
    Act.OPEN_CLASS: _class,
    Act.OPEN_HELP: _help,
    Act.QUIT: _leaving,
    Act.OPEN_MENU: _menu,
    Act.OPEN_FIRST_BAR: _first_bar,
    Act.USE_NEW_INPUT: _new_input,
}
