"""Find the delay in the window: by tapping along, by microphone, or by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from trainer.app.click_pattern import METER, click_pattern
from trainer.app.context import Context
from trainer.app.controller import Controller
from trainer.devices.microphone import Microphone, MicrophoneLike, OpenMicrophone
from trainer.devices.outputs import capture_names, wireless_warning
from trainer.devices.speaker import SilentSpeaker
from trainer.errors import TrainerError
from trainer.judging.delay import (
    WANTED_TAPS,
    BetweenClicks,
    DelayAnswer,
    DelayFound,
    TooSpread,
    find_delay,
    find_device_delay,
    placements,
    settled,
)
from trainer.judging.spared import Span, is_spared, joined
from trainer.music.timeline import Timeline, count_in_beats
from trainer.practice.delay_words import delay_sentences
from trainer.practice.input_event import InputEvent
from trainer.practice.settings import LARGEST_DELAY_MS
from trainer.screen.actions import Act, Action
from trainer.screen.scenes.calibration import CalibrationView, Step, Way
from trainer.screen.window import Window
from trainer.sound.knocks import find_clicks, find_knocks, without_clicks
from trainer.sound.plan import SoundSettings

BPM = Fraction(100)  # a beat each 0.6 s: none of the ways people tap falls into the middle of it
SLOW_BPM = Fraction(60)  # for devices so late that taps come near the next click
MOST_TAPS = 32  # with more, the try is over whatever came of it
KNOCKS = 12
LONGEST_CLICKS = 60
AFTER_LAST_S = 0.5  # what the last knock and the microphone's delay need
DEAF_AFTER_S = 2.0
HAND_GOES_ON_NS = 1_500_000_000
SOFTEST_DB = -21.0
SOME = 4  # taps, before their middle is shown
NO_SOUND = "There is no sound, so there is no click to tap with: the delay can only be set by hand."
BY_THE_CLICK = (
    "A microphone that hears the loudspeaker needs no delay: strokes are placed against the click itself. "
    "With headphones play a figure that you know well, and let T in the review take its mean for it."
)
TRY_AGAIN = "these taps say nothing, try again"
DEAF = "The microphone gave no sound for as long as you tapped; choose another, or allow it to be used."


class CalibrationController(Controller):
    """The delay of the input and the output in use.

    Args:
        open_microphone: opens one by name.
        microphones: the names there are; asked for when None.
    """

    def __init__(
        self,
        context: Context,
        *,
        open_microphone: OpenMicrophone = Microphone,
        microphones: tuple[str, ...] | None = None,
    ) -> None:
        self._context = context
        self._open_microphone = open_microphone
        self._names = capture_names() if microphones is None else microphones
        self._way = Way.TAP
        self._step = Step.READY
        self._at_microphone = 0
        self._microphone: MicrophoneLike | None = None
        self._bpm = BPM
        self._taps: list[float] = []
        self._placed = np.empty(0)
        self._spared: tuple[Span, ...] = ()
        self._song_s = -math.inf
        self._begun_ns = 0
        self._seen_ns = 0  # when a try was last seen to run
        self._uncertainty_s = 0.0
        self._answer: DelayAnswer | None = None
        self._sentences: tuple[str, ...] = ()

    @property
    def in_time(self) -> bool:
        """Whether clicks are tapped to just now."""
        return self._step is Step.RUNNING

    def view(self, window: Window) -> CalibrationView:
        """Return the calibration as it is now."""
        context, placed = self._context, self._placed
        some = self._way is Way.TAP and len(placed) >= SOME
        quarters = np.percentile(placed, [25, 50, 75]) if some else None
        return CalibrationView(
            window=window,
            way=self._way,
            step=self._step,
            count=self._count(),
            placements_s=tuple(float(p) for p in placed) if self._way is Way.TAP else (),
            taps=len(placed) if self._way is Way.TAP else len(self._taps),
            wanted=WANTED_TAPS if self._way is Way.TAP else KNOCKS,
            quarter_s=float(quarters[0]) if quarters is not None else None,
            middle_s=float(quarters[1]) if quarters is not None else None,
            three_quarters_s=float(quarters[2]) if quarters is not None else None,
            sentences=self._sentences,
            found_ms=self._found_ms(),
            delay_ms=context.preferences.delay_ms,
            input_name=context.inputs.in_use,
            uncertainty_s=self._uncertainty_s or context.inputs.least_uncertainty_s,
            output_name=context.preferences.output_name,
            microphone=self._names[self._at_microphone] if self._names else "",
            microphones=len(self._names),
            warning=wireless_warning(context.preferences.output_name),
        )

    def act(self, action: Action, host_ns: int) -> bool:
        """Do what a key or a click asks for."""
        running = self._step in (Step.RUNNING, Step.WORKING)
        if action.act is Act.STOP:
            self._end_try()
            self._step = Step.READY
        elif running:
            return action.act in (Act.SELECT, Act.START, Act.DELAY, Act.USE)
        elif action.act is Act.SELECT:
            self._choose(list(Way)[min(max(action.value, 0), len(Way) - 1)])
        elif action.act is Act.START and self._way is not Way.HAND:
            self._start(host_ns)
        elif action.act is Act.USE:
            self._use()
        elif action.act is Act.DELAY and self._way is Way.HAND:
            preferences = self._context.preferences
            self._context.keep(lambda: preferences.set_delay(preferences.delay_ms + action.value))
        elif action.act is Act.NEXT_MICROPHONE and self._names:
            self._at_microphone = (self._at_microphone + 1) % len(self._names)
        else:
            return False
        return True

    def tick(self) -> None:
        """Move the clicks on, and end the try when there are taps enough."""
        if self._step is Step.WORKING:
            self._work()
        if self._step is not Step.RUNNING:
            return
        self._seen_ns = self._context.now_ns
        playback = self._context.playback
        if playback.is_lost or (playback.problem and self._way is Way.MICROPHONE):
            # A recording says nothing once the sound has stood still in it.
            self._give_up(playback.sentence(TRY_AGAIN))
            return
        if spans := playback.fresh_spans():
            self._spared = joined((*self._spared, *spans))
            self._place()
        self._song_s = playback.song_s
        self._see_whether_done()

    def heard(self, event: InputEvent) -> bool:
        """Take in a tap while a try runs; any pad or key that is tapped on will do."""
        if event.touch is None:
            return False
        if self._step is not Step.RUNNING:
            # The hand goes on for a tap or two; with Space for a key they would begin anew.
            return self._step is Step.ANSWERED and event.host_ns - self._seen_ns < HAND_GOES_ON_NS
        self._take_in(event.host_ns, event.uncertainty_s)
        return True

    def leave(self) -> None:
        """Stop the clicks and give the microphone back."""
        self._end_try()
        self._step = Step.READY

    # A try

    def _choose(self, way: Way) -> None:
        if way is not self._way:
            self._way, self._step = way, Step.READY
            self._forget()

    def _forget(self) -> None:
        self._taps, self._placed = [], np.empty(0)
        self._spared = ()
        self._answer, self._sentences = None, ()
        self._song_s = -math.inf

    def _start(self, host_ns: int) -> None:
        context = self._context
        self._forget()
        context.playback.start(
            host_ns,
            click_pattern(),
            Timeline.steady(self._bpm),
            passes=0,
            settings=SoundSettings(click_db=max(context.preferences.volume_db, SOFTEST_DB)),
        )
        self._begun_ns = host_ns
        self._step = Step.RUNNING
        if self._way is Way.TAP and context.inputs.hears_banjo:
            self._give_up(BY_THE_CLICK)
            return
        if isinstance(context.playback.speaker, SilentSpeaker):
            self._give_up(NO_SOUND)
        elif self._way is Way.MICROPHONE:
            try:
                name = self._names[self._at_microphone] if self._names else ""
                self._microphone = self._open_microphone(name)
                self._microphone.start()
            except TrainerError as problem:
                self._give_up(str(problem))

    def _take_in(self, host_ns: int, uncertainty_s: float) -> None:
        song_s = self._context.playback.heard_s(host_ns)
        # In the count-in one listens.
        if song_s is None or song_s < -self._gap_s / 2:
            return
        self._uncertainty_s = uncertainty_s
        self._taps.append(song_s)
        self._place()

    def _place(self) -> None:
        if self._way is Way.TAP:
            self._placed = settled(placements(self._clicks(first=0), self._counting))

    @property
    def _counting(self) -> list[float]:
        """The taps, less those beside a stall of the sound: nobody could have been with the click there."""
        return [tap for tap in self._taps if not is_spared(self._spared, tap)]

    def _see_whether_done(self) -> None:
        over = self._song_s > LONGEST_CLICKS * self._gap_s
        if self._way is Way.MICROPHONE:
            since_last_s = self._song_s - (self._taps[-1] if self._taps else math.inf)
            if over or (len(self._taps) >= KNOCKS and since_last_s > AFTER_LAST_S):
                self._context.playback.stop()
                self._step = Step.WORKING
            elif self._is_deaf():
                self._give_up(DEAF)
            return
        if not over and len(self._placed) < WANTED_TAPS:
            return
        answer = find_delay(self._clicks(first=0), self._counting)
        if over or not isinstance(answer, TooSpread) or len(self._placed) >= MOST_TAPS:
            self._end_try()
            self._answered(answer, delay_sentences(answer))

    def _is_deaf(self) -> bool:
        nothing = self._microphone is not None and not self._microphone.seconds
        return nothing and (self._context.now_ns - self._begun_ns) / 1e9 > DEAF_AFTER_S

    def _work(self) -> None:
        """Listen to the recording: a picture that says so was painted before."""
        microphone, taps = self._microphone, list(self._taps)
        assert microphone is not None
        wave, rate = microphone.recorded(), microphone.rate
        self._end_try()
        clicks = find_clicks(wave, rate)
        answer = find_device_delay(
            clicks_heard_s=[click.time_s for click in clicks],
            knocks_heard_s=find_knocks(without_clicks(wave, rate, clicks), rate),
            clicks_s=self._clicks(first=-count_in_beats(METER)),
            taps_s=taps,
        )
        self._answered(answer, delay_sentences(answer, by_microphone=True))

    def _answered(self, answer: DelayAnswer | None, sentences: tuple[str, ...]) -> None:
        self._answer, self._sentences = answer, sentences
        self._step = Step.ANSWERED
        if isinstance(answer, BetweenClicks):
            self._bpm = SLOW_BPM

    def _give_up(self, why: str) -> None:
        self._end_try()
        self._answered(None, (why,))

    def _end_try(self) -> None:
        if self._step is Step.RUNNING:
            self._context.playback.stop()
        microphone, self._microphone = self._microphone, None
        if microphone is not None:
            microphone.close()

    def _use(self) -> None:
        found_ms, context = self._found_ms(), self._context
        if found_ms is None:
            return
        preferences = context.preferences
        context.keep(lambda: preferences.set_delay(found_ms))
        self._step = Step.READY
        self._forget()
        context.say(
            f"Kept: a delay of {preferences.delay_ms} ms for {context.inputs.in_use}, heard through "
            f"{preferences.output_name}. It is taken off each tap from now on."
        )

    def _found_ms(self) -> int | None:
        if not isinstance(self._answer, DelayFound):
            return None
        found_ms = round(self._answer.median_s * 1000)
        return found_ms if abs(found_ms) <= LARGEST_DELAY_MS else None

    # Clicks

    @property
    def _gap_s(self) -> float:
        return float(60 / self._bpm)

    def _clicks(self, *, first: int) -> list[float]:
        """Return the clicks from a beat on up to now, and the next one."""
        now = self._song_s if math.isfinite(self._song_s) else 0.0
        last = max(math.ceil(max(now, *self._taps, 0.0) / self._gap_s) + 1, first + 2)
        return [beat * self._gap_s for beat in range(first, last + 1)]

    def _count(self) -> int:
        """Return the beat of the count-in that is heard now, from 1; 0 when it is over."""
        if self._step is not Step.RUNNING or not -math.inf < self._song_s < 0:
            return 0
        return max(0, count_in_beats(METER) + math.floor(self._song_s / self._gap_s) + 1)


def open_calibration(context: Context, host_ns: int) -> None:  # noqa: ARG001 - as all that open a scene
    """Show the ways to find the delay."""
    context.navigation.open(lambda: CalibrationController(context))
