"""Settings for all tests."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

SYSTEM_TIMEOUT_S = 900

# Derandomised: a run on another day, or another machine, tries the same examples. `.ci/run` tries more of
# them besides, with --hypothesis-profile=thorough.
settings.register_profile("thumbfall", derandomize=True, deadline=None, max_examples=25)
settings.register_profile("thorough", derandomize=True, deadline=None, max_examples=60)
settings.load_profile("thumbfall")


@pytest.fixture(autouse=True, scope="session")
def nobodys_files(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep every test away from the files of whoever runs them; without this a class kept there is read."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "LOCALAPPDATA", "APPDATA"):
            patch.setenv(name, str(tmp_path_factory.mktemp("nobody")))
        yield


@pytest.fixture
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A user without patterns, settings, records or a display."""
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME", "HOME", "LOCALAPPDATA", "APPDATA"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "THUMBFALL_RECORDS"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path / "home"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Give tests of real devices longer: they wait for real seconds, and measure again where that failed."""
    for item in items:
        if item.get_closest_marker("system") is not None:
            item.add_marker(pytest.mark.timeout(SYSTEM_TIMEOUT_S))
