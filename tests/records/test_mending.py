"""A damaged file looked over, and what can still be read of it saved."""

from pathlib import Path

import pytest

from tests.records.takes import a_take
from trainer.records.mending import faults, mend
from trainer.records.store import Store

PAGE = 4096  # sqlite.org/pragma.html: the usual size of a page
TAKES = 200


@pytest.fixture
def path(tmp_path: Path) -> Path:
    store = Store.open(tmp_path / "takes.sqlite")
    store.keep_all(a_take(minutes=n) for n in range(TAKES))
    store.close()
    return tmp_path / "takes.sqlite"


def damage(path: Path, *pages: int) -> None:
    data = bytearray(path.read_bytes())
    for page in pages:
        data[page * PAGE : page * PAGE + 64] = b"\xa5" * 64
    path.write_bytes(data)


def test_good_records_have_no_faults(path: Path) -> None:
    assert faults(path) == ()


@pytest.mark.parametrize("page", range(10, 48, 3))
def test_what_can_be_read_is_saved_and_the_damaged_file_is_kept(path: Path, page: int) -> None:
    damage(path, page)
    broken = path.read_bytes()
    if not faults(path):
        pytest.skip("this page holds nothing")
    done = mend(path)
    assert done.aside.read_bytes() == broken
    assert faults(path) == ()
    assert TAKES - 60 <= done.saved <= TAKES
    store = Store.open(path)
    assert store.count() == done.saved
    assert len(list(store.each_take())) == done.saved
    store.close()
