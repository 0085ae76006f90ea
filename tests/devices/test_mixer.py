"""A pygame whose mixer could not be loaded, as pygame 2.6.1 and pygame-ce 2.5.8 put a dummy in its place."""

import warnings
from types import SimpleNamespace

import pytest

from trainer.devices import backing, mixer, speaker
from trainer.devices.speaker import SilentSpeaker, open_speaker
from trainer.errors import NoSound

REASON = "libgthread-2.0.so.0: cannot open shared object file: No such file or directory"


class MissingModule:
    """What pygame/__init__.py has in the place of a part that did not load."""

    def __getattr__(self, name: str) -> object:
        warnings.warn(f"use mixer: {REASON}", RuntimeWarning, stacklevel=2)
        raise NotImplementedError(f"mixer module not available (ImportError: {REASON})")


@pytest.fixture
def without_a_mixer(monkeypatch: pytest.MonkeyPatch) -> None:
    fake = SimpleNamespace(mixer=MissingModule())
    for module in (mixer, speaker, backing):
        monkeypatch.setattr(module, "pygame", fake)


@pytest.mark.usefixtures("without_a_mixer")
def test_the_speaker_is_silent_and_names_the_library_and_its_package() -> None:
    found = open_speaker()
    assert isinstance(found, SilentSpeaker)
    assert found.notes == (
        "the shared library libgthread-2.0.so.0 is missing (on Debian and Ubuntu the package libglib2.0-0t64 "
        "brings it, libglib2.0-0 before Debian 13); drills run on the clock alone.",
    )


@pytest.mark.usefixtures("without_a_mixer")
def test_a_track_is_refused_in_a_sentence(tmp_path: object) -> None:
    with pytest.raises(NoSound, match=r"a sound file cannot be read here: .*libgthread"):
        backing.read_track(tmp_path, 48_000)  # type: ignore[arg-type]
