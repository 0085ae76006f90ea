"""Read and write the headings that part a tune: parts, their endings, pickups.

::

    part A, twice:
    pickup: strike 2, thumb
    strike 3, rest, brush, thumb      # the bars of the part, one a line or parted by |
    first ending:
    strike 3, rest, brush, thumb
    second ending:
    strike 3, rest
    part B, twice:
    ...

A text without headings is one part. What follows a heading may also stand behind its colon.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol, TypeVar

from trainer.music.form import Bars, Part, pickup_after, played_bars
from trainer.music.pattern import MAX_BARS
from trainer.music.source import Source, Word, nearest, shown

TIMES_WORDS = ("once", "twice", "three times", "four times")
ENDING_WORDS = ("first", "second", "third", "fourth")
LONGEST_NAME = 24
REMARK = re.compile(r"#.*", re.DOTALL)
_HEADING = re.compile(r"\s*(?P<words>(?:part\b|pickup\b|[a-z]+\s+ending\b)[^:]*):", re.IGNORECASE)
_PART = re.compile(r"part\s+(?P<name>[^,]+?)\s*(?:,\s*(?P<times>.*?)\s*)?", re.IGNORECASE)


Item = TypeVar("Item")
Item_co = TypeVar("Item_co", covariant=True)


class SlotReader(Protocol[Item_co]):
    """Reads the slots of bars: strokes, or what a melody does."""

    def pickup(self, piece: Word) -> tuple[Item_co, ...]:
        """Return the slots of a pickup: fewer than a bar has."""

    def bar(self, piece: Word, missing: int = 0) -> tuple[Item_co, ...]:
        """Return the slots of a bar, without those at its end that a pickup takes."""


@dataclass(slots=True)
class PartText:
    """A part as it is written: its heading and the texts of its bars, each with its place.

    Attributes:
        heading: its own, or the begin of the text where it has none.
        name, times: as :class:`trainer.music.form.Part` has them.
        body: the bars before the endings.
        endings: those of each ending.
        pickup: its beats or strokes; None for none.
    """

    heading: Word
    name: str = ""
    times: int = 1
    body: list[Word] = field(default_factory=list)
    endings: list[list[Word]] = field(default_factory=list)
    pickup: Word | None = None


def read_parts(
    source: Source, text: Word, *, remark: re.Pattern[str], pickups: bool = True
) -> list[PartText]:
    """Return the parts of a text, with pieces that are not empty in each.

    Args:
        source: the file, for pointing at what is wrong.
        text: one or more lines that stand at a place in it.
        remark: matches a remark at the end of a line.
        pickups: whether a pickup may stand here.

    Raises:
        BadNotation: a heading that is none, or that stands where it cannot.
    """
    parts = [PartText(text)]
    for offset, raw in enumerate(text.text.split("\n")):
        line = Word(remark.sub("", raw), text.line + offset, text.column if offset == 0 else 1)
        found = _HEADING.match(line.text)
        if found:
            head = Word(found["words"], line.line, line.column + found.start("words"))
            rest = Word(line.text[found.end() :], line.line, line.column + found.end())
            if _is_pickup(source, parts, head, rest, pickups=pickups):
                continue
            line = rest
        if line.text.strip():
            (parts[-1].endings[-1] if parts[-1].endings else parts[-1].body).append(line)
    return _checked(source, parts)


def read_bars(source: Source, text: Word, what: str) -> list[PartText]:
    """Return the parts of a text that must have at least one bar, as :func:`read_parts` does.

    Args:
        what: what its bars are of.

    Raises:
        BadNotation: as there, or there is no bar.
    """
    parts = read_parts(source, text, remark=REMARK)
    if len(parts) == 1 and not parts[0].body:
        source.fail_word(text, "there is no bar", f"write at least one bar of {what}")
    return parts


def bar_pieces(lines: Sequence[Word]) -> list[Word]:
    """Return the bars of some lines, each with its place; a bar stroke at a line's end parts nothing."""
    pieces = []
    for line in lines:
        parts = line.split("|")
        ends = (0, len(parts) - 1)
        pieces += [part for at, part in enumerate(parts) if part.text.strip() or at not in ends]
    return pieces


def read_form(
    source: Source, texts: Sequence[PartText], reader: SlotReader[Item]
) -> tuple[Bars[Item], tuple[Part, ...]]:
    """Return the bars of a tune as they are played, each whole, and its form.

    Args:
        texts: from :func:`read_parts`.

    Returns:
        The bars, and no parts where there is neither a heading nor a pickup.

    Raises:
        BadNotation: the first thing that is wrong, also a bar that is too short or too long for what follows.
    """
    pickups = [() if text.pickup is None else reader.pickup(text.pickup) for text in texts]
    pieces = [[bar_pieces(text.body), *(bar_pieces(lines) for lines in text.endings)] for text in texts]
    parts = tuple(
        Part(
            name=text.name,
            times=text.times,
            bars=len(body),
            endings=tuple(len(ending) for ending in endings),
            pickup=len(pickup),
        )
        for text, (body, *endings), pickup in zip(texts, pieces, pickups, strict=True)
        if body or not source.fail_word(text.heading, "there is no bar", "write at least one bar")
    )
    _check_length(source, parts, pieces)
    bars = []
    for at, played in enumerate(played_bars(parts)):
        body, *endings = pieces[played.part]
        piece = endings[played.time][played.bar - len(body)] if played.ending else body[played.bar]
        if not piece.text.strip():
            source.fail_word(piece, "found an empty bar", "write what it holds or remove one |")
        missing = pickup_after(parts, played)
        bar = reader.bar(piece, missing)
        if missing:
            coming = played_bars(parts)[(at + 1) % sum(part.played for part in parts)]
            bar += pickups[coming.part]
        bars.append(bar)
    has_form = len(parts) > 1 or parts[0].name or parts[0].pickup
    return tuple(bars), parts if has_form else ()


