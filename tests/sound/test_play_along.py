"""The file to play along with: the parts and the level asked for, no gaps between its blocks."""

from fractions import Fraction

import numpy as np
import pytest

from tests.sound.helpers import FIVE, ONE, charted
from tests.sound.loudness import loudness, true_peak_db
from trainer.errors import BadSettings
from trainer.music.timeline import Timeline
from trainer.sound.gain import FILE_CEILING
from trainer.sound.plan import RATE
from trainer.sound.play_along import (
    LEAD_S,
    FilePart,
    play_along_blocks,
    play_along_frames,
    play_along_plan,
    read_parts,
)
from trainer.sound.render import render
from trainer.sound.stream_onsets import band_onsets, click_onsets, pluck_onsets

PATTERN = charted((ONE, 4), (FIVE, 4))
TEMPO = Timeline.steady(112)


def test_the_blocks_are_the_whole_without_a_gap() -> None:
    plan = play_along_plan(PATTERN, TEMPO, passes=2)
    blocks = list(play_along_blocks(plan))
    assert {len(block) for block in blocks[:-1]} == {RATE}, "never more than a second at once"
    whole = render(plan, 0, play_along_frames(plan), ceiling=FILE_CEILING)
    np.testing.assert_array_equal(np.concatenate(blocks), whole)
    assert not whole[-100:].any(), "the last sound has died away"


def test_all_parts_together_are_about_minus_twenty_and_peak_below_minus_one() -> None:
    """Source of both measures: ITU-R BS.1770-4."""
    plan = play_along_plan(PATTERN, TEMPO, passes=4)
    sound = np.concatenate(list(play_along_blocks(plan)))
    assert -21.5 < loudness(sound) < -18.5
    assert true_peak_db(sound) < -1.0


@pytest.mark.parametrize("heard", FilePart)
def test_each_part_alone_is_all_that_is_heard(heard: FilePart) -> None:
    plan = play_along_plan(PATTERN, TEMPO, passes=1, parts=[heard])
    last = play_along_frames(plan)
    clicks, plucks = click_onsets(plan, 0, last), pluck_onsets(plan, 0, last)
    band = {onset.part.value for onset in band_onsets(plan, 0, last)}
    assert bool(clicks) == (heard is FilePart.CLICK)
    assert bool(plucks) == (heard is FilePart.BANJO)
    wanted = {FilePart.BASS: {"bass"}, FilePart.CHOP: {"chop"}, FilePart.DRUM: {"drum", "brush"}}
    assert band == wanted.get(heard, set())


def test_it_counts_in_with_a_click_and_begins_at_once_without() -> None:
    counted = play_along_plan(PATTERN, TEMPO, passes=1)
    assert next(o.frame for o in click_onsets(counted, 0, counted.origin_frame)) == round(LEAD_S * RATE)
    assert counted.frame_of(Fraction(0)) > RATE
    bare = play_along_plan(PATTERN, TEMPO, passes=1, parts=[FilePart.BASS, FilePart.BANJO])
    assert bare.frame_of(Fraction(0)) == round(LEAD_S * RATE)
    assert pluck_onsets(bare, 0, RATE)[0].frame == round(LEAD_S * RATE)


def test_parts_are_read_as_they_are_written() -> None:
    assert read_parts("Click, bass") == {FilePart.CLICK, FilePart.BASS}
    with pytest.raises(BadSettings, match='found "bas" for a part; did you mean bass'):
        read_parts("click,bas")
    with pytest.raises(BadSettings, match="found no part to be heard; choose from click, banjo"):
        read_parts(" , ")


def test_more_than_an_hour_is_refused_with_what_fits() -> None:
    with pytest.raises(BadSettings, match=r"last 71 minutes; write at most 60 minutes, 840 passes"):
        play_along_plan(PATTERN, TEMPO, passes=1000)
