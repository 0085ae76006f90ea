"""What a tap sounds like: the real string and fret of its stroke; and the sound that the settings ask for."""

from dataclasses import replace

import numpy as np
import pytest

from tests.app.bench import Bench
from tests.judging.helpers import pattern_of, tap
from trainer.app.tap_sound import tap_notes, tap_samples
from trainer.devices.speaker import SilentSpeaker
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand
from trainer.music.timeline import Timeline
from trainer.music.tuning import Tuning, note_to_hz
from trainer.practice.drill import Drill, DrillSettings
from trainer.practice.settings import Settings
from trainer.sound.gain import LEAST_DB
from trainer.sound.plan import RATE, SoundSettings, plan_for
from trainer.sound.thinning import Thin, Thinning
from trainer.sound.volumes import band_volume_db

DOUBLE_C = Tuning(
    notes=(62, 60, 55, 48, 67), capo=2
)  # g4 C3 G3 C4 D4, two frets up; common practice, no source
BREAK = replace(pattern_of("strike 4 fret 2, hammer-on 4 fret 4, brush, thumb"), tuning=DOUBLE_C)


def heard(pattern: Pattern, song_s: float, hand: Hand) -> np.ndarray:
    """The samples of a tap, at 60 beats a minute."""
    drill = Drill(DrillSettings(pattern=pattern, bpm=Timeline.steady(60).spans[0].bpm, knows_left=True))
    speaker = SilentSpeaker()
    speaker.start(plan_for(pattern, drill.timeline, passes=1, settings=SoundSettings()), 0)
    return tap_samples(drill, tap(song_s, hand), -12.0, speaker).astype(float)


def fundamental_hz(samples: np.ndarray, near_hz: float) -> float:
    size = 1 << 18
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size))
    low, high = int(near_hz * 0.9 * size / RATE), int(near_hz * 1.1 * size / RATE)
    return float((low + int(spectrum[low:high].argmax())) * RATE / size)


@pytest.mark.parametrize(
    ("song_s", "hand", "note"),
    [(0.0, Hand.NAIL, 48 + 2 + 2), (0.5, Hand.LEFT, 48 + 2 + 4), (1.5, Hand.THUMB, 67 + 2)],
)
def test_a_tap_sounds_its_strokes_own_string_and_fret_in_the_patterns_tuning(
    song_s: float, hand: Hand, note: int
) -> None:
    """Source: equal temperament, 440 * 2**((n - 69) / 12); to 2 cents by the highest line of a spectrum."""
    hz = note_to_hz(note)
    assert abs(1200 * np.log2(fundamental_hz(heard(BREAK, song_s, hand), hz) / hz)) < 2.0


def test_a_tap_is_told_as_notes_too() -> None:
    drill = Drill(DrillSettings(pattern=BREAK, bpm=Timeline.steady(60).spans[0].bpm))
    assert tap_notes(drill, tap(1.0, Hand.NAIL)) == (57, 62, 64), "strings 3 to 1, two frets up"
    assert tap_notes(drill, tap(9.0, Hand.THUMB)) == (69,), "near nothing it is the open drone"


def test_a_hammer_on_that_is_tapped_comes_from_the_fret_that_was_struck() -> None:
    """From another fret the same note begins otherwise."""
    one = heard(BREAK, 0.5, Hand.LEFT)
    other = replace(BREAK, bars=pattern_of("strike 4, hammer-on 4 fret 4, brush, thumb").bars)
    assert not np.array_equal(one, heard(other, 0.5, Hand.LEFT))


def test_the_settings_choose_band_and_thinning() -> None:
    chosen = Bench(
        settings=Settings(
            cautions_seen=True,
            band=True,
            band_volume=10,
            thinning="off for N bars in M",
            thin_off=1,
            thin_of=3,
        )
    ).preferences
    sound = chosen.sound_settings(hears_left=False)
    assert sound.band
    assert sound.band_db == band_volume_db(10)
    assert sound.thinning == Thinning(thin=Thin.SILENT_BARS, off=1, of=3)
    assert not chosen.sound_settings(hears_left=True).left_hand


def test_a_band_without_volume_is_none() -> None:
    chosen = Bench(settings=Settings(cautions_seen=True, band=True, band_volume=0)).preferences
    sound = chosen.sound_settings(hears_left=False)
    assert not sound.band
    assert sound.band_db == LEAST_DB
