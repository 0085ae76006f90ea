"""Say what a page calls its chords, and what is to be known of its pattern."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.errors import BadSettings
from trainer.music.keys import capo_for, read_key, shape_key, sounding_key
from trainer.music.pattern import Pattern
from trainer.music.tuning import HIGHEST_CAPO


@dataclass(frozen=True, slots=True, kw_only=True)
class Letters:
    """What the chords are called in letters.

    Attributes:
        key: the note called 1, as it sounds.
        capo: the fret of the capo.
        shapes: the key of the shapes that the player thinks of.
    """

    key: str
    capo: int
    shapes: str

    @property
    def words(self) -> str:
        """The key in words."""
        shapes = f": shapes of {self.shapes}, capo {self.capo}" if self.capo else ""
        return f"in {self.key}{shapes}"


def letters_for(pattern: Pattern, key: str | None = None, capo: int | None = None) -> Letters | None:
    """Return the letters of a pattern's chords, in its own key or another.

    The frets on the page belong to the shapes, so another key moves the capo, and another capo the key.

    Raises:
        BadSettings: there are no chords, or key and capo ask for shapes that the frets are not those of.
    """
    if capo is not None and not 0 <= capo <= HIGHEST_CAPO:
        raise BadSettings(f"found a capo at {capo}", f"choose a fret from 0 to {HIGHEST_CAPO}")
    chart = pattern.chart
    if chart is None:
        if key is not None or capo is not None:
            raise BadSettings(
                f"{pattern.name} has no chords, so it has no key", "leave the key and the capo out"
            )
        return None
    own = shape_key(chart.key, pattern.tuning.capo)
    if key is None:
        capo = pattern.tuning.capo if capo is None else capo
        sounds = chart.key if capo == pattern.tuning.capo else sounding_key(own, capo)
        return Letters(key=sounds, capo=capo, shapes=shape_key(sounds, capo))
    key = read_key(key)
    needed = capo_for(own, key)
    capo = needed if capo is None else capo
    stopped = any(fret for stroke in pattern.strokes for fret in stroke.all_frets)
    if stopped and (capo - needed) % 12:
        raise BadSettings(
            f"the frets of {pattern.name} are those of shapes of {own}, which sound in {key} with the capo "
            f"at {needed}, not {capo}",
            f"write --capo {needed}, or leave it out",
        )
    return Letters(key=key, capo=capo, shapes=shape_key(key, capo))


def facts(pattern: Pattern, letters: Letters | None) -> str:
    """Return what is to be known of a pattern, in one line: level, metre, tempo, tuning and key."""
    tempo = f"{float(pattern.slow_bpm):g} to {float(pattern.goal_bpm):g} bpm"
    if pattern.playing_bpm is not None:
        tempo += f", in company {float(pattern.playing_bpm):g}"
    words = [pattern.level.value, pattern.meter.value, tempo, pattern.tuning.words]
    return "  ·  ".join([*words, letters.words] if letters is not None else words)
