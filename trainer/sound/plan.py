"""Say what sounds when: a plan is a value, and its onsets are a pure function of it.

Frames of the stream count from its start; the stream frame of a beat is its frame in the timeline plus
``origin_frame``. So every click stands where exact arithmetic puts it, whenever it is asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.music.keys import pitch_class
from trainer.music.layout import NO_FEEL, Feel
from trainer.music.pattern import Pattern
from trainer.music.strokes import Hand, Stroke
from trainer.music.timeline import Timeline, count_in_beats
from trainer.music.tuning import Tuning
from trainer.sound.backing import Backing
from trainer.sound.band import BandPart, BandScore, band_score
from trainer.sound.clicks import ClickVoice
from trainer.sound.gain import LEAST_DB
from trainer.sound.left_hand import notes_before
from trainer.sound.thinning import EVERY_BEAT, Thinning
from trainer.sound.volumes import FIRST_BAND_VOLUME, FIRST_VOLUME, band_volume_db, volume_db

RATE = 48_000
LEAD_S = 0.6  # silence before the count-in, in which the clock line finds its way
LOUDEST_SETTING_DB = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundSettings:
    """What is heard and how loud, in dB below full scale.

    Attributes:
        click: whether the metronome sounds; the count-in always does.
        click_voice: what the clicks are made of.
        click_db, stroke_db, band_db, backing_db: volumes, -60 to 0; a click is never louder than -3.
        subdivide: clicks between the beats too, where they help (clicks.clicks_per_beat).
        thinning: which clicks are left out.
        count_in: whether the count-in clicks; only a track that is just listened to has none.
        strokes: the whole figure is played (a demonstration).
        left_hand: strokes of the left hand are played, for an input that cannot hear them.
        pickup: what leads into the first pass is played, in the count-in, where nobody is asked for it.
        band: a band plays, where the pattern has a chart; ``band_parts`` says who of it.
        backing: the backing track is heard, where the plan has one.
        click_pan, stroke_pan, band_pan: where each is heard, from -1, left, to 1, right; wherever that
            is, both channels together are the same.
    """

    click: bool = True
    click_voice: ClickVoice = ClickVoice.WOOD
    click_db: float = volume_db(FIRST_VOLUME)
    stroke_db: float = volume_db(FIRST_VOLUME)
    subdivide: bool = False
    thinning: Thinning = EVERY_BEAT
    count_in: bool = True
    strokes: bool = False
    left_hand: bool = True
    pickup: bool = False
    band: bool = False
    band_parts: frozenset[BandPart] = frozenset(BandPart)
    band_db: float = band_volume_db(FIRST_BAND_VOLUME)
    backing: bool = True
    backing_db: float = -9.0
    click_pan: float = 0.0
    stroke_pan: float = -0.2
    band_pan: float = 0.2

    def __post_init__(self) -> None:
        """Refuse a volume or a pan that is none."""
        volumes = (
            ("click", self.click_db),
            ("stroke", self.stroke_db),
            ("band", self.band_db),
            ("track", self.backing_db),
        )
        for name, gain_db in volumes:
            if not LEAST_DB <= gain_db <= LOUDEST_SETTING_DB:
                raise BadSettings(
                    f"a {name} volume of {gain_db:g} dB is outside {LEAST_DB:g} to {LOUDEST_SETTING_DB:g}",
                    "choose one inside",
                )
        for pan in (self.click_pan, self.stroke_pan, self.band_pan):
            if not -1.0 <= pan <= 1.0:
                raise BadSettings(f"a pan of {pan:g} is outside -1, left, to 1, right", "choose one inside")

    @property
    def clicks_between(self) -> bool:
        """Whether anything may click between the beats."""
        return self.click and (self.subdivide or self.thinning.is_between)

    def sounds(self, stroke: Stroke, *, in_count_in: bool = False) -> bool:
        """Return whether the program plays this stroke itself."""
        by_itself = self.strokes or (self.pickup and in_count_in)
        return stroke.kind.sounds and (by_itself or (self.left_hand and stroke.hand is Hand.LEFT))

    def may_pluck(self, pattern: Pattern) -> bool:
        """Return whether the program plays any stroke of a pattern itself."""
        return (
            self.strokes or (self.left_hand and pattern.has_left_hand) or (self.pickup and pattern.pickup > 0)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingsSpan:
    """Settings that hold for everything that begins at ``from_frame`` or later."""

    from_frame: int
    settings: SoundSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class StreamPlan:
    """One stream from its first frame to its end.

    Attributes:
        pattern, timeline, feel: what is played and when.
        passes: how often the pattern is played; 0 goes on without end.
        origin_frame: the stream frame of beat 0.
        spans: what is heard, ascending by frame; the first reaches back to the start.
        rate: frames a second.
        tuning: pitches of the strings.
        before: the note from which each left-hand stroke comes, by bar and slot (left_hand.notes_before).
        band: what the band plays in each beat of a pass; empty without a chart.
        backing: the player's own track; None without one.
    """

    pattern: Pattern
    timeline: Timeline
    passes: int
    origin_frame: int
    spans: tuple[SettingsSpan, ...]
    feel: Feel
    rate: int
    tuning: Tuning
    before: tuple[tuple[int | None, ...], ...]
    band: BandScore = ()
    backing: Backing | None = None

    @property
    def settings(self) -> SoundSettings:
        """The settings that hold in the end."""
        return self.spans[-1].settings

    @property
    def end_beat(self) -> Fraction | None:
        """The beat after which nothing begins to sound; None without end."""
        return Fraction(self.passes * self.pattern.beats) if self.passes else None

    @property
    def backing_end_frame(self) -> int | None:
        """The stream frame at which the backing track begins to leave; None while it plays to its own end."""
        if self.backing is not None and self.backing.bpm != self.timeline.spans[0].bpm:
            return 0  # another tempo from the first beat on: no note of it would fit
        ends = [self.frame_of(span.start_beat) for span in self.timeline.spans[1:2]]
        if self.end_beat is not None:
            ends.append(self.frame_of(self.end_beat))
        return min(ends) if ends else None

    def settings_at(self, frame: int) -> SoundSettings:
        """Return the settings for a sound that begins at a stream frame."""
        found = self.spans[0].settings
        for span in self.spans[1:]:
            if span.from_frame > frame:
                break
            found = span.settings
        return found

    def with_settings(self, settings: SoundSettings, *, from_frame: int) -> StreamPlan:
        """Return this plan with other settings from a frame on; what rings there rings on as it was."""
        kept = tuple(span for span in self.spans if span.from_frame < from_frame)
        return replace(self, spans=(*kept, SettingsSpan(from_frame=from_frame, settings=settings)))

    def forgetting(self, frame: int) -> StreamPlan:
        """Return this plan without the settings that were over before a frame."""
        over = sum(span.from_frame <= frame for span in self.spans[1:])
        return replace(self, spans=self.spans[over:])

    def with_timeline(self, timeline: Timeline) -> StreamPlan:
        """Return this plan with another timeline, such as one with a tempo change ahead."""
        return replace(self, timeline=timeline)

    def frame_of(self, beat: Fraction) -> int:
        """Return the stream frame of a beat."""
        return self.origin_frame + self.timeline.frame(beat, self.rate)

    def song_s(self, frame: float) -> float:
        """Return the second from beat 0 at a stream frame."""
        return (frame - self.origin_frame) / self.rate

    def frame_at(self, song_s: float) -> float:
        """Return the stream frame at a second from beat 0."""
        return song_s * self.rate + self.origin_frame


def plan_for(
    pattern: Pattern,
    timeline: Timeline,
    *,
    passes: int,
    settings: SoundSettings,
    feel: Feel = NO_FEEL,
    rate: int = RATE,
    lead_s: float = LEAD_S,
    backing: Backing | None = None,
) -> StreamPlan:
    """Return a plan with ``lead_s`` seconds of silence and the count-in before beat 0.

    Raises:
        BadSettings: a backing track of another tempo than the timeline's.
        ValueError: a backing track of another rate.
    """
    if backing is not None:
        backing.check(bpm=timeline.spans[0].bpm, rate=rate)
    tuning, chart = pattern.tuning, pattern.chart
    count_in = -timeline.frame(Fraction(-count_in_beats(pattern.meter)), rate)
    return StreamPlan(
        pattern=pattern,
        timeline=timeline,
        passes=passes,
        origin_frame=round(lead_s * rate) + count_in,
        spans=(SettingsSpan(from_frame=0, settings=settings),),
        feel=feel,
        rate=rate,
        tuning=tuning,
        before=notes_before(pattern, tuning),
        band=band_score(chart, pitch_class(chart.key), pattern.meter, pattern.slots_per_beat)
        if chart is not None
        else (),
        backing=backing,
    )
