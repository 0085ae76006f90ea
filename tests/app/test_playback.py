"""What is played keeps its time, says what became of the sound, and never plays to a device that is gone."""

import pytest

from tests.app.bench import MS, Bench, keys_for
from tests.judging.helpers import SKIP_FIGURE, pattern_of, tap
from trainer.app.playback import INTERRUPTED, LOST, Playback
from trainer.devices.speaker import SilentSpeaker, SpeakerLike, SpeakerState
from trainer.errors import NoSound
from trainer.music.timeline import Timeline
from trainer.practice.settings import Settings
from trainer.screen.actions import Act
from trainer.sound.plan import SoundSettings, StreamPlan

PATTERN = pattern_of(SKIP_FIGURE)


class Card(SilentSpeaker):
    """A device that can be taken away, can stall, and can refuse to start."""

    def __init__(self, name: str = "sound on") -> None:
        super().__init__()
        self.name = name
        self.is_gone = self.refuses = self.closed = False
        self.started = 0
        self.sounds: list[float] = []

    @property
    def state(self) -> SpeakerState:
        return SpeakerState.LOST if self.is_gone else super().state

    def start(self, plan: StreamPlan, host_ns: int) -> None:
        if self.refuses:
            raise NoSound("the sound device failed", "start the program again")
        self.started += 1
        super().start(plan, host_ns)

    def close(self) -> None:
        self.closed = True

    def set_sound(self, settings: SoundSettings) -> None:
        self.sounds.append(settings.click_db)


class Player:
    """A playback over cards, one after the other."""

    def __init__(self, *cards: SpeakerLike) -> None:
        self.cards = list(cards)
        self.told: list[SpeakerLike] = []
        self.ns = 0
        first = self.cards.pop(0)
        self.playback = Playback(first, reopen=lambda: self.cards.pop(0), reopened=self.told.append)

    def start(self, **more: object) -> None:
        self.playback.start(
            self.ns,
            PATTERN,
            Timeline.steady(60),
            passes=0,
            settings=SoundSettings(),
            **more,  # type: ignore[arg-type]
        )

    def go(self, seconds: float) -> None:
        for _ in range(round(seconds / 0.01)):
            self.ns += 10 * MS
            self.playback.tick(self.ns)


def test_taps_are_handed_out_once_when_their_time_has_come() -> None:
    player = Player(Card())
    player.start(due=(tap(0.0), tap(0.5)))
    player.go(2.0)  # of the lead and the count-in
    assert list(player.playback.due()) == []
    player.go(0.7 + 2.0 - 2.0)
    player.playback.add_due((tap(0.25),))
    player.go(0.6 - player.playback.song_s)
    assert [each.song_s for each in player.playback.due()] == [0.0, 0.25, 0.5]
    assert list(player.playback.due()) == []


def test_stopped_it_keeps_no_time_and_changes_nothing_of_what_is_not_there() -> None:
    card = Card()
    player = Player(card)
    player.start()
    player.go(3.0)
    ended_s = player.playback.song_s
    assert player.playback.heard_s(player.ns) == pytest.approx(ended_s)
    player.playback.set_sound(SoundSettings(click_db=-20.0))
    assert card.sounds == [-20.0]
    player.playback.stop()
    assert not player.playback.is_playing
    assert player.playback.heard_s(player.ns) is None
    player.playback.set_sound(SoundSettings(click_db=-30.0))
    player.playback.set_timeline(Timeline.steady(90))
    player.go(1.0)
    assert (player.playback.song_s, player.playback.is_lost, card.sounds) == (ended_s, False, [-20.0])


def test_a_stall_is_known_by_where_it_was_and_one_that_was_none_goes() -> None:
    card = Card()
    player = Player(card)
    player.start()
    player.go(3.0)
    card.xruns, card.stalls = 1, ((2.0, 2.2),)
    player.go(0.01)
    assert (player.playback.stalls, player.playback.problem) == (((2.0, 2.2),), INTERRUPTED)
    card.xruns, card.stalls = 0, ()
    player.go(0.01)
    assert (player.playback.stalls, player.playback.problem) == ((), "")


def test_what_became_of_the_sound_is_known_after_the_end_and_forgotten_at_the_next_start() -> None:
    card = Card()
    player = Player(card)
    player.start()
    player.go(3.0)
    card.xruns = 1
    player.go(0.01)
    player.playback.stop()
    assert player.playback.sentence("try again") == "The sound was interrupted; try again."
    card.xruns = 0
    player.start()
    assert player.playback.sentence("try again") == ""


def test_a_lost_device_is_looked_for_anew_at_the_next_start() -> None:
    first, second = Card(), Card("another")
    player = Player(first, second)
    player.start()
    player.go(1.0)
    first.is_gone = True
    player.go(0.1)
    assert player.playback.problem == LOST
    player.playback.stop()
    player.start()
    assert (first.closed, second.started) == (True, 1)
    assert player.told == [second]
    assert player.playback.speaker is second
    assert player.playback.problem == ""


def test_a_device_taken_away_while_nothing_plays_is_looked_for_too() -> None:
    first, second = Card(), Card("another")
    player = Player(first, second)
    first.is_gone = True
    player.start()
    assert (first.started, second.started) == (0, 1)


def test_without_any_device_the_clock_goes_on_and_each_start_looks_again() -> None:
    first, third = Card(), Card("plugged in again")
    player = Player(first, SilentSpeaker("there is no sound device."), third)
    player.start()
    first.is_gone = True
    player.go(0.1)
    player.start()
    player.go(1.0)
    assert player.playback.problem == ""
    assert player.playback.speaker.name == "no sound"
    player.start()
    assert player.playback.speaker is third


def test_a_device_that_refuses_to_start_is_replaced() -> None:
    first, second = Card(), Card("another")
    first.refuses = True
    player = Player(first, second)
    player.start()
    assert second.started == 1


def test_after_a_lost_device_again_says_so_and_counts_by_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """It once went on to a device that was gone: silence, "sound on", and the take counted as graded."""
    bench = Bench(settings=Settings(cautions_seen=True, passes=1))
    bench.act(Act.START)
    bench.until(1.2)
    monkeypatch.setattr(SilentSpeaker, "state", property(lambda speaker: lost_once(bench, speaker)))
    bench.app.tick(bench.system.ns)
    assert bench.result.not_graded == LOST
    bench.act(Act.AGAIN)
    assert bench.context.playback.speaker is bench.reopened[0]
    assert bench.context.sound_words == "no sound"
    assert bench.notes == ("there is no sound device.",)
    bench.speaker = bench.reopened[0]  # type: ignore[assignment]
    bench.until(99.0, keys_for(bench))
    assert bench.result.not_graded == ""
    assert len(bench.result.judgement.taps) == 6


def lost_once(bench: Bench, speaker: SilentSpeaker) -> SpeakerState:
    if speaker in bench.reopened:
        return SpeakerState.STOPPED if speaker.plan is None else SpeakerState.PLAYING
    return SpeakerState.LOST
