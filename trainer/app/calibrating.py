"""Find the delay in the window: by tapping along, by microphone, or by hand."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from trainer.app.corner import Corner
from trainer.app.stage import MIDI_UNCERTAINTY_S, Stage
from trainer.devices.keys import SCAN_S
from trainer.devices.microphone import Microphone, MicrophoneLike, OpenMicrophone
from trainer.devices.midi import MidiTap
from trainer.devices.outputs import capture_names, wireless_warning
from trainer.devices.speaker import SilentSpeaker, SpeakerState
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
from trainer.music.pattern import Level, Meter, Pattern, usual_motion
from trainer.music.strokes import Kind, Stroke
from trainer.music.timeline import Timeline, count_in_beats
from trainer.practice.delay_words import delay_sentences
from trainer.practice.settings import LARGEST_DELAY_MS
from trainer.screen.scenes.calibration import CalibrationView, Step, Way
from trainer.screen.views import Act, Action, Window
from trainer.sound.knocks import find_clicks, find_knocks, without_clicks
from trainer.sound.plan import SoundSettings, plan_for

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
STALLED = "The sound was interrupted, so these taps say nothing; try again."
LOST = "The sound device was lost; plug it in and start the program again."
DEAF = "The microphone gave no sound for as long as you tapped; choose another, or allow it to be used."
METER = Meter.TWO_FOUR


def click_pattern() -> Pattern:
    """Return a pattern that asks for nothing, so that only its clicks are heard."""
    motion = usual_motion(METER, 2)
    return Pattern(
        name="calibration",
        title="Clicks",
        level=Level.PLAIN,
        step=1,
        meter=METER,
        slots_per_beat=2,
        motion=motion,
        bars=((Stroke(kind=Kind.REST),) * len(motion),),
        needs=(),
        slow_bpm=SLOW_BPM,
        goal_bpm=BPM,
        teacher="",
    )


class Calibrating(Corner):
    """The delay of the input and the output in use.

    Args:
        stage: whose speaker, inputs and settings are used.
        open_microphone: opens one by name.
        microphones: the names there are; asked for when None.
    """

    def __init__(
        self,
        stage: Stage,
        *,
        open_microphone: OpenMicrophone = Microphone,
        microphones: tuple[str, ...] | None = None,
    ) -> None:
        self._stage = stage
        self._open_microphone = open_microphone
        self._names = capture_names() if microphones is None else microphones
        self._way = Way.TAP
        self._step = Step.READY
        self._at_microphone = 0
        self._microphone: MicrophoneLike | None = None
        self._bpm = BPM
        self._taps: list[float] = []
        self._placed = np.empty(0)
        self._song_s = -math.inf
        self._begun_ns = 0
        self._seen_ns = 0  # when a try was last seen to run
        self._uncertainty_s = 0.0
        self._answer: DelayAnswer | None = None
        self._sentences: tuple[str, ...] = ()

    # What the corner does

    @property
    def in_time(self) -> bool:  # type: ignore[override]
        """Whether clicks are tapped to just now."""
        return self._step is Step.RUNNING

    def view(self, window: Window) -> CalibrationView:
        """Return the calibration as it is now."""
        stage, placed = self._stage, self._placed
        some = self._way is Way.TAP and len(placed) >= SOME
        quarters = np.percentile(placed, [25, 50, 75]) if some else None
        by_midi = bool(stage.hearing.midi.open_name)
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
            delay_ms=stage.chosen.delay_ms,
            input_name=stage.hearing.in_use,
            uncertainty_s=self._uncertainty_s or (MIDI_UNCERTAINTY_S if by_midi else SCAN_S),
            output_name=stage.chosen.output_name,
            microphone=self._names[self._at_microphone] if self._names else "",
            microphones=len(self._names),
            warning=wireless_warning(stage.chosen.output_name),
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
            chosen = self._stage.chosen
            self._stage.keep(lambda: chosen.set_delay(chosen.delay_ms + action.value))
        elif action.act is Act.NEXT_MICROPHONE and self._names:
            self._at_microphone = (self._at_microphone + 1) % len(self._names)
        else:
            return False
        return True

    def tick(self, host_ns: int) -> None:
        """Move the clicks on, and end the try when there are taps enough."""
        if self._step is Step.WORKING:
            self._work()
        if self._step is not Step.RUNNING:
            return
        self._seen_ns = host_ns
        speaker = self._stage.speaker
        song_s = speaker.song_s(host_ns)
        if speaker.state is SpeakerState.LOST or song_s is None:
            self._give_up(LOST)
        elif speaker.xruns:
            self._give_up(STALLED)
        else:
            self._song_s = song_s
            self._see_whether_done(host_ns)

    def key_down(self, key: str, *, host_ns: int, looked_ns: int) -> bool:
        """Take in a key that is tapped on, while a try runs."""
        hearing = self._stage.hearing
        tap = hearing.key_tap(key, host_ns=host_ns, looked_ns=looked_ns)
        if not hearing.is_tapped(key):
            return False
        if self._step is not Step.RUNNING:
            # The hand goes on for a tap or two; with Space for a key they would begin anew.
            return self._step is Step.ANSWERED and host_ns - self._seen_ns < HAND_GOES_ON_NS
        if tap is not None:
            self._take_in(tap.host_ns, tap.uncertainty_s)
        return True

    def midi_taps(self, taps: tuple[MidiTap, ...]) -> None:
        """Take in what the port has sent; any pad that has a meaning will do."""
        for tap in taps:
            if self._stage.hearing.pad_touch(tap) is not None and self._step is Step.RUNNING:
                self._take_in(tap.host_ns, MIDI_UNCERTAINTY_S)

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
        self._answer, self._sentences = None, ()
        self._song_s = -math.inf

    def _start(self, host_ns: int) -> None:
        stage = self._stage
        self._forget()
        if isinstance(stage.speaker, SilentSpeaker):
            self._answered(None, (NO_SOUND,))
            return
        try:
            if self._way is Way.MICROPHONE:
                self._microphone = self._open_microphone(
                    self._names[self._at_microphone] if self._names else ""
                )
                self._microphone.start()
            plan = plan_for(
                click_pattern(),
                Timeline.steady(self._bpm),
                passes=0,
                settings=SoundSettings(click_db=max(stage.chosen.volume_db, SOFTEST_DB)),
                rate=stage.speaker.rate,
            )
            stage.speaker.start(plan, host_ns)
        except TrainerError as problem:
            self._give_up(str(problem))
            return
        self._begun_ns = host_ns
        self._step = Step.RUNNING

    def _take_in(self, host_ns: int, uncertainty_s: float) -> None:
        song_s = self._stage.speaker.song_s(host_ns)
        # In the count-in one listens.
        if song_s is None or song_s < -self._gap_s / 2:
            return
        self._uncertainty_s = uncertainty_s
        self._taps.append(song_s)
        if self._way is Way.TAP:
            self._placed = settled(placements(self._clicks(first=0), self._taps))

    def _see_whether_done(self, host_ns: int) -> None:
        over = self._song_s > LONGEST_CLICKS * self._gap_s
        if self._way is Way.MICROPHONE:
            since_last_s = self._song_s - (self._taps[-1] if self._taps else math.inf)
            if over or (len(self._taps) >= KNOCKS and since_last_s > AFTER_LAST_S):
                self._stage.speaker.stop()
                self._step = Step.WORKING
            elif self._is_deaf(host_ns):
                self._give_up(DEAF)
            return
        if not over and len(self._placed) < WANTED_TAPS:
            return
        answer = find_delay(self._clicks(first=0), self._taps)
        if over or not isinstance(answer, TooSpread) or len(self._placed) >= MOST_TAPS:
            self._end_try()
            self._answered(answer, delay_sentences(answer))

    def _is_deaf(self, host_ns: int) -> bool:
        nothing = self._microphone is not None and not self._microphone.seconds
        return nothing and (host_ns - self._begun_ns) / 1e9 > DEAF_AFTER_S

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
            self._stage.speaker.stop()
        microphone, self._microphone = self._microphone, None
        if microphone is not None:
            microphone.close()

    def _use(self) -> None:
        found_ms, stage = self._found_ms(), self._stage
        if found_ms is None:
            return
        stage.keep(lambda: stage.chosen.set_delay(found_ms))
        self._step = Step.READY
        self._forget()
        stage.say(
            f"Kept: a delay of {stage.chosen.delay_ms} ms for {stage.hearing.in_use}, heard through "
            f"{stage.chosen.output_name}. It is taken off each tap from now on."
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
