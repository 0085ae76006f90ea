"""Turn what a microphone hears of a banjo in a drill into taps, placed against the click where it is heard.

While the loudspeaker is heard, seconds of the song come from the clicks themselves and no device's delay
is in them. With headphones they come from when the sound came in and from the delay that is kept for
microphone and output. Where sound was lost on its way in nothing is judged.
"""

from __future__ import annotations

from fractions import Fraction

from trainer.app.banjo import Banjo, Heard
from trainer.app.playback import Playback
from trainer.hearing.heard_beats import DueClick, HeardBeats
from trainer.hearing.listening import HeardStroke
from trainer.hearing.room import Room
from trainer.hearing.strings import StringEar
from trainer.hearing.taps import (
    BESIDE_CLICK_S,
    CLICK_MARGIN,
    UNKNOWN_CLICK_RISE,
    heard_tap,
    lone_click_strength,
    target_at,
)
from trainer.hearing.tone_edge import TONE_HZ
from trainer.judging.spared import Span
from trainer.judging.take import Tap
from trainer.music.strokes import Kind
from trainer.practice.drill import Drill
from trainer.practice.input_event import InputEvent
from trainer.practice.pads import PadTouch
from trainer.practice.placed_by import PlacedBy
from trainer.practice.seats import TouchSource
from trainer.practice.settings import MICROPHONE
from trainer.sound.clicks import ClickVoice, beat_click

LATENESS_S = 0.45  # of a stroke: 0.1 until it is known, and what wireless devices take
WAITED_S = 2.0  # before the count-in, for a microphone that has only been opened
AHEAD_S = 2.0
HOST_UNCERTAINTY_S = 0.002  # of when a chunk came, and of the sound's own position
BAND_HEARD = (
    "the microphone hears the band from the loudspeaker, and would take it for your banjo. "
    "Put headphones on, or turn band and track off"
)
AFTER_JUMP_S = 0.1
DISTANCE = "1 ms for every 34 cm that the loudspeaker is farther from the microphone than the banjo"


