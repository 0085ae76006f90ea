"""What is sent when: MIDI 1.0 (clock, position, start, stop), General MIDI 1 (wood blocks, banjo)."""

import itertools
from dataclasses import replace
from fractions import Fraction

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.judging.helpers import pattern_of
from tests.sound.helpers import plan_of
from tests.strategies import patterns
from trainer.music.layout import lay_out
from trainer.music.notation import read_pattern
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Kind
from trainer.music.timeline import Timeline
from trainer.sound.midi_out import (
    BANJO,
    CLOCK,
    CONTINUE,
    ECHO_S,
    LARGEST_POSITION,
    LIGHT_AFTER_S,
    LONGEST_LIGHT_S,
    START,
    STOP,
    Message,
    PadLights,
    Sending,
    due_messages,
    echo,
    opening,
    position,
    seek,
)
from trainer.sound.plan import RATE, SoundSettings, StreamPlan, plan_for
from trainer.sound.stream_onsets import click_onsets

CLOCK_ONLY = Sending(clicks=False, echo=False)
CLICKS_ONLY = Sending(clock=False, echo=False)
LIGHTS = PadLights(channel=9, nail=36, thumb=38, left=40)
ALL = Sending(lights=LIGHTS)


def of(messages: tuple[Message, ...], status: int) -> list[float]:
    return [m.due_s for m in messages if m.data[0] == status]


@pytest.mark.parametrize(
    ("bpm", "interval_ms"), [("60", 41.667), ("100", 25.0), ("120", 20.833), ("125", 20.0)]
)
def test_the_clock_has_the_published_interval(bpm: str, interval_ms: float) -> None:
    """Source: 24 a quarter, so 2500 / bpm ms."""
    clocks = of(due_messages(plan_of(bpm), CLOCK_ONLY, 0.0, 10.0), CLOCK)
    for before, after in itertools.pairwise(clocks):
        assert (after - before) * 1000 == pytest.approx(interval_ms, abs=0.0005)


def test_in_six_eight_a_beat_is_a_dotted_quarter_and_has_36_clocks() -> None:
    text = (
        'title = "Jig"\nlevel = "plain"\nstep = 1\nmeter = "6/8"\nslots_per_beat = 3\nslow_bpm = 60\n'
        'goal_bpm = 120\nbars = "strike 3, rest, thumb, brush, rest, thumb"\n'
    )
    plan = plan_of("60", pattern=read_pattern(text, name="jig"))
    assert len(of(due_messages(plan, CLOCK_ONLY, 0.0, 1.0), CLOCK)) == 36
    assert len(of(due_messages(plan_of("60"), CLOCK_ONLY, 0.0, 1.0), CLOCK)) == 24


def test_the_clock_runs_in_the_count_in_and_the_start_comes_right_before_the_first_beat() -> None:
    messages = due_messages(plan_of("120", passes=1), CLOCK_ONLY, -100.0, 100.0)
    clocks, (start,), (stop,) = of(messages, CLOCK), of(messages, START), of(messages, STOP)
    assert clocks[0] == -2.0, "four beats of count-in at 120"
    assert start == pytest.approx(-0.5 / 24 / 2)
    assert min(second for second in clocks if second > start) == 0.0
    assert stop == 2.0
    assert len(clocks) == (4 + 4) * 24
    assert clocks[-1] < stop


def test_the_clock_follows_a_tempo_change_at_its_beat() -> None:
    plan = plan_of("60", changes=((4, "120"),))
    clocks = of(due_messages(plan, CLOCK_ONLY, 0.0, 6.0), CLOCK)
    assert clocks[4 * 24] == 4.0
    assert clocks[5 * 24] == 4.5


def test_the_position_is_sent_low_byte_first() -> None:
    """Source: MIDI 1.0, F2 LSB MSB, unit six clocks; 8 is the third quarter. mido decodes the same."""
    assert position(Fraction(2)) == ((0xF2, 8, 0),)
    assert position(Fraction(50)) == ((0xF2, 72, 1),)
    for quarters in (Fraction(0), Fraction(2), Fraction(50), Fraction(4095)):
        (data,) = position(quarters)
        assert mido.Message.from_bytes(data).pos == quarters * 4
    assert position(Fraction(7, 8)) == ((0xF2, 3, 0),), "what lies between goes to the sixteenth before"
    assert position(Fraction(LARGEST_POSITION + 1, 4)) == ()
    assert position(Fraction(-1)) == ()


def test_a_stream_that_starts_further_on_is_placed_and_continued() -> None:
    sending = replace(CLOCK_ONLY, from_quarters=Fraction(16))
    assert opening(sending) == ((STOP,), (0xF2, 64, 0))
    messages = due_messages(plan_of("120"), sending, -1.0, 1.0)
    assert len(of(messages, CONTINUE)) == 1
    assert of(messages, START) == []


def test_the_opening_places_the_piece_at_its_begin_and_chooses_the_banjo() -> None:
    """Source: General MIDI 1, program 106 counted from 1, which is 105 on the wire."""
    assert opening(Sending(echo_channel=2)) == ((STOP,), (0xF2, 0, 0), (0xC2, 105))
    assert BANJO == 105
    assert mido.Message.from_bytes((0xC2, BANJO)).program == 105


@given(st.floats(0.01, 60.0))
def test_after_a_loss_followers_go_on_from_the_next_sixteenth_with_its_clock(song_s: float) -> None:
    plan = plan_of("97.3")
    data, again_s = seek(plan, CLOCK_ONLY, song_s)
    assert data[0] == (STOP,)
    assert data[-1] == (CONTINUE,)
    unit = data[1][1] + 128 * data[1][2]
    assert again_s == pytest.approx(unit / 4 * 60 / 97.3)
    assert song_s <= again_s < song_s + 60 / 97.3 / 4 + 1e-9
    assert of(due_messages(plan, CLOCK_ONLY, again_s, again_s + 0.01), CLOCK) == [pytest.approx(again_s)]


