"""Run a drill: count-in, passes, taps, verdicts, end. Pure: the caller says what time it is.

Song seconds count from the first beat; the count-in is negative. The drill lays out passes as they come
into view, so it can run without end and change tempo at the start of a pass.
"""

from __future__ import annotations

import enum
from bisect import bisect_left
from dataclasses import dataclass, replace
from fractions import Fraction

from trainer.errors import BadSettings
from trainer.judging.live import LATENESS_S, LiveJudge, LiveView
from trainer.judging.pocket import Pocket
from trainer.judging.reading import reading_of
from trainer.judging.reading_grid import Asked
from trainer.judging.spared import Span
from trainer.judging.take import Judgement, Outcome, Tap
from trainer.music.layout import MOST_PASSES, NO_FEEL, Feel, Target, lay_out
from trainer.music.pattern import Pattern
from trainer.music.strokes import Kind
from trainer.music.timeline import Timeline, as_tempo, count_in_beats

LOOKAHEAD_S = 12.0  # more than the widest sheet shows
CHANGE_NOTICE_S = 1.5  # a new tempo is heard coming for at least this long
NEAR = 3  # slots to each side that a tap may belong to
LAID_BACK = 4  # strokes that may stand on the other side of where one pass goes over into the next
MOST_SHOWN = 300  # taps on the sheet at once; twenty a second for twelve seconds are 240
KEPT_OUTCOMES = 4096  # what the sheet may still draw; the judge keeps all


