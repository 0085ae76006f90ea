"""Look back at what was practised: pictures, the takes behind them, and any take once more on the sheet."""

from __future__ import annotations

import datetime
from bisect import bisect_right
from fractions import Fraction

from trainer.devices.speaker import SpeakerState
from trainer.errors import TrainerError
from trainer.judging.take import Outcome, Tap
from trainer.music.timeline import count_in_beats
from trainer.practice.kept import KeptTake, judgement_of, targets_of
from trainer.records.progress import PatternPlayed
from trainer.records.rows import TakeRow
from trainer.records.store import Store
from trainer.screen.progress_view import (
    AgainView,
    DayValue,
    Picture,
    PlayedRow,
    ProgressView,
    TakeLine,
    TakesView,
)
from trainer.screen.scenes.chart_of_days import day_words
from trainer.screen.scenes.parts import bpm_words
from trainer.screen.views import Act, Action, Banner, BannerKind, DrillView, View, Window
from trainer.sound.plan import plan_for
from trainer.sound.pluck import stroke_samples, touch_samples
from trainer.window.chosen import tempo_after
from trainer.window.corner import Corner
from trainer.window.stage import FULL_VELOCITY, Stage

LISTED_TAKES = 500  # of one pattern; older ones are in the pictures and in the export
AFTER_S = 1.5  # the sheet stands still this long after the last stroke
WITHIN = 0.03  # a tempo this near is the same to a listener: Drake & Botte 1993


