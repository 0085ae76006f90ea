"""Rows are read off single pages as SQLite itself reads them: SQLite is the reference."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from trainer.records.sqlite_pages import INDEX_INSIDE, INDEX_LEAF, page_sizes, rows_on_pages

WORDS = [
    f"{number:04d} " + "long enough that an index needs pages over its leaves " * 4 for number in range(300)
]


@pytest.fixture
def indexed(tmp_path: Path) -> Path:
    """A table whose index is two pages high: its inside pages hold rows too (fileformat2.html, 1.6)."""
    path = tmp_path / "words.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE words (id INTEGER PRIMARY KEY, word TEXT)")
        connection.execute("CREATE UNIQUE INDEX by_word ON words (word)")
        connection.executemany("INSERT INTO words (word) VALUES (?)", [(word,) for word in WORDS])
        connection.commit()
    return path


def kinds_of(path: Path, size: int) -> set[int]:
    data = path.read_bytes()
    return {data[at] for at in range(size, len(data), size)}


def test_an_index_gives_each_of_its_rows_once_those_on_inside_pages_too(indexed: Path) -> None:
    (size, *_others) = page_sizes(indexed)
    assert {INDEX_INSIDE, INDEX_LEAF} <= kinds_of(indexed, size)
    found = [row.values for row in rows_on_pages(indexed, size) if row.number is None]
    with closing(sqlite3.connect(indexed)) as connection:
        expected = connection.execute("SELECT word, id FROM words").fetchall()
    assert sorted(found, key=str) == sorted(expected, key=str)


def test_a_table_gives_each_of_its_rows_once(indexed: Path) -> None:
    (size, *_others) = page_sizes(indexed)
    rows = [row for row in rows_on_pages(indexed, size) if row.number is not None and len(row.values) == 2]
    assert [(row.number, row.values[1]) for row in rows] == list(enumerate(WORDS, 1))


ROWS: dict[int, tuple[object, ...]] = {
    -(1 << 63): (None, 0, 1, 2, -1),
    -1: (127, -128, 128, -129, 32_767),
    1: (-32_768, 32_768, (1 << 23) - 1, -(1 << 23), 1 << 23),
    2: ((1 << 31) - 1, -(1 << 31), 1 << 31, (1 << 47) - 1, -(1 << 47)),
    3: (1 << 47, (1 << 63) - 1, -(1 << 63), 0.5, -1.75e300),
    300: ("", "é ü 弦", "x" * 60, "y" * 300, "z" * 5_000),
    70_000: (b"", b"\x00\xff", b"p" * 200, b"q" * 70_000, "r" * 131_072),
    1 << 40: ("a" * 1_000, b"b" * 1_000, "c" * 1_000, None, 2.0**70),
    (1 << 63) - 1: tuple("texts"),
}


@pytest.mark.parametrize("mode", ["delete", "wal"])
@pytest.mark.parametrize("size", [512, 1024, 4096, 65_536])
def test_every_kind_of_value_in_a_row_over_one_page_or_many_is_as_sqlite_gives_it(
    tmp_path: Path, size: int, mode: str
) -> None:
    """What is in the write-ahead log and not in the file yet stands for the file's own."""
    path = tmp_path / "values.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA page_size = {size}")
        assert connection.execute(f"PRAGMA journal_mode = {mode}").fetchone() == (mode,)
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("CREATE TABLE kinds (id INTEGER PRIMARY KEY, a, b, c, d, e)")
        with connection:
            rows = [(number, *reversed(values)) for number, values in ROWS.items()]
            connection.executemany("INSERT INTO kinds VALUES (?, ?, ?, ?, ?, ?)", rows)
        with connection:
            rows = [(*values, number) for number, values in ROWS.items()]
            connection.executemany("UPDATE kinds SET a = ?, b = ?, c = ?, d = ?, e = ? WHERE id = ?", rows)
        expected = {number: tuple(values) for number, *values in connection.execute("SELECT * FROM kinds")}
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN")
            other.execute("UPDATE kinds SET a = 'not for good' WHERE id = 1")
            found = list(rows_on_pages(path, size))
            other.execute("ROLLBACK")
    assert expected == ROWS
    rows_of_table = {row.number: row.values[1:] for row in found if len(row.values) == 6}
    assert rows_of_table == ROWS
    kinds = {number: [type(value) for value in values] for number, values in rows_of_table.items()}
    assert kinds == {number: [type(value) for value in values] for number, values in ROWS.items()}


