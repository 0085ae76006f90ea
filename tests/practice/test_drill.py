"""The drill from count-in to the end, with time handed in."""

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.judging.helpers import BASIC_FIGURE, SKIP_FIGURE, as_asked, pattern_of
from trainer.errors import BadSettings
from trainer.judging.take import Tap, Verdict
from trainer.judging.verdicts import judge
from trainer.music.layout import lay_out
from trainer.practice.drill import KEPT_OUTCOMES, LOOKAHEAD_S, Drill, DrillSettings, Phase


def drill_of(*bars: str, bpm: int = 120, passes: int = 2) -> Drill:
    return Drill(DrillSettings(pattern=pattern_of(*bars), bpm=Fraction(bpm), passes=passes))


def play(drill: Drill, taps: list[Tap], until_s: float, since_s: float | None = None) -> float:
    waiting = sorted(taps, key=lambda t: t.song_s)
    now_s = drill.start_s if since_s is None else since_s
    while now_s < until_s:
        now_s += 0.016
        while waiting and waiting[0].song_s <= now_s:
            drill.tap(waiting.pop(0))
        drill.advance(now_s)
    return now_s


def test_the_count_in_counts_up_to_the_first_stroke() -> None:
    drill = drill_of(BASIC_FIGURE)
    assert drill.start_s == -2.0
    counts = [drill.advance(s).count for s in (-2.0, -1.51, -1.5, -0.9, -0.1, 0.0)]
    assert counts == [1, 1, 2, 3, 4, 0]
    assert drill.advance(0.1).phase is Phase.PLAYING


def test_a_tempo_changed_before_a_count_in_as_long_as_what_is_laid_out_ahead_can_be_played() -> None:
    """Four beats at 20 a minute take 12 s, which is as far as passes are laid out; silence comes before."""
    drill = drill_of(BASIC_FIGURE, bpm=20, passes=1)
    assert drill.start_s == -LOOKAHEAD_S
    before_s = drill.start_s - 0.6
    assert drill.advance(before_s).phase is Phase.COUNT_IN
    assert drill.change_tempo(Fraction(25), before_s) == 0
    assert drill.timeline.spans[0].bpm == 25
    assert drill.advance(before_s).phase is Phase.COUNT_IN
    assert drill.end_s is not None
    assert drill.advance(drill.end_s).phase is Phase.DONE


def test_it_ends_by_itself_after_the_last_pass_and_all_is_judged() -> None:
    drill = drill_of(SKIP_FIGURE, BASIC_FIGURE, passes=2)
    taps = as_asked(drill.targets)
    end_s = drill.end_s
    assert end_s is not None
    play(drill, taps, end_s + 0.1)
    assert drill.advance(end_s + 0.2).phase is Phase.DONE
    judged = drill.judgement()
    assert replace(judged, reading=None, under=None) == judge(drill.targets, taps)
    assert all(o.verdict.is_clean for o in judged.outcomes)
    assert drill.outcomes == judged.outcomes


def test_passes_are_counted() -> None:
    drill = drill_of(BASIC_FIGURE, passes=3)
    assert [drill.advance(s).pass_index for s in (-1.0, 0.0, 0.99, 1.0, 2.5, 9.0)] == [0, 0, 0, 1, 2, 2]


def test_a_drill_without_end_lays_out_passes_as_they_come() -> None:
    drill = drill_of(BASIC_FIGURE, passes=0)
    assert drill.end_s is None
    for n in range(200):
        drill.advance(n * 0.5)
    assert drill.targets[-1].song_s > 100
    assert [t.index for t in drill.targets] == list(range(len(drill.targets)))


def test_stopping_judges_only_what_was_asked_so_far() -> None:
    drill = drill_of(BASIC_FIGURE, passes=0)
    now_s = play(drill, as_asked(drill.targets), 2.3)
    judged = drill.stop(now_s)
    assert all(o.target.song_s <= now_s for o in judged.outcomes)
    assert len(judged.outcomes) == 7
    assert Verdict.MISSED not in [o.verdict for o in judged.outcomes]
    assert drill.advance(now_s + 1).phase is Phase.DONE


def test_a_new_tempo_begins_with_a_pass_and_is_announced() -> None:
    drill = drill_of(BASIC_FIGURE, passes=0)
    now_s = play(drill, [], 1.2)
    from_beat = drill.change_tempo(Fraction(60), now_s)
    assert from_beat % 2 == 0
    assert drill.timeline.seconds(from_beat) >= now_s + 1.5
    assert drill.advance(now_s).bpm == 120
    after = [t for t in drill.targets if t.beat >= from_beat]
    assert after[0].song_s == drill.timeline.seconds(from_beat)
    assert after[0].slot_s == 0.5
    beats = [t.beat for t in drill.targets]
    assert beats == sorted(set(beats))
    played = [t for t in as_asked(drill.targets) if t.song_s > now_s]
    play(drill, played, after[4].song_s, since_s=now_s)
    late = [o for o in drill.outcomes if o.target.beat >= from_beat]
    assert late
    assert all(o.verdict.is_clean for o in late)


def test_what_is_recent_is_all_from_a_moment_on_and_no_more_late_in_a_long_drill() -> None:
    drill = drill_of(BASIC_FIGURE, passes=120)
    stray = Tap(song_s=110.02, hand=None)
    taps = [*as_asked(lay_out(drill.settings.pattern, drill.timeline, passes=120)), stray]
    now_s = play(drill, taps, 112.0)
    recent = drill.recent(now_s - 3.9)
    assert recent.targets == tuple(t for t in drill.targets if t.song_s >= now_s - 3.9)
    assert recent.taps == tuple(t for t in drill.taps if t.song_s >= now_s - 3.9)
    assert recent.outcomes == tuple(o for o in drill.outcomes if o.target.song_s >= now_s - 3.9)
    assert recent.strays == drill.strays
    assert len(recent.strays) == 1
    assert drill.recent(now_s - 1.0).strays == ()
    assert len(recent.outcomes) < len(drill.outcomes) / 20


def test_of_a_very_long_drill_the_latest_outcomes_are_kept_and_the_judge_keeps_all() -> None:
    drill = drill_of(BASIC_FIGURE, bpm=400, passes=3000)
    for n in range(1, 900):
        drill.advance(float(n))
    assert len(drill.outcomes) == KEPT_OUTCOMES
    asked = len(drill.judgement().outcomes)
    assert asked > 2 * KEPT_OUTCOMES
    assert drill.outcomes == drill.judgement().outcomes[asked - KEPT_OUTCOMES :]


def test_settings_out_of_reach_are_refused() -> None:
    pattern = pattern_of(BASIC_FIGURE)
    with pytest.raises(BadSettings, match="passes"):
        DrillSettings(pattern=pattern, bpm=Fraction(60), passes=-1)
    with pytest.raises(BadSettings, match="outside 20 to 400"):
        DrillSettings(pattern=pattern, bpm=Fraction(10))
