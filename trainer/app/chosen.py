"""Hold what the player has chosen, in the shape that a drill and a speaker want it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trainer.app.shelves import Shelves
from trainer.app.undoing import Change, Undoing
from trainer.errors import BadSettings, TrainerError
from trainer.judging.pocket import Pocket
from trainer.music.exact import read_exact
from trainer.music.layout import Feel
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM, Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import as_tempo, slot_in_beat
from trainer.practice.pads import PadMap, read_pads
from trainer.records.delays import delay_of, with_delay
from trainer.records.library import Library
from trainer.records.settings import LADDERS, TEXT_SIZES, THINNINGS, Settings
from trainer.sound.clicks import clicks_per_beat
from trainer.sound.level import LEAST_DB
from trainer.sound.plan import SoundSettings
from trainer.sound.thinning import EVERY_BEAT, Thinning

TEMPO_STEP = Fraction(5)
PASSES_CHOICES = (1, 2, 4, 8, 16, 0)  # 0: until stopped
LOUDEST_VOLUME = 10
LOUDEST_DB = -3.0
VOLUME_STEP_DB = 4.0
LOUDEST_BAND_DB = -9.0  # at the usual volumes the clicks stay well above the band
BAND_STEP_DB = 2.5
DELAY_STEP_MS = 5
LAY_BACK_STEP_MS = 5
LARGEST_LAY_BACK_MS = 50
EVERY_STROKE = "all"
LAID_BACK = (Kind.STRIKE, Kind.BRUSH, Kind.THUMB, Kind.DROP_THUMB)
MOST_SWING_STEPS = 8
TEXT_SCALES = dict(zip(TEXT_SIZES, (1.0, 1.25, 1.5), strict=True))
MOST_THIN_BARS = 16


class Chosen:
    """The settings and the chosen pattern; each change is kept at once."""

    def __init__(self, settings: Settings, library: Library, save: Callable[[Settings], None]) -> None:
        self.settings = settings
        self.library = library
        self._save = save
        self.output_name = ""  # what is heard through; set by who opens the sound
        self.undoing = Undoing()
        self.shelves = Shelves(library, settings.pattern)

    def change(self, **changes: object) -> None:
        """Change settings and keep them.

        Raises:
            StoreProblem: they hold until the program ends but could not be kept.
        """
        before = self.settings
        self.settings = replace(before, **changes)  # type: ignore[arg-type]
        self.undoing.note(before, self.settings)
        self._save(self.settings)

    def undo(self) -> Change | None:
        """Take the last change of the settings back and keep that; return it, or None.

        Raises:
            StoreProblem: as :meth:`change`.
        """
        change = self.undoing.take()
        if change is not None:
            self.settings = replace(self.settings, **change.before)  # type: ignore[arg-type]
            self._save(self.settings)
        return change

    @property
    def pattern(self) -> Pattern | None:
        """What is chosen, as it would be drilled; None on an empty shelf."""
        return self.shelves.pattern

    @property
    def selected(self) -> int:
        """Place of the chosen one on its shelf."""
        return self.shelves.selected

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
            swing = read_exact(self.settings.swing)
            slot_in_beat(2, 1, swing)
            return Feel(swing=swing, layback_s=moved)
        except ValueError:
            return Feel()

    @property
    def delay_ms(self) -> int:
        """How late the sound and the input in use are together; taken off each tap."""
        return delay_of(self.settings, self.settings.input_name, self.output_name)

    @property
    def volume_db(self) -> float:
        """The volume of clicks and taps; -60 for silence."""
        if self.settings.click_volume == 0:
            return LEAST_DB
        return LOUDEST_DB - VOLUME_STEP_DB * (LOUDEST_VOLUME - self.settings.click_volume)

    @property
    def band_db(self) -> float:
        """The volume of the band; -60 for silence."""
        if self.settings.band_volume == 0:
            return LEAST_DB
        return LOUDEST_BAND_DB - BAND_STEP_DB * (LOUDEST_VOLUME - self.settings.band_volume)

    @property
    def thinning(self) -> Thinning:
        """Which clicks are left out; none when what is chosen makes no sense."""
        settings = self.settings
        try:
            return Thinning.named(settings.thinning, settings.thin_off, settings.thin_of)
        except BadSettings:
            return EVERY_BEAT

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
            thinning=self.thinning,
            band=self.settings.band and self.settings.band_volume > 0,
            band_db=self.band_db,
        )

    def select(self, at: int) -> None:
        """Choose from the shelf by place; beyond either end the last one there is."""
        self.shelves.select(at)
        self.remember_chosen()

    def remember_chosen(self) -> None:
        """Remember what is chosen for another day."""
        pattern = self.pattern
        if pattern is not None:
            self.change(pattern=pattern.name)

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
        """Take another delay off each tap of the input and output in use: whole ms, within 300 either way."""
        name = self.settings.input_name
        self.change(known_delays=with_delay(self.settings, name, self.output_name, delay_ms))

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

    def step_band_volume(self, steps: int) -> None:
        """Turn the band up or down."""
        self.change(band_volume=min(max(self.settings.band_volume + steps, 0), LOUDEST_VOLUME))

    def step_thinning(self, steps: int) -> None:
        """Choose which clicks are heard."""
        self.change(thinning=_stepped(THINNINGS, self.settings.thinning, steps))

    def step_thin_off(self, steps: int) -> None:
        """Let the click be silent for more or fewer bars; at least one bar of the round keeps it."""
        self.change(thin_off=min(max(self.settings.thin_off + steps, 1), self.settings.thin_of - 1))

    def step_thin_of(self, steps: int) -> None:
        """Make the round of sounding and silent bars longer or shorter."""
        self.change(
            thin_of=min(max(self.settings.thin_of + steps, self.settings.thin_off + 1), MOST_THIN_BARS)
        )

    @property
    def climbs(self) -> bool:
        """Whether the tempo climbs on clean passes."""
        return self.settings.ladder != LADDERS[0]

    def step_ladder(self, steps: int) -> None:
        """Choose another way for the tempo to climb, or none."""
        self.change(ladder=_stepped(LADDERS, self.settings.ladder, steps))

    @property
    def text_scale(self) -> float:
        """By how much text is larger than usual: 1 to 1.5."""
        return TEXT_SCALES.get(self.settings.text_size, 1.0)

    def step_text_size(self, steps: int) -> None:
        """Choose larger or smaller text."""
        at = TEXT_SIZES.index(self.settings.text_size) if self.settings.text_size in TEXT_SIZES else 0
        self.change(text_size=TEXT_SIZES[min(max(at + steps, 0), len(TEXT_SIZES) - 1)])


def _stepped(choices: tuple[str, ...], now: str, steps: int) -> str:
    """Return the choice some steps on, round and round."""
    at = choices.index(now) if now in choices else 0
    return choices[(at + steps) % len(choices)]


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
