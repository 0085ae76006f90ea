"""What the tests of several commands begin with."""

from pathlib import Path

import pytest

from tests.screen.pages import BREAK
from trainer.music.notation import write_pattern


@pytest.fixture
def lantern(tmp_path: Path) -> Path:
    """A break of the user's own, as a file."""
    path = tmp_path / "lantern.toml"
    path.write_text(write_pattern(BREAK), encoding="utf-8")
    return path