class Phase(enum.Enum):
    """Where the drill stands."""

    COUNT_IN = "count-in"
    PLAYING = "playing"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillSettings:
    """What is drilled and how.

    Attributes:
        pattern: the figure.
        bpm: beats a minute, 20 to 400.
        passes: how often the pattern is played; 0 goes on until stopped.
        feel: how the targets are moved on purpose.
        pocket: how far off still counts as in time.
        knows_left: whether the input can hear the left hand.
        marks_skips: whether each skip is to be marked on a side pad (``Hand.NONE``): an exercise in which the
            fall of the hand is heard, and judged for its placement.
        lateness_s: how long after its moment a tap may come in and still be judged.
        others: figures that may be played instead, so that the reading can name them.
    """

    pattern: Pattern
    bpm: Fraction
    passes: int = 4
    feel: Feel = NO_FEEL
    pocket: Pocket = Pocket.MIDDLE
    knows_left: bool = False
    marks_skips: bool = False
    lateness_s: float = LATENESS_S
    others: tuple[Pattern, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what no drill can run."""
        as_tempo(self.bpm)
        if not 0 <= self.passes <= MOST_PASSES:
            raise BadSettings(
                f"found {self.passes} passes", f"choose 1 to {MOST_PASSES}, or 0 to go on until stopped"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillMoment:
    """The drill as it is at one moment, for the screen.

    Attributes:
        phase: count-in, playing or done.
        beat: beats since the first stroke, negative in the count-in.
        bpm: the tempo now.
        pass_index: the pass being played, from 0.
        count: which beat of the count-in this is, from 1; 0 when it is over.
        view: what the judge settled with this call and what it thinks likely.
    """

    phase: Phase
    beat: float
    bpm: Fraction
    pass_index: int
    count: int
    view: LiveView


@dataclass(frozen=True, slots=True, kw_only=True)
class Recent:
    """What the sheet may show: all from a moment on, each in order of time.

    Attributes:
        targets: those laid out, rests included; the sheet's ``index`` counts on from the drill's begin.
        taps: those heard.
        outcomes: those settled.
        strays: those of the taps that no stroke asked for.
    """

    targets: tuple[Target, ...]
    taps: tuple[Tap, ...]
    outcomes: tuple[Outcome, ...]
    strays: tuple[Tap, ...]


class Drill:
    """One run of a player over a pattern; used from the app's own thread only."""

    def __init__(self, settings: DrillSettings) -> None:
        self.settings = settings
        self.timeline = Timeline.steady(settings.bpm)
        self.count_in_beats = count_in_beats(settings.pattern.meter)
        self._judge = LiveJudge(
            pocket=settings.pocket,
            knows_left=settings.knows_left,
            marks_skips=settings.marks_skips,
            lateness_s=settings.lateness_s,
        )
        self._targets: list[Target] = []
        self._passes_laid = 0
        self._outcomes: list[Outcome] = []
        self._strays: list[int] = []
        self._stop_pass: int | None = settings.passes or None
        self._done = False
        self._judgement: Judgement | None = None
        self._lay_until(self.start_s + LOOKAHEAD_S)

    @property
    def start_s(self) -> float:
        """Second of the first click of the count-in, negative."""
        return self.timeline.seconds(Fraction(-self.count_in_beats))

    @property
    def targets(self) -> tuple[Target, ...]:
        """All targets laid out so far, rests included."""
        return tuple(self._targets)

    def targets_near(self, song_s: float) -> tuple[Target, ...]:
        """Return the targets within some slots of a moment, rests included."""
        at = bisect_left(self._targets, song_s, key=lambda t: t.song_s)
        return tuple(self._targets[max(0, at - NEAR) : at + NEAR])

    def recent(self, since_s: float) -> Recent:
        """Return what there is from a moment on; as quick late in a long drill as at its begin.

        Of a flood of taps, as a broken pad sends it, only the latest: what is drawn is left out, not what is
        judged and kept.
        """
        first_target = bisect_left(self._targets, since_s, key=lambda t: t.song_s)
        first_outcome = bisect_left(self._outcomes, since_s, key=lambda o: o.target.song_s)
        strays: list[Tap] = []
        for at in reversed(self._strays):
            if self._judge.tap(at).song_s < since_s or len(strays) == MOST_SHOWN:
                break
            strays.append(self._judge.tap(at))
        return Recent(
            targets=tuple(self._targets[first_target:]),
            taps=self._judge.taps_since(since_s, most=MOST_SHOWN),
            outcomes=tuple(self._outcomes[first_outcome:]),
            strays=tuple(reversed(strays)),
        )

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """The latest settled outcomes, in order of time."""
        return tuple(self._outcomes[-KEPT_OUTCOMES:])

    def pass_outcomes(self, pass_index: int) -> tuple[Outcome, ...]:
        """Return the outcomes of a pass once all of them are settled; none before."""
        asked = sum(1 for stroke in self.settings.pattern.strokes if stroke.kind is not Kind.REST)
        # Settled in order of time, so a pass stands together but for a stroke or two that are laid back.
        first = bisect_left(self._outcomes, pass_index, key=lambda o: o.target.pass_index)
        near = self._outcomes[max(0, first - LAID_BACK) : first + asked + LAID_BACK]
        found = tuple(o for o in near if o.target.pass_index == pass_index)
        return found if len(found) == asked else ()

    @property
    def strays(self) -> tuple[Tap, ...]:
        """The settled strays."""
        taps = self._judge.taps
        return tuple(taps[at] for at in self._strays)

    @property
    def taps(self) -> tuple[Tap, ...]:
        """All taps so far, in order of time."""
        return self._judge.taps

    def taps_since(self, song_s: float) -> tuple[Tap, ...]:
        """Return the taps from a moment on, in order of time; of a flood the latest."""
        return self._judge.taps_since(song_s, most=MOST_SHOWN)

    @property
    def end_beat(self) -> Fraction | None:
        """The beat at which the last pass ends; None while it goes on until stopped."""
        if self._stop_pass is None:
            return None
        return Fraction(self._stop_pass * self.settings.pattern.beats)

    @property
    def end_s(self) -> float | None:
        """The second at which nothing more can be judged."""
        if self.end_beat is None:
            return None
        slot_s = self._targets[-1].slot_s
        return self.timeline.seconds(self.end_beat) + min(slot_s, 0.5) + 2 * self.settings.lateness_s

    @property
    def spans(self) -> tuple[Span, ...]:
        """Where nothing is judged, because the sound stalled there."""
        return self._judge.spans

    def spare(self, first_s: float, last_s: float) -> None:
        """Judge nothing between two seconds, but what was said already."""
        if not self._done:
            self._judge.spare(first_s, last_s)

    def tap(self, tap: Tap) -> None:
        """Take in one tap; after the end nothing is taken in any more."""
        if not self._done:
            self._judge.add_tap(tap)

    def advance(self, song_s: float) -> DrillMoment:
        """Move on to a moment, in seconds from beat 0."""
        self._lay_until(song_s + LOOKAHEAD_S)
        if not self._done and self.end_s is not None and song_s >= self.end_s:
            view = self._judge.finish()
            self._done = True
        else:
            view = LiveView(settled=(), provisional=(), strays=()) if self._done else self._judge.view(song_s)
        self._outcomes.extend(view.settled)
        if len(self._outcomes) > 2 * KEPT_OUTCOMES:
            # Not with every one, for that would take longer the more there are.
            del self._outcomes[:-KEPT_OUTCOMES]
        self._strays.extend(view.strays)
        return self._moment(song_s, view)

    def stop(self, song_s: float) -> Judgement:
        """End now: judge what was asked up to this moment and return the whole take."""
        if not self._done:
            self._judge.retract(self._first_unheard(song_s))
            view = self._judge.finish()
            self._outcomes.extend(view.settled)
            self._strays.extend(view.strays)
            self._done = True
        return self.judgement()

    def judgement(self) -> Judgement:
        """Return all that is settled so far as a whole take, with its reading when the drill is over.

        What is kept and climbed by is the judgement by the click; what is shown is ``told`` of it. Reading a
        take costs some tens of milliseconds, once.
        """
        if not self._done:
            return self._judge.judgement()
        if self._judgement is None:
            found = self._judge.judgement()
            under = self._read(found)
            self._judgement = found if under is None else replace(found, reading=under.reading, under=under)
        return self._judgement

    def _read(self, judgement: Judgement) -> Judgement | None:
        """Return the take judged under its reading; None when nothing was asked."""
        asked = {outcome.target.index for outcome in judgement.outcomes}
        targets = [target for target in self._targets if target.index in asked]
        if not targets:
            return None
        settings = self.settings
        asked_of = Asked(
            pattern=settings.pattern,
            timeline=self.timeline,
            passes=max(asked) // len(settings.pattern.strokes) + 1,
            feel=settings.feel,
            knows_left=settings.knows_left,
            marks_skips=settings.marks_skips,
            until_s=max(target.song_s for target in targets),
            spans=self.spans,
        )
        return reading_of(asked_of, targets, judgement.taps, others=settings.others, pocket=settings.pocket)

    def change_tempo(self, bpm: Fraction, song_s: float) -> Fraction:
        """Let a new tempo begin with the first pass that is far enough ahead.

        Returns:
            The beat from which the new tempo holds.

        Raises:
            BadSettings: a tempo outside what can be used.
        """
        beats = self.settings.pattern.beats
        pass_index = max(0, int(self.timeline.beat(song_s + CHANGE_NOTICE_S) // beats) + 1)
        from_beat = Fraction(pass_index * beats)
        timeline = self.timeline.with_tempo(bpm, from_beat=from_beat)
        self._judge.retract(from_beat)
        self.timeline = timeline
        self._targets = [t for t in self._targets if t.beat < from_beat]
        self._passes_laid = min(self._passes_laid, pass_index)
        self._lay_until(song_s + LOOKAHEAD_S)
        return from_beat

    def _first_unheard(self, song_s: float) -> Fraction:
        """Return the beat of the first target that a stop at this moment leaves out."""
        ahead = [t.beat for t in self._targets if t.song_s > song_s]
        return ahead[0] if ahead else Fraction(self._passes_laid * self.settings.pattern.beats)

    def _lay_until(self, song_s: float) -> None:
        pattern = self.settings.pattern
        while self._stop_pass is None or self._passes_laid < self._stop_pass:
            start_s = self.timeline.seconds(Fraction(self._passes_laid * pattern.beats))
            # The first pass at once: at 20 bpm a count-in of four beats is as long as what is laid out ahead.
            if start_s > song_s and self._passes_laid:
                return
            laid = lay_out(
                pattern,
                self.timeline,
                passes=1,
                first_pass=self._passes_laid,
                feel=self.settings.feel,
            )
            self._targets.extend(laid)
            self._judge.expect(laid)
            self._passes_laid += 1

    def _moment(self, song_s: float, view: LiveView) -> DrillMoment:
        beat = self.timeline.beat(song_s)
        pattern = self.settings.pattern
        pass_index = max(0, int(beat // pattern.beats))
        if self._stop_pass is not None:
            pass_index = min(pass_index, self._stop_pass - 1)
        phase = Phase.COUNT_IN if beat < 0 else Phase.PLAYING
        count = int(beat + self.count_in_beats) + 1 if -self.count_in_beats <= beat < 0 else 0
        return DrillMoment(
            phase=Phase.DONE if self._done else phase,
            beat=beat,
            bpm=self.timeline.span_at(Fraction(beat)).bpm,
            pass_index=pass_index,
            count=count,
            view=view,
        )
