"""Read the numbers that people write, exactly and in bounded time.

``Fraction("1e-999999999")`` and its like spell such a number out before anyone can say that it is outside
all limits, which takes hours. So every number that comes from outside is looked at as text first.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

MOST_DIGITS = 30  # before and after the point each; what a computer writes for a float has at most 17
MOST_EXPONENT = 30
_DECIMAL = re.compile(
    r"[+-]?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?0{0,30}[0-9]{1,2})?", re.ASCII
)
_RATIO = re.compile(r"[+-]?[0-9]{1,30}/[0-9]{1,30}", re.ASCII)


def read_decimal(text: str) -> Decimal:
    """Return a decimal number as it was written, such as ``97.3`` or ``1e2``; space around it is let be.

    Raises:
        ValueError: no number, one of more than 30 digits before or after its point, or an exponent beyond
            30. Infinity is no number.
    """
    word = text.strip()
    if not _DECIMAL.fullmatch(word):
        raise ValueError("no number of a usual length")
    value = Decimal(word)
    exponent = value.as_tuple().exponent
    if not isinstance(exponent, int) or abs(value.adjusted()) > 2 * MOST_EXPONENT:
        raise ValueError("an exponent that is too large")
    return value


def read_exact(text: str) -> Fraction:
    """Return the exact value of a decimal number or of a ratio such as ``973/10``.

    Raises:
        ValueError: as :func:`read_decimal`, or a ratio to nothing.

    >>> read_exact("97.3"), read_exact("973/10"), read_exact("1e2")
    (Fraction(973, 10), Fraction(973, 10), Fraction(100, 1))
    """
    word = text.strip()
    if _RATIO.fullmatch(word):
        above, below = word.split("/")
        if not int(below):
            raise ValueError("a ratio to nothing")
        return Fraction(int(above), int(below))
    return Fraction(read_decimal(word))
