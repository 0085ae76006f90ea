"""Hold what the player has chosen, in the shape that a drill and a speaker want it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.errors import BadSettings, TrainerError
from trainer.judging.pocket import Pocket
from trainer.music.layout import Feel
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM, Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import as_tempo, slot_in_beat
from trainer.practice.pads import PadMap, read_pads
from trainer.records.library import Library
from trainer.records.settings import Settings
from trainer.sound.clicks import clicks_per_beat
from trainer.sound.level import LEAST_DB
from trainer.sound.plan import SoundSettings

TEMPO_STEP = Fraction(5)
PASSES_CHOICES = (1, 2, 4, 8, 16, 0)  # 0: until stopped
LOUDEST_VOLUME = 10
LOUDEST_DB = -3.0
VOLUME_STEP_DB = 4.0
LARGEST_DELAY_MS = 300  # wireless headphones: 100 to 250 ms
DELAY_STEP_MS = 5
LAY_BACK_STEP_MS = 5
LARGEST_LAY_BACK_MS = 50
EVERY_STROKE = "all"
LAID_BACK = (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)
MOST_SWING_STEPS = 8


class Chosen:
    """The settings and the chosen pattern; each change is kept at once."""

    def __init__(self, settings: Settings, library: Library, save: Callable[[Settings], None]) -> None:
        self.settings = settings
        self.library = library
        self._save = save
        names = [pattern.name for pattern in library.patterns]
        self.selected = names.index(settings.pattern) if settings.pattern in names else 0

    def change(self, **changes: object) -> None:
        """Change settings and keep them.

        Raises:
            StoreProblem: they hold until the program ends but could not be kept.
        """
        self.settings = replace(self.settings, **changes)  # type: ignore[arg-type]
        self._save(self.settings)

    @property
    def pattern(self) -> Pattern | None:
        """The chosen pattern; None when no pattern could be read at all."""
        patterns = self.library.patterns
        return patterns[self.selected] if patterns else None

    @property
    def bpm(self) -> Fraction:
        """The tempo that a drill of the chosen pattern starts with."""
        return self.bpm_of(self.pattern) if self.pattern is not None else Fraction(60)

    def bpm_of(self, pattern: Pattern) -> Fraction:
        """Return the tempo that a drill of a pattern starts with: the last one, or its slow one."""
        try:
            return as_tempo(self.settings.tempi.get(pattern.name, str(float(pattern.slow_bpm))))
        except BadSettings:
            return pattern.slow_bpm

    @property
    def pads(self) -> PadMap:
        """The pads of the input in use; empty when they were never taught."""
        try:
            return read_pads(self.settings.pads[self.settings.input_name])
        except (KeyError, BadSettings):
            return PadMap()

    @property
    def pocket(self) -> Pocket:
        """The pocket in use."""
        try:
            return Pocket.named(self.settings.pocket)
        except BadSettings:
            return Pocket.MIDDLE

    @property
    def feel(self) -> Feel:
        """How the target is moved on purpose; straight and on the beat when nothing is chosen."""
        lay_back_s = self.settings.lay_back_ms / 1000
        of = self.settings.lay_back_of
        moved = tuple(
            (kind, lay_back_s)
            for kind in Kind
            if lay_back_s and kind.sounds and of in (EVERY_STROKE, kind.value)
        )
        try:
            swing = Fraction(self.settings.swing)
            slot_in_beat(2, 1, swing)
            return Feel(swing=swing, layback_s=moved)
        except (ValueError, ZeroDivisionError):
            return Feel()

    @property
    def delay_ms(self) -> int:
        """How late the sound and the input in use are together; taken off each tap."""
        try:
            delay = int(self.settings.delays_ms.get(self.settings.input_name, "0"))
        except ValueError:
            return 0
        return min(max(delay, -LARGEST_DELAY_MS), LARGEST_DELAY_MS)

    @property
    def volume_db(self) -> float:
        """The volume of clicks and taps; -60 for silence."""
        if self.settings.click_volume == 0:
            return LEAST_DB
        return LOUDEST_DB - VOLUME_STEP_DB * (LOUDEST_VOLUME - self.settings.click_volume)

    def subdivision_helps(self) -> bool:
        """Whether clicks between the beats help at the chosen tempo."""
        pattern = self.pattern
        return pattern is not None and clicks_per_beat(self.bpm, pattern.slots_per_beat) > 1

    @property
    def clicks(self) -> bool:
        """Whether the metronome is heard."""
        return self.settings.click and self.settings.click_volume > 0

    def sound_settings(self, *, hears_left: bool) -> SoundSettings:
        """Return what the stream should sound like; left-hand strokes that no input hears are played."""
        return SoundSettings(
            click=self.clicks,
            click_db=self.volume_db,
            stroke_db=self.volume_db,
            subdivide=self.settings.subdivide,
            left_hand=not hears_left,
        )

    def select(self, at: int) -> None:
        """Choose a pattern by its place; beyond either end the last one there is."""
        patterns = self.library.patterns
        if patterns:
            self.selected = min(max(at, 0), len(patterns) - 1)
            self.change(pattern=patterns[self.selected].name)

    def remember_tempo(self, pattern: Pattern, bpm: Fraction) -> None:
        """Remember a tempo for a pattern."""
        self.change(tempi={**self.settings.tempi, pattern.name: str(float(bpm))})

    def more_passes(self, steps: int) -> None:
        """Play more or fewer passes."""
        # A number from the command line that is not among the choices goes to the nearest of them.
        passes = self.settings.passes or PASSES_CHOICES[-2] * 2
        at = min(
            range(len(PASSES_CHOICES)),
            key=lambda n: abs((PASSES_CHOICES[n] or 2 * PASSES_CHOICES[-2]) - passes),
        )
        self.change(passes=PASSES_CHOICES[min(max(at + steps, 0), len(PASSES_CHOICES) - 1)])

    def step_pocket(self, steps: int) -> None:
        """Choose a wider or narrower pocket."""
        pockets = list(Pocket)
        at = pockets.index(self.pocket) + steps
        self.change(pocket=pockets[min(max(at, 0), len(pockets) - 1)].value)

    def set_delay(self, delay_ms: int) -> None:
        """Take another delay off each tap of the input in use, in steps of one ms within 300 either way."""
        kept = min(max(delay_ms, -LARGEST_DELAY_MS), LARGEST_DELAY_MS)
        self.change(delays_ms={**self.settings.delays_ms, self.settings.input_name: str(kept)})

    def set_swing(self, swing: Fraction) -> None:
        """Move the up slots to another ratio, long to short."""
        self.change(swing=str(swing))

    def step_swing(self, steps: int) -> None:
        """Choose more or less swing, in steps of a quarter from 1 to 3."""
        now = self.feel.swing
        at = min(max(round((now - 1) * 4) + steps, 0), MOST_SWING_STEPS)
        self.set_swing(1 + Fraction(at, 4))

    def step_lay_back(self, steps: int) -> None:
        """Let what lies back do so by more or less, in steps of five ms."""
        at = self.settings.lay_back_ms + steps * LAY_BACK_STEP_MS
        self.change(lay_back_ms=min(max(at, 0), LARGEST_LAY_BACK_MS))

    def step_lay_back_of(self, steps: int) -> None:
        """Let another kind of stroke lie back, or all of them."""
        kinds = (EVERY_STROKE, *(kind.value for kind in LAID_BACK))
        now = self.settings.lay_back_of
        at = kinds.index(now) if now in kinds else 0
        self.change(lay_back_of=kinds[(at + steps) % len(kinds)])

    def louder(self, steps: int) -> None:
        """Turn the sound up or down."""
        self.change(click_volume=min(max(self.settings.click_volume + steps, 0), LOUDEST_VOLUME))


def tempo_after(steps: int, base: Fraction) -> Fraction:
    """Return a tempo some steps of five from ``base``, inside what can be used."""
    return min(max(base + steps * TEMPO_STEP, SLOWEST_BPM), FASTEST_BPM)


def unsaved(change: Callable[[], None]) -> str:
    """Make a change; return the sentence to show if it could not be kept, or an empty text."""
    try:
        change()
    except TrainerError as err:
        return str(err)
    return ""
