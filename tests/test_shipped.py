"""The program's own files are found in a wheel, in a checkout, and from any folder."""

from pathlib import Path

import pytest

from trainer.errors import StoreProblem
from trainer.shipped import asset_path, shipped_folder


def make(folder: Path, *names: str) -> Path:
    folder.mkdir(parents=True)
    for name in names:
        (folder / name).write_text("x", encoding="utf-8")
    return folder


def test_a_checkout_keeps_them_beside_the_package(tmp_path: Path) -> None:
    package = make(tmp_path / "trainer")
    beside = make(tmp_path / "patterns")
    assert shipped_folder("patterns", package=package) == beside


def test_a_wheel_keeps_them_inside_and_they_come_first(tmp_path: Path) -> None:
    package = make(tmp_path / "trainer")
    make(tmp_path / "patterns")
    inside = make(package / "_shipped" / "patterns")
    assert shipped_folder("patterns", package=package) == inside


def test_a_program_without_its_files_says_so(tmp_path: Path) -> None:
    with pytest.raises(StoreProblem, match=r"folder patterns .* is missing; install the program anew"):
        shipped_folder("patterns", package=tmp_path / "trainer")


def test_an_asset_is_a_file(tmp_path: Path) -> None:
    package = make(tmp_path / "trainer")
    make(tmp_path / "assets", "icon.png")
    assert asset_path("icon.png", package=package).read_text(encoding="utf-8") == "x"
    with pytest.raises(StoreProblem, match=r"file other\.png .* is missing"):
        asset_path("other.png", package=package)


def test_the_real_patterns_are_found_from_any_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert (shipped_folder("patterns") / "basic-figure.toml").is_file()
