"""Choose a sound file in the window: what was used last, folders, and the files in them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.devices.sound_folder import SoundFolder, look_through
from trainer.errors import StoreProblem
from trainer.practice.input_event import InputEvent
from trainer.records.tracks import recent_tracks
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.files import FileKind, FileRow, FilesView
from trainer.screen.window import Window

PAGE = 10  # rows of a page
Take = Callable[[Path], None]


class FilesController(Controller):
    """Folders and sound files, one of which is taken.

    Args:
        take: is given the file that was chosen, once this scene is gone.
        start: the folder that is shown first.
        recent: files that were used last.
    """

    def __init__(self, context: Context, take: Take, start: Path, recent: tuple[Path, ...] = ()) -> None:
        self._context = context
        self._take = take
        self._recent = recent
        self._problem = ""
        self._typed = ""
        self._focus = 0
        self._folder = SoundFolder(path=start, folders=(), files=())
        self._show(start)
        if recent:
            self._focus = 0

    @property
    def wants_text(self) -> bool:
        """Letters go to the name that begins with them."""
        return True

    def view(self, window: Window) -> FilesView:
        """Return the folder as it stands."""
        return FilesView(
            window=window,
            folder=str(self._folder.path),
            rows=tuple(row for row, _path in self._rows()),
            focus=self._focus,
            typed=self._typed,
            problem=self._problem,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Go through the rows, into a folder or out of it, or take a file."""
        del host_ns
        rows = self._rows()
        if action.act is Act.SELECT:
            self._focus = min(max(action.value, 0), max(len(rows) - 1, 0))
            self._typed = ""
        elif action.act is Act.SCROLL:
            self._focus = min(max(self._focus + action.value, 0), max(len(rows) - 1, 0))
            self._typed = ""
        elif action.act is Act.UNDO:
            self._up()
        elif action.act is Act.START and rows:
            self._enter(*rows[self._focus])
        else:
            return False
        return True

    def heard(self, event: InputEvent) -> bool:
        """Take a letter back, or go up where there is none."""
        if event.source.key != "backspace":
            return False
        if self._typed:
            self._typed = self._typed[:-1]
        else:
            self._up()
        return True

    def typed(self, text: str) -> None:
        """Go to the first name that begins with what is typed."""
        wanted = (self._typed + text.splitlines()[0] if text.splitlines() else self._typed).casefold()
        for at, (row, _path) in enumerate(self._rows()):
            if row.kind is not FileKind.RECENT and row.name.casefold().startswith(wanted.strip()):
                self._focus, self._typed = at, wanted
                return

    def _rows(self) -> list[tuple[FileRow, Path]]:
        folder = self._folder
        rows = [(FileRow(name=path.name, kind=FileKind.RECENT), path) for path in self._recent]
        if folder.path.parent != folder.path:
            rows.append((FileRow(name="one folder up", kind=FileKind.UP), folder.path.parent))
        rows += [
            (FileRow(name=path.name or str(path), kind=FileKind.FOLDER), path) for path in folder.folders
        ]
        rows += [(FileRow(name=path.name, kind=FileKind.SOUND), path) for path in folder.files]
        return rows

    def _enter(self, row: FileRow, path: Path) -> None:
        if row.kind in (FileKind.UP, FileKind.FOLDER):
            self._show(path, came_from=self._folder.path)
            return
        self._context.navigation.drop(self)
        self._take(path)

    def _up(self) -> None:
        if self._folder.path.parent != self._folder.path:
            self._show(self._folder.path.parent, came_from=self._folder.path)

    def _show(self, folder: Path, came_from: Path | None = None) -> None:
        self._typed = ""
        try:
            self._folder = look_through(folder)
        except StoreProblem as problem:
            self._problem = str(problem)
            return
        self._problem = ""
        places = [path for _row, path in self._rows()]
        at = len(self._recent) + (folder.parent != folder)  # the first thing in it
        if came_from is not None and came_from in self._folder.folders:
            at = places.index(came_from, len(self._recent))
        self._focus = min(at, max(len(places) - 1, 0))


def choose_file(context: Context, take: Take) -> None:
    """Let a sound file be chosen: from where the last one lies, or from the user's own folder."""
    recent = recent_tracks()
    folder = recent[0].parent if recent else Path.home()
    context.navigation.open(lambda: FilesController(context, take, folder, recent))
