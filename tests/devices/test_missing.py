"""The words for shared libraries that are not there; the messages are those of glibc's loader, as seen."""

import pytest

from trainer.devices.missing import missing_library, sound_libraries_missing, window_libraries_missing


@pytest.mark.parametrize(
    ("message", "clause"),
    [
        (
            "libgthread-2.0.so.0: cannot open shared object file: No such file or directory",
            "the shared library libgthread-2.0.so.0 is missing (on Debian and Ubuntu the package "
            "libglib2.0-0t64 brings it, libglib2.0-0 before Debian 13)",
        ),
        (
            "mixer module not available (ImportError: libasound.so.2: cannot open shared object file: "
            "No such file or directory)",
            "the shared library libasound.so.2 is missing (on Debian and Ubuntu the package libasound2t64 "
            "brings it, libasound2 before Debian 13)",
        ),
        (
            "libjack.so.0: cannot open shared object file: No such file or directory",
            "the shared library libjack.so.0 is missing (on Debian and Ubuntu the package libjack-jackd2-0 "
            "brings it)",
        ),
        (
            "libnobody.so.7.1: cannot open shared object file: No such file or directory",
            "the shared library libnobody.so.7.1 is missing",
        ),
        ("No module named 'rtmidi'", ""),
        ("/x/libm.so.6: version `GLIBC_2.38' not found", ""),
    ],
)
def test_a_missing_library_is_named_with_its_package(message: str, clause: str) -> None:
    assert missing_library(message) == clause


def test_a_window_names_what_it_lacks_only_where_there_is_an_x_display(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("trainer.devices.missing.sys.platform", "linux")
    monkeypatch.setenv("DISPLAY", ":0")
    assert window_libraries_missing(lambda _name: True) == ""
    one = window_libraries_missing(lambda name: name != "libXext.so.6")
    assert one.startswith("the shared library libXext.so.6 is missing (on Debian and Ubuntu: sudo apt-get ")
    assert window_libraries_missing(lambda _name: False).startswith(
        "the shared libraries libX11.so.6 and libXext.so.6 are missing ("
    )
    monkeypatch.delenv("DISPLAY")
    assert window_libraries_missing(lambda _name: False) == ""
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr("trainer.devices.missing.sys.platform", "win32")
    assert window_libraries_missing(lambda _name: False) == ""


@pytest.mark.parametrize(
    ("there", "files", "words"),
    [
        ((), (), "neither of the shared libraries libasound.so.2 and libpulse.so.0 is there"),
        (("libasound.so.2",), (), "/usr/share/alsa/alsa.conf are missing (on Debian and Ubuntu the package"),
        (("libasound.so.2",), ("/usr/share/alsa/alsa.conf",), ""),
        (("libpulse.so.0",), (), ""),
        (("libasound.so.2", "libpulse.so.0"), (), ""),
    ],
)
def test_sound_names_what_it_lacks(
    there: tuple[str, ...], files: tuple[str, ...], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.devices.missing.sys.platform", "linux")
    found = sound_libraries_missing(lambda name: name in there, lambda path: path in files)
    assert words in found
    assert bool(words) == bool(found)
    monkeypatch.setattr("trainer.devices.missing.sys.platform", "darwin")
    assert sound_libraries_missing(lambda _name: False, lambda _path: False) == ""
