"""Play a kept take once more: the sheet as it was, its clicks, and its taps as they fell."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.app.tap_sound import sound
from trainer.judging.take import Outcome, Tap
from trainer.music.pattern import Pattern
from trainer.music.timeline import count_in_beats
from trainer.practice.stored_take import StoredTake, judgement_of, targets_of
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.drill import DrillView
from trainer.screen.scenes.replay import ReplayView
from trainer.screen.scenes.takes import TakeLine
from trainer.screen.window import Window
from trainer.sound.pluck import stroke_samples, touch_samples

AFTER_S = 1.5  # the sheet stands still this long after the last stroke


class ReplayController(Controller):
    """A kept take on the sheet, with its clicks and its taps as they were."""

    def __init__(self, context: Context, take: StoredTake, line: TakeLine, host_ns: int) -> None:
        self._context = context
        self._take = take
        self._line = line
        self._targets = targets_of(take)
        judgement = judgement_of(take)
        self._outcomes = tuple(sorted(judgement.outcomes, key=_settled_s))
        self._settled_at = [_settled_s(outcome) for outcome in self._outcomes]
        self._taps = judgement.taps
        self._strays = tuple(judgement.taps[at] for at in judgement.strays)
        self._of_tap = {o.tap_index: o for o in judgement.outcomes if o.tap_index is not None}
        self._count_in = count_in_beats(take.pattern.meter)
        self._start_s = take.timeline.seconds(Fraction(-self._count_in))
        end = self._targets[-1].song_s + self._targets[-1].slot_s if self._targets else 0.0
        self._end_s = end + AFTER_S
        self._song_s = self._start_s
        self._shown_taps = 0
        self._is_over = False
        self._begin(host_ns)

    @property
    def in_time(self) -> bool:
        """Whether the take is being played."""
        return not self._is_over

    @property
    def pattern(self) -> Pattern:
        """What was played."""
        return self._take.pattern

    def act(self, action: Action, host_ns: int) -> bool:
        """Play it once more."""
        if action.act is not Act.AGAIN:
            return False
        self._begin(host_ns)
        return True

    def tick(self) -> None:
        """Sound the taps that are due, and stop at the end."""
        playback = self._context.playback
        if self._is_over:
            return
        self._song_s = min(playback.song_s, self._end_s)
        for tap in playback.due():
            self._sound(tap)
            self._shown_taps += 1
        if playback.is_lost or self._song_s >= self._end_s:
            if playback.is_lost:
                self._context.say(playback.sentence("Space begins anew"))
            self._is_over = True
            playback.stop()

    def leave(self) -> None:
        """Fall silent; the sheet stays as it stands."""
        self._is_over = True
        self._context.playback.stop()

    def view(self, window: Window) -> ReplayView:
        """Return the sheet at this moment."""
        take, song_s = self._take, self._song_s
        beat = take.timeline.beat(song_s)
        return ReplayView(
            window=window,
            drill=DrillView(
                window=window,
                pattern=take.pattern,
                targets=self._targets,
                timeline=take.timeline,
                outcomes=self._outcomes[: bisect_right(self._settled_at, song_s)],
                strays=tuple(tap for tap in self._strays if tap.song_s <= song_s),
                taps=self._taps[: self._shown_taps],
                song_s=song_s,
                bpm=take.timeline.span_at(Fraction(beat)).bpm,
                passes=take.passes,
                count=max(0, int(beat + self._count_in) + 1) if beat < 0 else 0,
                count_in_beats=self._count_in,
                pocket=take.pocket,
                sound=self._context.sound_words,
            ),
            line=self._line,
            placed=take.placed_words,
            over=self._is_over,
        )

    def _begin(self, host_ns: int) -> None:
        """Begin with the count-in."""
        context, take = self._context, self._take
        self._song_s, self._shown_taps, self._is_over = self._start_s, 0, False
        context.playback.start(
            host_ns,
            take.pattern,
            take.timeline,
            passes=take.passes,
            settings=context.sound_settings(),
            feel=take.feel,
            due=self._taps,
        )

    def _sound(self, tap: Tap) -> None:
        outcome = self._of_tap.get(self._shown_taps)
        speaker, gain_db = self._context.playback.speaker, self._context.preferences.volume_db
        if outcome is None or not outcome.target.stroke.kind.sounds:
            samples = touch_samples(gain_db, speaker.rate)
        else:
            target, plan = outcome.target, speaker.plan
            before = plan.before[target.bar][target.slot] if plan is not None else None
            tuning = self._take.pattern.tuning
            samples = stroke_samples(target.stroke, gain_db, speaker.rate, tuning, before)
        sound(tap, samples, speaker)


def _settled_s(outcome: Outcome) -> float:
    """Return when an outcome can be shown: with its tap, or when the stroke has gone by without one."""
    if outcome.tap is not None:
        return max(outcome.tap.song_s, outcome.target.song_s)
    return outcome.target.song_s + outcome.target.slot_s / 2
