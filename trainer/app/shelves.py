"""Hold what stands on each shelf, what is chosen there, and what it becomes when it is drilled."""

from __future__ import annotations

from trainer.errors import TrainerError
from trainer.music.backup import BackupChart, laid_chart_name, lay_chart
from trainer.music.breaks import Break, laid_break_name
from trainer.music.pattern import Level, Pattern
from trainer.music.tune_files import Tune
from trainer.records.asked_tune import read_asked
from trainer.records.library import Library
from trainer.screen.scenes.library import Shelf
from trainer.screen.scenes.library_preview import TuneChoice

LEVEL_CHOICE = {Level.PLAIN: "plain", Level.ORNAMENTS: "ornaments", Level.SKIPS: "skips"}


class Shelves:
    """The library as a player goes through it; from the app's thread only.

    Args:
        library: what could be read.
        chosen: name of what was chosen last, such as ``barn-lantern at skips``; the first figure when
            nothing is called so.
    """

    def __init__(self, library: Library, chosen: str) -> None:
        self._library = library
        # Laid when the library was read: every break at every level, every chart with its own figure.
        self._laid = {pattern.name: pattern for pattern in library.laid}
        self.shelf = Shelf.FIGURES
        self._chosen_at = dict.fromkeys(Shelf, 0)
        self._level = Level.PLAIN
        self._figures: dict[str, str] = {}  # over each chart, by name
        self._find(chosen)

    @property
    def tunes(self) -> tuple[Tune, ...]:
        """What stands on the shelf that is shown, in order."""
        if self.shelf is Shelf.BREAKS:
            return tuple(entry.brk for entry in self._library.breaks)
        if self.shelf is Shelf.CHARTS:
            return tuple(entry.backup for entry in self._library.charts)
        return self._library.patterns

    @property
    def selected(self) -> int:
        """Place of the chosen one on its shelf."""
        return min(self._chosen_at[self.shelf], max(len(self.tunes) - 1, 0))

    @property
    def tune(self) -> Tune | None:
        """What is chosen; None on an empty shelf."""
        tunes = self.tunes
        return tunes[self.selected] if tunes else None

    @property
    def pattern(self) -> Pattern | None:
        """What is chosen, as it would be drilled; None on an empty shelf, or when it cannot be laid."""
        return self.laid(self.tune)

    @property
    def choice(self) -> TuneChoice | None:
        """The levels of a break, or the figure over a chart; None for a figure."""
        tune = self.tune
        if isinstance(tune, Break):
            return TuneChoice(
                label="level", options=tuple(LEVEL_CHOICE.values()), at=list(LEVEL_CHOICE).index(self._level)
            )
        if isinstance(tune, BackupChart):
            figure = self._figure_over(tune)
            words = figure.title if figure is not None else "none has its meter"
            return TuneChoice(label="figure", options=(words,))
        return None

    def laid(self, tune: Tune | None) -> Pattern | None:
        """Return a tune at the level, or with the figure, that is chosen for it."""
        if tune is None or isinstance(tune, Pattern):
            return tune
        name = self.name_of(tune)
        if name not in self._laid and isinstance(tune, BackupChart):
            figure = self._figure_over(tune)
            if figure is None:
                return None
            self._laid[name] = lay_chart(tune, figure)
        return self._laid.get(name)

    def name_of(self, tune: Tune) -> str:
        """Return what a tune is called as it would be drilled."""
        if isinstance(tune, Break):
            return laid_break_name(tune.name, self._level)
        if isinstance(tune, BackupChart):
            figure = self._figure_over(tune)
            return laid_chart_name(tune.name, figure.name) if figure is not None else tune.name
        return tune.name

    def select(self, at: int) -> None:
        """Choose by place; beyond either end the last one there is."""
        self._chosen_at[self.shelf] = min(max(at, 0), max(len(self.tunes) - 1, 0))

    def step_shelf(self, steps: int) -> None:
        """Show another shelf."""
        shelves = list(Shelf)
        self.shelf = shelves[(shelves.index(self.shelf) + steps) % len(shelves)]

    def step_choice(self, steps: int) -> None:
        """Choose another level of breaks, or another figure over the chosen chart."""
        tune = self.tune
        if isinstance(tune, Break):
            levels = list(Level)
            self._level = levels[(levels.index(self._level) + steps) % len(levels)]
        elif isinstance(tune, BackupChart):
            fitting = self._library.figures(tune.meter)
            figure = self._figure_over(tune)
            if figure is not None:
                at = (fitting.index(figure) + steps) % len(fitting)
                self._figures[tune.name] = fitting[at].name

    def find_title(self, typed: str) -> bool:
        """Choose the first title that begins with some letters, or has a word that does; say whether one has.

        The shelf that is shown comes first, then the others.
        """
        wanted = typed.casefold().strip()
        if not wanted:
            return False
        shown = self.shelf
        for shelf in (shown, *(each for each in Shelf if each is not shown)):
            self.shelf = shelf
            titles = [tune.title.casefold() for tune in self.tunes]
            begins = [at for at, title in enumerate(titles) if title.startswith(wanted)]
            inside = [at for at, title in enumerate(titles) if f" {wanted}" in title]
            if begins or inside:
                self.select((begins or inside)[0])
                return True
        self.shelf = shown
        return False

    def choose(self, name: str) -> bool:
        """Choose what has a name, on whichever shelf it stands; return whether anything has."""
        return self._find(name)

    def _find(self, name: str) -> bool:
        try:
            asked = read_asked(name)
        except TrainerError:
            return False
        for shelf in Shelf:
            self.shelf = shelf
            names = [tune.name for tune in self.tunes]
            if asked.name in names:
                self.select(names.index(asked.name))
                self._level = asked.level or self._level
                if asked.figure is not None:
                    self._figures[asked.name] = asked.figure
                return True
        self.shelf = Shelf.FIGURES
        return False

    def _figure_over(self, backup: BackupChart) -> Pattern | None:
        fitting = self._library.figures(backup.meter)
        wanted = self._figures.get(backup.name, backup.figure)
        return next((p for p in fitting if p.name == wanted), fitting[0] if fitting else None)
