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
