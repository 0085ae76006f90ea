"""Say which MIDI messages are due when: clicks, clock, notes of the strokes' pads. Open standards only.

Seconds count from beat 0, the count-in is negative. Notes, clock and song position are those of MIDI 1.0;
wood blocks and banjo those of General MIDI 1. The clock runs at 24 a quarter from the count-in on, so that
what follows it has its tempo before the start; the start comes half a clock before beat 0, and the first
clock after it is the first beat. In 6/8 a beat is a dotted quarter and has 36.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from trainer.music.strokes import Hand, Stroke
from trainer.music.timeline import count_in_beats, slot_in_beat
from trainer.sound.clicks import Click
from trainer.sound.plan import StreamPlan
from trainer.sound.stream_onsets import click_onsets

CLOCK, START, CONTINUE, STOP, POSITION = 0xF8, 0xFA, 0xFB, 0xFC, 0xF2
NOTE_OFF, NOTE_ON, PROGRAM = 0x80, 0x90, 0xC0
CLOCKS_A_QUARTER = 24
CLOCKS_A_UNIT = 6  # of the song position: a sixteenth
LARGEST_POSITION = (1 << 14) - 1
PERCUSSION_CHANNEL = 9  # channel 10, counted from 1
HIGH_BLOCK, LOW_BLOCK = 76, 77
BANJO = 105  # program 106, counted from 1
CLICK_S = 0.050
ECHO_S = 0.400
LIGHT_AFTER_S = 0.060
LONGEST_LIGHT_S = 0.500
FULL = 127
_VELOCITIES = {
    Click.FIRST_BEAT: 120,
    Click.MIDDLE_BEAT: 104,
    Click.BEAT: 96,
    Click.SUBDIVISION: 56,
    Click.COUNT_IN: 96,
    Click.COUNT_IN_FIRST: 120,
}
_HIGH = (Click.FIRST_BEAT, Click.COUNT_IN_FIRST)


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """A MIDI message and the second from beat 0 at which it is due."""

    due_s: float
    data: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PadLights:
    """Which notes light which pads; None where a hand has none.

    Attributes:
        channel: from 0.
    """

    channel: int = 0
    nail: int | None = None
    thumb: int | None = None
    left: int | None = None

    def note(self, hand: Hand) -> int | None:
        """Return the note of a hand's pad."""
        return {Hand.NAIL: self.nail, Hand.THUMB: self.thumb, Hand.LEFT: self.left}.get(hand)


NO_LIGHTS = PadLights()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sending:
    """What is sent.

    Attributes:
        clicks, clock: whether these are.
        lights: the pads that are lit before their strokes.
        echo: whether the learner's taps are sent on as notes.
        echo_channel: from 0.
        from_quarters: where in the piece beat 0 lies, in quarters; not 0 where a track is begun further on.
    """

    clicks: bool = True
    clock: bool = True
    lights: PadLights = NO_LIGHTS
    echo: bool = True
    echo_channel: int = 0
    from_quarters: Fraction = Fraction(0)


def due_messages(plan: StreamPlan, sending: Sending, first_s: float, last_s: float) -> tuple[Message, ...]:
    """Return what is due from ``first_s`` on and before ``last_s``, in order; so windows can be put together.

    At one moment an end comes before a begin, and the clock before both.
    """
    found: list[Message] = []
    if sending.clicks:
        found += _clicks(plan, first_s, last_s)
    if sending.clock:
        found += _clock(plan, sending, first_s, last_s)
    if sending.lights != NO_LIGHTS:
        found += _lights(plan, sending.lights, first_s, last_s)
    inside = [message for message in found if first_s <= message.due_s < last_s]
    return tuple(sorted(inside, key=lambda message: (message.due_s, _rank(message))))


def opening(sending: Sending) -> tuple[tuple[int, ...], ...]:
    """Return what is sent at once before a stream begins: the position, and the sound of the echo."""
    found: list[tuple[int, ...]] = []
    if sending.clock:
        found += [(STOP,), *position(sending.from_quarters)]
    if sending.echo:
        found.append((PROGRAM | sending.echo_channel, BANJO))
    return tuple(found)


def position(quarters: Fraction) -> tuple[tuple[int, ...], ...]:
    """Return the song position message of a place; none for one that its 14 bits cannot say.

    Its unit is six clocks, a sixteenth; what lies between two goes to the one before.
    """
    unit = math.floor(quarters * CLOCKS_A_QUARTER / CLOCKS_A_UNIT)
    if not 0 <= unit <= LARGEST_POSITION:
        return ()
    return ((POSITION, unit & 0x7F, unit >> 7),)


