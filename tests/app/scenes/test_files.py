"""Choosing a sound file: folders, files and what was used before."""

from pathlib import Path

from tests.app.bench import Bench
from trainer.app.scenes.files import FilesController
from trainer.screen.actions import Act
from trainer.screen.scenes.files import FilesView


class Shelf:
    """A bench with a folder open: a folder "old" with one file, two sound files, and what is no sound."""

    def __init__(self, root: Path, recent: tuple[Path, ...] = ()) -> None:
        (root / "old").mkdir()
        for name in ("Porch.FLAC", "barn.mp3", "notes.txt", ".hidden.wav", "old/yard.wav"):
            (root / name).write_bytes(b"x")
        self.bench = Bench()
        self.taken: list[Path] = []
        self.files = FilesController(self.bench.context, self.taken.append, root, recent)
        self.bench.open(lambda: self.files)

    @property
    def view(self) -> FilesView:
        view = self.bench.seen(FilesView)
        view.scene()
        return view

    @property
    def names(self) -> list[str]:
        return [row.name for row in self.view.rows]

    def go(self, name: str) -> None:
        self.bench.act(Act.SELECT, self.names.index(name))
        self.bench.act(Act.START)


def test_folders_come_first_then_sound_files_by_name_and_nothing_else(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    assert shelf.names == ["one folder up", "old", "barn.mp3", "Porch.FLAC"]
    assert shelf.view.rows[shelf.view.focus].name == "old"


def test_a_file_is_taken_and_the_scene_gone(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.go("barn.mp3")
    assert shelf.taken == [tmp_path / "barn.mp3"]
    assert shelf.bench.scene == "library"


def test_one_goes_into_a_folder_and_out_of_it_to_where_one_was(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.go("old")
    assert shelf.names == ["one folder up", "yard.wav"]
    shelf.bench.act(Act.UNDO)
    assert shelf.view.rows[shelf.view.focus].name == "old"
    assert shelf.view.folder == str(tmp_path)


def test_what_was_used_before_stands_on_top_and_is_taken_at_once(tmp_path: Path) -> None:
    before = tmp_path / "barn.mp3"
    shelf = Shelf(tmp_path, recent=(before,))
    assert shelf.names[0] == "barn.mp3"
    assert shelf.view.focus == 0
    shelf.bench.act(Act.START)
    assert shelf.taken == [before]


def test_letters_lead_to_a_name_and_are_taken_back(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    for letter in "por":
        shelf.files.typed(letter)
    assert shelf.view.rows[shelf.view.focus].name == "Porch.FLAC"
    assert shelf.view.typed == "por"
    shelf.files.typed("x")
    assert shelf.view.typed == "por", "nothing begins so"


def test_a_folder_that_cannot_be_read_is_said_and_the_one_before_stays(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.bench.act(Act.SELECT, shelf.names.index("old"))
    (tmp_path / "old" / "yard.wav").unlink()
    (tmp_path / "old").rmdir()
    shelf.bench.act(Act.START)
    assert "cannot be shown" in shelf.view.problem
    assert shelf.view.folder == str(tmp_path)


def test_backspace_takes_a_letter_back_and_goes_up_where_there_is_none(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    shelf.go("old")
    for letter in "ya":
        shelf.files.typed(letter)
    for typed in ("y", ""):
        assert shelf.bench.press("backspace"), "it means nothing else here"
        assert (shelf.view.typed, shelf.view.folder) == (typed, str(tmp_path / "old"))
        shelf.bench.go(0.2)
    assert shelf.bench.press("backspace")
    assert shelf.view.folder == str(tmp_path)
    assert shelf.view.rows[shelf.view.focus].name == "old"
    assert not shelf.bench.press("y")


def test_at_the_top_of_all_there_is_no_way_up_and_the_first_row_has_the_focus(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    top = Path(tmp_path.anchor)
    shelf.files = FilesController(shelf.bench.context, shelf.taken.append, top, ())
    shelf.bench.open(lambda: shelf.files)
    assert (shelf.view.focus, shelf.view.folder) == (0, str(top))
    assert "one folder up" not in shelf.names
    shelf.bench.act(Act.UNDO)
    assert shelf.view.folder == str(top)


def test_a_problem_is_said_until_a_folder_can_be_shown(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path)
    assert shelf.view.problem == ""
    shelf.bench.act(Act.SELECT, shelf.names.index("old"))
    (tmp_path / "old" / "yard.wav").unlink()
    (tmp_path / "old").rmdir()
    shelf.bench.act(Act.START)
    assert shelf.view.problem
    shelf.bench.act(Act.UNDO)
    assert (shelf.view.problem, shelf.view.folder) == ("", str(tmp_path.parent))
