"""Find the patterns, breaks and charts: those that come with the program and the user's own.

They lie in a folder or in its folders ``breaks`` and ``charts``; what a file holds is told by its key
``kind``. A user's file that cannot be read is kept as a problem and stops nothing else. A user's file with
the name of a shipped one of its kind takes its place, and a remark says so. What is said is a sentence for
the user.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import BadNotation, BadSettings, StoreProblem, TrainerError
from trainer.files import data_folder
from trainer.music.backup import BackupChart, lay_chart
from trainer.music.breaks import Break, lay_break
from trainer.music.pattern import Level, Meter, Pattern
from trainer.music.tune_files import Tune
from trainer.records.asked_tune import AskedTune, lay, read_asked
from trainer.records.tune_file import ENDING, exists, kind_word, read_tune_file, try_read
from trainer.shipped import shipped_folder

FOLDERS = (".", "breaks", "charts")
MOST_FILES = 1000  # a folder given by mistake must not be read for minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One pattern and the file it was read from."""

    pattern: Pattern
    path: Path
    shipped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakEntry:
    """One break and the file it was read from."""

    brk: Break
    path: Path
    shipped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartEntry:
    """One chart and the file it was read from."""

    backup: BackupChart
    path: Path
    shipped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """All patterns, breaks and charts that could be read, and what was wrong with the rest.

    Attributes:
        entries: the patterns, by step in the course, then by name.
        breaks: by step, then by name.
        charts: by name.
        laid: every break at every level, then every chart with its own figure, as patterns.
        problems: one for each file that could not be read.
        remarks: sentences about files that could be read but need a word.
    """

    entries: tuple[Entry, ...]
    problems: tuple[BadNotation, ...] = ()
    remarks: tuple[str, ...] = ()
    breaks: tuple[BreakEntry, ...] = ()
    charts: tuple[ChartEntry, ...] = ()
    laid: tuple[Pattern, ...] = ()

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

    def figures(self, meter: Meter) -> tuple[Pattern, ...]:
        """Return the patterns that can be laid over a chart in a meter, in the order of the course."""
        return tuple(pattern for pattern in self.patterns if pattern.meter is meter)

    def find_tune(self, name: str) -> Tune:
        """Return the pattern, break or chart of a name, looked for in this order; capitals do not matter.

        Raises:
            BadSettings: nothing is called so; the nearest names are suggested.
        """
        wanted = name.strip().lower().removesuffix(ENDING)
        for tune in self._tunes:
            if tune.name.lower() == wanted:
                return tune
        raise BadSettings(f'found no pattern called "{name}"', self._suggestion(wanted))

    @property
    def _tunes(self) -> tuple[Tune, ...]:
        return (*self.patterns, *(e.brk for e in self.breaks), *(e.backup for e in self.charts))

    def _suggestion(self, wanted: str) -> str:
        by_lower = {tune.name.lower(): tune.name for tune in self._tunes}
        near = difflib.get_close_matches(wanted, by_lower, n=3, cutoff=0.6)
        # A part of a name is a good hint that difflib's ratio misses when the name is long.
        near += [name for name in by_lower if wanted and wanted in name and name not in near]
        if near:
            *first, last = [by_lower[name] for name in near[:3]]
            return f"did you mean {', '.join(first)} or {last}" if first else f"did you mean {last}"
        return "list all with: thumbfall patterns"


def user_patterns_folder() -> Path:
    """Return the folder for the user's own patterns; it may not exist yet."""
    return data_folder() / "patterns"


def load_library(user_folder: Path | None = None, *, shipped: Path | None = None) -> Library:
    """Read all patterns.

    Args:
        user_folder: the user's own; None means the usual one in the data folder.
        shipped: the program's own; None means those it came with.

    Raises:
        StoreProblem: the program's own patterns are missing.
    """
    problems: list[BadNotation] = []
    remarks: list[str] = []
    folders = [(shipped or shipped_folder("patterns"), True)]
    try:
        folders.append((user_patterns_folder() if user_folder is None else user_folder, False))
    except StoreProblem as err:
        remarks.append(str(err))  # without a home there are no patterns of one's own
    found: dict[tuple[str, str], _Found] = {}
    for folder, is_shipped in folders:
        for path in (p for name in FOLDERS for p in _pattern_files(folder / name, remarks)):
            read = _read_walled(path)
            if isinstance(read, TrainerError):
                problems.append(_as_notation(read, path))
                continue
            tune, laid = read
            kind = kind_word(tune)
            before = found.get((kind, tune.name))
            if before is not None:
                whose = "that comes with the program" if before.shipped else f"in {before.path}"
                remarks.append(f"{path} is used in place of the {kind} {tune.name} {whose}.")
            found[kind, tune.name] = _Found(tune, path, is_shipped, laid)
    return _library(tuple(found.values()), tuple(problems), remarks)


def _read_walled(path: Path) -> tuple[Tune, tuple[Pattern, ...]] | TrainerError:
    """Read a file as :func:`try_read` does, and lay a break at every level.

    A fault of ours with one file costs that file and no other.
    """
    try:
        tune = try_read(path)
        if isinstance(tune, TrainerError):
            return tune
        return tune, tuple(lay_break(tune, level) for level in Level) if isinstance(tune, Break) else ()
    except Exception as err:  # noqa: BLE001 - the last wall: without it one file closes the library for good
        return BadSettings(
            f"this file has met a fault of the program ({type(err).__name__})",
            "move it out of the folder; the others are read",
        )