def seek(plan: StreamPlan, sending: Sending, song_s: float) -> tuple[tuple[tuple[int, ...], ...], float]:
    """Return what to send when messages were lost for a while, and the second from which clocks go on.

    The followers are stopped, put on the next sixteenth and told to continue with the clock that lies there.
    Before beat 0 they have not been started yet.
    """
    if not sending.clock:
        return (), song_s
    quarters_a_beat = plan.pattern.meter.beat_quarters
    quarters = Fraction(plan.timeline.beat(song_s)) * quarters_a_beat
    if quarters <= 0:
        return ((STOP,), *position(sending.from_quarters)), song_s
    unit = math.ceil(quarters * CLOCKS_A_QUARTER / CLOCKS_A_UNIT)
    quarters = Fraction(unit * CLOCKS_A_UNIT, CLOCKS_A_QUARTER)
    placed = sending.from_quarters + quarters
    again_s = plan.timeline.seconds(quarters / quarters_a_beat)
    return ((STOP,), *position(placed), (_begin(placed),)), again_s


def echo(notes: Sequence[int], velocity: int, now_s: float, sending: Sending) -> tuple[Message, ...]:
    """Return a tap as notes of a banjo, from now for 0.4 s."""
    channel = sending.echo_channel
    on = [Message(due_s=now_s, data=(NOTE_ON | channel, note, velocity)) for note in notes]
    off = [Message(due_s=now_s + ECHO_S, data=(NOTE_OFF | channel, note, 0)) for note in notes]
    return (*on, *off) if sending.echo else ()


def _clicks(plan: StreamPlan, first_s: float, last_s: float) -> list[Message]:
    found = []
    first, last = plan.frame_at(first_s - CLICK_S), plan.frame_at(last_s)
    status = NOTE_ON | PERCUSSION_CHANNEL, NOTE_OFF | PERCUSSION_CHANNEL
    for onset in click_onsets(plan, math.floor(first), math.ceil(last) + 1):
        note = HIGH_BLOCK if onset.click in _HIGH else LOW_BLOCK
        at_s = plan.song_s(onset.frame)
        found.append(Message(due_s=at_s, data=(status[0], note, _VELOCITIES[onset.click])))
        found.append(Message(due_s=at_s + CLICK_S, data=(status[1], note, 0)))
    return found


def _clock(plan: StreamPlan, sending: Sending, first_s: float, last_s: float) -> list[Message]:
    a_beat = int(CLOCKS_A_QUARTER * plan.pattern.meter.beat_quarters)
    begin = -count_in_beats(plan.pattern.meter) * a_beat
    end = None if plan.end_beat is None else int(plan.end_beat * a_beat)
    first = max(begin, math.floor(plan.timeline.beat(first_s) * a_beat) - 1)
    last = math.ceil(plan.timeline.beat(last_s) * a_beat) + 1
    last = last if end is None else min(last, end)

    def second(clock: Fraction | int) -> float:
        return plan.timeline.seconds(Fraction(clock) / a_beat)

    found = [Message(due_s=second(clock), data=(CLOCK,)) for clock in range(first, last)]
    found.append(Message(due_s=second(Fraction(-1, 2)), data=(_begin(sending.from_quarters),)))
    if end is not None:
        found.append(Message(due_s=second(end), data=(STOP,)))
    return found


def _lights(plan: StreamPlan, lights: PadLights, first_s: float, last_s: float) -> list[Message]:
    """Light each stroke's pad from half a second before it, or the stroke before it, until a little after."""
    found = []
    status = NOTE_ON | lights.channel, NOTE_OFF | lights.channel
    lit_until: dict[int, float] = {}
    before_s = -math.inf
    # What was lit before a stroke can matter as far back as its own light reaches.
    for at_s, stroke in _strokes(plan, first_s - 2 * LONGEST_LIGHT_S, last_s + 2 * LONGEST_LIGHT_S):
        note = lights.note(stroke.hand)
        if note is None:
            continue
        on_s = max(at_s - LONGEST_LIGHT_S, before_s + LIGHT_AFTER_S, lit_until.get(note, -math.inf))
        off_s = at_s + LIGHT_AFTER_S
        if on_s < at_s:
            found.append(Message(due_s=on_s, data=(status[0], note, FULL)))
            found.append(Message(due_s=off_s, data=(status[1], note, 0)))
            lit_until[note] = off_s
        before_s = at_s
    return found


def _strokes(plan: StreamPlan, first_s: float, last_s: float) -> list[tuple[float, Stroke]]:
    """Return the strokes that sound about this time with their seconds, feel included, in order."""
    pattern, slots = plan.pattern, plan.pattern.slots_per_beat
    first = max(0, math.floor(plan.timeline.beat(first_s)) - 1)
    last = math.ceil(plan.timeline.beat(last_s)) + 1
    last = last if plan.end_beat is None else min(last, int(plan.end_beat))
    found = []
    for beat in range(first, last):
        bar, beat_in_bar = divmod(beat % pattern.beats, pattern.meter.beats)
        for slot in range(slots):
            stroke = pattern.bars[bar][beat_in_bar * slots + slot]
            if stroke.kind.sounds:
                at_s = plan.timeline.seconds(beat + slot_in_beat(slots, slot, plan.feel.swing))
                found.append((at_s + plan.feel.layback(stroke.kind), stroke))
    return sorted(found, key=lambda each: each[0])


def _begin(quarters: Fraction) -> int:
    return CONTINUE if quarters else START


def _rank(message: Message) -> int:
    if len(message.data) == 1:
        return 0
    return 1 if message.data[0] & 0xF0 == NOTE_OFF else 2