class LookingBack(Corner):
    """The progress of one player.

    Args:
        stage: for the sound, and for what is in the library.
        store: the records.
        player: whose; empty for takes without a name.
        today: ordinal of the date.
    """

    is_returned_to = True

    def __init__(self, stage: Stage, store: Store, player: str, today: int) -> None:
        self._stage = stage
        self._store = store
        self._player = player
        self._today = today
        self._played: tuple[PatternPlayed, ...] = ()
        self._selected = 0
        self._picture = Picture.TEMPO
        self._at_bpm: Fraction | None = None
        self._values: tuple[DayValue, ...] = ()
        self._takes: tuple[TakeRow, ...] | None = None  # while they are listed
        self._chosen_take = 0
        self._forgotten: KeptTake | None = None
        self._again: _Again | None = None
        self._asking(self._read)

    @property
    def in_time(self) -> bool:  # type: ignore[override]
        """Whether a take is being played."""
        return self._again is not None and not self._again.over

    def view(self, window: Window) -> View:
        """Return whichever of the three is up."""
        stage = self._stage
        banner = Banner(kind=BannerKind.NOTE, lines=stage.notes) if stage.notes else None
        if self._again is not None:
            return self._again.view(window, banner)
        if self._takes is not None:
            return TakesView(
                window=window,
                title=self._pattern_title,
                lines=tuple(take_line(row, self._today) for row in self._takes),
                selected=self._chosen_take,
                can_undo=self._forgotten is not None,
                banner=banner,
            )
        pattern = next(
            (
                p
                for p in (*stage.chosen.library.patterns, *stage.chosen.library.laid)
                if p.name == self._pattern_name
            ),
            None,
        )
        return ProgressView(
            window=window,
            player=self._player,
            rows=tuple(_played_row(each, self._today) for each in self._played),
            selected=self._selected,
            picture=self._picture,
            values=self._values,
            slow=float(pattern.slow_bpm) if pattern is not None else None,
            goal=float(pattern.goal_bpm) if pattern is not None else None,
            at_bpm=self._at_bpm,
            today=self._today,
            banner=banner,
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what is asked for in whichever of the three is up."""
        if self._again is not None:
            return self._act_again(action, host_ns)
        if self._takes is not None:
            return self._act_takes(action, host_ns)
        act, value = action.act, action.value
        if act is Act.SELECT and self._played:
            self._selected = min(max(value, 0), len(self._played) - 1)
            self._at_bpm = None
        elif act is Act.SHOW:
            pictures = list(Picture)
            self._picture = pictures[(pictures.index(self._picture) + value) % len(pictures)]
        elif act is Act.TEMPO and self._at_bpm is not None:
            self._at_bpm = tempo_after(value, self._at_bpm)
        elif act is Act.START:
            self._asking(self._list_takes)
            return True
        else:
            return False
        self._asking(self._read_values)
        return True

    def tick(self, host_ns: int) -> None:
        """Let the take go on."""
        if self._again is not None:
            self._again.tick(host_ns)

    def leave(self) -> None:
        """Fall silent."""
        self._end_again()

    # The pictures

    @property
    def _pattern_name(self) -> str:
        return self._played[self._selected].name if self._played else ""

    @property
    def _pattern_title(self) -> str:
        return self._played[self._selected].title if self._played else ""

    def _read(self) -> None:
        self._played = self._store.patterns_played(self._player)
        self._selected = min(self._selected, max(len(self._played) - 1, 0))
        self._read_values()

    def _read_values(self) -> None:
        name = self._pattern_name
        self._values = ()
        if not self._played:
            return
        if self._picture is Picture.TEMPO:
            tempi = self._store.fastest_clean_by_day(self._player, name)
            self._values = tuple(DayValue(each.day, float(each.bpm)) for each in tempi)
        elif self._picture is Picture.SPREAD:
            if self._at_bpm is None:
                self._at_bpm = self._usual_tempo(name)
            spreads = self._store.spread_by_day(self._player, name, self._at_bpm, within=WITHIN)
            self._values = tuple(DayValue(each.day, each.spread_s * 1000) for each in spreads)
        else:
            minutes = self._store.minutes_by_day(self._player, 0)
            self._values = tuple(DayValue(each.day, each.minutes) for each in minutes)

    def _usual_tempo(self, name: str) -> Fraction:
        """Return the tempo at which the spread is looked at first: that of most of the latest takes."""
        takes = self._store.takes(player=self._player, pattern=name, limit=50)
        tempi = [take.first_bpm for take in takes]
        return max(set(tempi), key=lambda bpm: (tempi.count(bpm), bpm)) if tempi else Fraction(60)

    # The takes

    def _list_takes(self) -> None:
        if self._played:
            self._takes = self._store.takes(
                player=self._player, pattern=self._pattern_name, limit=LISTED_TAKES
            )
            self._chosen_take = 0

    def _act_takes(self, action: Action, host_ns: int) -> bool:
        takes = self._takes
        assert takes is not None
        act = action.act
        if act is Act.SELECT:
            self._chosen_take = min(max(action.value, 0), max(len(takes) - 1, 0))
        elif act is Act.START and takes:
            self._asking(lambda: self._play_again(takes[self._chosen_take], host_ns))
        elif act is Act.REMOVE and takes:
            self._asking(lambda: self._forget(takes[self._chosen_take].id))
        elif act is Act.UNDO and self._forgotten is not None:
            self._asking(self._bring_back)
        elif act is Act.BACK:
            self._takes, self._forgotten = None, None
            self._asking(self._read)
        else:
            return False
        return True

    def _forget(self, take_id: int) -> None:
        at = self._chosen_take
        self._forgotten = self._store.forget_take(take_id)
        self._list_takes()
        self._chosen_take = min(at, max(len(self._takes or ()) - 1, 0))
        self._stage.say("This take is forgotten. U brings it back until you leave the list.")

    def _bring_back(self) -> None:
        if self._forgotten is not None:
            self._store.restore_take(self._forgotten)
            self._forgotten = None
            self._list_takes()

    # One take again

    def _play_again(self, row: TakeRow, host_ns: int) -> None:
        self._again = _Again(self._stage, self._store.take(row.id), take_line(row, self._today))
        self._again.start(host_ns)

    def _act_again(self, action: Action, host_ns: int) -> bool:
        assert self._again is not None
        if action.act is Act.AGAIN:
            self._again.start(host_ns)
        elif action.act is Act.BACK:
            self._end_again()
        else:
            return False
        return True

    def _end_again(self) -> None:
        if self._again is not None:
            self._stage.speaker.stop()
            self._again = None

    def _asking(self, deed: object) -> None:
        """Ask the records; what they cannot give is said, not raised."""
        assert callable(deed)
        try:
            deed()
        except TrainerError as problem:
            self._stage.say(str(problem))


class _Again:
    """A kept take on the sheet, with its clicks and its taps as they were."""

    def __init__(self, stage: Stage, take: KeptTake, line: TakeLine) -> None:
        self._stage = stage
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
        self._next_tap = 0
        self.over = False

    def start(self, host_ns: int) -> None:
        """Begin with the count-in."""
        stage, take = self._stage, self._take
        plan = plan_for(
            take.pattern,
            take.timeline,
            passes=take.passes,
            settings=stage.sound_settings(),
            feel=take.feel,
            rate=stage.speaker.rate,
        )
        stage.speaker.start(plan, host_ns)
        self._song_s, self._next_tap, self.over = self._start_s, 0, False

    def tick(self, host_ns: int) -> None:
        """Sound the taps that are due, and stop at the end."""
        if self.over:
            return
        speaker = self._stage.speaker
        song_s = speaker.song_s(host_ns)
        if song_s is None or speaker.state is SpeakerState.LOST or song_s >= self._end_s:
            self.over = True
            speaker.stop()
            self._song_s = self._end_s if song_s is not None else self._song_s
            return
        self._song_s = song_s
        while self._next_tap < len(self._taps) and self._taps[self._next_tap].song_s <= song_s:
            self._sound(self._next_tap)
            self._next_tap += 1

    def view(self, window: Window, banner: Banner | None) -> AgainView:
        """Return the sheet at this moment."""
        take, song_s = self._take, self._song_s
        beat = take.timeline.beat(song_s)
        return AgainView(
            window=window,
            drill=DrillView(
                window=window,
                pattern=take.pattern,
                targets=self._targets,
                timeline=take.timeline,
                outcomes=self._outcomes[: bisect_right(self._settled_at, song_s)],
                strays=tuple(tap for tap in self._strays if tap.song_s <= song_s),
                taps=self._taps[: self._next_tap],
                song_s=song_s,
                bpm=take.timeline.span_at(Fraction(beat)).bpm,
                passes=take.passes,
                count=max(0, int(beat + self._count_in) + 1) if beat < 0 else 0,
                count_in_beats=self._count_in,
                pocket=take.pocket,
                sound=self._stage.sound_words,
            ),
            line=self._line,
            over=self.over,
            banner=banner,
        )

    def _sound(self, index: int) -> None:
        tap: Tap = self._taps[index]
        outcome = self._of_tap.get(index)
        speaker, level_db = self._stage.speaker, self._stage.chosen.volume_db
        if outcome is None or not outcome.target.stroke.kind.sounds:
            samples = touch_samples(level_db, speaker.rate)
        else:
            target, plan = outcome.target, speaker.plan
            before = plan.before[target.bar][target.slot] if plan is not None else None
            tuning = self._take.pattern.tuning
            samples = stroke_samples(target.stroke, level_db, speaker.rate, tuning, before)
        speaker.sound_tap(samples, (tap.velocity or FULL_VELOCITY) / FULL_VELOCITY)


def _settled_s(outcome: Outcome) -> float:
    """Return when an outcome can be shown: with its tap, or when the stroke has gone by without one."""
    if outcome.tap is not None:
        return max(outcome.tap.song_s, outcome.target.song_s)
    return outcome.target.song_s + outcome.target.slot_s / 2


def take_line(row: TakeRow, today: int) -> TakeLine:
    """Return a take in the words of a list."""
    begun = datetime.datetime.fromisoformat(row.begun).astimezone()
    first, last = bpm_words(row.first_bpm), bpm_words(row.last_bpm)
    tempo = f"{first} bpm" if first == last else f"{first} to {last} bpm"
    return TakeLine(
        when=f"{day_words(row.day, today)}, {begun:%H:%M}",
        tempo=tempo,
        result=f"{row.clean} of {row.asked} as asked"
        if not row.not_graded
        else f"not graded: {row.not_graded}",
        spread=f"spread {row.spread_s * 1000:.0f} ms" if row.spread_s is not None else "",
        counts=not row.not_graded,
    )


def _played_row(played: PatternPlayed, today: int) -> PlayedRow:
    clean = f"clean at {bpm_words(played.fastest_clean)}" if played.fastest_clean else "not clean yet"
    takes = f"{played.takes} take{'s' if played.takes != 1 else ''}"
    when = "today" if played.last_day == today else day_words(played.last_day, today)
    return PlayedRow(title=played.title, words=f"{clean}, {takes}, {when}")
