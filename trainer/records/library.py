"""Find the patterns: those that come with the program and the user's own.

A user's file that cannot be read is kept as a problem and stops nothing else. A user's file with the name
of a shipped pattern takes its place, and a remark says so. What is said is a sentence for the user.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_dir

from trainer.errors import BadNotation, BadSettings, StoreProblem, TrainerError
from trainer.music.notation import MAX_FILE_BYTES, read_pattern
from trainer.music.pattern import Pattern
from trainer.shipped import shipped_folder

ENDING = ".toml"
MOST_FILES = 1000  # a folder given by mistake must not be read for minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One pattern and the file it was read from."""

    pattern: Pattern
    path: Path
    shipped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """All patterns that could be read, and what was wrong with the rest.

    Attributes:
        entries: by step in the course, then by name.
        problems: one for each file that could not be read.
        remarks: sentences about files that could be read but need a word.
    """

    entries: tuple[Entry, ...]
    problems: tuple[BadNotation, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def patterns(self) -> tuple[Pattern, ...]:
        """The patterns, by step in the course, then by name."""
        return tuple(entry.pattern for entry in self.entries)

    def find(self, name: str) -> Entry:
        """Return the entry of a name; capitals do not matter.

        Raises:
            BadSettings: no pattern is called so; the nearest names are suggested.
        """
        wanted = name.strip().lower().removesuffix(ENDING)
        for entry in self.entries:
            if entry.pattern.name.lower() == wanted:
                return entry
        raise BadSettings(f'found no pattern called "{name}"', self._suggestion(wanted))

    def _suggestion(self, wanted: str) -> str:
        by_lower = {p.name.lower(): p.name for p in self.patterns}
        near = difflib.get_close_matches(wanted, by_lower, n=3, cutoff=0.6)
        # A part of a name is a good hint that difflib's ratio misses when the name is long.
        near += [name for name in by_lower if wanted and wanted in name and name not in near]
        if near:
            *first, last = [by_lower[name] for name in near[:3]]
            return f"did you mean {', '.join(first)} or {last}" if first else f"did you mean {last}"
        return "list all with: thumbfall patterns"


def user_patterns_folder() -> Path:
    """Return the folder for the user's own patterns; it may not exist yet."""
    return Path(user_data_dir("thumbfall", appauthor=False)) / "patterns"


def load_library(user_folder: Path | None = None, *, shipped: Path | None = None) -> Library:
    """Read all patterns.

    Args:
        user_folder: the user's own; None means the usual one in the data folder.
        shipped: the program's own; None means those it came with.

    Raises:
        StoreProblem: the program's own patterns are missing.
    """
    own = user_patterns_folder() if user_folder is None else user_folder
    problems: list[BadNotation] = []
    remarks: list[str] = []
    entries: dict[str, Entry] = {}
    for folder, is_shipped in ((shipped or shipped_folder("patterns"), True), (own, False)):
        for path in _pattern_files(folder, remarks):
            read = try_read(path)
            if isinstance(read, TrainerError):
                problems.append(_as_notation(read, path))
                continue
            if not is_shipped and read.name in entries:
                remarks.append(
                    f"{path} is used in place of the pattern {read.name} that comes with the program."
                )
            entries[read.name] = Entry(pattern=read, path=path, shipped=is_shipped)
    ordered = _by_step(entries.values())
    remarks.extend(course_remarks({e.pattern.name: e.pattern for e in ordered}))
    return Library(entries=ordered, problems=tuple(problems), remarks=tuple(remarks))


def open_pattern(name_or_path: str, library: Library) -> Pattern:
    """Return a pattern by its name in the library or by the path of its file.

    A word with a folder mark or the ending ``.toml`` that names an existing file is a path; any other
    word is a name first, and a path only when no pattern is called so.

    Raises:
        BadNotation: the file's text cannot be read as a pattern.
        BadSettings: neither a pattern nor a file is called so.
        StoreProblem: the file cannot be read at all.
    """
    path = Path(name_or_path)
    looks_like_path = path.suffix.lower() == ENDING or len(path.parts) > 1
    if looks_like_path and _exists(path):
        return read_file(path)
    try:
        return library.find(name_or_path).pattern
    except BadSettings:
        if _exists(path) and path.is_file():
            return read_file(path)
        if looks_like_path and len(path.parts) > 1:
            raise BadSettings(
                f'found no file "{name_or_path}"', "check the path, or name a pattern of the library"
            ) from None
        raise


def read_file(path: Path) -> Pattern:
    """Read one pattern file; its stem becomes the pattern's name.

    Raises:
        BadNotation: what is in it is not a pattern.
        BadSettings: there is no such file, or it is a folder.
        StoreProblem: it cannot be read.
    """
    if not _exists(path):
        raise BadSettings(f'found no file "{path}"', "check the path")
    # A pipe or a device may never end, so only plain files are read.
    if not path.is_file():
        raise BadSettings(f'"{path}" is not a plain file', "give the path of a pattern file")
    try:
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
        size = path.stat().st_size
    except OSError as err:
        raise StoreProblem(f"{path} cannot be read ({err.strerror})", "check its permissions") from err
    if len(data) > MAX_FILE_BYTES:
        raise BadNotation(
            source=str(path), line=1, column=1,
            problem=f"the file is {max(size, len(data))} bytes long and at most {MAX_FILE_BYTES} are read",
            remedy="split it into several patterns",
        )  # fmt: skip
    return read_pattern(_decode(data, str(path)), name=path.stem, source=str(path))


def try_read(path: Path) -> Pattern | TrainerError:
    """Read one pattern file and return what is wrong with it instead of raising."""
    try:
        return read_file(path)
    except (BadNotation, BadSettings, StoreProblem) as err:
        return err


def course_remarks(patterns: Mapping[str, Pattern]) -> tuple[str, ...]:
    """Return a sentence for each name in ``needs`` that is missing or that leads round in a circle."""
    remarks = [
        f"The pattern {pattern.name} needs {need}, which is not in the library."
        for pattern in patterns.values()
        for need in pattern.needs
        if need not in patterns
    ]
    remarks.extend(
        f"The pattern {name} needs itself by way of {' and '.join(circle[1:-1])}."
        for name in patterns
        if len(circle := _circle_from(name, patterns)) > 2
    )
    return tuple(remarks)


def _circle_from(name: str, patterns: Mapping[str, Pattern]) -> tuple[str, ...]:
    """Return the names on a way from a pattern back to itself, or nothing."""
    came_from: dict[str, str] = {}
    waiting = [name]
    while waiting:
        at = waiting.pop()
        for need in patterns[at].needs if at in patterns else ():
            if need == name:
                way = [at]
                while way[-1] != name:
                    way.append(came_from[way[-1]])
                return (*reversed(way), name)
            if need not in came_from:
                came_from[need] = at
                waiting.append(need)
    return ()


def _as_notation(err: TrainerError, path: Path) -> BadNotation:
    """Return a problem with a file as a whole as one that stands at its first character."""
    if isinstance(err, BadSettings | StoreProblem):
        return BadNotation(source=str(path), line=1, column=1, problem=err.problem, remedy=err.remedy)
    assert isinstance(err, BadNotation)
    return err


def _by_step(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    return tuple(sorted(entries, key=lambda e: (e.pattern.step, e.pattern.name)))


def _exists(path: Path) -> bool:
    # A name with a null character, or one that is too long, is an error to the system and no file to us.
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def _pattern_files(folder: Path, remarks: list[str]) -> tuple[Path, ...]:
    try:
        paths = sorted(
            p for p in folder.iterdir() if p.suffix.lower() == ENDING and not p.name.startswith(".")
        )
    except FileNotFoundError:
        return ()
    except OSError as err:
        remarks.append(f"The folder {folder} cannot be read ({err.strerror}); check its permissions.")
        return ()
    if len(paths) > MOST_FILES:
        remarks.append(
            f"The folder {folder} holds {len(paths)} patterns and only the first {MOST_FILES} are read."
        )
    return tuple(paths[:MOST_FILES])


def _decode(data: bytes, source: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as err:
        before = data[: err.start]
        line_start = before.rfind(b"\n") + 1
        line_end = data.find(b"\n", err.start)
        whole_line = data[line_start : line_end if line_end >= 0 else len(data)]
        raise BadNotation(
            source=source,
            line=before.count(b"\n") + 1,
            column=len(before[line_start:].decode("utf-8")) + 1,
            problem=f"found the byte {data[err.start]:02X}, which is not UTF-8 text",
            remedy="save the file as UTF-8",
            line_text=whole_line.decode("utf-8", errors="replace").rstrip("\r"),
        ) from err