@dataclass(frozen=True, slots=True)
class _Found:
    tune: Tune
    path: Path
    shipped: bool
    laid: tuple[Pattern, ...]


def _library(found: tuple[_Found, ...], problems: tuple[BadNotation, ...], remarks: list[str]) -> Library:
    entries, breaks, charts = [], [], []
    for each in found:
        if isinstance(each.tune, Pattern):
            entries.append(Entry(pattern=each.tune, path=each.path, shipped=each.shipped))
        elif isinstance(each.tune, Break):
            breaks.append(BreakEntry(brk=each.tune, path=each.path, shipped=each.shipped))
        else:
            charts.append(ChartEntry(backup=each.tune, path=each.path, shipped=each.shipped))
    entries.sort(key=lambda e: (e.pattern.step, e.pattern.name))
    breaks.sort(key=lambda e: (e.brk.step, e.brk.name))
    charts.sort(key=lambda e: e.backup.name)
    patterns = {e.pattern.name: e.pattern for e in entries}
    tunes: list[Break | BackupChart] = [*(e.brk for e in breaks), *(e.backup for e in charts)]
    laid_breaks = {each.tune.name: each.laid for each in found if isinstance(each.tune, Break)}
    laid = (
        *(pattern for e in breaks for pattern in laid_breaks[e.brk.name]),
        *_laid([e.backup for e in charts], patterns, remarks),
    )
    return Library(
        entries=tuple(entries),
        problems=problems,
        remarks=(*remarks, *course_remarks(patterns), *_tune_remarks(tunes, patterns)),
        breaks=tuple(breaks),
        charts=tuple(charts),
        laid=laid,
    )


def _laid(
    charts: Iterable[BackupChart], patterns: Mapping[str, Pattern], remarks: list[str]
) -> Iterator[Pattern]:
    for chart in charts:
        figure = patterns.get(chart.figure)
        # A remark says what is wrong with a chart's figure.
        if figure is not None and figure.meter is chart.meter:
            try:
                laid = lay_chart(chart, figure)
            except Exception as err:  # noqa: BLE001 - as for a file: one chart must not close the library
                fault = type(err).__name__
                remarks.append(f"The chart {chart.name} has met a fault of the program ({fault}).")
                continue
            yield laid


def open_pattern(asked: str, library: Library) -> Pattern:
    """Return what a player asks for, by name or path; :mod:`trainer.records.asked_tune` has the grammar.

    A word with a folder mark or the ending ``.toml`` that names an existing file is a path; any other word is
    a name first, and a path only when nothing is called so.

    Raises:
        BadNotation: the file's text cannot be read.
        BadSettings: nothing is called so, or it cannot be laid in that way.
        StoreProblem: the file cannot be read at all.
    """
    tune, request = find_asked(asked, library)
    return lay(tune, request, lambda name: _figure(name, library))


def find_asked(asked: str, library: Library) -> tuple[Tune, AskedTune]:
    """Return the pattern, break or chart that a name means, and how it is to be played.

    Raises:
        TrainerError: as :func:`open_pattern`.
    """
    try:
        return _find(asked, library), AskedTune(name=asked)
    except BadSettings:
        request = read_asked(asked)
        if request.name == asked.strip():
            raise
    return _find(request.name, library), request


def _figure(name: str, library: Library) -> Pattern:
    figure = _find(name, library)
    if isinstance(figure, Pattern):
        return figure
    raise BadSettings(f"{name} is a {kind_word(figure)} and no figure", "name a pattern of the library")


def _find(name_or_path: str, library: Library) -> Tune:
    path = Path(name_or_path)
    looks_like_path = path.suffix.lower() == ENDING or len(path.parts) > 1
    if looks_like_path and exists(path):
        return read_tune_file(path)
    try:
        return library.find_tune(name_or_path)
    except BadSettings:
        if exists(path) and path.is_file():
            return read_tune_file(path)
        if looks_like_path and len(path.parts) > 1:
            raise BadSettings(
                f'found no file "{name_or_path}"', "check the path, or name a pattern of the library"
            ) from None
        raise


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


def _tune_remarks(tunes: Iterable[Break | BackupChart], patterns: Mapping[str, Pattern]) -> tuple[str, ...]:
    """Return a sentence for each name in a break or chart that leads nowhere, or to another tune."""
    remarks = []
    for tune in tunes:
        kind = kind_word(tune)
        if tune.name in patterns:
            remarks.append(f"The name {tune.name} means the pattern; the {kind} is opened by its path.")
        if isinstance(tune, Break):
            needs = dict.fromkeys((*tune.needs, *(need for plan in tune.plans for need in plan.needs)))
            remarks += [
                f"The break {tune.name} needs {need}, which is not in the library."
                for need in needs
                if need not in patterns
            ]
        elif tune.figure not in patterns:
            remarks.append(f"The chart {tune.name} names {tune.figure}, which is not in the library.")
        elif patterns[tune.figure].meter is not tune.meter:
            remarks.append(
                f"The chart {tune.name} is in {tune.meter.value} and its figure {tune.figure} is not."
            )
    return tuple(remarks)


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