def test_before_the_first_beat_a_loss_starts_nothing() -> None:
    assert seek(plan_of("97.3"), CLOCK_ONLY, -1.0) == (((STOP,), (0xF2, 0, 0)), -1.0)
    assert seek(plan_of("97.3"), CLICKS_ONLY, 3.0) == ((), 3.0)


def test_clicks_are_wood_blocks_on_channel_ten_at_the_frames_of_the_clicks() -> None:
    """Source: General MIDI 1 percussion, 76 high and 77 low wood block; channel 10 is 9 on the wire."""
    plan = plan_of("97.3")
    messages = due_messages(plan, CLICKS_ONLY, -10.0, 10.0)
    on = [m for m in messages if m.data[0] == 0x99]
    onsets = click_onsets(plan, 0, plan.origin_frame + 10 * RATE)
    assert [m.due_s for m in on] == [plan.song_s(o.frame) for o in onsets][: len(on)]
    assert [m.data[1] for m in on][:6] == [76, 77, 76, 77, 76, 77]
    off = [m for m in messages if m.data[0] == 0x89]
    assert len(on) - len(off) <= 1


def test_a_silent_click_sends_none_but_the_count_in() -> None:
    plan = plan_of("60", settings=SoundSettings(click=False))
    on = [m for m in due_messages(plan, CLICKS_ONLY, -10.0, 10.0) if m.data[0] == 0x99]
    assert [m.due_s for m in on] == [-4.0, -3.0, -2.0, -1.0]


@settings(max_examples=25)
@given(
    patterns(most_bars=2),
    st.lists(st.floats(0.005, 0.9), min_size=1, max_size=12),
    st.floats(-3.0, 5.0),
    st.integers(0, 2),
)
def test_windows_put_together_are_the_whole(
    pattern: Pattern, widths: list[float], first_s: float, passes: int
) -> None:
    plan = plan_for(pattern, Timeline.steady("133"), passes=passes, settings=SoundSettings())
    pieces: list[Message] = []
    at_s = first_s
    for width in widths:
        pieces += due_messages(plan, ALL, at_s, at_s + width)
        at_s += width
    assert tuple(pieces) == due_messages(plan, ALL, first_s, at_s)


@settings(max_examples=40)
@given(patterns(most_bars=2))
def test_every_note_that_is_begun_is_ended_before_it_begins_again(pattern: Pattern) -> None:
    plan = plan_for(pattern, Timeline.steady("211"), passes=2, settings=SoundSettings(subdivide=True))
    sounding: set[tuple[int, int]] = set()
    for message in due_messages(plan, ALL, -100.0, 1000.0):
        kind, channel = message.data[0] & 0xF0, message.data[0] & 0x0F
        if kind == 0x90:
            assert (channel, message.data[1]) not in sounding
            sounding.add((channel, message.data[1]))
        elif kind == 0x80:
            sounding.remove((channel, message.data[1]))
    assert not sounding


def lights_of(plan: StreamPlan, last_s: float) -> list[tuple[int, float, float]]:
    """(note, on, off) of each light."""
    sending = Sending(clicks=False, clock=False, echo=False, lights=LIGHTS)
    on: dict[int, float] = {}
    found = []
    for message in due_messages(plan, sending, -10.0, last_s):
        if message.data[0] == 0x99:
            on[message.data[1]] = message.due_s
        else:
            found.append((message.data[1], on.pop(message.data[1]), message.due_s))
    return found


def test_each_pad_is_lit_from_the_stroke_before_until_right_after_its_own() -> None:
    pattern = pattern_of("strike 3, hammer-on 3 fret 2, brush, thumb", "skip, drop-thumb 2, brush, rest")
    plan = plan_of("60", pattern=pattern, passes=1)
    notes = {Hand.NAIL: 36, Hand.THUMB: 38, Hand.LEFT: 40}
    asked = [t for t in lay_out(pattern, Timeline.steady(60)) if t.stroke.kind.sounds]
    lights = lights_of(plan, 10.0)
    assert [note for note, _, _ in lights] == [notes[t.stroke.hand] for t in asked]
    for (_, on_s, off_s), target in zip(lights, asked, strict=True):
        assert off_s == pytest.approx(target.song_s + LIGHT_AFTER_S)
        assert 0 < target.song_s - on_s <= LONGEST_LIGHT_S
    assert all(kind is not Kind.SKIP for kind in (t.stroke.kind for t in asked))


def test_a_hand_without_a_pad_stays_dark() -> None:
    plan = plan_of("60", passes=1)
    sending = Sending(clicks=False, clock=False, lights=PadLights(thumb=38))
    assert {m.data[1] for m in due_messages(plan, sending, -10.0, 10.0)} == {38}


def test_a_tap_is_sent_on_as_notes_that_end() -> None:
    on1, on2, off1, off2 = echo((55, 59), 90, 3.0, Sending(echo_channel=1))
    assert (on1, on2) == (Message(due_s=3.0, data=(0x91, 55, 90)), Message(due_s=3.0, data=(0x91, 59, 90)))
    assert (off1.data, off2.data) == ((0x81, 55, 0), (0x81, 59, 0))
    assert off1.due_s == 3.0 + ECHO_S
    assert echo((55,), 90, 3.0, Sending(echo=False)) == ()


def test_every_message_is_one_that_mido_reads() -> None:
    """Outside check: mido decodes each by the standard, and refuses bytes out of range."""
    for message in due_messages(plan_of("133", passes=3), ALL, -10.0, 100.0):
        mido.Message.from_bytes(message.data)
