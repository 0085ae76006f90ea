"""Keep text harmless: what no reader can see never reaches a terminal, a font or a name.

Names and texts come from files, ports and other people. They may hold codes that move a terminal's cursor,
marks that turn the direction of writing, and halves of characters that stand for bytes of a file name that
is not UTF-8. What is a sign that can be shown follows ``str.isprintable`` (Unicode's categories "other" and
"separator", a plain space apart).
"""

from __future__ import annotations

UNKNOWN_SIGN = "\N{REPLACEMENT CHARACTER}"
# Needed inside words of some scripts, and without power over anything around them.
JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
LINE_MARKS = "\n\t"


def is_clean(text: str) -> bool:
    """Return whether every character of one line of text can be shown and stored as UTF-8."""
    return text.isprintable() or all(c.isprintable() or c in JOINERS for c in text)


def visible(text: str) -> str:
    """Return text as a terminal may show it: line ends and tabs stay, what cannot be shown is spelt out.

    A byte of a file name that is not UTF-8 becomes ``\\xdc``, an escape code ``\\x1b``.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in JOINERS or c in LINE_MARKS else _spelt(c) for c in text)


def drawable(text: str) -> str:
    """Return text as a font can draw it: as long as before, with a sign for what cannot be shown."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c.isspace() else UNKNOWN_SIGN for c in text)


def _spelt(character: str) -> str:
    # Python keeps the byte 0xDC of a file name as U+DCDC (PEP 383).
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:
        return f"\\x{code - 0xDC00:02x}"
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