def test_a_log_whose_first_transaction_is_broken_off_is_read_up_to_there(tmp_path: Path) -> None:
    path, log = tmp_path / "words.sqlite", tmp_path / "words.sqlite-wal"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = wal")
        connection.execute("PRAGMA wal_autocheckpoint = 0")
        connection.execute("CREATE TABLE words (id INTEGER PRIMARY KEY, word TEXT)")
        ends = []
        for word in ("first", "second", "third"):
            with connection:
                connection.execute("INSERT INTO words (word) VALUES (?)", (word,))
            ends.append(log.stat().st_size)
        whole = log.read_bytes()
        copy = tmp_path / "copy.sqlite"
        copy.write_bytes(path.read_bytes())
    (size, *_others) = page_sizes(copy)

    def words(log_bytes: bytes) -> list[object]:
        copy.with_name("copy.sqlite-wal").write_bytes(log_bytes)
        return [row.values[1] for row in rows_on_pages(copy, size) if len(row.values) == 2]

    assert words(whole) == ["first", "second", "third"]
    assert words(whole[: ends[1]]) == ["first", "second"]
    assert words(whole[: ends[2] - 1]) == ["first", "second"]
    at = ends[0] + 40  # within the second transaction's page: its sum does not hold any more
    assert words(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :]) == ["first"]
    assert words(whole[:20]) == words(b"\0" * 100) == []


def test_a_file_says_how_large_its_pages_are_and_others_are_tried_after_that(tmp_path: Path) -> None:
    """A size of 65536 is written as 1: fileformat2.html, 1.3.2."""
    every = {512, 1024, 2048, 4096, 8192, 16_384, 32_768, 65_536}
    path = tmp_path / "file"
    for said, first in ((512, (512, 4096)), (1, (65_536, 4096)), (4096, (4096, 512)), (7, (4096, 512))):
        path.write_bytes(b"SQLite format 3\0" + said.to_bytes(2) + bytes(82))
        sizes = page_sizes(path)
        assert sizes[:2] == first
        assert sorted(sizes) == sorted(every)
    path.write_bytes(b"SQLite")
    assert sorted(page_sizes(path)) == sorted(every)


def test_a_log_of_a_machine_that_writes_the_highest_byte_first_is_read_too(tmp_path: Path) -> None:
    """The sums as section 4.2 of fileformat2.html has them, worked out here once more."""

    def summed(data: bytes, s0: int, s1: int) -> tuple[int, int]:
        words = [int.from_bytes(data[at : at + 4]) for at in range(0, len(data), 4)]
        for x0, x1 in zip(words[::2], words[1::2], strict=True):
            s0 = (s0 + x0 + s1) % 2**32
            s1 = (s1 + x1 + s0) % 2**32
        return s0, s1

    path, copy = tmp_path / "words.sqlite", tmp_path / "copy.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = wal")
        connection.execute("CREATE TABLE words (id INTEGER PRIMARY KEY, word TEXT)")
        connection.execute("INSERT INTO words (word) VALUES ('first')")
        connection.commit()
        log = path.with_name("words.sqlite-wal").read_bytes()
        copy.write_bytes(path.read_bytes())
    (size, *_others) = page_sizes(copy)
    turned = bytearray((0x377F0683).to_bytes(4) + log[4:24])
    sums = summed(bytes(turned), 0, 0)
    turned += b"".join(each.to_bytes(4) for each in sums)
    for at in range(32, len(log), 24 + size):
        sums = summed(log[at : at + 8] + log[at + 24 : at + 24 + size], *sums)
        turned += log[at : at + 16] + b"".join(each.to_bytes(4) for each in sums)
        turned += log[at + 24 : at + 24 + size]
    for written, words in ((bytes(turned), ["first"]), (bytes(turned[:-1]) + b"x", [])):
        copy.with_name("copy.sqlite-wal").write_bytes(written)
        assert [row.values[1] for row in rows_on_pages(copy, size) if len(row.values) == 2] == words


def test_a_row_whose_rest_is_gone_or_leads_nowhere_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "long.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE words (id INTEGER PRIMARY KEY, word TEXT)")
        connection.executemany("INSERT INTO words (word) VALUES (?)", [("short",), ("long" * 9_000,)])
        connection.commit()
    (size, *_others) = page_sizes(path)
    whole = path.read_bytes()
    found = [row.values[1] for row in rows_on_pages(path, size) if len(row.values) == 2]
    assert found == ["short", "long" * 9_000]
    path.write_bytes(whole[: len(whole) - 3 * size])
    assert [row.values[1] for row in rows_on_pages(path, size) if len(row.values) == 2] == ["short"]
    for leads_to in (0, 1, 10**6):
        at = len(whole) - 2 * size
        path.write_bytes(whole[:at] + leads_to.to_bytes(4) + whole[at + 4 :])
        assert [row.values[1] for row in rows_on_pages(path, size) if len(row.values) == 2] == ["short"]
