"""A folder is shown by the program that each system has for it, without a shell."""

import subprocess
from pathlib import Path

import pytest

from trainer.devices.file_manager import show_folder
from trainer.devices.sound_folder import drives_of, look_through
from trainer.errors import StoreProblem


@pytest.mark.parametrize(
    ("platform", "opener"), [("linux", "xdg-open"), ("darwin", "open"), ("win32", "explorer")]
)
def test_each_system_has_its_own_program(platform: str, opener: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """xdg-open is freedesktop.org's; open is in the manual of macOS, explorer in that of Windows."""
    asked: list[list[str]] = []
    monkeypatch.setattr(subprocess, "Popen", lambda words, **_more: asked.append(words))
    show_folder(Path("a folder; with signs & all"), platform=platform)
    assert asked == [[opener, "a folder; with signs & all"]]


def test_a_program_that_is_not_there_is_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_words: object, **_more: object) -> subprocess.Popen[bytes]:
        raise FileNotFoundError(2, "No such file or directory")

    monkeypatch.setattr(subprocess, "Popen", refuse)
    with pytest.raises(StoreProblem, match="sheets cannot be shown: xdg-open does not start"):
        show_folder(Path("sheets"), platform="linux")


def test_only_windows_has_drives_and_the_top_is_shown_without_them_here() -> None:
    assert drives_of("linux") == drives_of("darwin") == ()
    assert look_through(Path("/")).path == Path("/")