def _check_length(source: Source, parts: Sequence[Part], pieces: Sequence[Sequence[Sequence[Word]]]) -> None:
    """Refuse a tune that is too long before its bars are read."""
    played = played_bars(parts)
    if len(played) > MAX_BARS:
        over = played[MAX_BARS]
        written = [piece for part in pieces for lines in part for piece in lines]
        source.fail_word(
            written[over.written], f"this is bar {MAX_BARS + 1} and there are at most {MAX_BARS}",
            "split the tune into several",
        )  # fmt: skip


def form_lines(
    parts: Sequence[Part], bars: Bars[Item], words: Callable[[tuple[Item, ...]], str]
) -> tuple[str, ...]:
    """Return the bars of a tune as they are written, each once, under the headings of its parts.

    Args:
        parts: the form, or none.
        bars: as they are played.
        words: says the slots of a bar, or of a piece of one.
    """
    if not parts:
        return tuple(words(bar) for bar in bars)
    lines: list[str] = []
    before = (bars[-1], *bars)
    for at, (played, bar) in enumerate(zip(played_bars(parts), bars, strict=True)):
        part = parts[played.part]
        if played.bar == 0 and played.time == 0:
            lines += [_part_words(part)] if part.name else []
            lines += [f"pickup: {words(before[at][len(bar) - part.pickup :])}"] if part.pickup else []
        if played.ending and played.bar == part.bars:
            lines.append(f"{ENDING_WORDS[played.time]} ending:")
        # What is written comes once, where it is played first.
        if played.time == 0 or played.ending:
            lines.append(words(bar[: len(bar) - pickup_after(parts, played)]))
    return tuple(lines)


def _part_words(part: Part) -> str:
    times = "" if part.times == 1 else f", {TIMES_WORDS[part.times - 1]}"
    return f"part {part.name}{times}:"


def is_part_name(name: str) -> bool:
    """Return whether a text can be the name of a part: short, without the marks that end a heading."""
    plain = " ".join(name.split())
    return (
        plain == name and 0 < len(name) <= LONGEST_NAME and not set(name) & set(":,#|") and name.isprintable()
    )


def _is_pickup(source: Source, parts: list[PartText], head: Word, rest: Word, *, pickups: bool) -> bool:
    """Take in a heading; tell whether it was a pickup, whose line is then read already."""
    word = head.text.split()[0].lower()
    if word == "part":
        _begin_part(source, parts, head)
        return False
    part = parts[-1]
    if word == "pickup":
        if not pickups:
            source.fail_word(head, "found a pickup among the chords", "chords begin with the first whole bar")
        if part.body or part.endings or part.pickup is not None or head.text.lower().strip() != "pickup":
            source.fail_word(
                head, "this pickup does not stand before a part", "write it once, before the part's first bar"
            )
        if not rest.text.strip():
            source.fail_word(head, "found pickup: with nothing after it", "write its notes on the same line")
        part.pickup = rest
        return True
    wanted = ENDING_WORDS[min(len(part.endings), len(ENDING_WORDS) - 1)]
    if word != wanted or len(part.endings) == part.times or part.times == 1:
        hint = f"write {wanted} ending:" if len(part.endings) < part.times > 1 else "remove it"
        if part.times == 1:
            hint = "say how often the part is played: part A, twice:"
        source.fail_word(head, f"found {shown(head.text)} where no such ending can stand", hint)
    part.endings.append([])
    return False


def _begin_part(source: Source, parts: list[PartText], head: Word) -> None:
    found = _PART.fullmatch(head.text.rstrip())
    if found is None:
        source.fail_word(head, "found a part without a name", "write, say, part A:")
    name, times = " ".join(found["name"].split()), found["times"]
    if not is_part_name(name):
        source.fail_word(
            head,
            f"found the name {shown(name)} for a part",
            f"keep it to {LONGEST_NAME} characters in a line",
        )
    count = 1
    if times is not None:
        said = " ".join(times.lower().split())
        if said not in TIMES_WORDS:
            near = nearest(said, TIMES_WORDS)
            source.fail_word(
                Word(times, head.line, head.column + found.start("times")),
                f"found {shown(times)} for how often the part is played",
                f"did you mean {near}" if near else f"write one of {', '.join(TIMES_WORDS)}",
            )
        count = TIMES_WORDS.index(said) + 1
    if len(parts) == 1 and not parts[0].name:
        first = parts[0]
        if first.body or first.pickup is not None:
            source.fail_word(
                first.body[0] if first.body else head,
                "these bars stand before the first part",
                "put them under a heading, such as part A:",
            )
        parts.clear()
    parts.append(PartText(head, name, count))


def _checked(source: Source, parts: Sequence[PartText]) -> list[PartText]:
    for part in parts:
        if part.name and not part.body:
            source.fail_word(
                part.heading, f"part {part.name} has no bars", "write them, or remove the heading"
            )
        if part.endings and (len(part.endings) != part.times or not all(part.endings)):
            source.fail_word(
                part.heading,
                f"part {part.name}, played {TIMES_WORDS[part.times - 1]}, has {len(part.endings)} endings",
                "write one for each time, with at least one bar",
            )
    return list(parts)
