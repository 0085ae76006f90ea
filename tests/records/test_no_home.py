"""A user without a home folder, as in some containers, loses what is theirs and nothing else."""

import pytest

from trainer import files
from trainer.errors import StoreProblem
from trainer.practice.settings import Settings
from trainer.records.library import load_library
from trainer.records.settings import load_settings

NO_HOME = "the system knows no home folder of this user; set the variable HOME to a folder you may write."


def test_a_user_without_a_home_is_told_so_and_the_programs_own_patterns_are_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """platformdirs raises RuntimeError where the system has no entry for the user and HOME is not set."""

    def unknown(*_args: object, **_named: object) -> str:
        raise RuntimeError("could not determine the home directory")

    for name in ("user_data_dir", "user_config_dir", "user_documents_dir"):
        monkeypatch.setattr(files, name, unknown)
    for folder in (files.data_folder, files.settings_folder, files.documents_folder):
        with pytest.raises(StoreProblem, match="no home folder of this user; set the variable HOME"):
            folder()
    assert load_settings() == (Settings(), NO_HOME)
    library = load_library()
    assert library.patterns
    assert library.remarks == (NO_HOME,)
