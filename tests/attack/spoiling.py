"""Spoil good input: bits, pieces, monsters. Everything follows from the generator handed in."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import TypeAlias

# What has broken programs before: numbers that are spelt out, brackets that nest, codes, halves of characters.
MONSTERS: tuple[bytes, ...] = (
    b"1e999999999", b"1e-999999999", b"-1e-99999999999999999999", b"9" * 5000, b"0x" + b"f" * 9000, b"1/0", b"1/" + b"9" * 400,
    b"nan", b"inf", b"-Infinity", b"NaN", b"-0", b"1_0", b"[" * 3000, b"{" * 3000, b'{"a":' * 800, b"]" * 50, b"a." * 4000,
    b"\x00", b"\x1b[2J", b"\x1b]0;x\x07", b"\xe2\x80\xae", b"\xed\xa0\x80", b"\xff\xfe", b"\xef\xbb\xbf", b"\r", b"\r\n", b"\t", b"\x7f",
    b"\\ud800", b"\\u0000", b"\\x1b", b'"""', b"'''", b'"', b"'", b"\\", b"#", b"=", b",", b";", b"|", b"/", b"..", b"~nouser/",
    b"true", b"null", b"[]", b"{}", b'""', b"-1", b"0", b"1", b"2147483648", b"18446744073709551616", b"1e400", b"0001-01-01",
    b"9999-12-31T23:59:59.999999Z", b"+23:59", b"1979-05-27T07:32:00-07:00", "\u0663".encode(), "\u00bd".encode(), "\u2028".encode(),
    ("e\u0301" * 300).encode(), "\U0001f3b6".encode() * 60,
)  # fmt: skip


def spoilt(data: bytes, rng: random.Random, *, most: int = 200_000) -> bytes:
    """Return bytes with one to six faults in them, at most so many bytes."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        data = rng.choice(FAULTS)(data, rng)[:most]
    return data


def _at(data: bytes, rng: random.Random) -> int:
    return rng.randrange(len(data) + 1)


def _piece(data: bytes, rng: random.Random) -> tuple[int, int]:
    start = _at(data, rng)
    return start, min(len(data), start + rng.choice((1, 1, 2, 4, 16, 64, 500)))


def flip(data: bytes, rng: random.Random) -> bytes:
    """One bit the other way round."""
    if not data:
        return data
    at = rng.randrange(len(data))
    return data[:at] + bytes((data[at] ^ 1 << rng.randrange(8),)) + data[at + 1 :]


def random_bytes(data: bytes, rng: random.Random) -> bytes:
    """A piece in place of which anything stands."""
    start, end = _piece(data, rng)
    return data[:start] + rng.randbytes(end - start) + data[end:]


def lose(data: bytes, rng: random.Random) -> bytes:
    """A piece that is not there."""
    start, end = _piece(data, rng)
    return data[:start] + data[end:]


def double(data: bytes, rng: random.Random) -> bytes:
    """A piece that stands there several times."""
    start, end = _piece(data, rng)
    return data[:end] + data[start:end] * rng.choice((1, 1, 2, 50)) + data[end:]


def swap(data: bytes, rng: random.Random) -> bytes:
    """Two pieces in each other's place."""
    a, b = _piece(data, rng), _piece(data, rng)
    first, second = sorted((a, b))
    if first[1] > second[0]:
        return data
    return (
        data[: first[0]] + data[second[0] : second[1]] + data[first[1] : second[0]]
        + data[first[0] : first[1]] + data[second[1] :]
    )  # fmt: skip


def cut(data: bytes, rng: random.Random) -> bytes:
    """Only the begin."""
    return data[: _at(data, rng)]


def monster(data: bytes, rng: random.Random) -> bytes:
    """One of the monsters, in between or in place of a piece."""
    start, end = _piece(data, rng)
    return data[:start] + rng.choice(MONSTERS) + data[rng.choice((start, end)) :]


def monster_value(data: bytes, rng: random.Random) -> bytes:
    """A monster in place of a whole value: what stands between two marks."""
    marks = [at for at, byte in enumerate(data) if byte in b'=:,"[]{} \n']
    if len(marks) < 2:
        return monster(data, rng)
    at = rng.randrange(len(marks) - 1)
    return data[: marks[at] + 1] + rng.choice(MONSTERS) + data[marks[at + 1] :]


def lines_about(data: bytes, rng: random.Random) -> bytes:
    """Lines in another order, one of them twice, one gone."""
    lines = data.split(b"\n")
    if len(lines) < 3:
        return data
    a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[rng.choice((a, b))]
    return b"\n".join(lines)


Fault: TypeAlias = Callable[[bytes, random.Random], bytes]
FAULTS: Sequence[Fault] = (
    flip, flip, random_bytes, lose, double, swap, cut, monster, monster, monster_value, monster_value, lines_about,
)  # fmt: skip