class HeardPlaying:
    """One drill as a microphone hears it; from the app's thread only.

    Args:
        room: what the set-up has learnt of room and strings.
        plays_along: whether anything but the click sounds.
        delay_ms: the delay that is kept for microphone and output.
    """

    def __init__(
        self, banjo: Banjo, playback: Playback, drill: Drill, *, room: Room, plays_along: bool, delay_ms: int
    ) -> None:
        self._banjo = banjo
        self._playback = playback
        self._drill = drill
        self._room = room
        self._plays_along = plays_along
        self._delay_ms = delay_ms
        self._ear = StringEar(drill.settings.pattern.tuning, room.taught_for(drill.settings.pattern.tuning))
        self._beats = HeardBeats(ClickVoice.TONE)
        self._next_beat = -drill.count_in_beats
        self._lone_rise = 0.0  # of a click that nobody plays beside
        self._lone_strengths: list[float] = []
        self._told_jumps = self._told_gaps = 0
        self._placed_by_click = self._placed_by_delay = 0
        banjo.listen(threshold=room.soft_threshold, touch_threshold=room.touch_threshold, deaf_hz=TONE_HZ)

    @property
    def problem(self) -> str:
        """Why the drill cannot go on like this, in words; empty while it can."""
        if self._beats.is_firm and self._plays_along:
            return BAND_HEARD
        return self._banjo.problem

    @property
    def placed_by(self) -> PlacedBy:
        """What most strokes were placed against."""
        if self._placed_by_click > self._placed_by_delay:
            return PlacedBy.CLICK
        return PlacedBy.DELAY if self._placed_by_delay else PlacedBy.TAPS

    @property
    def placed_words(self) -> str:
        """What strokes were placed against, in words; empty before any was."""
        if self.placed_by is PlacedBy.CLICK:
            sure_ms = max(0.1, 1000 * self._beats.uncertainty_s)
            return f"placed against the click as the microphone heard it, to {sure_ms:.1f} ms; {DISTANCE}"
        if self.placed_by is PlacedBy.DELAY:
            return f"the click was not heard, so strokes are placed by the delay kept: {self._delay_ms} ms"
        return ""

    def taken_in(self, heard: Heard, host_ns: int) -> tuple[InputEvent, ...]:
        """Return the touches in what came, once the clicks in it are known."""
        for piece in heard.pieces:
            self._beats.push(piece)
        recorded_s, song_s = self._banjo.heard_s(host_ns), self._playback.heard_s(host_ns)
        if recorded_s is None or song_s is None:
            return ()
        self._expect(song_s + AHEAD_S)
        self._beats.look(recorded_s - song_s)
        return tuple(event for stroke in heard.strokes if (event := self._event(stroke)) is not None)

    def fresh_spans(self) -> tuple[Span, ...]:
        """Return the seconds of the song beside lost sound that were not known before, each once."""
        spans = [(from_s, to_s + AFTER_JUMP_S) for from_s, to_s in self._beats.jumps[self._told_jumps :]]
        self._told_jumps = len(self._beats.jumps)
        for from_s, to_s in self._banjo.gaps[self._told_gaps :]:
            first_s = self._playback.heard_s(round(from_s * 1e9))
            last_s = self._playback.heard_s(round(to_s * 1e9))
            if first_s is not None and last_s is not None:
                spans.append((first_s - LATENESS_S, last_s))
        self._told_gaps = len(self._banjo.gaps)
        return tuple(spans)

    def _expect(self, until_s: float) -> None:
        """Name the clicks that are due until a second of the song."""
        meter = self._drill.settings.pattern.meter
        while (song_s := self._drill.timeline.seconds(Fraction(self._next_beat))) < until_s:
            self._beats.expect(DueClick(song_s=song_s, click=beat_click(meter, self._next_beat)))
            self._next_beat += 1

    def _event(self, stroke: HeardStroke) -> InputEvent | None:
        """Return the touch that a stroke is; None for what nobody asked for and is too soft."""
        host_ns = self._banjo.host_ns(stroke.time_s)
        song_s, off_s = self._beats.song_s(stroke.time_s), self._beats.uncertainty_s
        by_click = song_s is not None
        if song_s is None:
            heard_s = self._playback.heard_s(host_ns)
            if heard_s is None:
                return None
            song_s, off_s = heard_s - self._delay_ms / 1000, HOST_UNCERTAINTY_S
        beside = self._beside_click(song_s)
        if beside and song_s < -BESIDE_CLICK_S:
            self._lone_rise = max(self._lone_rise, stroke.rise)
            self._lone_strengths.append(stroke.touch_strength)
        click_rise = CLICK_MARGIN * (self._lone_rise or UNKNOWN_CLICK_RISE) if beside and by_click else 0.0
        tap = self._tap(stroke, song_s, click_rise, off_s)
        if tap is None:
            return None
        self._placed_by_click += by_click
        self._placed_by_delay += not by_click
        return InputEvent(
            source=TouchSource(port=MICROPHONE.strip()),
            host_ns=host_ns,
            uncertainty_s=tap.uncertainty_s,
            touch=PadTouch(hand=tap.hand, string=tap.string),
            velocity=tap.velocity,
            song_s=song_s,
        )

    def _tap(self, stroke: HeardStroke, song_s: float, click_rise: float, off_s: float) -> Tap | None:
        asked = [each for each in self._drill.targets_near(song_s) if each.stroke.kind is not Kind.REST]
        return heard_tap(
            stroke,
            song_s,
            target_at(asked, [each.song_s for each in asked], song_s),
            self._ear,
            soft_threshold=self._room.soft_threshold,
            touch_threshold=self._room.touch_threshold,
            click_rise=click_rise,
            click_strength=lone_click_strength(self._lone_strengths, self._room.touch_threshold)
            if click_rise
            else 0.0,
            placed_within_s=off_s,
        )

    def _beside_click(self, song_s: float) -> bool:
        timeline = self._drill.timeline
        beat = round(timeline.beat(song_s))
        return abs(timeline.seconds(Fraction(beat)) - song_s) <= BESIDE_CLICK_S
