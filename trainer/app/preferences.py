"""Hold what the player has chosen, in the shape that a drill and a speaker want it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

from trainer.app.shelves import Shelves
from trainer.app.undoing import Change, Undoing
from trainer.errors import BadSettings, TrainerError
from trainer.judging.pocket import Pocket
from trainer.music.layout import Feel
from trainer.music.pattern import FASTEST_BPM, SLOWEST_BPM, Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import as_tempo
from trainer.practice.delays import delay_of, with_delay
from trainer.practice.ladder import LadderKind
from trainer.practice.pads import PadMap, read_pads
from trainer.practice.setting_changes import learnt, stepped
from trainer.practice.setting_words import FARTHEST_PAN
from trainer.practice.settings import EVERY_STROKE, TEXT_SIZES, Settings
from trainer.records.library import Library
from trainer.screen.actions import Act
from trainer.sound.clicks import ClickVoice, clicks_per_beat
from trainer.sound.plan import SoundSettings
from trainer.sound.thinning import Thinning
from trainer.sound.volumes import band_volume_db, volume_db

TEMPO_STEP = Fraction(5)
TEMPO_STEPS = {Act.TEMPO: TEMPO_STEP, Act.TEMPO_BY_TWO: Fraction(2), Act.TEMPO_BY_ONE: Fraction(1)}
TEMPO_ACTS = (*TEMPO_STEPS, Act.TEMPO_HALF)
TEXT_SCALES = dict(zip(TEXT_SIZES, (1.0, 1.25, 1.5), strict=True))

Save = Callable[[Settings, Settings], Settings]
"""Keeps what has changed from the first to the second; returns all as it is kept then."""


class Preferences:
    """The settings and the chosen pattern; each change is kept at once."""

    def __init__(self, settings: Settings, library: Library, save: Save) -> None:
        self.settings = settings
        self.library = library
        self._save = save
        self._kept = settings  # as they were when they were last read or kept
        self.output_name = ""  # what is heard through; set by who opens the sound
        self.undoing = Undoing()
        self.shelves = Shelves(library, settings.pattern)

    def change(self, **changes: object) -> None:
        """Change settings and keep them.

        Raises:
            StoreProblem: they hold until the program ends but could not be kept.
        """
        self._become(replace(self.settings, **changes))  # type: ignore[arg-type]

    def step(self, name: str, steps: int) -> None:
        """Change one setting by some steps, as its row in the table has it.

        Raises:
            StoreProblem: as :meth:`change`.
        """
        self._become(stepped(self.settings, name, steps))

    def undo(self) -> Change | None:
        """Take the last change of the settings back and keep that; return it, or None.

        Raises:
            StoreProblem: as :meth:`change`.
        """
        change = self.undoing.take()
        if change is not None:
            self.settings = change.taken_back(self.settings)
            self._keep()
        return change

    def _become(self, after: Settings) -> None:
        before, self.settings = self.settings, after
        self.undoing.note(before, after)
        self._keep()

    def _keep(self) -> None:
        # What could not be kept is tried again with the next change.
        self.settings = self._kept = learnt(self.settings, self._save(self._kept, self.settings))

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
        return _pads_of(self.settings.pads.get(self.settings.input_name, ""))

    @property
    def pocket(self) -> Pocket:
        """The pocket in use."""
        return Pocket.named(self.settings.pocket)

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
        return Feel(swing=Fraction(self.settings.swing), layback_s=moved)

    @property
    def delay_ms(self) -> int:
        """How late the sound and the input in use are together; taken off each tap."""
        return delay_of(self.settings, self.settings.input_name, self.output_name)

    @property
    def volume_db(self) -> float:
        """The volume of clicks and taps; -60 for silence."""
        return volume_db(self.settings.click_volume)

    @property
    def band_db(self) -> float:
        """The volume of the band; -60 for silence."""
        return band_volume_db(self.settings.band_volume)

    @property
    def thinning(self) -> Thinning:
        """Which clicks are left out."""
        settings = self.settings
        return Thinning.named(settings.thinning, settings.thin_off, settings.thin_of)

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
            click_voice=ClickVoice(self.settings.click_voice),
            click_db=self.volume_db,
            stroke_db=self.volume_db,
            subdivide=self.settings.subdivide,
            left_hand=not hears_left,
            pickup=True,
            thinning=self.thinning,
            band=self.settings.band and self.settings.band_volume > 0,
            band_db=self.band_db,
            click_pan=self.settings.click_pan / FARTHEST_PAN,
            stroke_pan=self.settings.banjo_pan / FARTHEST_PAN,
            band_pan=self.settings.band_pan / FARTHEST_PAN,
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

    def set_delay(self, delay_ms: int) -> None:
        """Take another delay off each tap of the input and output in use: whole ms, within 300 either way."""
        name = self.settings.input_name
        self.change(known_delays=with_delay(self.settings, name, self.output_name, delay_ms))

    @property
    def sound_depth(self) -> int:
        """How often the buffers of the output in use are doubled."""
        return int(self.settings.sound_depths.get(self.output_name, "0"))  # the table holds it to 0 to 2

    def set_sound_depth(self, depth: int) -> None:
        """Remember how deep the buffers of the output in use must be."""
        self.change(sound_depths={**self.settings.sound_depths, self.output_name: str(depth)})

    def set_swing(self, swing: Fraction) -> None:
        """Move the up slots to another ratio, long to short."""
        self.change(swing=str(swing))

    @property
    def climbs(self) -> bool:
        """Whether the tempo climbs on clean passes."""
        return self.settings.ladder != LadderKind.OFF.value

    @property
    def text_scale(self) -> float:
        """By how much text is larger than usual: 1 to 1.5."""
        return TEXT_SCALES[self.settings.text_size]


@lru_cache(maxsize=16)
def _pads_of(words: str) -> PadMap:
    """Return taught pads; read once and not at every tap."""
    try:
        return read_pads(words) if words else PadMap()
    except BadSettings:
        return PadMap()


def keep_nothing(_before: Settings, after: Settings) -> Settings:
    """Leave the user's settings as they are: a :data:`Save` for what is only tried."""
    return after


def tempo_after(steps: int, base: Fraction, by: Act = Act.TEMPO) -> Fraction:
    """Return a tempo some steps from ``base``, inside what can be used.

    Args:
        by: what a step is: one of ``TEMPO_STEPS`` in beats a minute, or half and double (``TEMPO_HALF``).
    """
    if by is Act.TEMPO_HALF:
        wanted = base * Fraction(2) ** steps
    else:
        wanted = base + steps * TEMPO_STEPS[by]
    return min(max(wanted, SLOWEST_BPM), FASTEST_BPM)


def unsaved(change: Callable[[], object]) -> str:
    """Make a change; return the sentence to show if it could not be kept, or an empty text."""
    try:
        change()
    except TrainerError as err:
        return str(err)
    return ""
