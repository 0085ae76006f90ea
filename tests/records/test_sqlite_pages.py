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
